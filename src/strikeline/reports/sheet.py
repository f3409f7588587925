"""The condition sheet: one listening, judged and put into words, charts and tables, as a page and as print."""

from __future__ import annotations

import json
from datetime import date
from typing import Final

from strikeline.acoustics.evenness import Evenness, Standout, Sureness, judge_evenness
from strikeline.acoustics.evenness_fit import MIN_NOTES
from strikeline.acoustics.listening import Kind, Listening, Note
from strikeline.reports.content import SheetContent, Table
from strikeline.reports.document import render_sheet_pdf
from strikeline.reports.figures import (
    count,
    key_range,
    minutes,
    note_name,
    sentence,
    with_error,
)
from strikeline.reports.page import render_sheet_html
from strikeline.reports.sheet_charts import LOOKS, Look, legend, sheet_chart
from strikeline.reports.sheet_texts import DEFINITIONS
from strikeline.reports.untold import Untold, gather_untold
from strikeline.reports.words import (
    NOTHING_STANDS_OUT,
    a4_name,
    break_sentence,
    heard_sentence,
    how_far,
    pitch_level_sentence,
    scatter_sentence,
    standout_sentence,
    standout_word,
    standouts_sentence,
    step_sentences,
)

__all__ = ["render_sheet_html", "render_sheet_pdf", "sheet_content"]

_UNTITLED: Final = "A piano, as recorded"
_SUBTITLES: Final = {
    Kind.PASS: "Condition sheet from one recorded pass over the keyboard",
    Kind.NOTE: "Condition sheet from one recorded note",
}
_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_ANNEX_NOTE: Final = (
    "± holds the truth in 95 cases of 100; – could not be told. f0 is that of the stiff-string law; pitch is that "
    "of the first partial."
)
_FEWEST_TO_DRAW: Final = 3
_LONGEST_TITLE: Final = 200


def sheet_content(listening: Listening, *, title: str | None, made_on: date) -> SheetContent:
    """Judge a listening and put it into the words, charts and tables of a condition sheet.

    Parameters
    ----------
    listening : Listening
        Any number of notes, down to none.
    title : str or None
        What instrument or recording this is, as the user wrote it; any characters, shortened beyond 200.
    made_on : date
        Day that is printed on the sheet.

    Returns
    -------
    SheetContent
        What `render_sheet_html` and `render_sheet_pdf` set.
    """
    evenness = judge_evenness(listening)
    untold = gather_untold(listening)
    recording = listening.recording
    n_heard = len(listening.best_by_key())
    drawn = [look for look in LOOKS if not look.is_optional or _is_mostly_told(listening, look)]
    charts = tuple(sheet_chart(listening, evenness, look) for look in drawn) if n_heard >= _FEWEST_TO_DRAW else ()
    return SheetContent(
        lang="en",
        title=_shortened(title),
        subtitle=_SUBTITLES[listening.recording.kind],
        made_on=f"{made_on.day} {_MONTHS[made_on.month - 1]} {made_on.year}",
        made_on_iso=made_on.isoformat(),
        facts=_facts(listening),
        warnings=_warnings(listening),
        in_short=_in_short(listening, evenness, untold),
        charts=charts,
        legend=legend(evenness),
        standouts=Table(
            head=("Notes", "What", "How far", "How sure"), rows=tuple(_standout_row(s) for s in evenness.standouts)
        ),
        no_standouts=_no_standouts(evenness),
        also=tuple(filter(None, (break_sentence(evenness), *step_sentences(evenness), scatter_sentence(evenness)))),
        untold=Table(head=("What", "Notes", "Why"), rows=tuple((u.what, u.notes, sentence(u.why)) for u in untold)),
        no_untold="Everything this sheet shows could be told for every note heard.",
        definitions=DEFINITIONS,
        provenance=(
            ("Recording", f"SHA-256 {recording.sha256}"),
            ("Sample rate", f"{recording.sample_rate_hz:,} Hz".replace(",", " ")),
            ("Analyser", f"strikeline {recording.analyser}"),
            ("Reference", a4_name(recording.reference_a4_hz)),
        ),
        annex=_annex(listening),
        annex_note=_ANNEX_NOTE,
        listening_json=json.dumps(listening.to_json(), ensure_ascii=False, indent=1, allow_nan=False),
    )


def _is_mostly_told(listening: Listening, look: Look) -> bool:
    """Return whether half of the notes have a value: fewer make a chart of gaps, and the table has them all."""
    notes = listening.best_by_key().values()
    return 2 * sum(getattr(note, look.quantity.field) is not None for note in notes) >= len(notes)


def _shortened(title: str | None) -> str:
    cleaned = " ".join((title or "").split())
    printable = "".join(character for character in cleaned if character.isprintable())
    if not printable:
        return _UNTITLED
    return printable if len(printable) <= _LONGEST_TITLE else f"{printable[: _LONGEST_TITLE - 1].rstrip()}…"


def _facts(listening: Listening) -> tuple[tuple[str, str], ...]:
    recording = listening.recording
    notes = listening.best_by_key()
    heard = str(len(notes)) if recording.compass is None else f"{len(notes)} of {len(recording.compass)}"
    compass = (
        "cannot be told"
        if recording.compass is None
        else key_range(recording.compass.lowest, recording.compass.highest)
    )
    return (
        ("Recording", minutes(recording.duration_s)),
        ("Keys heard", heard),
        ("Compass", compass),
        ("Reference", a4_name(recording.reference_a4_hz)),
    )


def _warnings(listening: Listening) -> tuple[str, ...]:
    warnings = [sentence(warning) for warning in listening.recording.warnings]
    if listening.recording.is_partial:
        warnings.insert(0, "This is a partial result: the listening ended before the recording did.")
    return tuple(warnings)


def _in_short(listening: Listening, evenness: Evenness, untold: tuple[Untold, ...]) -> tuple[str, ...]:
    """Return three to five sentences an owner understands."""
    short = [heard_sentence(listening)]
    if evenness.pitch_level is not None:
        a4_hz = listening.recording.reference_a4_hz
        short.append(pitch_level_sentence(evenness.pitch_level, a4_hz=a4_hz))
    if any(one.notes for one in evenness.quantities):
        short.append(standouts_sentence(evenness.standouts))
        clear = [standout for standout in evenness.standouts if standout.sureness is not Sureness.HINT]
        short += [f"Next: {standout_sentence(standout)}" for standout in clear[1:2]]
    elif listening.best_by_key():
        short.append(_no_standouts(evenness))
    n_untold = sum(one.n_notes for one in untold)
    if n_untold and listening.notes:
        short.append(_untold_sentence(untold, n_untold))
    return tuple(short)


def _untold_sentence(untold: tuple[Untold, ...], n_untold: int) -> str:
    """Say how much is missing, and name it where it is all of one kind."""
    kinds = {one.what for one in untold}
    if len(kinds) == 1 and (only := kinds.pop()) != "everything":
        return f"The {only} of {count(n_untold, 'note')} could not be told; why is written below."
    return f"{count(n_untold, 'value').capitalize()} could not be told; why is written below."


def _no_standouts(evenness: Evenness) -> str:
    if any(one.notes for one in evenness.quantities):
        return NOTHING_STANDS_OUT
    return f"Too few notes to compare each with its neighbours: at least {MIN_NOTES} are needed."


def _standout_row(standout: Standout) -> tuple[str, str, str, str]:
    what = f"{standout_word(standout)} than the neighbours"
    return (key_range(standout.first_key, standout.last_key), what, how_far(standout), str(standout.sureness))


def _annex(listening: Listening) -> Table:
    head = (
        "Note",
        "f0 (Hz)",
        "Pitch (cents)",
        "B × 10 000",
        "Brightness",
        "Sustain (dB/s)",
        "Level (dB)",
        "Knock (dB)",
    )
    return Table(head=head, rows=tuple(_annex_row(key, note) for key, note in listening.best_by_key().items()))


def _annex_row(key: int, note: Note) -> tuple[str, ...]:
    return (
        note_name(key),
        with_error(note.f0_hz, max_places=3),
        with_error(note.pitch_cents, plus=True, max_places=2),
        with_error(note.inharmonicity_b, factor=1e4, max_places=3),
        with_error(note.brightness, plus=True, max_places=2),
        with_error(note.sustain_db_per_s, max_places=2),
        with_error(note.level_db, max_places=1),
        with_error(note.knock_db, max_places=1),
    )
