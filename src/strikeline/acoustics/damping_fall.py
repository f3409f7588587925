"""How long a whole note takes to fall by 60 dB once its damper has landed."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.damping_landing import noise_power
from strikeline.acoustics.damping_tails import PRESSED_S
from strikeline.measured import Measured

Real = NDArray[np.float64]

_SPACING_SHARE: Final = 0.4
_WIDEST_HZ: Final = 120.0
"""Half width of a band: settles 12 ms after the felt is down, before a treble note has fallen by 5 dB."""
_FROM_DB: Final = 2.0
_TO_DB: Final = 25.0
"""The slope is read from where the level has begun to fall to 25 dB down: as a listener hears it stop."""
_CLEAR_RATIO: Final = 4.0
_FEWEST: Final = 4
_MOST_RELATIVE_SE: Final = 0.4


def estimate_t60_s(
    sound: NDArray[np.floating],
    before: NDArray[np.floating],
    *,
    sample_rate_hz: float,
    partial_hz: Real,
    f0_hz: float,
    lands_s: float,
) -> Measured | None:
    """Return the time in which all partials together fall by 60 dB, extrapolated from their fall after the landing.

    The powers of the partials are added, the noise taken off, and a line laid through the level from the landing to
    25 dB below it or to the noise. What a room adds is in it: it is the fall that is heard. The standard error allows
    for neighbouring samples falling together and for the bend of the fall.

    Parameters
    ----------
    sound, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset of the blow on, and what sounded before it.
    sample_rate_hz : float
        Above 0.
    partial_hz : ndarray of float, shape (k,)
        Where the partials are that count.
    f0_hz : float
        Distance of the partials.
    lands_s : float
        When the damper lands, after the onset.

    Returns
    -------
    Measured or None
        ``None`` if too little of the fall stands clear of the noise.
    """
    half_width_hz = min(_SPACING_SHARE * f0_hz, _WIDEST_HZ)
    start = round((lands_s + PRESSED_S) * sample_rate_hz)
    bands = Spectrum(sound[start:], sample_rate_hz=sample_rate_hz).bands(partial_hz, half_width_hz=half_width_hz)
    if bands.is_cut_short:
        return None
    noise = float(noise_power(before, bands, sample_rate_hz=sample_rate_hz).sum())
    power = np.sum(np.abs(bands.signal) ** 2, axis=0)
    loudest = float(power[: max(1, round(0.02 * bands.rate_hz))].max())
    gone = power < max(_CLEAR_RATIO * noise, loudest * 10.0 ** (-_TO_DB / 10.0))
    last = int(np.argmax(gone)) if gone.any() else power.size
    if last < _FEWEST:
        return None
    return _t60_s(bands.time_s[:last], 10.0 * np.log10(np.maximum(power[:last] - noise, 1e-30)), bands.noise_share)


def _t60_s(time_s: Real, level_db: Real, independent_share: float) -> Measured | None:
    """Return 60 dB over the slope of the best line."""
    about = time_s - time_s.mean()
    slope = float(about @ level_db / (about @ about))
    error = level_db - level_db.mean() - slope * about
    looks = max(level_db.size * independent_share, 1.0)
    variance = float(error @ error) / max(level_db.size - 2, 1) * level_db.size / looks
    se = float(np.sqrt(variance / (about @ about)))
    if slope >= 0.0 or se > -_MOST_RELATIVE_SE * slope:
        return None
    return Measured(-60.0 / slope, 60.0 * se / slope**2)
