"""Leanings: how much each kind of octave counts, and where on the keyboard. All of it is stated in the tables below.

A leaning is a choice, not a measurement: tuners differ, and no published figure says which is right. Railsback (1938)
and later surveys show what pianos are tuned to; Rigaud, David & Daudet (2011) describe it as octave types that run from
high partials in the bass to 2:1 in the treble. The weights here are our own reasoning after that description.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.physics.beat_rates import INTERVALS, Interval

WEIGHT_KEYS: Final = (1, 16, 40, 64, 88)
"""Keys that weights are stated at: A0, C2, C4, C6, C8. Between them they run straight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaning:
    """What a tuning leans to."""

    name: str
    """The word it is asked for by."""
    meaning: str
    weights: Mapping[str, tuple[float, ...]]
    """By interval (a key of `INTERVALS`): its weight at `WEIGHT_KEYS`, by the middle of the interval."""

    def weight(self, interval: Interval, *, low_key: ArrayLike) -> NDArray[np.float64]:
        """Return the weights of an interval on several lower notes.

        Parameters
        ----------
        interval : Interval
            Which.
        low_key : array_like of int
            Keys of the lower notes.
        """
        table = self.weights.get(f"{interval.name} {interval.partials}")
        middle = np.asarray(low_key, dtype=np.float64) + 0.5 * interval.semitones
        return np.zeros(middle.shape) if table is None else np.asarray(np.interp(middle, WEIGHT_KEYS, table))

    @property
    def intervals(self) -> tuple[Interval, ...]:
        """The intervals that count."""
        return tuple(INTERVALS[name] for name in self.weights)


DEFAULT_LEANING: Final = "middle"

LEANINGS: Final[Mapping[str, Leaning]] = MappingProxyType({
    one.name: one
    for one in (
        Leaning(
            name="close",
            meaning="octaves as close as they go: 2:1 from the tenor up, 4:2 in the bass; twelfths count little",
            weights={
                "octave 2:1": (0.3, 0.5, 1.0, 1.0, 1.0),
                "octave 4:2": (1.0, 1.0, 0.4, 0.0, 0.0),
                "octave 6:3": (0.3, 0.2, 0.0, 0.0, 0.0),
                "twelfth 3:1": (0.1, 0.1, 0.1, 0.1, 0.1),
            },
        ),
        Leaning(
            name="middle",
            meaning="6:3 and 8:4 octaves in the bass, 4:2 in the middle, 2:1 at the top, eased by twelfths and double "
            "octaves throughout",
            weights={
                "octave 2:1": (0.0, 0.0, 0.5, 1.0, 1.0),
                "octave 4:2": (0.2, 0.5, 1.0, 0.5, 0.0),
                "octave 6:3": (1.0, 1.0, 0.4, 0.0, 0.0),
                "octave 8:4": (0.6, 0.3, 0.0, 0.0, 0.0),
                "twelfth 3:1": (0.1, 0.3, 0.5, 0.5, 0.4),
                "twelfth 6:2": (0.3, 0.2, 0.0, 0.0, 0.0),
                "double octave 4:1": (0.0, 0.2, 0.4, 0.5, 0.4),
                "triple octave 8:1": (0.0, 0.0, 0.1, 0.1, 0.0),
            },
        ),
        Leaning(
            name="wide",
            meaning="8:4 and 10:5 octaves in the bass, 4:2 from the middle to the top; twelfths and double octaves "
            "come out wide",
            weights={
                "octave 2:1": (0.0, 0.0, 0.1, 0.1, 0.3),
                "octave 4:2": (0.0, 0.2, 1.0, 1.0, 1.0),
                "octave 6:3": (0.5, 1.0, 0.6, 0.0, 0.0),
                "octave 8:4": (1.0, 0.6, 0.1, 0.0, 0.0),
                "octave 10:5": (0.6, 0.2, 0.0, 0.0, 0.0),
                "twelfth 3:1": (0.1, 0.3, 0.3, 0.2, 0.2),
                "twelfth 6:2": (0.5, 0.5, 0.2, 0.0, 0.0),
                "double octave 4:1": (0.0, 0.2, 0.3, 0.2, 0.2),
                "triple octave 8:1": (0.0, 0.0, 0.1, 0.1, 0.0),
            },
        ),
    )
})  # fmt: skip
"""Leanings by name."""


def leaning_named(name: str) -> Leaning:
    """Return a leaning by its name.

    Raises
    ------
    InputError
        If there is none of this name; it lists those there are.
    """
    found = LEANINGS.get(name)
    if found is None:
        raise InputError.of("leaning", name, ", ".join(LEANINGS))
    return found
