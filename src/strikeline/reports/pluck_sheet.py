"""The sheet of strings plucked against the hammer: which of them it touches."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.listening import Listening, Note
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.reports.chart_layout import Scale
from strikeline.reports.content import Section, SheetChart, Table
from strikeline.reports.figures import count, key_ranges, minutes, note_name
from strikeline.reports.frame import SheetParts
from strikeline.reports.keyboard_chart import Mark
from strikeline.reports.plain_chart import mark_only, plain_chart, run_labels, stretch_of
from strikeline.reports.pluck_words import (
    COLUMNS,
    mating_sentence,
    open_by_key,
    open_words,
    pluck_at,
    pluck_words,
)
from strikeline.reports.recorded import recording_provenance, recording_warnings
from strikeline.reports.sheet_texts import PLUCK_DEFINITIONS, PLUCK_LEGEND
from strikeline.reports.untold import gather_untold

_HEAD: Final = ("Note", *(place.value.capitalize() for place in COLUMNS))
_NOTHING_HEARD: Final = (
    "Hold the hammer gently against its strings, pluck them one by one from left to right, and listen again."
)
_NEXT: Final = "After work on these hammers pluck their strings and listen once more."


def pluck_parts(listening: Listening) -> SheetParts:
    """Return what the sheet of plucked strings says.

    Parameters
    ----------
    listening : Listening
        Of kind plucks, any number of notes.
    """
    notes = {key: note for key, note in listening.best_by_key().items() if note.plucks}
    return SheetParts(
        subtitle="Hammers against their strings, from one recording of plucked strings",
        facts=_facts(listening, notes),
        warnings=recording_warnings(listening.recording),
        in_short=(_heard(notes), mating_sentence(listening)) if notes else (_heard(notes),),
        sections=(_strings(listening, notes),),
        untold=gather_untold(listening),
        no_untold="Every string that was plucked could be told.",
        definitions=PLUCK_DEFINITIONS,
        provenance=recording_provenance(listening.recording),
    )


def _facts(listening: Listening, notes: dict[int, Note]) -> tuple[tuple[str, str], ...]:
    plucks = [pluck for note in notes.values() for pluck in note.plucks or ()]
    return (
        ("Recording", minutes(listening.recording.duration_s)),
        ("Notes", str(len(notes))),
        ("Strings", str(len(plucks))),
        ("Open strings", str(sum(pluck.is_touched is False for pluck in plucks))),
    )


def _heard(notes: dict[int, Note]) -> str:
    if not notes:
        return "No plucked string was recognised in this recording."
    n_strings = sum(pluck.at_s is not None for note in notes.values() for pluck in note.plucks or ())
    plucked = f"{count(n_strings, 'string')} of {count(len(notes), 'note')}"
    return f"{plucked[0].upper()}{plucked[1:]} {'was' if n_strings == 1 else 'were'} plucked: {key_ranges(notes)}."


def _strings(listening: Listening, notes: dict[int, Note]) -> Section:
    if not notes:
        return Section(name="strings", heading="String by string", paragraphs=(_NOTHING_HEARD,))
    rows = tuple(
        (note_name(key), *(pluck_words(pluck_at(note.plucks, place)) for place in COLUMNS))
        for key, note in notes.items()
    )
    dark = tuple(
        (row, column)
        for row, note in enumerate(notes.values())
        for column, place in enumerate(COLUMNS, start=1)
        if (pluck := pluck_at(note.plucks, place)) is not None and pluck.is_touched is False
    )
    return Section(
        name="strings",
        heading="String by string",
        note=PLUCK_LEGEND,
        charts=(_chart(listening, notes),),
        tables=(Table(head=_HEAD, rows=rows, caption="Strings touched and open, note by note", dark=dark),),
        after=(_NEXT,) if open_by_key(listening) else (),
    )


def _chart(listening: Listening, notes: dict[int, Note]) -> SheetChart:
    lanes = [place for place in reversed(COLUMNS) if any(pluck_at(note.plucks, place) for note in notes.values())]
    points = [
        mark_only(key, float(row), _mark(pluck))
        for key, note in notes.items()
        for row, place in enumerate(lanes)
        if (pluck := pluck_at(note.plucks, place)) is not None
    ]
    is_single = all(pluck.string is StringPlace.ONLY for note in notes.values() for pluck in note.plucks or ())
    missed = {key: f"{open_words(plucks)} open".strip() for key, plucks in open_by_key(listening).items()}
    named = "; ".join(f"{note_name(key)} {words}" for key, words in missed.items())
    return plain_chart(
        name="plucks",
        title="Strings against the hammer",
        finding=mating_sentence(listening),
        shows=f"Chart of the strings of {count(len(notes), 'note')}, {key_ranges(notes)}. "
        + (f"Standing out: {named}." if missed else "None is open."),
        axis_title="string",
        keys=stretch_of(list(notes)),
        points=points,
        scale=Scale.LINEAR,
        lanes=("only",) if is_single else tuple(place.value for place in lanes),
        labels=run_labels(missed),
        table=Table(head=(), rows=()),
    )


def _mark(pluck: Pluck) -> Mark:
    if pluck.is_touched is None:
        return Mark.CANNOT_TELL
    return Mark.EVEN if pluck.is_touched else Mark.STANDS_OUT
