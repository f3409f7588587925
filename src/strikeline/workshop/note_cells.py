"""Notes in tables: names, key numbers under ``key``, and small letters that could be German names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from strikeline.errors import InputError
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, Compass, key_from_name, key_name
from strikeline.workshop.entry_table import Column

_NUMBER: Final = re.compile(r"-?\d+")
_ENDS: Final = re.compile(r"[A-Ga-g]\s*[#♯b♭♮]?\s*-?\d")
_SMALL: Final = re.compile(r"([a-g])\s*[#♯b♭♮]?\s*(-?\d)")
_GERMAN_OCTAVES: Final = range(1, 6)
"""Raised figures that German writing puts behind small letters: a¹ is A4, c⁵ is C8 (pitch notation of Helmholtz, 1863;
from memory)."""
_HIGHER: Final = 3
"""Octaves by which the German figure lies higher than the one of scientific pitch notation."""


def note_column(*, also: Sequence[str] = (), is_needed: bool = False) -> Column:
    """Return the column of notes that tables share.

    Parameters
    ----------
    also : sequence of str
        Further headings besides ``note``, ``key`` and ``key number``.
    is_needed : bool
        Whether every row needs a note.
    """
    return Column(
        name="note",
        read=note_cell,
        also=("key", "key number", *also),
        is_needed=is_needed,
        read_under={"key": key_cell, "key number": key_cell},
        check=small_letters,
    )


def note_cell(text: str) -> int:
    """Return the key number of a note written in a cell.

    Raises
    ------
    InputError
        If it is no note; a bare number is told where it would be read.

    Examples
    --------
    >>> note_cell("C#4")
    41
    """
    if _NUMBER.fullmatch(text.strip()):
        advice = "head the column 'key' if these are key numbers, 1 for A0 and 49 for A4"
        raise InputError.of("note", text, "a note such as A4, C#5 or Bb0", advice=advice)
    return key_from_name(text)


def key_cell(text: str) -> int:
    """Return the key number of a note or of a key number, 49 for A4.

    Raises
    ------
    InputError
        If it is neither, or lies outside C0 to A8.

    Examples
    --------
    >>> key_cell("49"), key_cell("A4")
    (49, 49)
    """
    if not _NUMBER.fullmatch(text.strip()):
        return key_from_name(text)
    key = int(text)
    if not LOWEST_KEY <= key <= HIGHEST_KEY:
        raise InputError.of("key", text, f"a key number from {LOWEST_KEY} to {HIGHEST_KEY}, 49 for A4, or a note")
    return key


def clear_keys(*notes: str) -> tuple[int, ...]:
    """Return the key numbers of notes that stand by themselves, such as behind options of one command.

    Raises
    ------
    InputError
        If one is no note, or its small letter can be read in two ways as in `small_letters`.

    Examples
    --------
    >>> clear_keys("A4"), clear_keys("a0", "c5")
    ((49,), (1, 52))
    """
    keys = tuple(map(key_from_name, notes))
    for told in small_letters([(0, note) for note in notes]):
        raise InputError(told.partition(", ")[2], name="note", value=notes)
    return keys


def clear_compass(text: str) -> Compass:
    """Return a compass or section as `Compass.parse` reads it, refused where `clear_keys` would refuse its ends.

    Raises
    ------
    InputError
        If it is no compass, or its small letters can be read in two ways.

    Examples
    --------
    >>> str(clear_compass("A0-E2")), str(clear_compass("a0-c8"))
    ('A0-E2', 'A0-C8')
    """
    compass = Compass.parse(text)
    clear_keys(*_ENDS.findall(text))
    return compass


def small_letters(cells: Sequence[tuple[int, str]]) -> list[str]:
    """Return the mistake of notes whose small letters can be read in two ways; empty where they cannot.

    ``a1`` is A1 in scientific pitch notation, as strikeline reads it, and A4 in German writing. A figure that German
    notes do not have, such as in ``a0`` or ``c7``, shows for the whole table which is meant.

    Parameters
    ----------
    cells : sequence of tuple of int and str
        Line and text of every note of a table.

    Examples
    --------
    >>> small_letters([(2, "a4"), (3, "c7")]), small_letters([(2, "A4")])
    ([], [])
    >>> small_letters([(2, "a1"), (3, "A4")])
    ["line 2, note: 'a1' can be read in two ways, as A1 or, in German writing, as A4; write it with a capital letter"]
    """
    small = [(line, cell, match) for line, cell in cells if (match := _SMALL.fullmatch(cell.strip())) is not None]
    if not small or any(int(match[2]) not in _GERMAN_OCTAVES for _line, _cell, match in small):
        return []
    line, cell, _match = small[0]
    more = f" ({len(small)} notes are written so)" if len(small) > 1 else ""
    key = key_from_name(cell)
    both = f"{key_name(key)} or, in German writing, as {_german(key)}"
    return [f"line {line}, note: {cell!r} can be read in two ways, as {both}; write it with a capital letter{more}"]


def _german(key: int) -> str:
    return key_name(key + 12 * _HIGHER)
