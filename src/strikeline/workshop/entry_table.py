"""Tables that people type or export from a spreadsheet, read row by row; every mistake is named with line and column.

Comma, semicolon or tab between the cells, decimal points or commas, empty lines, lines that begin with ``#``, columns
in any order: all will do. Nothing is taken from a table that has a mistake in it, and all mistakes are told at once.
"""

from __future__ import annotations

import csv
import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from strikeline.errors import InputError

_SEPARATORS: Final = ("\t", ";", ",")
_MOST_TOLD: Final = 12
"""Mistakes that are told one by one before the rest is only counted."""


class EntryError(InputError):
    """A table has mistakes; `mistakes` holds a sentence for each, with its line and column."""

    def __init__(self, mistakes: Sequence[str]) -> None:
        told = list(mistakes[:_MOST_TOLD])
        if len(mistakes) > _MOST_TOLD:
            told.append(f"and {len(mistakes) - _MOST_TOLD} more")
        super().__init__("\n".join(["the table could not be read; nothing was taken from it:", *told]), name="table")
        self.mistakes = tuple(mistakes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column that a table may have."""

    name: str
    read: Callable[[str], Any]
    """Makes a value of a cell; raises `InputError` where it cannot."""
    also: tuple[str, ...] = ()
    """Other headings that mean the same."""
    is_needed: bool = False
    """Whether the table must have it and every row fill it."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: where it stood, and what its cells hold; empty cells are left out."""

    line: int
    values: dict[str, Any]


def read_rows(text: str, columns: Sequence[Column]) -> list[Row]:
    r"""Return the rows of a table.

    Parameters
    ----------
    text : str
        The whole table; its first line has the headings.
    columns : sequence of Column
        What the table may hold.

    Raises
    ------
    EntryError
        If headings or cells cannot be read; it names each with line and column and says what was expected.

    Examples
    --------
    >>> columns = [Column(name="note", read=str, is_needed=True), Column(name="length", read=float)]
    >>> read_rows("Length;Note\n925;A3\n;A4\n", columns)
    [Row(line=2, values={'length': 925.0, 'note': 'A3'}), Row(line=3, values={'note': 'A4'})]
    """
    lines = _filled_lines(text)
    if not lines:
        needed = ", ".join(column.name for column in columns if column.is_needed)
        raise EntryError([f"the table is empty; its first line needs headings{needed and f', at least {needed}'}"])
    separator = _separator(lines[0][1])
    head_line, heads = lines[0][0], _cells(lines[0][1], separator)
    by_place = _columns_of(heads, head_line, columns)
    mistakes, rows = list[str](), list[Row]()
    for number, line in lines[1:]:
        values = _values(_cells(line, separator), by_place, number, mistakes)
        rows.append(Row(number, values))
    if mistakes:
        raise EntryError(mistakes)
    return rows


def headings(text: str) -> list[str]:
    """Return the headings of a table as they are written; none of an empty one."""
    lines = _filled_lines(text)
    return _cells(lines[0][1], _separator(lines[0][1])) if lines else []


def _filled_lines(text: str) -> list[tuple[int, str]]:
    return [
        (number, line)
        for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]


def _separator(line: str) -> str:
    return next((one for one in _SEPARATORS if one in line), ",")


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]


def _columns_of(heads: Sequence[str], line: int, columns: Sequence[Column]) -> list[Column]:
    """Return the column behind each heading, or say which headings mean nothing, stand twice or are missing."""
    known = {_plain(name): column for column in columns for name in (column.name, *column.also)}
    mistakes = list[str]()
    found = list[Column]()
    for place, head in enumerate(heads, start=1):
        column = known.get(_plain(head))
        if column is None:
            near = difflib.get_close_matches(_plain(head), known, n=1)
            names = ", ".join(one.name for one in columns)
            advice = f"did you mean {near[0]!r}?" if near else f"expected one of {names}"
            mistakes.append(f"line {line}, column {place}: heading {head!r} is not known; {advice}")
        elif column in found:
            mistakes.append(f"line {line}, column {place}: {column.name} stands there twice")
        else:
            found.append(column)
    if not mistakes:
        missing = [one.name for one in columns if one.is_needed and one not in found]
        mistakes += [f"line {line}: there is no column {name!r}" for name in missing]
    if mistakes:
        raise EntryError(mistakes)
    return found


def _plain(head: str) -> str:
    return " ".join(head.casefold().replace("_", " ").split())


def _values(cells: Sequence[str], columns: Sequence[Column], line: int, mistakes: list[str]) -> dict[str, Any]:
    """Return what the cells of a row hold; what cannot be read is added to the mistakes."""
    values = dict[str, Any]()
    if any(cells[len(columns) :]):
        hint = "write a text that holds the separator in quotation marks"
        mistakes.append(f"line {line}: {len(cells)} cells for {len(columns)} headings; {hint}")
        return values
    for place, column in enumerate(columns):
        cell = cells[place] if place < len(cells) else ""
        if cell:
            try:
                values[column.name] = column.read(cell)
            except InputError as error:
                mistakes.append(f"line {line}, {column.name}: {error}")
            except ValueError:
                mistakes.append(f"line {line}, {column.name}: {cell!r} is not a number")
        elif column.is_needed:
            mistakes.append(f"line {line}, {column.name}: the cell is empty")
    return values
