"""The strings of one note as text: a table of the strings, one of the bridge, and what they say in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from strikeline.acoustics.muted_result import Agreement, Coupling, StringAlone, StringsOfNote
from strikeline.cli.plain_text import aligned, bulleted, figure, plain, wrapped
from strikeline.reports.figures import count
from strikeline.reports.unison_words import rate_words, unison_words

if TYPE_CHECKING:
    from strikeline.workshop.strings import StringsHeard

_AGREEMENT_WORDS: Final = {
    Agreement.AGREES: "What it tells of the single strings agrees with what they tell alone.",
    Agreement.DISAGREES: "What it tells of the single strings does not agree with what they tell alone: trust those.",
    Agreement.BLIND_CANNOT_TELL: "By itself it does not tell the strings apart, which is usual for a good unison.",
    Agreement.ALONE_CANNOT_TELL: "To compare it with the single strings, all of them must be told.",
}
_LEGEND: Final = (
    "± holds the truth in 95 cases of 100. cents: above the mean of the strings recorded alone. bridge takes, pulls: "
    "the decay it adds to each string alone, and how far it raises its partial. Strings nearer than 'locks below' "
    "sound as one system; only recordings of each alone tell them apart."
)
_MOST_PARTIALS: Final = 8


def unison_table(heard: StringsHeard, *, width: int | None) -> str:
    """Return what was told of the strings of a note as text.

    Parameters
    ----------
    heard : StringsHeard
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` to break no line.
    """
    note = heard.note
    lines = [wrapped(_heading(note), width), "", *_strings(note), "", wrapped(_together(note), width)]
    if note.coupling:
        lines += ["", *_bridge(note.coupling)]
    lines += ["", wrapped(_LEGEND, width)]
    recordings = {"all strings": heard.together, **{f"{place.value} string": one for place, one in heard.alone.items()}}
    warnings = [f"{words}: {text}" for words, recording in recordings.items() for text in recording.warnings]
    for title, items in (
        ("To look into:", note.notices),
        ("Warnings:", warnings),
        ("Could not be told:", note.cannot_tell),
        ("This rests on:", note.rests_on),
    ):
        lines += bulleted(title, items, width)
    return "\n".join(lines)


def _heading(note: StringsOfNote) -> str:
    text = f"{note.name}, {count(len(note.strings), 'string')} recorded alone"
    if note.spread_cents is None:
        return f"{text}."
    return f"{text}. From the lowest to the highest: {figure(note.spread_cents)} cents."


def _strings(note: StringsOfNote) -> list[str]:
    rows = [["string", "f0 Hz", "cents", "B ×10⁻⁴", "beats with itself"]]
    rows += [
        [
            string.string.value,
            figure(string.f0_hz),
            figure(string.from_mean_cents, plus=True),
            figure(string.inharmonicity_b, factor=1e4),
            _beats(string),
        ]
        for string in note.strings
    ]
    return aligned(rows)


def _beats(string: StringAlone) -> str:
    if string.false_beats is None:
        return "cannot tell"
    if not string.false_beats:
        return "no"
    first = string.false_beats[0]
    more = f" and {len(string.false_beats) - 1} more" if len(string.false_beats) > 1 else ""
    other = ", or with a string that is not muted" if string.also_heard else ""
    return plain(f"{rate_words(first)} in partial {first.partial}{more}{other}")


def _together(note: StringsOfNote) -> str:
    words = plain(unison_words(note.together)) or "its unison could not be told"
    return f"All strings together: {words}. {_AGREEMENT_WORDS[note.agreement]}"


def _bridge(coupling: Sequence[Coupling]) -> list[str]:
    rows = [["partial", "bridge takes 1/s", "pulls Hz", "locks below cents"]]
    rows += [
        [
            str(one.partial),
            figure(one.loss_per_s),
            figure(one.pull_hz, plus=True),
            figure(one.locks_below_cents),
        ]
        for one in coupling[:_MOST_PARTIALS]
    ]
    lines = aligned(rows)
    if len(coupling) > _MOST_PARTIALS:
        lines.append(f"and {count(len(coupling) - _MOST_PARTIALS, 'higher partial')}; --json has all")
    return lines
