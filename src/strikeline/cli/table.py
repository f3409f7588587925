"""A listening as a table of plain text."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Sequence
from typing import Final

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.acoustics.pass_judgement import PassJudgement
from strikeline.cli.columns import COLUMNS, Column
from strikeline.cli.pass_words import evenness_sentences, toning_lines
from strikeline.cli.plain_text import bulleted, typed, wrapped
from strikeline.reports.damper_words import dampers_sentence, top_sentence
from strikeline.reports.figures import ABSENT, key_ranges
from strikeline.reports.pluck_words import mating_sentence
from strikeline.reports.unison_words import unisons_sentence
from strikeline.reports.untold import gather_untold

_NARROWEST_REMARKS: Final = 16


def terminal_width() -> int | None:
    """Return the width of the terminal that standard output is, or ``None`` when it is a file or a pipe."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def listening_table(listening: Listening, *, width: int | None, judgement: PassJudgement | None = None) -> str:
    """Return a listening as text: what was heard, one line per note, warnings, and what could not be told.

    Parameters
    ----------
    listening : Listening
        The result to print.
    width : int or None
        Columns of the terminal: narrow ones lose the least needed columns, which is said below the table. ``None``
        prints everything in full.
    judgement : PassJudgement, optional
        What a pass says of the piano as a whole; left out, only its notes are printed.
    """
    columns, dropped = _fitting(_offered(listening), listening.notes, width)
    bodies = [_aligned([column.cell(note) for note in listening.notes]) for column in columns]
    rows = [[column.head for column in columns], *(list(cells) for cells in zip(*bodies, strict=True))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(columns))]
    lines = [_line(row, columns, widths, width) for row in rows]
    parts = [_heading(listening), "", *lines, ""]
    whole = () if judgement is None else evenness_sentences(judgement.evenness)
    parts += [wrapped(text, width) for text in (*_summary(listening), *whole, _legend(listening.recording))]
    if dropped:
        names = ", ".join(column.head for column in dropped)
        parts.append(wrapped(f"Left out for want of room: {names}; a wider terminal or --json has them.", width))
    parts += [] if judgement is None else toning_lines(judgement, width)
    untold = [f"{one.what}: {one.why} ({one.notes})" for one in gather_untold(listening)]
    parts += bulleted("Warnings:", listening.recording.warnings, width)
    parts += bulleted("Could not be told:", untold, width)
    return "\n".join(parts)


def _aligned(cells: list[str]) -> list[str]:
    """Pad standard errors at the right, so that the ± of a column stand below each other."""
    errors = [cell.partition(" ±")[2] for cell in cells]
    longest = max(map(len, errors), default=0)
    return [cell + " " * (longest - len(error)) if error else cell for cell, error in zip(cells, errors, strict=True)]


def _offered(listening: Listening) -> list[Column]:
    """Return the columns of this kind of playing, without those that no note fills and nobody misses."""
    columns = COLUMNS[listening.recording.kind]
    empty = {"", ABSENT}
    return [
        one for one in columns if not (one.is_optional and all(one.cell(note) in empty for note in listening.notes))
    ]


def _fitting(offered: Sequence[Column], notes: Sequence[Note], width: int | None) -> tuple[list[Column], list[Column]]:
    """Return the columns that fit into `width`, and those that had to go."""
    columns, dropped = list(offered), list[Column]()

    def needed() -> int:
        sizes = [
            max(len(text) for text in (column.head, *_aligned([column.cell(note) for note in notes])))
            for column in columns[:-1]
        ]
        return sum(sizes) + 2 * len(sizes) + _NARROWEST_REMARKS

    while width is not None and needed() > width and any(column.rank for column in columns):
        worst = max(columns, key=lambda column: column.rank)
        columns.remove(worst)
        dropped.append(worst)
    return columns, dropped


def _line(cells: Sequence[str], columns: Sequence[Column], widths: Sequence[int], width: int | None) -> str:
    padded = [
        cell.ljust(size) if column.left else cell.rjust(size)
        for cell, column, size in zip(cells, columns, widths, strict=True)
    ]
    line = "  ".join(padded).rstrip()
    return line if width is None or len(line) <= width else line[: width - 1].rstrip() + "…"


def _heading(listening: Listening) -> str:
    recording = listening.recording
    minutes, seconds = divmod(round(recording.duration_s), 60)
    count = len(listening.notes)
    words = [f"{count} note{'' if count == 1 else 's'} in {minutes}:{seconds:02d} min"]
    if recording.compass is not None:
        words.append(f"compass {recording.compass}")
    if recording.missing_keys:
        words.append(f"not heard: {key_ranges(recording.missing_keys)}".replace("♯", "#"))
    return ("PARTIAL RESULT. " if recording.is_partial else "") + "; ".join(words)


def _summary(listening: Listening) -> list[str]:
    """Return the one or two sentences that a listening was made for."""
    kind = listening.recording.kind
    if kind is Kind.STACCATO:
        found = [dampers_sentence(listening), top_sentence(listening)]
    elif kind is Kind.PLUCKS:
        found = [mating_sentence(listening)]
    else:
        found = [unisons_sentence(listening)]
    return [typed(text) for text in found if text]


def _legend(recording: Recording) -> str:
    return _LEGENDS[recording.kind].format(a4_hz=recording.reference_a4_hz)


_ERRORS: Final = f"± holds the truth in 95 cases of 100; {ABSENT} cannot be told."
_STRUCK: Final = (
    f"{_ERRORS} cents: the first partial, f0·√(1+B), against equal temperament at A4 = {{a4_hz:g}} Hz. unison: beats "
    "per second in the loudest partial that beats."
)
_LEGENDS: Final = {
    Kind.PASS: _STRUCK,
    Kind.NOTE: _STRUCK,
    Kind.STACCATO: f"{_ERRORS} lands: after the blow. T60: the time in which the damped note would fall by 60 dB.",
    Kind.PLUCKS: "Strings left to right, as one stands in front of them. open: the hammer misses it, it rings on.",
}
