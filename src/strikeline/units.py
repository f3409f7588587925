"""Conversions and constants, the only place that converts.

Cents and decibels are defined here once. ISO 16:1975 sets the standard tuning frequency A4 = 440 Hz (number from memory
of the standard; it is also what every tuning fork sold as "A 440" carries).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

A4_STANDARD_HZ: Final = 440.0
"""Standard tuning frequency of ISO 16:1975."""

CENTS_PER_OCTAVE: Final = 1200.0

CENTS_PER_NEPER: Final = CENTS_PER_OCTAVE / float(np.log(2.0))
"""Cents in a frequency ratio of e, and so cents per unit of relative change: 1731.234…"""

DB_PER_NEPER: Final = 20.0 / float(np.log(10.0))
"""Decibels in one neper: 8.685889…"""


def cents_from_ratio(ratio: ArrayLike) -> NDArray[np.float64]:
    """Return frequency ratios (above 0) as cents, 1200 to the octave.

    Examples
    --------
    >>> float(cents_from_ratio(2.0))
    1200.0
    """
    return np.asarray(CENTS_PER_OCTAVE * np.log2(np.asarray(ratio, dtype=np.float64)))


def ratio_from_cents(cents: ArrayLike) -> NDArray[np.float64]:
    """Return cents as frequency ratios.

    Examples
    --------
    >>> float(ratio_from_cents(1200.0))
    2.0
    """
    return np.asarray(np.exp2(np.asarray(cents, dtype=np.float64) / CENTS_PER_OCTAVE))


def cents_se(value_hz: float, se_hz: float) -> float:
    """Return the standard error in cents of a frequency in hertz (first order, 1 cent = ln 2 / 1200)."""
    return CENTS_PER_NEPER * se_hz / value_hz


def db_from_amplitude(amplitude: ArrayLike) -> NDArray[np.float64]:
    """Return amplitudes (above 0) in decibels relative to 1."""
    return np.asarray(20.0 * np.log10(np.asarray(amplitude, dtype=np.float64)))


def amplitude_from_db(level_db: ArrayLike) -> NDArray[np.float64]:
    """Return decibels relative to 1 as amplitudes."""
    return np.asarray(10.0 ** (np.asarray(level_db, dtype=np.float64) / 20.0))
