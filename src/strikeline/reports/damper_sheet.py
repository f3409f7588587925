"""The sheet of short blows up the keyboard: what each damper does."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.listening import Listening
from strikeline.reports.chart_layout import Scale
from strikeline.reports.content import Section, SheetChart, Table
from strikeline.reports.damper_words import (
    DAMPER_WORDS,
    FAULTS,
    after_ring_words,
    damper_words,
    dampers_sentence,
    keys_by_verdict,
    leaking_words,
    top_sentence,
    undamped_top,
)
from strikeline.reports.figures import ABSENT, count, key_ranges, note_name, sentence, with_error
from strikeline.reports.frame import SheetParts
from strikeline.reports.keyboard_chart import ChartLabel, Mark
from strikeline.reports.plain_chart import FEWEST_TO_DRAW, keyboard_of, mark_only, plain_chart, point, run_labels
from strikeline.reports.recorded import recording_facts, recording_provenance, recording_warnings
from strikeline.reports.sheet_texts import DAMPER_DEFINITIONS, DAMPER_LEGEND
from strikeline.reports.untold import gather_untold
from strikeline.reports.words import heard_sentence

_NOTHING_TOLD: Final = "Record short blows, two seconds apart and with the pedals untouched, and listen again."
_LEAST_SHARE: Final = 0.2
"""An error bar that reaches 0 or below ends at this share of its value on the logarithmic axis."""
_ABOVE_ALL: Final = 2.0
_HEAD: Final = ("Note", "Damper", "Lands (s)", "T60 (s)", "Leaking partials", "After-ring")


def damper_parts(listening: Listening) -> SheetParts:
    """Return what the sheet of short blows says.

    Parameters
    ----------
    listening : Listening
        Of kind staccato, any number of notes.
    """
    dampings = {key: note.damping for key, note in listening.best_by_key().items() if note.damping is not None}
    sections = (_keyboard(listening, dampings), _faults(listening, dampings))
    return SheetParts(
        subtitle="Damper sheet from short blows up the keyboard",
        facts=recording_facts(listening),
        warnings=recording_warnings(listening.recording),
        in_short=_in_short(listening),
        sections=tuple(section for section in sections if section is not None),
        untold=gather_untold(listening),
        no_untold="What its damper does could be told for every note heard.",
        definitions=DAMPER_DEFINITIONS,
        provenance=recording_provenance(listening.recording),
        annex=Table(head=_HEAD, rows=tuple((note_name(key), *_cells(one)) for key, one in dampings.items())),
        annex_note=f"± holds the truth in 95 cases of 100; {ABSENT} could not be told.",
    )


def _in_short(listening: Listening) -> tuple[str, ...]:
    if not listening.notes:
        return (heard_sentence(listening),)
    return tuple(filter(None, (heard_sentence(listening), dampers_sentence(listening), top_sentence(listening))))


def _cells(damping: Damping) -> tuple[str, ...]:
    return (
        damper_words(damping),
        with_error(damping.lands_s, max_places=2),
        with_error(damping.t60_s, max_places=2),
        leaking_words(damping),
        after_ring_words(damping),
    )


def _keyboard(listening: Listening, dampings: dict[int, Damping]) -> Section | None:
    if len(dampings) < FEWEST_TO_DRAW:
        return None
    charts = (
        _t60_chart(listening, dampings),
        _leak_chart(listening, dampings),
        _lands_chart(listening, dampings),
    )
    return Section(
        name="keyboard",
        heading="Over the keyboard",
        note=DAMPER_LEGEND,
        charts=tuple(chart for chart in charts if chart is not None),
    )


def _t60_chart(listening: Listening, dampings: dict[int, Damping]) -> SheetChart:
    top, faults = undamped_top(listening), _fault_words(listening)
    known = {key: one.t60_s for key, one in dampings.items() if one.t60_s is not None and key not in top}
    values = [t60_s.value for t60_s in known.values()]
    span = f", from {min(values):.2f} to {max(values):.1f}" if values else ""
    named = f" Standing out: {'; '.join(f'{note_name(key)} {word}' for key, word in faults.items())}." if faults else ""
    points = [
        point(key, t60_s, Mark.STANDS_OUT if key in faults else Mark.EVEN, lowest=_LEAST_SHARE * t60_s.value)
        for key, t60_s in known.items()
        if key in faults or dampings[key].verdict is DamperVerdict.STOPS
    ]
    # What rings on has no time: its mark stands above all others.
    ceiling_s = _ABOVE_ALL * max(values, default=1.0)
    points += [mark_only(key, ceiling_s, Mark.STANDS_OUT) for key in faults if key not in known]
    labels = run_labels(faults, plural={"leaks": "leak", "rings on": "ring on"})
    if top:
        labels += (ChartLabel(text="no damper heard", first_key=top[0], last_key=top[-1], is_hint=True),)
    drawn = {one.key for one in points} | set(top)
    return plain_chart(
        name="t60",
        title="How fast the dampers stop their notes",
        finding=dampers_sentence(listening),
        shows=f"Chart of the seconds to fall by 60 dB for {count(len(known), 'note')}{span}.{named}",
        axis_title="seconds to fall by 60 dB",
        keys=keyboard_of(listening),
        points=points,
        scale=Scale.LOG,
        labels=labels,
        untold=[key for key in _told_or_missing(listening) if key not in drawn],
        table=Table(
            head=("Note", "Damper", "T60 (s)", "Leaking partials"),
            rows=tuple(
                (note_name(key), damper_words(one), with_error(one.t60_s, max_places=2), leaking_words(one))
                for key, one in dampings.items()
            ),
        ),
    )


def _leak_chart(listening: Listening, dampings: dict[int, Damping]) -> SheetChart | None:
    """Return which partials ring on under their dampers, ``None`` if none does."""
    top = undamped_top(listening)
    leaking = {key: one for key, one in dampings.items() if one.leaking_partials and key not in top}
    if not leaking:
        return None
    highest = max(n for one in leaking.values() for n in one.leaking_partials)
    keys = _named_keys(leaking)
    return plain_chart(
        name="leaks",
        title="Partials that ring on",
        finding=f"Under the damper partials ring on in {keys}.",
        shows=f"Chart of the numbers of the partials that ring on under the damper, up to partial {highest}: {keys}.",
        axis_title="partial",
        keys=keyboard_of(listening),
        points=[
            mark_only(key, float(n), Mark.STANDS_OUT) for key, one in leaking.items() for n in one.leaking_partials
        ],
        scale=Scale.LINEAR,
        caption="Each diamond is one partial that rings on while the rest of its note is stopped.",
        table=Table(
            head=("Note", "Leaking partials"),
            rows=tuple((note_name(key), ", ".join(map(str, one.leaking_partials))) for key, one in leaking.items()),
        ),
    )


def _named_keys(keys: dict[int, Damping]) -> str:
    """Return keys as names, or how many if they are many."""
    return key_ranges(keys) if len(keys) <= 8 else count(len(keys), "note")


def _lands_chart(listening: Listening, dampings: dict[int, Damping]) -> SheetChart | None:
    known = {key: lands_s for key, one in dampings.items() if (lands_s := one.lands_s) is not None}
    if len(known) < FEWEST_TO_DRAW:
        return None
    late = keys_by_verdict(listening)[DamperVerdict.LATE]
    ringing = [key for key, one in dampings.items() if one.verdict is DamperVerdict.NONE]  # nothing lands there
    values = [lands_s.value for lands_s in known.values()]
    finding = (
        f"{key_ranges(late)} {'is' if len(late) == 1 else 'are'} damped later than the neighbours."
        if late
        else "No damper lands later than its neighbours."
    )
    return plain_chart(
        name="lands",
        title="When the dampers land",
        finding=finding,
        shows=f"Chart of when the dampers land, in seconds after the blow, for {count(len(known), 'note')}: "
        f"{min(values):.2f} to {max(values):.2f}.",
        axis_title="seconds after the blow",
        keys=keyboard_of(listening),
        points=[point(key, lands_s, Mark.STANDS_OUT if key in late else Mark.EVEN) for key, lands_s in known.items()],
        scale=Scale.LINEAR,
        labels=run_labels(dict.fromkeys((key for key in late if key in known), "late")),
        untold=[key for key in _told_or_missing(listening) if key not in known and key not in ringing],
        table=Table(
            head=("Note", "Lands (s)"),
            rows=tuple((note_name(key), with_error(lands_s, max_places=3)) for key, lands_s in known.items()),
        ),
    )


def _fault_words(listening: Listening) -> dict[int, str]:
    """Return the word of every damper to look at, in the order in which a sheet tells them."""
    found = keys_by_verdict(listening)
    return {key: DAMPER_WORDS[verdict] for verdict in FAULTS for key in found[verdict]}


def _told_or_missing(listening: Listening) -> list[int]:
    return sorted({*listening.best_by_key(), *listening.recording.missing_keys})


def _faults(listening: Listening, dampings: dict[int, Damping]) -> Section:
    notes = listening.best_by_key()
    rows = tuple(
        (note_name(key), *_cells(dampings[key])[:-1], sentence("; ".join(notes[key].notices)))
        for key in sorted(_fault_words(listening))
    )
    ringing = [key for key, one in dampings.items() if one.after_ring_hz]
    is_told = any(one.verdict is not DamperVerdict.CANNOT_TELL for one in dampings.values())
    table = Table(
        head=(*_HEAD[:-1], "What was heard"),
        rows=rows,
        caption="Dampers that do not stop their notes as their neighbours do",
        widths=("auto", "auto", "auto", "auto", "1fr", "2fr"),
    )
    return Section(
        name="dampers",
        heading="Dampers to look at",
        paragraphs=() if rows else (dampers_sentence(listening) if is_told else _NOTHING_TOLD,),
        tables=(table,) if rows else (),
        after=(f"Other strings ring on after {key_ranges(ringing)}; that is not counted against their dampers.",)
        if ringing
        else (),
    )
