"""Beats between two notes: which partials nearly meet, how far apart they are, and how fast they beat."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.physics.ranges import above_zero, zero_or_more
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval that a tuner listens to, through one pair of partials that nearly meet."""

    name: str
    """Trade name."""
    low_partial: int
    """Partial of the lower note, p."""
    high_partial: int
    """Partial of the upper note, q; the pure interval is p/q."""
    semitones: int

    @property
    def partials(self) -> str:
        """The pair as the trade writes it, ``4:2``."""
        return f"{self.low_partial}:{self.high_partial}"


INTERVALS: Final = MappingProxyType(
    {
        f"{one.name} {one.partials}": one
        for one in (
            Interval("minor third", 6, 5, 3),
            Interval("major third", 5, 4, 4),
            Interval("fourth", 4, 3, 5),
            Interval("fifth", 3, 2, 7),
            Interval("minor sixth", 8, 5, 8),
            Interval("major sixth", 5, 3, 9),
            Interval("octave", 2, 1, 12),
            Interval("octave", 4, 2, 12),
            Interval("octave", 6, 3, 12),
            Interval("octave", 8, 4, 12),
            Interval("octave", 10, 5, 12),
            Interval("twelfth", 3, 1, 19),
            Interval("twelfth", 6, 2, 19),
            Interval("double octave", 4, 1, 24),
            Interval("double octave", 8, 2, 24),
            Interval("triple octave", 8, 1, 36),
        )
    }
)
"""Intervals by name and partials, such as ``octave 4:2``."""

TEMPERAMENT_INTERVALS: Final = tuple(
    INTERVALS[name]
    for name in ("major third 5:4", "fourth 4:3", "fifth 3:2", "major sixth 5:3", "minor third 6:5", "minor sixth 8:5")
)
"""The intervals inside a temperament octave, in the order of the printed beat tables."""


def partial_above_first_cents(partial: ArrayLike, *, inharmonicity_b: ArrayLike) -> NDArray[np.float64]:
    """Return how far a partial sounds above ``n`` times the first partial of its own string.

    ``e_n = 600·log2((1 + B·n²)/(1 + B))``

    Parameters
    ----------
    partial : array_like of int
        Partial number n, 1 for the lowest.
    inharmonicity_b : array_like of float
        B, 0 or more.

    Returns
    -------
    ndarray of float
        Cents, in the broadcast shape; 0 where n is 1 or B is 0.

    References
    ----------
    .. [1] H. Fletcher, J. Acoust. Soc. Am. 36, 203-209 (1964), as reported in a secondary survey: the stiff-string law.

    Examples
    --------
    >>> partial_above_first_cents([1, 2, 4], inharmonicity_b=4e-4).round(2)
    array([0.  , 1.04, 5.18])
    """
    n = above_zero("partial", partial)
    b = zero_or_more("inharmonicity_b", inharmonicity_b)
    return np.asarray(0.5 * CENTS_PER_NEPER * (np.log1p(b * n**2) - np.log1p(b)))


def partial_above_first_slope(partial: ArrayLike, *, inharmonicity_b: ArrayLike) -> NDArray[np.float64]:
    """Return the derivative of `partial_above_first_cents` by ln B, cents for a relative change of 1.

    Parameters
    ----------
    partial : array_like of int
        Partial number n.
    inharmonicity_b : array_like of float
        B, 0 or more.
    """
    n = above_zero("partial", partial)
    b = zero_or_more("inharmonicity_b", inharmonicity_b)
    return np.asarray(0.5 * CENTS_PER_NEPER * (b * n**2 / (1.0 + b * n**2) - b / (1.0 + b)))


def interval_width_cents(
    interval: Interval,
    *,
    low_first_hz: ArrayLike,
    high_first_hz: ArrayLike,
    low_inharmonicity_b: ArrayLike,
    high_inharmonicity_b: ArrayLike,
) -> NDArray[np.float64]:
    """Return how much wider an interval is than pure, at one pair of partials.

    Parameters
    ----------
    interval : Interval
        One of `INTERVALS`.
    low_first_hz, high_first_hz : array_like of float
        First partials of the lower and the upper note (f0·√(1+B), not f0), above 0.
    low_inharmonicity_b, high_inharmonicity_b : array_like of float
        B of both notes, 0 or more.

    Returns
    -------
    ndarray of float
        Cents from partial p of the lower note up to partial q of the upper one: above 0 for wide, below for narrow.
    """
    low = above_zero("low_first_hz", low_first_hz) * interval.low_partial
    high = above_zero("high_first_hz", high_first_hz) * interval.high_partial
    above_low = partial_above_first_cents(interval.low_partial, inharmonicity_b=low_inharmonicity_b)
    above_high = partial_above_first_cents(interval.high_partial, inharmonicity_b=high_inharmonicity_b)
    return np.asarray(cents_from_ratio(high / low) + above_high - above_low)


def beat_rate_hz(
    interval: Interval,
    *,
    low_first_hz: ArrayLike,
    high_first_hz: ArrayLike,
    low_inharmonicity_b: ArrayLike,
    high_inharmonicity_b: ArrayLike,
) -> NDArray[np.float64]:
    """Return how fast two notes beat at one pair of partials, with the sign of the interval's width.

    ``q·f_high·√((1 + B_high·q²)/(1 + B_high)) - p·f_low·√((1 + B_low·p²)/(1 + B_low))``

    Parameters
    ----------
    interval : Interval
        One of `INTERVALS`.
    low_first_hz, high_first_hz : array_like of float
        First partials of the lower and the upper note (f0·√(1+B), not f0), above 0.
    low_inharmonicity_b, high_inharmonicity_b : array_like of float
        B of both notes, 0 or more.

    Returns
    -------
    ndarray of float
        Hertz: above 0 where the interval is wide, below 0 where it is narrow. The ear hears its size.

    Examples
    --------
    The major third F3-A3 in equal temperament, strings without stiffness:

    >>> third = INTERVALS["major third 5:4"]
    >>> flexible = {"low_inharmonicity_b": 0.0, "high_inharmonicity_b": 0.0}
    >>> float(beat_rate_hz(third, low_first_hz=174.614, high_first_hz=220.0, **flexible).round(2))
    6.93
    """
    low = above_zero("low_first_hz", low_first_hz) * interval.low_partial
    high = above_zero("high_first_hz", high_first_hz) * interval.high_partial
    b_low = zero_or_more("low_inharmonicity_b", low_inharmonicity_b)
    b_high = zero_or_more("high_inharmonicity_b", high_inharmonicity_b)
    low_factor = np.sqrt((1.0 + b_low * interval.low_partial**2) / (1.0 + b_low))
    high_factor = np.sqrt((1.0 + b_high * interval.high_partial**2) / (1.0 + b_high))
    return np.asarray(high * high_factor - low * low_factor)
