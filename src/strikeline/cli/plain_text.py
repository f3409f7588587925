"""Plain text for a terminal: sentences broken to its width, lists, and rows whose cells stand below each other."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import Final

from strikeline.measured import Measured
from strikeline.reports.figures import NO_BREAK, with_error

_NARROWEST: Final = 20
_RUN: Final = re.compile(r"(?<=\d)–(?=[A-G])")
"""What stands between the first and the last note of a run."""


def plain(text: str) -> str:
    """Return text with ordinary spaces, as other programs that read it expect."""
    return text.replace(NO_BREAK, " ")


def typed(text: str) -> str:
    """Return text as it would be typed, with ordinary spaces, # for sharps and - in runs: a search finds its notes.

    Examples
    --------
    >>> typed("A♯0–C1, D♯4; – is no run")
    'A#0-C1, D#4; – is no run'
    """
    return _RUN.sub("-", plain(text).replace("♯", "#"))


def figure(measured: Measured | None, *, factor: float = 1.0, plus: bool = False) -> str:
    """Return value ± error with ordinary spaces."""
    return plain(with_error(measured, factor=factor, plus=plus))


def wrapped(text: str, width: int | None, *, bullet: str = "") -> str:
    """Return text broken to a width, its further lines set in below a bullet; ``None`` breaks no line."""
    if width is None:
        return f"{bullet}{text}"
    return textwrap.fill(
        text,
        width=max(_NARROWEST, width),
        initial_indent=bullet,
        subsequent_indent=" " * len(bullet),
        break_on_hyphens=False,
    )


def bulleted(title: str, items: Sequence[str], width: int | None) -> list[str]:
    """Return an empty line, a title and a line for each item; nothing without items.

    Parameters
    ----------
    title : str
        What the items are.
    items : sequence of str
        Each becomes a paragraph behind a bullet.
    width : int or None
        Columns to break at, as for `wrapped`.
    """
    return ["", wrapped(title, width), *(wrapped(item, width, bullet="- ") for item in items)] if items else []


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return one line for each row, its cells beginning below those of the first row."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["  ".join(cell.ljust(size) for cell, size in zip(row, widths, strict=True)).rstrip() for row in rows]
