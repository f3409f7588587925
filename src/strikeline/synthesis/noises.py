"""Sounds that are no notes: the knock of a blow, a door, babble, a falling key. Invented, not recorded."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.performance import DisturbanceKind

# Formants of five vowels, Hz: round figures within the usual spread for adult speakers (from memory).
_VOWELS_HZ: Final = ((700, 1200, 2500), (300, 2200, 2900), (500, 1800, 2500), (450, 850, 2400), (320, 800, 2300))
_FORMANT_WIDTHS_HZ: Final = (80.0, 110.0, 160.0)


def blow_knock(*, speed_m_per_s: float, sample_rate_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the noise of one blow without its strings: soundboard and case thump, felt and key noise.

    Eight damped modes between 80 and 300 Hz and a burst of filtered noise that dies in some milliseconds; both grow
    with the hammer's speed. The balance is invented.

    Parameters
    ----------
    speed_m_per_s : float
        Hammer speed.
    sample_rate_hz : float
        Above 8000.
    rng : numpy.random.Generator
        Chance: every blow knocks a little differently.

    Returns
    -------
    ndarray of float64, shape (n,)
        About 0.25 s, starting with the blow; peak near 1 at 2.5 m/s.
    """
    n = round(0.25 * sample_rate_hz)
    frequency_hz = rng.uniform(80.0, 300.0, 8)
    decay = rng.uniform(35.0, 90.0, 8)
    size = np.exp(0.4 * rng.standard_normal(8)) / 4.0
    thump = sum_of_modes(
        -decay + 2j * np.pi * frequency_hz,
        -1j * size * rng.choice([-1.0, 1.0], 8),
        sample_rate_hz=sample_rate_hz,
        n_samples=n,
        dtype=np.float64,
    )
    t = np.arange(n) / sample_rate_hz
    burst = rng.standard_normal(n) * np.exp(-t / 0.007)
    band = butter(2, [500.0, min(3500.0, 0.45 * sample_rate_hz)], btype="bandpass", fs=sample_rate_hz, output="sos")
    rise = 1.0 - np.exp(-t / 0.0005)
    return np.asarray((thump + 0.5 * sosfilt(band, burst)) * rise * (speed_m_per_s / 2.5))


def release_noise(*, sample_rate_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the noise of a key let go: the damper falls back on its strings, then the key on its rest. No string.

    Two soft thumps of case and keybed, the second some 30 ms after the first, each with a burst of felt noise.

    Parameters
    ----------
    sample_rate_hz : float
        Above 8000.
    rng : numpy.random.Generator
        Chance.

    Returns
    -------
    ndarray of float64, shape (n,)
        About 0.3 s, starting as the damper touches; peak near 1.
    """
    n, rate_hz = round(0.3 * sample_rate_hz), sample_rate_hz
    sound = np.zeros(n)
    for at_s, size, low_hz, high_hz in ((0.0, 0.5, 90.0, 500.0), (float(rng.uniform(0.02, 0.05)), 1.0, 50.0, 220.0)):
        start = round(at_s * rate_hz)
        body = _struck_body(n - start, rate_hz, rng, low_hz=low_hz, high_hz=high_hz, decay_per_s=45.0)
        t = np.arange(n - start) / rate_hz
        hiss = lfilter([0.3], [1.0, -0.7], rng.standard_normal(n - start)) * np.exp(-t / 0.008)
        sound[start:] += size * (body / 5.0 + hiss) * (1.0 - np.exp(-t / 0.002))
    return sound


def disturbance(
    kind: DisturbanceKind, *, duration_s: float, sample_rate_hz: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return the sound of a disturbance with peak 1.

    Parameters
    ----------
    kind : DisturbanceKind
        What happens.
    duration_s : float
        Length; door and key drop die away within it.
    sample_rate_hz : float
        Above 8000.
    rng : numpy.random.Generator
        Chance.

    Returns
    -------
    ndarray of float64, shape (n,)
        Samples.
    """
    n = max(16, round(duration_s * sample_rate_hz))
    maker = {DisturbanceKind.DOOR: _door, DisturbanceKind.TALK: _babble, DisturbanceKind.KEY_DROP: _wooden_knock}[kind]
    sound = maker(n, sample_rate_hz, rng)
    return np.asarray(sound / np.abs(sound).max())


def _struck_body(
    n: int, rate_hz: float, rng: np.random.Generator, *, low_hz: float, high_hz: float, decay_per_s: float
) -> NDArray[np.float64]:
    """Return twelve damped modes of something struck."""
    frequency_hz = np.exp(rng.uniform(np.log(low_hz), np.log(high_hz), 12))
    return sum_of_modes(
        -decay_per_s * rng.uniform(0.6, 1.6, 12) + 2j * np.pi * frequency_hz,
        -1j * np.exp(0.5 * rng.standard_normal(12)),
        sample_rate_hz=rate_hz,
        n_samples=n,
        dtype=np.float64,
    )


def _door(n: int, rate_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return a low thud, a slap of noise and a rattle 60 ms later."""
    t = np.arange(n) / rate_hz
    thud = _struck_body(n, rate_hz, rng, low_hz=35.0, high_hz=220.0, decay_per_s=18.0)
    slap = 2.0 * rng.standard_normal(n) * (np.exp(-t / 0.03) + 0.3 * np.exp(-np.abs(t - 0.06) / 0.02))
    return np.asarray(thud + lfilter([1.0], [1.0, -0.8], slap) * 0.4)


def _wooden_knock(n: int, rate_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return a short dry knock of wood on wood."""
    body = _struck_body(n, rate_hz, rng, low_hz=250.0, high_hz=1800.0, decay_per_s=90.0)
    return np.asarray(body + rng.standard_normal(n) * np.exp(-np.arange(n) / rate_hz / 0.004))


def _babble(n: int, rate_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return syllables: a gliding pulse train through three formants, now and then a hiss before it."""
    sound = np.zeros(n)
    speaker_hz = rng.uniform(95.0, 210.0)
    start = 0
    while start < n:
        length = min(n - start, round(rng.uniform(0.12, 0.26) * rate_hz))
        t = np.arange(length) / rate_hz
        glide = speaker_hz * np.exp2(np.cumsum(rng.normal(0.0, 0.02, length) / np.sqrt(rate_hz)) * 8 - 0.8 * t)
        phase = np.cumsum(glide / rate_hz) + rng.uniform()
        pulses = np.diff(np.floor(phase), prepend=0.0) * 8.0 + 0.05 * rng.standard_normal(length)
        syllable = np.zeros(length)
        for formant, width in zip(_VOWELS_HZ[rng.integers(5)], _FORMANT_WIDTHS_HZ, strict=True):
            radius = np.exp(-np.pi * width / rate_hz)
            pole = [1.0, -2.0 * radius * np.cos(2.0 * np.pi * formant / rate_hz), radius**2]
            syllable += lfilter([1.0 - radius], pole, pulses)
        window = np.sin(np.pi * np.minimum(1.0, (np.arange(length) + 1) / length)) ** 0.5
        sound[start : start + length] += syllable * window * rng.uniform(0.5, 1.0)
        if rng.uniform() < 0.35:
            hiss = rng.standard_normal(min(length, round(0.07 * rate_hz)))
            sound[start : start + hiss.size] += 0.02 * np.diff(hiss, prepend=0.0)
        start += length + round(rng.choice([0.02, 0.05, 0.22], p=[0.5, 0.35, 0.15]) * rate_hz)
    return sound
