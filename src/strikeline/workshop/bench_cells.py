"""Cells that several bench tables share: notes, quantities with the error of reading, counts, words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from enum import StrEnum
from typing import TypeVar

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.written import read_quantity

_Word = TypeVar("_Word", bound=StrEnum)
_PLUS_MINUS = ("±", "+-", "+/-")


def quantity_cell(
    name: str, *, unit: str, low: float, high: float, what: str, se: float = 0.0, se_ratio: float = 0.0
) -> Callable[[str], Measured]:
    """Return a reader of one quantity in a cell.

    Parameters
    ----------
    name : str
        Of the column, for the message.
    unit : str
        Unit of the result and of a number without one.
    low, high : float
        What can be meant.
    what : str
        What the limits are of.
    se : float
        Standard error where no ± was written, in `unit`.
    se_ratio : float
        The same as a share of the value, added to `se`.

    Returns
    -------
    callable
        Takes the text of a cell, returns a `Measured`, raises `InputError`.
    """

    def read(text: str) -> Measured:
        written = read_quantity(text, name=name, unit=unit, low=low, high=high, what=what)
        if any(sign in text for sign in _PLUS_MINUS):
            return written
        return replace(written, se=se + se_ratio * abs(written.value))

    return read


def count_cell(name: str, *, low: int, high: int) -> Callable[[str], int]:
    """Return a reader of a whole number in a cell.

    Parameters
    ----------
    name : str
        Of the column.
    low, high : int
        What can be meant, both included.
    """

    def read(text: str) -> int:
        number = float(text.replace(",", "."))
        if not (number.is_integer() and low <= number <= high):
            raise InputError.of(name, text, f"a whole number, {low} to {high}")
        return int(number)

    return read


def word_cell(name: str, words: Mapping[str, _Word]) -> Callable[[str], _Word]:
    """Return a reader of one of some words in a cell, capital or small.

    Parameters
    ----------
    name : str
        Of the column.
    words : mapping of str to StrEnum
        What each spelling means, in small letters.
    """

    def read(text: str) -> _Word:
        found = words.get(text.strip().casefold())
        if found is None:
            raise InputError.of(name, text, "one of " + ", ".join(words))
        return found

    return read
