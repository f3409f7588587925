"""Keys, note names, compass and equal temperament.

A key number counts semitones with A4 = 49, so that a modern 88-key piano runs from 1 (A0) to 88 (C8). Larger
instruments continue below 1 and above 88.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError

A4_KEY: Final = 49
LOWEST_KEY: Final = -8
"""C0, nine keys below the modern piano, as the largest grands have (common practice, no source)."""
HIGHEST_KEY: Final = 97
"""A8, nine keys above the modern piano."""

_SHARP_NAMES: Final = ("A", "A#", "B", "C", "C#", "D", "D#", "E", "F", "F#", "G", "G#")
_STEP_FROM_C: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTAL: Final = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "♮": 0}
_NOTE: Final = re.compile(r"^\s*([A-Ga-g])\s*([#♯b♭♮]?)\s*(-?\d)\s*$")
_RANGE: Final = re.compile(r"^(.*?\d)\s*(?:-|–|—|\.\.|to)\s*(\D.*)$")


def key_from_name(name: str) -> int:
    """Return the key number of a note in scientific pitch notation.

    Parameters
    ----------
    name : str
        For example ``"A4"``, ``"Bb0"``, ``"F♯6"``, ``"c#4"``.

    Returns
    -------
    int
        Key number, 49 for A4.

    Raises
    ------
    InputError
        If the text is no note or lies outside C0 to A8.

    Examples
    --------
    >>> key_from_name("A4"), key_from_name("Bb0"), key_from_name("C8")
    (49, 2, 88)
    """
    match = _NOTE.match(name)
    if match is None:
        advice = "the German H is B here, the German B is Bb" if name.strip()[:1] in {"H", "h"} else ""
        raise InputError.of("note", name, "a note such as A4, C#5 or Bb0", advice=advice)
    letter, accidental, octave = match.groups()
    key = 12 * int(octave) + _STEP_FROM_C[letter.upper()] + _ACCIDENTAL[accidental] - 8
    if not LOWEST_KEY <= key <= HIGHEST_KEY:
        raise InputError.of("note", name, f"a note from {key_name(LOWEST_KEY)} to {key_name(HIGHEST_KEY)}")
    return key


def key_name(key: int, *, typographic: bool = False) -> str:
    """Return the name of a key in scientific pitch notation, with sharps.

    Parameters
    ----------
    key : int
        Key number, 49 for A4.
    typographic : bool
        Write the accidental as ♯ instead of #.

    Examples
    --------
    >>> key_name(1), key_name(50), key_name(50, typographic=True)
    ('A0', 'A#4', 'A♯4')
    """
    octave, step = divmod(key + 8, 12)
    name = f"{_SHARP_NAMES[(step + 3) % 12]}{octave}"
    return name.replace("#", "♯") if typographic else name


def is_white(key: int) -> bool:
    """Return whether the key is a natural ("white") key.

    Examples
    --------
    >>> [is_white(key) for key in (1, 2, 3, 4)]
    [True, False, True, True]
    """
    return "#" not in key_name(key)


def equal_tempered_hz(key: ArrayLike, *, a4_hz: float) -> NDArray[np.float64]:
    """Return the frequencies of keys in equal temperament.

    Parameters
    ----------
    key : array_like of int
        Key numbers, 49 for A4.
    a4_hz : float
        Frequency of A4, above 0; ISO 16:1975 has 440 Hz.

    Returns
    -------
    ndarray of float
        Frequencies in hertz, in the shape of `key`.

    Examples
    --------
    >>> equal_tempered_hz([37, 49, 61], a4_hz=440.0)
    array([220., 440., 880.])
    """
    if not a4_hz > 0:
        raise InputError.of("a4_hz", a4_hz, "above 0 Hz")
    return np.asarray(a4_hz * np.exp2((np.asarray(key, dtype=np.float64) - A4_KEY) / 12.0))


@dataclass(frozen=True, slots=True)
class Compass:
    """The keys an instrument has, from `lowest` to `highest`, both included."""

    lowest: int
    highest: int

    def __post_init__(self) -> None:
        if not LOWEST_KEY <= self.lowest < self.highest <= HIGHEST_KEY:
            ends = [
                key_name(key) if LOWEST_KEY <= key <= HIGHEST_KEY else str(key) for key in (self.lowest, self.highest)
            ]
            raise InputError.of("compass", "-".join(ends), "the lower key first, then the higher, from C0 to A8")

    @classmethod
    def parse(cls, text: str) -> Compass:
        """Return the compass written as ``A0-A7``, ``C1–C8`` or ``A0 to C8``.

        Examples
        --------
        >>> len(Compass.parse("A0-A7")), len(Compass.parse("A0-C8"))
        (85, 88)
        """
        match = _RANGE.match(text)
        if match is None:
            raise InputError.of("compass", text, "lowest and highest key, such as A0-C8")
        return cls(key_from_name(match[1]), key_from_name(match[2]))

    def __len__(self) -> int:
        return self.highest - self.lowest + 1

    def __contains__(self, key: object) -> bool:
        return isinstance(key, int) and self.lowest <= key <= self.highest

    def __iter__(self) -> Iterator[int]:
        return iter(range(self.lowest, self.highest + 1))

    def __str__(self) -> str:
        return f"{key_name(self.lowest)}-{key_name(self.highest)}"


FULL_COMPASS: Final = Compass(1, 88)
"""A0 to C8, the modern piano."""
SHORT_COMPASS: Final = Compass(1, 85)
"""A0 to A7, many pianos before about 1930 (common practice, no source)."""
