"""Partials found one after another up the series, the law refined as each is added.

The danger is numbering: with a wrong B the twentieth partial of a bass string is looked for where the twenty-first is.
So the search starts with the lowest partials, where the law cannot be far wrong, and goes up in steps small enough that
the next ones fall well inside half the spacing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.law import rough_law
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.units import CENTS_PER_NEPER, CENTS_PER_OCTAVE

Real = NDArray[np.float64]

_WINDOW_S: Final = 1.5
_WINDOW_CYCLES: Final = 1400.0
"""Six times the decay time 1/α of partial 1, with α = 4.4e-3·f0 (Bensa et al. 2003, fit over the compass, as read in a
secondary survey)."""
_RISE_S: Final = 0.03
"""The window rises this fast and falls slowly: treble notes are over before a symmetric window reaches its middle."""
_FAINTEST_RATIO: Final = 1e-8
"""Peaks this far below the highest (80 dB) are left alone: lossy coders leave crumbs there."""
_GROWTH: Final = 1.5
_CLEAR_RATIO: Final = 25.0
"""A peak counts when its power is this many times the median of its band (14 dB; of 10 bands of noise none passes)."""
_F0_CENTS: Final = 15.0
_B_SHARE: Final = 0.35
_FEWEST_TO_TRUST: Final = 5
"""With fewer partials one that a resonance pushes aside still bends the law by more than the next one may lie off."""
_FIRST_SHARE: Final = 0.12
_PEAK_SE_CENTS_AT_LEAST: Final = 0.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartialTrack:
    """Where the partials of one strike lie, to about a cent."""

    f0_hz: float
    inharmonicity_b: float
    partial: NDArray[np.int64]
    """Shape (k,): numbers of the partials that stand clear of their surroundings."""
    f_hz: Real
    """Shape (k,)."""


def track_partials(
    samples: NDArray[np.floating], *, sample_rate_hz: float, key: int, f0_hz: float, highest_hz: float, most: int
) -> PartialTrack | None:
    """Find the partials of a struck string whose f0 is roughly known.

    Parameters
    ----------
    samples : ndarray of float, shape (n,)
        Sound from shortly after the onset.
    sample_rate_hz : float
    key : int
        Gives the typical B to start from (`typical_inharmonicity_b`).
    f0_hz : float
        Within about 20 cents.
    highest_hz : float
        Partials above are not looked for.
    most : int
        Highest partial number looked for.

    Returns
    -------
    PartialTrack or None
        ``None`` if not a single partial stands clear, or even the first lies above `highest_hz`.
    """
    window_s = min(_WINDOW_S, _WINDOW_CYCLES / f0_hz)
    power, bin_hz = _power_spectrum(samples, sample_rate_hz, window_s=window_s)
    inharmonicity_b = float(typical_inharmonicity_b(key))
    typical_b = Measured(inharmonicity_b, _B_SHARE * inharmonicity_b)
    reach, found = min(_first_reach(inharmonicity_b, most), most), None
    while True:
        number = np.arange(1, reach + 1)
        expected_hz = partial_frequencies_hz(number, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
        number = number[expected_hz < highest_hz]
        expected_hz = expected_hz[: number.size]
        if number.size == 0:
            return None
        settled = 0 if found is None or found.partial.size < _FEWEST_TO_TRUST else int(found.partial[-1])
        reach_hz = _reach_hz(number, expected_hz, max(inharmonicity_b, typical_b.value), settled=settled, f0_hz=f0_hz)
        found_hz, clear = _clear_peaks(power, bin_hz, expected_hz, reach_hz=reach_hz)
        if clear.any():
            found = PartialTrack(
                f0_hz=f0_hz, inharmonicity_b=inharmonicity_b, partial=number[clear], f_hz=found_hz[clear]
            )
            f0_hz, inharmonicity_b = _updated(found, bin_hz, typical_b)
        if reach >= most or number.size < reach:
            break
        reach = min(most, int(np.ceil(reach * _GROWTH)))
    if found is None:
        return None
    return PartialTrack(f0_hz=f0_hz, inharmonicity_b=inharmonicity_b, partial=found.partial, f_hz=found.f_hz)


def _first_reach(inharmonicity_b: float, most: int) -> int:
    """Return the highest partial whose place is known to `_FIRST_SHARE` of the spacing before anything is found."""
    number = np.arange(1, most + 1)
    cents = _F0_CENTS + _B_SHARE * 0.5 * CENTS_PER_NEPER * inharmonicity_b * number**2
    return int(max(2, np.sum(number * (np.exp2(cents / CENTS_PER_OCTAVE) - 1.0) < _FIRST_SHARE)))


def _reach_hz(
    number: NDArray[np.int64], expected_hz: Real, inharmonicity_b: float, *, settled: int, f0_hz: float
) -> Real:
    """Return how far from its expected place each partial may lie.

    f0 is known to `_F0_CENTS`, B to `_B_SHARE` of itself, of which only the part beyond the highest partial found
    still counts. Never more than 0.4 of the spacing.
    """
    unsettled = np.maximum(number**2 - settled**2, 0)
    cents = _F0_CENTS + _B_SHARE * 0.5 * CENTS_PER_NEPER * inharmonicity_b * unsettled
    return np.asarray(np.minimum(0.4 * f0_hz, expected_hz * (np.exp2(cents / CENTS_PER_OCTAVE) - 1.0)))


def _power_spectrum(samples: NDArray[np.floating], sample_rate_hz: float, *, window_s: float) -> tuple[Real, float]:
    heard = samples[: int(window_s * sample_rate_hz)]
    n_fft = scipy.fft.next_fast_len(heard.size + heard.size // 2, real=True)
    windowed = heard * _quick_rise(heard.size, min(int(_RISE_S * sample_rate_hz), heard.size // 4))
    return np.abs(scipy.fft.rfft(windowed, n_fft)).astype(np.float64) ** 2, sample_rate_hz / n_fft


@lru_cache(maxsize=4)
def _quick_rise(size: int, rise: int) -> NDArray[np.float32]:
    """Return a window that rises over `rise` samples and falls as a squared cosine over all of `size`."""
    window = np.cos(0.5 * np.pi * np.linspace(0.0, 1.0, size)) ** 2
    window[:rise] *= np.sin(0.5 * np.pi * np.arange(rise) / rise) ** 2
    return window.astype(np.float32)


def _clear_peaks(power: Real, bin_hz: float, expected_hz: Real, *, reach_hz: Real) -> tuple[Real, NDArray[np.bool_]]:
    """Return the highest peak near each expected frequency, interpolated, and whether it stands clear."""
    half = max(12, int(reach_hz.max() / bin_hz))
    middle = np.rint(expected_hz / bin_hz).astype(np.int64)
    offset = np.arange(-half, half + 1)
    index = np.clip(middle[:, None] + offset, 1, power.size - 2)
    band = power[index]
    best = np.argmax(np.where(np.abs(offset) * bin_hz <= np.maximum(reach_hz, 3 * bin_hz)[:, None], band, 0.0), axis=1)
    at = index[np.arange(index.shape[0]), best]
    left, top, right = (np.log(power[at + shift] + 1e-300) for shift in (-1, 0, 1))
    bend = left - 2.0 * top + right
    shift = np.where(bend < 0.0, 0.5 * (left - right) / np.where(bend == 0.0, -1.0, bend), 0.0)
    inside = (best > 0) & (best < index.shape[1] - 1)
    clear = (
        inside
        & (power[at] > _CLEAR_RATIO * np.partition(band, half, axis=1)[:, half])
        & (power[at] > _FAINTEST_RATIO * power.max())
    )
    return (at + np.clip(shift, -0.5, 0.5)) * bin_hz, clear


def _updated(found: PartialTrack, bin_hz: float, typical_b: Measured) -> tuple[float, float]:
    """Return f0 and B after the partials found so far; B stays where it is until three partials speak."""
    if found.partial.size < 3 or found.partial[-1] < 3:
        law_hz = partial_frequencies_hz(found.partial, f0_hz=found.f0_hz, inharmonicity_b=found.inharmonicity_b)
        return found.f0_hz * float(np.median(found.f_hz / law_hz)), found.inharmonicity_b
    se_cents = np.maximum(_PEAK_SE_CENTS_AT_LEAST, CENTS_PER_NEPER * 0.05 * bin_hz / found.f_hz)
    return rough_law(
        found.partial.astype(np.float64),
        f_hz=found.f_hz,
        se_cents=se_cents,
        f0_hz=found.f0_hz,
        inharmonicity_b=found.inharmonicity_b,
        typical_b=typical_b,
    )
