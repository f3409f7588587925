"""The sheet of a comparison: before and after in words, charts and tables, as a page and as print."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_result import Change, Comparison, NoteDifference, QuantityComparison, Verdict
from strikeline.acoustics.comparison_transfer import Transfer
from strikeline.acoustics.listening import Recording
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY
from strikeline.reports.comparison_charts import FEWEST_TO_DRAW, LEGEND, change_chart
from strikeline.reports.comparison_words import (
    cause_in_short,
    change_word,
    changed_words,
    common_sentences,
    how_much,
    how_sure,
    signed,
    strings_sentence,
    unsure_words,
    verdict_sentences,
    word_sentence,
)
from strikeline.reports.content import Section, SheetContent, Table
from strikeline.reports.document import render_sheet_pdf
from strikeline.reports.figures import key_range, key_ranges, minutes, note_name, number, sentence, with_error
from strikeline.reports.frame import SheetParts, framed
from strikeline.reports.json_text import json_text
from strikeline.reports.page import render_sheet_html
from strikeline.reports.untold import Untold
from strikeline.reports.words import a4_name

__all__ = ["comparison_content", "render_sheet_html", "render_sheet_pdf"]

_SUBTITLE: Final = "Before and after: two recordings of one piano compared"
_ANNEX_NOTE: Final = (
    "Change from before to after, less what all notes share; ± holds 95 of 100 notes that did not change about their "
    "value; – could not be told. Unison width, sustain and inharmonicity in per cent."
)
_ANNEX: Final = (
    (compared.PITCH, "Pitch (cents)"),
    (compared.INHARMONICITY, "B (%)"),
    (compared.UNISON, "Unison (%)"),
    (compared.BRIGHTNESS, "Brightness (semitones)"),
    (compared.BALANCE, "Balance (dB/octave)"),
    (compared.LEVEL, "Level (dB)"),
    (compared.SUSTAIN, "Sustain (%)"),
    (compared.SINGING, "Singing (%)"),
    (compared.DAMPING, "Damping (%)"),
)
_OCTAVES_HZ: Final = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
_NO_CHANGES: Final = "No note and no run of notes changed by more than repeats."

DEFINITIONS: Final = (
    (
        "Changed",
        (
            "More than an unchanged piano shows once in 100 times, anywhere in the whole comparison, all notes, runs "
            "and quantities counted together. A hint: once in 10. Very sure: less than once in 1000."
        ),
    ),
    (
        "Repeatability",
        (
            "How far one note differs from itself when nothing was changed: by the blow, the beats of its strings, the "
            "room. It is measured where notes were played again, otherwise estimated from how far the differences of "
            "all notes scatter, which a minority that changed hardly moves."
        ),
    ),
    (
        "What all notes share",
        (
            "Another place of the microphone, another room, recorder or hand change every note. The change that all "
            "notes share at every frequency is estimated from all partials and taken off, and so is what then goes "
            "smoothly along the keyboard. A restorer’s work on all hammers alike is taken off with it."
        ),
    ),
    (
        "Pitch and inharmonicity",
        (
            "Belong to the strings: no microphone moves them. Inharmonicity is compared freed from the change of pitch "
            "(B·f0² does not depend on the tension of a string), and tells whether the strings are the same."
        ),
    ),
    (
        "Brightness and balance",
        (
            "Brightness: mean frequency of the partials, weighted by amplitude, in semitones. Balance: how the levels "
            "of the partials slope over the octaves. Both over the partials heard both times, freed from how hard each "
            "note was struck as far as its level tells."
        ),
    ),
    (
        "Unison width",
        "How far apart the modes of the strong partials sound, in cents; of plain strings, its change in per cent.",
    ),
    ("Level", "Only against the other notes: the level of the whole moves with the gain of the recording."),
    ("Sustain", "How fast the note falls between 0.06 and 1.6 s after the blow: more per second is a shorter note."),
)
"""Term and explanation, in the order of the sheet."""


def comparison_content(comparison: Comparison, *, title: str | None, made_on: date) -> SheetContent:
    """Put a comparison into the words, charts and tables of a sheet.

    Parameters
    ----------
    comparison : Comparison
        Any, also of recordings that are not comparable.
    title : str or None
        What instrument this is, as the user wrote it.
    made_on : date
        Day that is printed on the sheet.

    Returns
    -------
    SheetContent
        What `render_sheet_html` and `render_sheet_pdf` set.
    """
    parts = SheetParts(
        subtitle=_SUBTITLE,
        facts=_facts(comparison),
        warnings=tuple(sentence(warning) for warning in comparison.warnings),
        in_short=(*verdict_sentences(comparison), *cause_in_short(comparison)),
        sections=tuple(
            section for section in (_changed(comparison), _charts(comparison), _common(comparison)) if section
        ),
        untold=_untold(comparison),
        no_untold="Everything this sheet compares could be told.",
        definitions=DEFINITIONS,
        provenance=(*_provenance("Before", comparison.before), *_provenance("After", comparison.after)),
        annex=_annex(comparison),
        annex_note=_ANNEX_NOTE,
    )
    attached = json_text(comparison.to_json())
    content = framed(parts, title=title, made_on=made_on, attached_json=attached)
    return replace(
        content,
        sheet_name="before and after",
        warnings_heading="About the two recordings",
        attached_name="comparison.json",
        attached_note="The comparison with every number is attached to this file as comparison.json.",
    )


def _facts(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    before, after = comparison.before, comparison.after
    same = before.reference_a4_hz == after.reference_a4_hz
    reference = (
        a4_name(before.reference_a4_hz) if same else f"{before.reference_a4_hz:g}, then {after.reference_a4_hz:g} Hz"
    )
    return (
        ("Before", f"{minutes(before.duration_s)}"),
        ("After", f"{minutes(after.duration_s)}"),
        ("Keys in both", str(comparison.n_common)),
        ("Reference", reference),
    )


def _charts(comparison: Comparison) -> Section | None:
    if comparison.verdict is Verdict.NOT_COMPARABLE:
        shown = [one for one in comparison.quantities if one.quantity is compared.INHARMONICITY]
    else:
        shown = [one for one in comparison.quantities if one.why_not is None]
    charts = tuple(change_chart(one, comparison) for one in shown if len(one.notes) >= FEWEST_TO_DRAW)
    return Section(name="keyboard", heading="Over the keyboard", note=LEGEND, charts=charts) if charts else None


def changed_rows(comparison: Comparison) -> tuple[tuple[str, str, str, str], ...]:
    """Return notes, what changed, how much and how sure: first what all notes share, then the surest."""
    if comparison.verdict is Verdict.NOT_COMPARABLE:
        return ()
    rows: list[tuple[str, str, str, str]] = []
    for one in comparison.quantities:
        if one.is_common_changed and one.common is not None:
            word = one.quantity.more if one.common.value > 0 else one.quantity.less
            rows.append(("All notes", f"{word} than before", signed(one.common, one), "very sure"))
    rows += [_row(change) for change in comparison.changes]
    rows += [(note_name(word.key), word_sentence(word), "", "sure") for word in comparison.words if word.is_certain]
    return tuple(rows)


def _changed(comparison: Comparison) -> Section:
    rows = changed_rows(comparison)
    table = Table(
        head=("Notes", "What", "By how much", "How sure"),
        rows=rows,
        caption="What changed, the surest first",
        widths=("auto", "1fr", "auto", "auto"),
    )
    is_told = comparison.verdict is not Verdict.NOT_COMPARABLE
    hints = [changed_words(change) for one in comparison.quantities for change in one.hints if is_told]
    after = [f"Worth a second listening, no more: {'; '.join(hints)}."] if hints else []
    after += unsure_words(comparison)
    empty = _NO_CHANGES if comparison.verdict is not Verdict.NOT_COMPARABLE else strings_sentence(comparison)
    return Section(
        name="changed",
        heading="What changed",
        paragraphs=() if rows else (empty,),
        tables=(table,) if rows else (),
        after=tuple(after),
    )


def _row(change: Change) -> tuple[str, str, str, str]:
    where = key_range(change.first_key, change.last_key)
    return (where, f"{change_word(change)} than before", how_much(change), how_sure(change.p_false))


def _common(comparison: Comparison) -> Section | None:
    if comparison.verdict is Verdict.NOT_COMPARABLE:
        return None
    tables = () if comparison.transfer is None else (_transfer_table(comparison.transfer),)
    return Section(
        name="shared",
        heading="What all notes share",
        paragraphs=common_sentences(comparison),
        tables=tables,
    )


def _transfer_table(transfer: Transfer) -> Table:
    """Return the curve at the middle of each octave that it covers."""
    heard = [f_hz for f_hz in _OCTAVES_HZ if transfer.low_hz <= f_hz <= transfer.high_hz]
    values = transfer.at(np.array(heard)).tolist()
    return Table(
        head=("Frequency", *(f"{f_hz:g} Hz" if f_hz < 1000 else f"{f_hz / 1000:g} kHz" for f_hz in heard)),
        rows=(("Second recording (dB)", *(number(value, places=1, plus=True) for value in values)),),
        caption="The change that all notes share, by frequency",
        style="numbers",
    )


def _untold(comparison: Comparison) -> tuple[Untold, ...]:
    told = []
    for reason in comparison.cannot_tell:
        what, _, why = reason.partition(":")
        told.append(Untold(what=what.strip(), notes="all", n_notes=comparison.n_common, why=why.strip()))
    for keys, which in ((comparison.only_before, "before"), (comparison.only_after, "after")):
        if keys:
            why = f"heard only {which}"
            told.append(Untold(what="everything", notes=key_ranges(keys), n_notes=len(keys), why=why))
    return tuple(told)


def _provenance(which: str, recording: Recording) -> tuple[tuple[str, str], ...]:
    rate = f"{recording.sample_rate_hz:,} Hz".replace(",", " ")
    return (
        (which, f"SHA-256 {recording.sha256}"),
        (
            f"{which}, recorded",
            f"{rate}; heard by strikeline {recording.analyser}; {a4_name(recording.reference_a4_hz)}",
        ),
    )


def _annex(comparison: Comparison) -> Table:
    by_name = {one.quantity.name: one for one in comparison.quantities}
    shown = [(by_name[q.name], head) for q, head in _ANNEX if q.name in by_name and by_name[q.name].notes]
    keys = [key for key in range(LOWEST_KEY, HIGHEST_KEY + 1) if any(_note(one, key) for one, _ in shown)]
    rows = tuple((note_name(key), *(_cell(_note(one, key)) for one, _ in shown)) for key in keys)
    return Table(head=("Note", *(head for _, head in shown)), rows=rows)


def _note(one: QuantityComparison, key: int) -> NoteDifference | None:
    return next((note for note in one.notes if note.key == key), None)


def _cell(note: NoteDifference | None) -> str:
    return with_error(None if note is None else note.change, plus=True, max_places=1)
