"""How much of what a pluck brings is gone a tenth of a second later.

Felt has taken its string down by then, and what still sounds is the other strings of the note, which answer through
the bridge, and the room. An open string has hardly begun to fall. The first moments are read in one wide band, which
follows them at once; what is left is read in the narrow bands of the partials, with what rang before taken off.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.bands import Spectrum

Real = NDArray[np.float64]

FROM_S: Final = 0.08
TO_S: Final = 0.15
"""What is left is read from here to here after the pluck."""
_AT_ONCE_S: Final = (0.004, 0.024)
"""After the click of the nail, which is over in a few milliseconds."""
_BEFORE_S: Final = (-0.040, -0.008)
_LOWEST_HZ: Final = 60.0
_BELOW_F0: Final = 0.8
_N_SPACINGS: Final = 12.0
_HIGHEST_HZ: Final = 3000.0
_ABOVE_F0: Final = 1.4
_PART_OF_NYQUIST: Final = 0.88
_EDGE: Final = 0.15
"""Share of its frequency over which either end rises."""
_HIDDEN_SHARE: Final = 0.1
"""Less than this share of what rang before could not be seen to come."""
_LEAST_POWER: Final = 1e-14


def estimate_fade_db(spectrum: Spectrum, *, onset_s: float, f0_hz: float, left: Real, left_at_s: Real) -> float | None:
    """Return how far the new sound falls from the first moments to a tenth of a second later, dB.

    Parameters
    ----------
    spectrum : Spectrum
        Of the sound from before the pluck on.
    onset_s : float
        The pluck, seconds after the first sample.
    f0_hz : float
        Distance of the partials, above 0.
    left : ndarray of float, shape (k, m)
        Power of what is new in each partial.
    left_at_s : ndarray of float, shape (m,)
        When, seconds after the pluck.

    Returns
    -------
    float or None
        About 0 for an open string of the middle compass; ``None`` where the sound ends too soon or the sample rate is
        too low.
    """
    is_late = (left_at_s >= FROM_S) & (left_at_s < TO_S)
    high_hz = min(
        max(min(_N_SPACINGS * f0_hz, _HIGHEST_HZ), _ABOVE_F0 * f0_hz), _PART_OF_NYQUIST * spectrum.sample_rate_hz / 2.0
    )
    low_hz = max(_LOWEST_HZ, _BELOW_F0 * f0_hz)
    if not is_late.any() or high_hz <= low_hz:
        return None
    power, rate_hz = _band_power(spectrum, low_hz, high_hz)
    at_once = _mean(power, *_AT_ONCE_S, onset_s=onset_s, rate_hz=rate_hz)
    before = _mean(power, *_BEFORE_S, onset_s=onset_s, rate_hz=rate_hz)
    new = max(at_once - before, _HIDDEN_SHARE * before, _LEAST_POWER)
    late = max(float(left[:, is_late].mean(axis=1).sum()), _LEAST_POWER)
    return 10.0 * float(np.log10(new / late))


def _band_power(spectrum: Spectrum, low_hz: float, high_hz: float) -> tuple[Real, float]:
    """Return the squared amplitude in a band over time, and its rate."""
    first, last = int((1.0 - _EDGE) * low_hz / spectrum.bin_hz), int((1.0 + _EDGE) * high_hz / spectrum.bin_hz) + 1
    bins = spectrum.bins[first:last]
    at_hz = spectrum.bin_hz * np.arange(first, first + bins.size)
    gain = np.minimum(at_hz / low_hz - (1.0 - _EDGE), (1.0 + _EDGE) - at_hz / high_hz) / _EDGE
    n = scipy.fft.next_fast_len(2 * bins.size)
    signal = scipy.fft.ifft(bins * np.clip(gain, 0.0, 1.0).astype(np.float32), n)
    power = np.square(signal.real, dtype=np.float64) + np.square(signal.imag, dtype=np.float64)
    n_fft = round(spectrum.sample_rate_hz / spectrum.bin_hz)
    return power * (2.0 * n / n_fft) ** 2, n * spectrum.bin_hz


def _mean(power: Real, from_s: float, to_s: float, *, onset_s: float, rate_hz: float) -> float:
    """Return the mean over a time about the onset, 0 before the sound begins."""
    first = max(0, round((onset_s + from_s) * rate_hz))
    last = max(first + 1, round((onset_s + to_s) * rate_hz))
    return float(power[first:last].mean()) if onset_s + to_s > 0.0 and first < power.size else 0.0
