"""Temperaments by the commas that narrow their fifths: from the definition to cents from equal temperament.

A temperament is written as eleven fifths from E♭ up to G♯, each pure but for a share of a comma; the twelfth, G♯ to E♭,
closes the circle with what is left. The tables of cents that books print are thus a check and not an input.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY
from strikeline.units import CENTS_PER_OCTAVE

PURE_FIFTH_CENTS: Final = CENTS_PER_OCTAVE * float(np.log2(1.5))
PYTHAGOREAN_COMMA_CENTS: Final = 12.0 * PURE_FIFTH_CENTS - 7.0 * CENTS_PER_OCTAVE
"""Twelve pure fifths over seven octaves, 23.460 cents."""
SYNTONIC_COMMA_CENTS: Final = CENTS_PER_OCTAVE * float(np.log2(81.0 / 80.0))
"""Four pure fifths over two octaves and a pure third, 21.506 cents."""
SCHISMA_CENTS: Final = PYTHAGOREAN_COMMA_CENTS - SYNTONIC_COMMA_CENTS
"""1.954 cents."""

FIFTHS: Final = (
    "Eb-Bb", "Bb-F", "F-C", "C-G", "G-D", "D-A", "A-E", "E-B", "B-F#", "F#-C#", "C#-G#"
)  # fmt: skip
"""The chain of fifths, each named by its two notes."""
_C_IN_CHAIN: Final = 3
_A_STEPS_FROM_C: Final = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperament:
    """How the twelve notes of an octave are divided; every octave is alike."""

    name: str
    """The word it is asked for by."""
    title: str
    narrowed_cents: tuple[float, ...]
    """By how much each of `FIFTHS` is narrower than pure, cents, shape (11,)."""
    source: str
    """Where its definition is from."""

    def cents_from_c(self) -> NDArray[np.float64]:
        """Return the twelve notes from C upward, cents above C, shape (12,)."""
        fifths = PURE_FIFTH_CENTS - np.array(self.narrowed_cents)
        chain = np.concatenate([[0.0], np.cumsum(fifths)])
        steps = (np.arange(chain.size) - _C_IN_CHAIN) * 7 % 12
        cents = np.empty(12)
        cents[steps] = (chain - chain[_C_IN_CHAIN]) % CENTS_PER_OCTAVE
        return cents

    def offset_cents(self, key: ArrayLike) -> NDArray[np.float64]:
        """Return how far keys lie above equal temperament when both have the same A4.

        Parameters
        ----------
        key : array_like of int
            Key numbers, 49 for A4.

        Returns
        -------
        ndarray of float
            Cents, in the shape of `key`; exactly 0 for A of every octave, and for every key of equal temperament.
        """
        from_c = self.cents_from_c()
        offset = from_c - from_c[_A_STEPS_FROM_C] - 100.0 * (np.arange(12) - _A_STEPS_FROM_C)
        if self.name == EQUAL:
            offset = np.zeros(12)  # without the rounding of eleven sums
        return np.asarray(offset[(np.asarray(key, dtype=np.int64) - A4_KEY + _A_STEPS_FROM_C) % 12])


EQUAL: Final = "equal"


def _temperament(name: str, title: str, narrowed: Mapping[str, float], source: str) -> tuple[str, Temperament]:
    amounts = tuple(float(narrowed.get(fifth, 0.0)) for fifth in FIFTHS)
    return name, Temperament(name=name, title=title, narrowed_cents=amounts, source=source)


def _each(fifths: str, cents: float) -> dict[str, float]:
    return dict.fromkeys(fifths.split(), cents)


_PC, _SC = PYTHAGOREAN_COMMA_CENTS, SYNTONIC_COMMA_CENTS
_MEMORY: Final = "definition from memory"

TEMPERAMENTS: Final[Mapping[str, Temperament]] = MappingProxyType(
    dict([
        _temperament(EQUAL, "equal temperament", dict.fromkeys(FIFTHS, _PC / 12.0), "twelve equal fifths"),
        _temperament(
            "werckmeister-3",
            "Werckmeister III (1691)",
            _each("C-G G-D D-A B-F#", _PC / 4.0),
            f"{_MEMORY}; its offsets as in a tuning mailing-list archive, 24 March 1998",
        ),
        _temperament(
            "kirnberger-3",
            "Kirnberger III",
            _each("C-G G-D D-A A-E", _SC / 4.0) | {"F#-C#": SCHISMA_CENTS},
            f"{_MEMORY}; the place of the schisma in Kirnberger's words as quoted on a harpsichord makers' wiki",
        ),
        _temperament("vallotti", "Vallotti", _each("F-C C-G G-D D-A A-E E-B", _PC / 6.0), _MEMORY),
        _temperament(
            "young-1",
            "Young no. 1 (1799)",
            _each("C-G G-D D-A A-E", 3.0 / 16.0 * _SC) | _each("E-B B-F# Bb-F F-C", (_PC - 0.75 * _SC) / 4.0),
            _MEMORY,
        ),
        _temperament("young-2", "Young no. 2 (1800)", _each("C-G G-D D-A A-E E-B B-F#", _PC / 6.0), _MEMORY),
        _temperament("meantone", "quarter-comma meantone, E♭ to G♯", dict.fromkeys(FIFTHS, _SC / 4.0), _MEMORY),
    ])
)  # fmt: skip
"""Temperaments by name. A name that a book gives to two tunings is only here with what its title says."""


def temperament_named(name: str) -> Temperament:
    """Return a temperament by its name.

    Raises
    ------
    InputError
        If there is none of this name; it lists those there are.

    Examples
    --------
    >>> temperament_named("vallotti").offset_cents([40, 49]).round(2)
    array([5.87, 0.  ])
    """
    found = TEMPERAMENTS.get(name)
    if found is None:
        raise InputError.of("temperament", name, ", ".join(TEMPERAMENTS))
    return found
