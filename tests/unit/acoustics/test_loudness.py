"""Level, sustain and knock."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.loudness import estimate_knock_db, estimate_level_db, estimate_sustain_db_per_s
from strikeline.measured import Measured

RATE_HZ = 48_000.0
TIME_S = np.arange(round(2.0 * RATE_HZ)) / RATE_HZ
F_HZ = 220.0 * np.arange(1.0, 9.0)
NOTHING = np.zeros(0)


def noise(seed: int, *, sd: float, duration_s: float = 2.0) -> NDArray[np.float64]:
    return sd * np.random.default_rng(seed).standard_normal(round(duration_s * RATE_HZ))


def chord(*, alpha_per_s: float) -> NDArray[np.float64]:
    phase = np.random.default_rng(9).uniform(0, 2 * np.pi, F_HZ.size)
    waves = np.cos(2 * np.pi * np.outer(F_HZ, TIME_S) + phase[:, None])
    return np.asarray(0.02 * np.exp(-alpha_per_s * TIME_S) * waves.sum(axis=0))


def test_a_steady_sine_of_amplitude_one_has_level_nought() -> None:
    level = estimate_level_db(np.cos(2 * np.pi * 440.0 * TIME_S), NOTHING, sample_rate_hz=RATE_HZ)
    assert level is not None
    assert_close(level.value, 0.0, rtol=0, atol=1e-3, why="3.0103 dB for the power of a sine")


def test_what_sounded_before_is_taken_off_and_its_doubt_put_on() -> None:
    tone = 0.1 * np.cos(2 * np.pi * 440.0 * TIME_S)
    off = []
    for seed in range(200):
        heard = estimate_level_db(
            tone[:24_000] + noise(seed, sd=0.2, duration_s=0.5),
            noise(seed + 1000, sd=0.2, duration_s=0.25),
            sample_rate_hz=RATE_HZ,
        )
        assert heard is not None
        off.append((heard.value + 20.0) / heard.se)
    assert 0.90 < np.mean(np.abs(off) < 1.96) < 0.99, "95 %, 200 trials: 4 standard deviations"


def test_a_sound_hidden_by_what_sounded_before_has_no_level() -> None:
    levels = [
        estimate_level_db(noise(seed, sd=0.2, duration_s=0.5), noise(seed + 99, sd=0.2), sample_rate_hz=RATE_HZ)
        for seed in range(50)
    ]
    assert sum(level is not None for level in levels) <= 4, "two standard errors: one in forty"


def test_silence_has_no_level() -> None:
    assert estimate_level_db(np.zeros(1000), NOTHING, sample_rate_hz=RATE_HZ) is None


@pytest.mark.parametrize("gain_db", [-60.0, 20.0])
def test_gain_moves_the_level_by_itself(gain_db: float) -> None:
    tone, before = chord(alpha_per_s=1.0), noise(1, sd=1e-3, duration_s=0.25)
    gain = 10.0 ** (gain_db / 20.0)
    plain = estimate_level_db(tone, before, sample_rate_hz=RATE_HZ)
    moved = estimate_level_db(gain * tone, gain * before, sample_rate_hz=RATE_HZ)
    assert plain is not None
    assert moved is not None
    assert_close(moved.value - plain.value, gain_db, rtol=0, atol=1e-9, why="decibels")


def sustain(sound: NDArray[np.float64], *, noise_sd: float = 1e-4) -> Measured | None:
    bands = Spectrum(sound, sample_rate_hz=RATE_HZ).bands(F_HZ, half_width_hz=40.0)
    return estimate_sustain_db_per_s(bands, np.full(F_HZ.size, 4.0 * noise_sd**2 * bands.rate_hz / RATE_HZ))


@pytest.mark.parametrize("alpha_per_s", [0.5, 2.0, 10.0])
def test_sustain_is_the_fall_of_the_whole_note(alpha_per_s: float) -> None:
    fall = sustain(chord(alpha_per_s=alpha_per_s) + noise(2, sd=1e-4))
    assert fall is not None
    assert_close(fall.value, 8.6859 * alpha_per_s, rtol=0.03, atol=0, why="noise at a quarter of the last step")


def test_sustain_outlives_a_dip_of_the_beat() -> None:
    beating = chord(alpha_per_s=1.0) * np.abs(np.cos(2 * np.pi * 1.0 * TIME_S))
    fall = sustain(beating + noise(2, sd=1e-3), noise_sd=1e-3)
    assert fall is not None
    assert abs(fall.value - 8.69) < 3 * fall.se


def test_noise_and_short_sounds_have_no_sustain() -> None:
    assert sustain(noise(3, sd=1e-3), noise_sd=1e-3) is None
    assert sustain(chord(alpha_per_s=1.0)[: round(0.18 * RATE_HZ)]) is None


NOTHING_HEARD = (np.array([-1.0 + 0j]), np.array([0j]))


def knock(sound: NDArray[np.float64], before: NDArray[np.float64]) -> Measured | None:
    return estimate_knock_db(
        Spectrum(sound, sample_rate_hz=RATE_HZ),
        before,
        partial_hz=220.0 * np.arange(1.0, 46.0),
        spacing_hz=220.0,
        tone_energy=1.0,
        heard=NOTHING_HEARD,
    )


def blow(seed: int, *, energy: float) -> NDArray[np.float64]:
    """Return a burst of noise, white up to half the sample rate, with `energy` between 60 Hz and 5 kHz."""
    burst = noise(seed, sd=1.0) * np.exp(-TIME_S / 0.02)
    share = (5000.0 - 60.0) / (RATE_HZ / 2)
    return np.asarray(burst * np.sqrt(energy / (share * np.sum(burst**2) / RATE_HZ)))


def test_knock_is_the_energy_of_the_blow_between_the_partials() -> None:
    found = [knock(blow(seed, energy=1e-3), noise(seed + 50, sd=1e-6, duration_s=0.25)) for seed in range(40)]
    values = np.array([one.value for one in found if one is not None])
    assert values.size == 40
    assert_close(np.mean(values), -30.0, rtol=0, atol=0.5, why="a median for a mean")
    errors = np.array([one.se for one in found if one is not None])
    assert_close(np.std(values), np.mean(errors), rtol=0.45, atol=0, why="40 trials: 4 sd of a sample's sd")


def test_a_blow_hidden_by_noise_is_not_told() -> None:
    steady = noise(7, sd=0.1)
    assert knock(blow(1, energy=1e-6) + steady, noise(8, sd=0.1, duration_s=0.25)) is None


def test_nothing_before_the_blow_means_no_knock() -> None:
    assert knock(blow(1, energy=1e-3), NOTHING) is None


def test_partials_without_room_between_them_hide_the_blow() -> None:
    hidden = estimate_knock_db(
        Spectrum(blow(1, energy=1e-3), sample_rate_hz=RATE_HZ),
        noise(1, sd=1e-6, duration_s=0.25),
        partial_hz=np.arange(50.0, 6000.0, 25.0),
        spacing_hz=50.0,
        tone_energy=1.0,
        heard=NOTHING_HEARD,
    )
    assert hidden is None


def test_the_skirts_of_tones_that_begin_at_once_are_no_blow() -> None:
    tones = sum(np.cos(2 * np.pi * 220.0 * n * TIME_S) * np.exp(-2.0 * TIME_S) for n in range(1, 6))
    skirts_only = estimate_knock_db(
        Spectrum(np.asarray(tones), sample_rate_hz=RATE_HZ),
        noise(1, sd=1e-6, duration_s=0.25),
        partial_hz=220.0 * np.arange(1.0, 46.0),
        spacing_hz=220.0,
        tone_energy=1.0,
        heard=(np.array([complex(-2.0, 2 * np.pi * 220.0 * n) for n in range(1, 6)]), np.ones(5, dtype=np.complex128)),
    )
    assert skirts_only is None
