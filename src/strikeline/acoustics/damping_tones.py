"""Tones that stay when a damper has landed and that are no partials of its note: other strings that were set going."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from strikeline.acoustics.windows import hann
from strikeline.units import CENTS_PER_NEPER

Real = NDArray[np.float64]

_LATER_S: Final = 0.15
"""By then the stopped partials have fallen by 10 dB (A0) to 50 dB (E6), and the thump of the key is over."""
_LONGEST_S: Final = 1.0
_SHORTEST_S: Final = 0.3
_LOWEST_HZ: Final = 60.0
_HIGHEST_HZ: Final = 5000.0
_HIGHEST_SHARE: Final = 0.46
"""Of the sample rate: nearer to half of it the note's own partials are not known."""
_NEAR_HZ: Final = 150.0
_RATIO: Final = 25.0
"""Power over the middle power of its surroundings: in 5000 bins of noise the greatest is 8.5 / ln 2 = 12 times the
median; a bin of noise passes this once in 10⁷."""
_OWN_CENTS: Final = 12.0
_OWN_HZ: Final = 6.0
"""Within this of the note's own partials a tone is taken for what is left of the note."""
_NEW_RATIO: Final = 6.0
_STAYS_RATIO: Final = 0.06
"""Between the halves of a second a tone that stays falls by no more than 12 dB: a string by 10 dB at most, what a
returning key sets going in the case by 20 dB and more (recorded key noises of one grand)."""
_BESIDE_HZ: Final = 40.0
_BESIDE_RATIO: Final = 1e-3
"""What lies 30 dB under a line beside it may be its skirt."""
_MOST: Final = 8


def find_other_tones(
    sound: NDArray[np.floating],
    before: NDArray[np.floating],
    *,
    sample_rate_hz: float,
    partial_hz: Real,
    lands_s: float,
) -> tuple[float, ...]:
    """Return the frequencies of tones that stay after the landing and are not the note's own, ascending.

    Parameters
    ----------
    sound, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset of the blow on, and what sounded before it: a tone that was there already is left out.
    sample_rate_hz : float
        Above 0.
    partial_hz : ndarray of float, shape (k,)
        All partials of the note, as far up as tones are looked for.
    lands_s : float
        When the damper lands, after the onset.
    """
    start = round((lands_s + _LATER_S) * sample_rate_hz)
    tail = sound[start : start + round(_LONGEST_S * sample_rate_hz)]
    if tail.size < _SHORTEST_S * sample_rate_hz:
        return ()
    power, bin_hz = _power(tail, sample_rate_hz)
    reach = max(4, round(_NEAR_HZ / bin_hz))
    surroundings = _running_median(power, reach)
    inner = power[1:-1]
    is_peak = (inner > power[:-2]) & (inner >= power[2:]) & (inner > _RATIO * surroundings[1:-1])
    bins = np.flatnonzero(is_peak) + 1
    hz: Real = bins.astype(np.float64) * bin_hz
    inside = (hz > _LOWEST_HZ) & (hz < min(_HIGHEST_HZ, _HIGHEST_SHARE * sample_rate_hz))
    own = np.min(np.abs(hz[:, None] - partial_hz), axis=1) < np.maximum(_OWN_HZ, hz * _OWN_CENTS / CENTS_PER_NEPER)
    halves = [_level_at(half, hz, sample_rate_hz) for half in (tail[: tail.size // 2], tail[tail.size // 2 :])]
    stays = halves[1] > _STAYS_RATIO * halves[0]
    if before.size > 0.1 * sample_rate_hz:
        stays &= halves[0] > _NEW_RATIO * _level_at(before, hz, sample_rate_hz)
    beside = max(1, round(_BESIDE_HZ / bin_hz))
    stands = power[bins] > _BESIDE_RATIO * maximum_filter1d(power, 2 * beside + 1)[bins]
    kept = bins[inside & ~own & stays & stands]
    loudest = kept[np.argsort(-power[kept])][:_MOST]
    return tuple(sorted(float(_refined(power, int(at)) * bin_hz) for at in loudest))


def _level_at(samples: NDArray[np.floating], hz: Real, sample_rate_hz: float) -> Real:
    """Return the power of a tone at each frequency, the greatest of the three bins nearest to it."""
    power, bin_hz = _power(samples, sample_rate_hz)
    place = np.clip(np.rint(hz / bin_hz).astype(np.int64), 1, power.size - 2)
    # A line of amplitude A has the power (A·n/4)² in a Hann window: per n² different lengths compare.
    return np.asarray(np.max([power[place - 1], power[place], power[place + 1]], axis=0) / samples.size**2)


def _power(samples: NDArray[np.floating], sample_rate_hz: float) -> tuple[Real, float]:
    spectrum = scipy.fft.rfft(samples.astype(np.float64) * hann(samples.size))
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    bin_hz = sample_rate_hz / samples.size
    return np.asarray(power[: min(power.size, int(1.05 * _HIGHEST_HZ / bin_hz))]), bin_hz


def _running_median(power: Real, reach: int) -> Real:
    """Return the median of the surroundings of each bin, in steps of half their reach."""
    step = max(1, reach // 2)
    centres = np.arange(0, power.size, step)
    medians = [float(np.median(power[max(0, at - reach) : at + reach + 1])) for at in centres.tolist()]
    return np.asarray(np.interp(np.arange(power.size), centres, medians))


def _refined(power: Real, at: int) -> float:
    """Return the place of a peak between bins, by a parabola through the logarithms."""
    low, middle, high = (float(np.log(power[at + i] + 1e-300)) for i in (-1, 0, 1))
    curvature = low - 2.0 * middle + high
    return at + (0.5 * (low - high) / curvature if curvature < 0.0 else 0.0)
