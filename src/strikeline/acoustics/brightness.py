r"""How bright a note sounds, freed from how hard and how high it was struck.

The raw figure is the amplitude-weighted mean frequency of the partials over the first 0.4 s,
C = Σ f_n A_n / Σ A_n, in semitones above what an even piano has at that key (`reference_centroid_hz`). It is a ratio of
amplitudes, so the gain of the recording cancels. A harder blow makes any hammer brighter; within one pass that part is
taken out by `levelled`: each note's level above the smooth level of its neighbours, times `_SEMITONES_PER_DB`.

What moves it besides the hammer: the place and kind of the microphone (compare only passes recorded from the same
place), the room near that place, the age of the strings, playing the whole pass harder or softer, and lossy coding that
removes the top of the spectrum. What does not: gain, tuning, and the trend along the keyboard.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.measured import Measured

Real = NDArray[np.float64]

_REFERENCE_KEYS: Final = (1.0, 20.0, 40.0, 52.0, 64.0, 76.0, 88.0)
_REFERENCE_HZ: Final = (700.0, 700.0, 800.0, 1000.0, 1400.0, 2300.0, 4300.0)
_SEMITONES_PER_DB: Final = 0.35
_SEMITONES_PER_DB_SE: Final = 0.15
_FEWEST: Final = 2


def reference_centroid_hz(key: int) -> float:
    """Return the centroid of an even, well-kept piano at a key, interpolated in the logarithm."""
    return float(np.exp(np.interp(key, _REFERENCE_KEYS, np.log(_REFERENCE_HZ))))


def estimate_brightness(f_hz: Real, amplitude: Real, *, key: int) -> Measured | None:
    """Return the brightness of one note in semitones above the reference.

    Parameters
    ----------
    f_hz, amplitude : ndarray of float, shape (k,)
        Partials that stand clear of the noise.
    key : int
        Key number, 49 for A4.

    Returns
    -------
    Measured or None
        ``None`` with fewer than two partials. The standard error is that of the jackknife over partials: how far the
        figure would move if room and soundboard had coloured the partials differently.
    """
    if f_hz.size < _FEWEST:
        return None
    total, moment = amplitude.sum(), (f_hz * amplitude).sum()
    reference_hz = reference_centroid_hz(key)
    value = 12.0 * np.log2(moment / total / reference_hz)
    left_out = 12.0 * np.log2((moment - f_hz * amplitude) / np.maximum(total - amplitude, 1e-300) / reference_hz)
    count = f_hz.size
    se = np.sqrt((count - 1) / count * np.sum((left_out - left_out.mean()) ** 2))
    return Measured(float(value), float(se))
