"""The bright part of a sound, in which a nail that leaves its string stands out from what rings and from the noise.

What rings is dark, the microphone's own noise is brightest at the top. The click lies between: the sound is smoothed to
about 5 kHz and then differenced twice, so that a tone counts with the fourth power of its frequency up to there.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_SMOOTHED_HZ: Final = 11_000.0
"""First zero of the smoothing; half the amplitude passes at 5 kHz."""


def bright_part(samples: NDArray[np.floating], *, sample_rate_hz: float, order: int = 2) -> NDArray[np.float64]:
    """Return the sound smoothed and differenced, as long as it was less the ends.

    Parameters
    ----------
    samples : ndarray of float, shape (n,)
        The sound.
    sample_rate_hz : float
        Above 0; the smoothing adapts to it.
    order : int
        Differences taken, 0 to 2.

    Returns
    -------
    ndarray of float, shape (n - m - order,)
        `m` is `smoothing_samples`; sample j belongs to sample ``j + (m + order) / 2`` of the sound.
    """
    n = _width(sample_rate_hz)
    kernel = np.convolve(np.full(n, 1.0 / n), np.full(n, 1.0 / n))
    return np.diff(np.convolve(samples.astype(np.float64), kernel, mode="valid"), order)


def smoothing_samples(sample_rate_hz: float) -> int:
    """Return by how many samples smoothing shortens a sound."""
    return 2 * (_width(sample_rate_hz) - 1)


def _width(sample_rate_hz: float) -> int:
    return max(1, round(sample_rate_hz / _SMOOTHED_HZ))
