"""Tables that people type or export from a spreadsheet, read row by row; every mistake is named with line and column.

Comma, semicolon or tab between the cells, decimal points or commas, empty lines, lines that begin with ``#``, columns
in any order: all will do. A heading may carry a unit in brackets (``length [mm]``), which counts for the cells below it
that have none of their own; ``-``, ``–`` and ``n/a`` are empty cells. Nothing is taken from a table that has a mistake
in it, and all mistakes are told at once.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.units import UNITS
from strikeline.workshop.table_kinds import likely_command

_SEPARATORS: Final = ("\t", ";", ",")
_MOST_TOLD: Final = 12
"""Mistakes that are told one by one before the rest is only counted."""
_EMPTY: Final = frozenset({"-", "–", "—", "−", "n/a", "n.a."})
_WITH_UNIT: Final = re.compile(r"^(.*?\S)\s*[\[(]([^\])]+)[\])]\s*$")
_UNIT_SPELLINGS: Final = frozenset(spelling for unit in UNITS.values() for spelling in unit.spellings)
_OWN_UNIT: Final = re.compile(r"[^\W\d_]|[%°'\"″′”’]")
_POWER: Final = re.compile(r"(?<=\d)[eE](?=[+-]?\d)")


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
    may_be_empty: bool = False
    """Whether a needed column may leave cells empty."""
    read_under: Mapping[str, Callable[[str], Any]] = field(default_factory=lambda: MappingProxyType({}))
    """Other readers for some of its headings, such as key numbers under ``key``."""
    check: Callable[[Sequence[tuple[int, str]]], Sequence[str]] | None = None
    """Looks at all filled cells of the column together, each with its line, and returns a sentence for each mistake."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: where it stood, and what its cells hold; empty cells are left out."""

    line: int
    values: dict[str, Any]
    unread: frozenset[str] = field(default=frozenset(), repr=False)
    """Columns whose cells could not be read; filled only where `read_rows` was asked to gather mistakes."""
    heads: Mapping[str, str] = field(default_factory=dict, repr=False)
    """How the table heads its columns, by their names, without units."""


def read_rows(text: str, columns: Sequence[Column], *, mistakes: list[str] | None = None) -> list[Row]:
    r"""Return the rows of a table.

    Parameters
    ----------
    text : str
        The whole table; its first line has the headings.
    columns : sequence of Column
        What the table may hold.
    mistakes : list of str, optional
        Where given, mistakes in headings and cells are added to it instead of raised, so that the caller can go on and
        tell its own with them.

    Raises
    ------
    EntryError
        If headings or cells cannot be read; it names each with line and column and says what was expected. A table
        without headings, or one for another command, is always refused.

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
    told, rows = list[str](), list[Row]()
    by_place = _columns_of(heads, head_line, columns, told)
    cells = dict[str, list[tuple[int, str]]]()
    for number, line in lines[1:]:
        rows.append(_row(_cells(line, separator), by_place, number, told, cells))
    for column in columns:
        if column.check is not None and column.name in cells:
            told += column.check(cells[column.name])
    if told and mistakes is None:
        raise EntryError(told)
    if mistakes is not None:
        mistakes += told
    return rows


def raise_mistakes(mistakes: Sequence[str]) -> None:
    """Raise an `EntryError` for mistakes that were gathered, by their lines; do nothing where there is none."""
    if mistakes:
        raise EntryError(sorted(mistakes, key=_line_of))


def _line_of(mistake: str) -> int:
    match = re.match(r"line (\d+)", mistake)
    return int(match[1]) if match else 0


def in_plain_words(error: InputError) -> str:
    """Return what is wrong with a cell without the programmer's ``name = value``.

    Examples
    --------
    >>> in_plain_words(InputError.of("note", "H4", "a note such as A4", advice="the German H is B here"))
    "'H4' does not fit; expected a note such as A4; the German H is B here"
    """
    told, start = str(error), f"{error.name} = {error.value!r}, expected "
    if not told.startswith(start):
        return told
    value = error.value if isinstance(error.value, str) else f"{error.value}"
    return f"{value!r} does not fit; expected {told.removeprefix(start)}"


def without_unit(head: str) -> tuple[str, str | None]:
    """Return a heading without the unit in its brackets, and that unit; ``None`` where it has none.

    Examples
    --------
    >>> without_unit("length [mm]"), without_unit("set-off (in)"), without_unit("place (of the pin)")
    (('length', 'mm'), ('set-off', 'in'), ('place (of the pin)', None))
    """
    match = _WITH_UNIT.match(head)
    if match is None or match[2].strip().rstrip(".").casefold() not in _UNIT_SPELLINGS:
        return head, None
    return match[1], match[2].strip()


def with_unit(cell: str, unit: str | None) -> str:
    """Return a cell with the unit of its heading, unless it has one of its own.

    Examples
    --------
    >>> with_unit("46,5", "mm"), with_unit("1 1/2 in", "mm"), with_unit("46 ± 1", "mm"), with_unit("4", None)
    ('46,5 mm', '1 1/2 in', '46 ± 1 mm', '4')
    """
    if unit is None or not unit.strip() or _OWN_UNIT.search(_POWER.sub("", cell)):
        return cell
    return f"{cell} {unit.strip()}"


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


@dataclass(frozen=True, slots=True)
class _Headed:
    """A column with what its heading says of it."""

    column: Column
    head: str
    """As it is written, without its unit."""
    unit: str | None

    def read(self, cell: str) -> Any:
        own = self.column.read_under.get(_plain(self.head), self.column.read)
        return own(with_unit(cell, self.unit))


def _columns_of(
    heads: Sequence[str], line: int, columns: Sequence[Column], mistakes: list[str]
) -> list[_Headed | None]:
    """Return the column behind each heading; headings that mean nothing, stand twice or are missing are told."""
    known = {_plain(name): column for column in columns for name in (column.name, *column.also)}
    own, found = list[str](), list[_Headed | None]()
    unknown = [head for head in heads if _plain(head) not in known and _plain(without_unit(head)[0]) not in known]
    command = likely_command([without_unit(head)[0] for head in heads], n_known=len(heads) - len(unknown))
    if unknown and command is not None:
        names = ", ".join(map(repr, unknown))
        raise EntryError([f"line {line}: this looks like a table for `{command}`; no column here is headed {names}"])
    for place, head in enumerate(heads, start=1):
        bare, unit = (head, None) if _plain(head) in known else without_unit(head)
        column = known.get(_plain(bare))
        if column is None:
            near = difflib.get_close_matches(_plain(bare), known, n=1, cutoff=_NEAR)
            advice = f"; did you mean {near[0]!r}?" if near else ""
            own.append(f"line {line}, column {place}: heading {head!r} is not known{advice}")
            found.append(None)
        elif any(one is not None and one.column is column for one in found):
            own.append(f"line {line}, column {place}: {column.name} stands there twice")
            found.append(None)
        else:
            found.append(_Headed(column, bare, unit))
    present = [one.column for one in found if one is not None]
    if not unknown:
        missing = [one.name for one in columns if one.is_needed and one not in present]
        own += [f"line {line}: there is no column {name!r}" for name in missing]
    if unknown:
        all_names = [one.name for one in columns]
        more = f" and {len(all_names) - _MOST_NAMES} more" if len(all_names) > _MOST_NAMES else ""
        own.append(f"line {line}: columns may be headed {', '.join(all_names[:_MOST_NAMES])}{more}")
    mistakes += own
    return found


_MOST_NAMES: Final = 24
_NEAR: Final = 0.7
"""How alike a heading must be to be suggested (0 to 1, `difflib`)."""


def _plain(head: str) -> str:
    return " ".join(head.casefold().replace("_", " ").replace("-", " ").split())


def _row(
    cells: Sequence[str],
    columns: Sequence[_Headed | None],
    line: int,
    mistakes: list[str],
    filled: dict[str, list[tuple[int, str]]],
) -> Row:
    """Return what the cells of a row hold; what cannot be read is added to the mistakes."""
    values, unread = dict[str, Any](), set[str]()
    heads = {one.column.name: one.head for one in columns if one is not None}
    if any(cells[len(columns) :]):
        hint = "write a text that holds the separator in quotation marks"
        mistakes.append(f"line {line}: {len(cells)} cells for {len(columns)} headings; {hint}")
        return Row(line, values, frozenset(one.column.name for one in columns if one is not None), heads)
    for place, headed in enumerate(columns):
        if headed is None:
            continue
        column, name, head = headed.column, headed.column.name, headed.head.casefold()
        cell = cells[place] if place < len(cells) else ""
        if cell and cell.casefold() not in _EMPTY:
            filled.setdefault(name, []).append((line, cell))
            try:
                values[name] = headed.read(cell)
            except InputError as error:
                mistakes.append(f"line {line}, {head}: {in_plain_words(error)}")
                unread.add(name)
            except ValueError:
                mistakes.append(f"line {line}, {head}: {cell!r} is not a number")
                unread.add(name)
        elif column.is_needed and not column.may_be_empty:
            mistakes.append(f"line {line}, {head}: the cell is empty")
            unread.add(name)
    return Row(line, values, frozenset(unread), heads)
