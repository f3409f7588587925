"""How long a whole note takes to fall by 60 dB once its damper has landed."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.damping_landing import channel_centres_hz, channel_power, noise_power
from strikeline.acoustics.damping_tails import PRESSED_S
from strikeline.measured import Measured

Real = NDArray[np.float64]

_SPACING_SHARE: Final = 0.4
_NARROWEST_HZ: Final = 40.0
_WIDEST_HZ: Final = 120.0
"""Half width of a channel: settles 12 to 37 ms after the felt is down, before the note has fallen by 5 dB."""
_BEFORE_S: Final = 0.06
_FROM_DB: Final = 2.0
_TO_DB: Final = 25.0
"""The slope is read from 2 to 25 dB below the level at the landing: as a listener hears it stop. (ISO 3382 reads
rooms from 5 to 25 dB, from memory; here the settling takes the first decibels.)"""
_CLEAR_RATIO: Final = 4.0
_FEWEST: Final = 4
_MOST_RELATIVE_SE: Final = 0.5


def estimate_t60_s(
    sound: NDArray[np.floating],
    before: NDArray[np.floating],
    *,
    sample_rate_hz: float,
    f0_hz: float,
    inharmonicity_b: float,
    lands_s: float,
) -> Measured | None:
    """Return the time in which all partials together fall by 60 dB, extrapolated from their fall after the landing.

    The powers of the partials are added, the noise taken off, and a line laid through the level from 2 to 25 dB below
    that of the landing, or to the noise. What a room adds is in it: it is the fall that is heard.

    Parameters
    ----------
    sound, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset of the blow on, and what sounded before it.
    sample_rate_hz : float
        Above 0.
    f0_hz, inharmonicity_b : float
        Of the note.
    lands_s : float
        When the damper lands, after the onset.

    Returns
    -------
    Measured or None
        ``None`` if too little of the fall stands clear of the noise. A fall that bends has no one slope: half the
        difference between its two halves is in the standard error, beside the scatter about the line.
    """
    half_width_hz = float(np.clip(_SPACING_SHARE * f0_hz, _NARROWEST_HZ, _WIDEST_HZ))
    centre_hz = channel_centres_hz(
        f0_hz, inharmonicity_b=inharmonicity_b, half_width_hz=half_width_hz, sample_rate_hz=sample_rate_hz
    )
    whole = Spectrum(sound, sample_rate_hz=sample_rate_hz).bands(centre_hz, half_width_hz=half_width_hz)
    start = round((lands_s + PRESSED_S) * sample_rate_hz)
    bands = Spectrum(sound[start:], sample_rate_hz=sample_rate_hz).bands(centre_hz, half_width_hz=half_width_hz)
    if bands.is_cut_short:
        return None
    settles_s = float(bands.time_s[0])
    free = (whole.time_s > lands_s - _BEFORE_S - settles_s) & (whole.time_s < lands_s - min(settles_s, 0.02))
    if not free.any():
        return None
    noise = float(noise_power(before, bands, sample_rate_hz=sample_rate_hz).sum())
    reference = float(channel_power(whole, f0_hz=f0_hz)[0][:, free].sum(axis=0).mean())
    power = channel_power(bands, f0_hz=f0_hz)[0].sum(axis=0)
    level_db = 10.0 * np.log10(np.maximum(power - noise, 1e-30) / reference)
    gone = (level_db < -_TO_DB) | (power < _CLEAR_RATIO * noise)
    last = int(np.argmax(gone)) if gone.any() else power.size
    first = int(np.argmax(level_db < -_FROM_DB))
    if last - first < _FEWEST:
        return None
    return _t60_s(bands.time_s[first:last], level_db[first:last], bands.noise_share)


def _t60_s(time_s: Real, level_db: Real, independent_share: float) -> Measured | None:
    """Return 60 dB over the slope of the best line."""
    slope, scatter = _slope(time_s, level_db)
    half = level_db.size // 2
    early, late = _slope(time_s[: half + 1], level_db[: half + 1])[0], _slope(time_s[half:], level_db[half:])[0]
    se = float(np.hypot(scatter / np.sqrt(independent_share), 0.5 * (early - late)))
    if slope >= 0.0 or se > -_MOST_RELATIVE_SE * slope:
        return None
    return Measured(-60.0 / slope, 60.0 * se / slope**2)


def _slope(time_s: Real, level_db: Real) -> tuple[float, float]:
    """Return the slope of the best line and its standard error for independent samples."""
    about = time_s - time_s.mean()
    slope = float(about @ level_db / (about @ about))
    error = level_db - level_db.mean() - slope * about
    variance = float(error @ error) / max(level_db.size - 2, 1)
    return slope, float(np.sqrt(variance / (about @ about)))
