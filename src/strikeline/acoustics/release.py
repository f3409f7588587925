"""The moment a damper lands, so that what is measured is the string and not the felt."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_FRAME_S: Final = 0.01
_SMOOTHED: Final = 5
"""Frames whose mean is one value of the level."""
_EARLIEST_S: Final = 0.15
_FALL_S: Final = 0.10
_FALL_DB: Final = 12.0
_BEFORE_DB: Final = 4.0
"""A damper is heard as a fall of 12 dB in 0.1 s (120 dB/s) from a sound that was falling by less than 4 dB in 0.1 s:
between the slowest damped decays of grands and uprights (T60 about 0.5 s) and the quickest free decays below C7
(values of `docs/how-numbers-are-made.md`, common practice, no source)."""
_RETURN_S: Final = 0.5
_RETURN_DB: Final = 6.0
_RETURN_TO_DB: Final = -15.0
"""A beat falls as steeply, but comes back: within half a second by 6 dB, to less than 15 dB below where it fell from.
Slower beats than that do not fall by 12 dB in 0.1 s without having fallen by 4 dB before; the thump of the key's return
stays below."""


def find_release(samples: NDArray[np.floating], *, sample_rate_hz: float) -> float | None:
    """Return when the damper lands, seconds after the onset, or ``None`` if it is not heard.

    Rather early than late: up to 0.12 s before the felt is down, so that what comes before is the free string. A damper
    that lands within `_EARLIEST_S` of the blow is not told from a quick prompt sound.

    Parameters
    ----------
    samples : ndarray of float, shape (n,)
        Sound from the onset on.
    sample_rate_hz : float
        Above 0.
    """
    frame = max(1, int(_FRAME_S * sample_rate_hz))
    usable = samples.size // frame * frame
    power = np.mean(np.square(samples[:usable].reshape(-1, frame), dtype=np.float64), axis=1)
    span = round(_FALL_S / _FRAME_S)
    if power.size < 2 * span + _SMOOTHED or not power.max() > 0.0:
        return None
    smooth = np.convolve(power, np.ones(_SMOOTHED) / _SMOOTHED, mode="valid")
    level_db = 10.0 * np.log10(np.maximum(smooth, 1e-12 * smooth.max()))
    fall_db = level_db[:-span] - level_db[span:]
    start = round(_EARLIEST_S / _FRAME_S)
    steep = np.flatnonzero(fall_db[start:] > _FALL_DB) + start
    for index in steep:
        if index < span or fall_db[index - span] >= _BEFORE_DB:
            continue
        if not _comes_back(level_db[index + span :][: round(_RETURN_S / _FRAME_S)] - level_db[index]):
            return float(index * _FRAME_S)
    return None


def _comes_back(below_db: NDArray[np.float64]) -> bool:
    """Return whether the level rises again as a beat does; `below_db` is counted from before the fall."""
    rise_db = below_db - np.minimum.accumulate(below_db)
    return bool(np.any((rise_db > _RETURN_DB) & (below_db > _RETURN_TO_DB)))
