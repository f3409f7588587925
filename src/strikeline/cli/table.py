"""A listening as a table of plain text."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from strikeline.acoustics.listening import Listening, Note, Recording
from strikeline.measured import Measured
from strikeline.reports.figures import ABSENT, key_ranges, number, places_for, with_error
from strikeline.reports.untold import gather_untold

_NARROWEST_REMARKS: Final = 16


def terminal_width() -> int | None:
    """Return the width of the terminal that standard output is, or ``None`` when it is a file or a pipe."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


@dataclass(frozen=True, slots=True)
class _Column:
    head: str
    cell: Callable[[Note], str]
    rank: int
    """Columns of the highest rank go first when the terminal is narrow; 0 always stays."""
    left: bool = False


def _figure(measured: Measured | None, *, factor: float = 1.0, plus: bool = False) -> str:
    """Return value ± error with ordinary spaces, as other programs that read the table expect."""
    return with_error(measured, factor=factor, plus=plus).replace("\N{NO-BREAK SPACE}", " ")


def _only_value(measured: Measured | None) -> str:
    if measured is None:
        return ABSENT
    return number(measured.value, places=min(1, places_for(measured.se)))


def _remarks(note: Note) -> str:
    """Return the notices and, in short, which columns could not be told; the knock has none."""
    unknown = [reason.split(":", 1)[0].strip() for reason in note.cannot_tell if not reason.startswith("knock")]
    cannot = [f"cannot tell: {', '.join(dict.fromkeys(unknown))}"] if unknown else []
    return "; ".join([*note.notices, *cannot])


_COLUMNS: Final = (
    _Column("note", lambda note: note.name or "?", 0, left=True),
    _Column("key", lambda note: ABSENT if note.key is None else str(note.key), 6),
    _Column("at s", lambda note: f"{note.onset_s:.2f}", 4),
    _Column("f0 Hz", lambda note: _figure(note.f0_hz), 2),
    _Column("cents", lambda note: _figure(note.pitch_cents, plus=True), 0),
    _Column("B ×10⁻⁴", lambda note: _figure(note.inharmonicity_b, factor=1e4), 1),
    _Column("brightness", lambda note: _figure(note.brightness), 1),
    _Column("sustain dB/s", lambda note: _only_value(note.sustain_db_per_s), 3),
    _Column("level dB", lambda note: _only_value(note.level_db), 5),
    _Column("remarks", _remarks, 0, left=True),
)


def listening_table(listening: Listening, *, width: int | None) -> str:
    """Return a listening as text: what was heard, one line per note, warnings, and what could not be told.

    Parameters
    ----------
    listening : Listening
        The result to print.
    width : int or None
        Columns of the terminal: narrow ones lose the least needed columns, which is said below the table. ``None``
        prints everything in full.
    """
    columns, dropped = _fitting(listening.notes, width)
    bodies = [_aligned([column.cell(note) for note in listening.notes]) for column in columns]
    rows = [[column.head for column in columns], *(list(cells) for cells in zip(*bodies, strict=True))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(columns))]
    lines = [_line(row, columns, widths, width) for row in rows]
    parts = [_heading(listening), "", *lines, "", _wrapped(_legend(listening.recording), width)]
    if dropped:
        names = ", ".join(column.head for column in dropped)
        parts.append(_wrapped(f"Left out for want of room: {names}; a wider terminal or --json has them.", width))
    untold = [f"{one.what}: {one.why} ({one.notes})" for one in gather_untold(listening)]
    parts += _list("Warnings:", list(listening.recording.warnings), width)
    parts += _list("Could not be told:", untold, width)
    return "\n".join(parts)


def _aligned(cells: list[str]) -> list[str]:
    """Pad standard errors at the right, so that the ± of a column stand below each other."""
    errors = [cell.partition(" ±")[2] for cell in cells]
    longest = max(map(len, errors), default=0)
    return [cell + " " * (longest - len(error)) if error else cell for cell, error in zip(cells, errors, strict=True)]


def _fitting(notes: Sequence[Note], width: int | None) -> tuple[list[_Column], list[_Column]]:
    """Return the columns that fit into `width`, and those that had to go."""
    columns, dropped = list(_COLUMNS), list[_Column]()

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


def _line(cells: Sequence[str], columns: Sequence[_Column], widths: Sequence[int], width: int | None) -> str:
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


def _legend(recording: Recording) -> str:
    return (
        f"± holds the truth in 95 cases of 100; {ABSENT} cannot be told. cents: the first partial, f0·√(1+B), against "
        f"equal temperament at A4 = {recording.reference_a4_hz:g} Hz."
    )


def _list(title: str, items: list[str], width: int | None) -> list[str]:
    if not items:
        return []
    return ["", title, *(_wrapped(item, width, bullet="- ") for item in items)]


def _wrapped(text: str, width: int | None, *, bullet: str = "") -> str:
    if width is None:
        return f"{bullet}{text}"
    return textwrap.fill(
        text, width=max(20, width), initial_indent=bullet, subsequent_indent=" " * len(bullet), break_on_hyphens=False
    )
