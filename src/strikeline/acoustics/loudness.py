"""Level, fall and blow of one note: what is heard before pitch is thought of."""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands, Spectrum
from strikeline.measured import Measured
from strikeline.units import DB_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_LEVEL_S: Final = 0.5
_SUSTAIN_FROM_S: Final = 0.06
_SUSTAIN_TO_S: Final = 1.6
_CLEAR_RATIO: Final = 4.0
_SUSTAIN_FALL_DB: Final = 30.0
_BRIDGED_STEPS: Final = 5
"""A dip shorter than this (0.125 s) is a beat, not the end."""
_SUSTAIN_STEP_S: Final = 0.025
_FEWEST_STEPS: Final = 5
_KNOCK_EDGES_HZ: Final = (60.0, 145.0, 351.0, 848.0, 2051.0, 5000.0)
"""Bands in which the spectrum of a blow may be called flat: it falls by tens of decibels over the whole range."""
_FEWEST_LOOKS: Final = 2.0
_CLEAR_OF_PARTIAL: Final = 0.3
"""Only bins farther than this share of the spacing from every partial count as blow."""
_KNOCK_S: Final = 0.05
"""The blow and the thump of the soundboard have gone after about 50 ms (common practice, no source): its spectrum is
therefore smooth over 1 / 0.05 s = 20 Hz, which sets how many independent looks at it there are."""
_MEDIAN_SD: Final = 1.0 / float(np.log(2.0))
"""The median of n exponential powers scatters by 1/√n about ln 2, so its relative standard deviation is 1.44/√n."""
_SKIRT_BINS: Final = 60
_POWER_OF_UNIT_SINE_DB: Final = 3.0103
_MOST_RELATIVE_SE: Final = 0.5
"""A power known to less than half of itself is not told: in decibels its error is no longer symmetric."""


def estimate_level_db(
    samples: NDArray[np.floating], before: NDArray[np.floating], *, sample_rate_hz: float
) -> Measured | None:
    """Return the level of the first half second, dB re a sine of amplitude 1, less what sounded before.

    Parameters
    ----------
    samples, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset on, and what sounded before it; both free of DC. With nothing before, nothing is taken off.
    sample_rate_hz : float
        Above 0.

    Returns
    -------
    Measured or None
        ``None`` if the sound does not stand clear of what sounded before. The standard error is that of the power of a
        sound in stationary white noise of the level heard before, whose own level is known from m samples:
        var = (4·S·N + 2·N²) / n + 2·N² / m.
    """
    heard = samples[: int(_LEVEL_S * sample_rate_hz)].astype(np.float64)
    noise = float(np.mean(np.square(before, dtype=np.float64))) if before.size else 0.0
    total = float(np.mean(heard**2))
    signal = total - noise
    if signal <= 0.0:
        return None
    variance = (4.0 * signal * noise + 2.0 * noise**2) / heard.size + 2.0 * noise**2 / max(before.size, 1)
    relative_se = float(np.sqrt(variance)) / signal
    if relative_se > _MOST_RELATIVE_SE:
        return None
    return Measured(10.0 * float(np.log10(signal)) + _POWER_OF_UNIT_SINE_DB, DB_PER_NEPER / 2.0 * relative_se)


def estimate_sustain_db_per_s(bands: Bands, noise_variance: Real) -> Measured | None:
    """Return how fast the whole note falls between 0.06 and 1.6 s after the blow.

    The energies of all partials are added in steps of 25 ms and a line is laid through their level, no farther than
    30 dB down or to the noise; a dip in which the strings of a unison cancel for a moment does not end it. The standard
    error allows for neighbouring steps falling together: the variance of the slope is multiplied by
    (1 + r)/(1 − r), r the correlation of one residual with the next.

    Returns
    -------
    Measured or None
        dB per second, positive for a falling level; ``None`` if fewer than five steps are clear of the noise.
    """
    step = max(1, round(_SUSTAIN_STEP_S * bands.rate_hz))
    inside = (bands.time_s >= _SUSTAIN_FROM_S) & (bands.time_s <= _SUSTAIN_TO_S)
    power = np.sum(np.abs(bands.signal[:, inside]) ** 2, axis=0)
    usable = power.size // step * step
    power = power[:usable].reshape(-1, step).mean(axis=1)
    noise = float(np.sum(noise_variance)) * bands.noise_share
    if power.size < _FEWEST_STEPS:
        return None
    faint = max(_CLEAR_RATIO * noise, float(power[:_BRIDGED_STEPS].max()) * 10.0 ** (-_SUSTAIN_FALL_DB / 10.0))
    ahead = sliding_window_view(np.append(power, np.zeros(_BRIDGED_STEPS - 1)), _BRIDGED_STEPS).max(axis=1)
    last = int(np.argmin(np.append(ahead > faint, False)))
    used = np.flatnonzero(power[:last] > faint)
    if used.size < _FEWEST_STEPS:
        return None
    time_s = used.astype(np.float64) * (step / bands.rate_hz)
    return _falling_slope(time_s, 10.0 * np.log10(power[used]))


def _falling_slope(time_s: Real, level_db: Real) -> Measured:
    about = time_s - time_s.mean()
    slope = float(about @ level_db / (about @ about))
    error = level_db - level_db.mean() - slope * about
    variance = float(error @ error) / (level_db.size - 2)
    alike = float(error[1:] @ error[:-1] / max(error @ error, 1e-300))
    inflation = (1.0 + min(max(alike, 0.0), 0.9)) / (1.0 - min(max(alike, 0.0), 0.9))
    return Measured(-slope, float(np.sqrt(variance / (about @ about) * inflation)))


def estimate_knock_db(
    spectrum: Spectrum,
    before: NDArray[np.floating],
    *,
    partial_hz: Real,
    spacing_hz: float,
    tone_energy: float,
    heard: tuple[Complex, Complex],
) -> Measured | None:
    """Return the energy of the blow between the partials, 60 Hz to 5 kHz, relative to that of the tone.

    Parameters
    ----------
    spectrum : Spectrum
        The strike from its onset on.
    before : ndarray of float, shape (n,)
        What sounded just before: the noise that is subtracted.
    partial_hz : ndarray of float, shape (k,)
        Where the partials lie, heard or not, over the whole range.
    spacing_hz : float
        Distance of the partials, about f0.
    tone_energy : float
        Sum over the partials of their energies, ∫|y|²/2 dt, full scale = 1.
    heard : two ndarrays of complex, shape (j,)
        Exponents per second and onset amplitudes of the modes heard: their skirts are taken off.

    Returns
    -------
    Measured or None
        Decibels. ``None`` if the noise before or the skirts of the partials hide it, or there is nothing before to
        compare with.
    """
    if before.size < int(0.1 * spectrum.sample_rate_hz):
        return None
    top = min(spectrum.bins.size, int(_KNOCK_EDGES_HZ[-1] / spectrum.bin_hz) + 1)
    frequency_hz: Real = np.arange(top, dtype=np.float64) * spectrum.bin_hz
    clear = _clear_of_partials(frequency_hz, partial_hz, spacing_hz)
    noise_power = np.abs(scipy.fft.rfft(before)).astype(np.float64) ** 2 / (before.size * spectrum.sample_rate_hz)
    noise_hz = np.arange(noise_power.size) * spectrum.sample_rate_hz / before.size
    blow, skirts, variance = 0.0, 0.0, 0.0
    for low_hz, high_hz in itertools.pairwise(_KNOCK_EDGES_HZ):
        inside = clear & (frequency_hz >= low_hz) & (frequency_hz < high_hz)
        looks = float(inside.sum()) * spectrum.bin_hz * _KNOCK_S
        if looks < _FEWEST_LOOKS:
            continue
        width_hz = 2.0 * (high_hz - low_hz)  # both signs of the frequency
        density = _typical(np.abs(spectrum.bins[:top][inside]).astype(np.float64) ** 2) / spectrum.sample_rate_hz**2
        skirt = _skirt_density(frequency_hz[inside], *heard)
        noise = _typical(noise_power[(noise_hz >= low_hz) & (noise_hz < high_hz)]) * spectrum.duration_s
        blow += width_hz * (density - skirt - noise)
        skirts += width_hz * skirt
        variance += (width_hz * _MEDIAN_SD * density) ** 2 / looks
    relative_se = float(np.sqrt(variance)) / max(blow, 1e-300)
    if blow <= skirts or relative_se > _MOST_RELATIVE_SE:
        return None
    return Measured(10.0 * float(np.log10(blow / tone_energy)), DB_PER_NEPER / 2.0 * relative_se)


def _clear_of_partials(frequency_hz: Real, partial_hz: Real, spacing_hz: float) -> NDArray[np.bool_]:
    """Return the bins farther than `_CLEAR_OF_PARTIAL` of the spacing from every partial."""
    nearest = np.clip(np.searchsorted(partial_hz, frequency_hz), 1, partial_hz.size - 1)
    distance = np.minimum(np.abs(frequency_hz - partial_hz[nearest - 1]), np.abs(frequency_hz - partial_hz[nearest]))
    return np.asarray(distance > _CLEAR_OF_PARTIAL * spacing_hz)


def _skirt_density(frequency_hz: Real, exponent: Complex, amplitude: Complex) -> float:
    """Return the typical density of what tones that begin at once have between them.

    The real part of a·e^(s·t) from t = 0 on has the spectrum (a/2)/(2πi·f − s) + (a*/2)/(2πi·f − s*).
    """
    at = 2j * np.pi * frequency_hz[:: max(1, frequency_hz.size // _SKIRT_BINS), None]
    spectrum = 0.5 * np.sum(amplitude / (at - exponent) + amplitude.conj() / (at - exponent.conj()), axis=1)
    return float(np.median(np.abs(spectrum) ** 2))


def _typical(power: Real) -> float:
    """Return the mean power of noise from the median of its bins: a few lines of ringing strings do not move it.

    The power of a bin of noise is exponentially distributed; its median is ln 2 times its mean.
    """
    return float(np.median(power)) / float(np.log(2.0))
