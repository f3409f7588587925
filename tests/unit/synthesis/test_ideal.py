from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.synthesis.ideal import damped_string, white_noise
from strikeline.synthesis.modes import sum_of_modes

RATE_HZ = 16_000.0


def string(*, level_db: float = 0.0, duration_s: float = 0.7) -> NDArray[np.float64]:
    return damped_string(
        f0_hz=220.0,
        inharmonicity_b=3e-4,
        level_db=np.array([0.0, -6.0, -9.0]) + level_db,
        decay_per_s=[1.0, 2.0, 3.0],
        phase_rad=[0.1, 1.0, -2.0],
        sample_rate_hz=RATE_HZ,
        duration_s=duration_s,
    )


def test_the_fast_sum_equals_the_slow_one() -> None:
    t = np.arange(round(0.7 * RATE_HZ)) / RATE_HZ
    slow = np.zeros(t.size)
    for n, level, decay, phase in ((1, 0.0, 1.0, 0.1), (2, -6.0, 2.0, 1.0), (3, -9.0, 3.0, -2.0)):
        hz = n * 220.0 * np.sqrt(1 + 3e-4 * n**2)
        slow += 10 ** (level / 20) * np.exp(-decay * t) * np.cos(2 * np.pi * hz * t + phase)
    assert_close(string(), slow, rtol=0, atol=1e-11, why="double precision, phases up to 3000 rad")


def test_single_precision_stays_130_db_below_the_sound() -> None:
    pole = np.array([-1.0 + 2j * np.pi * 440.3, -0.5 + 2j * np.pi * 3001.7])
    amplitude = np.array([1.0 + 0j, 0.5j])
    double = sum_of_modes(pole, amplitude, sample_rate_hz=RATE_HZ, n_samples=100_000, dtype=np.float64)
    single = sum_of_modes(pole, amplitude, sample_rate_hz=RATE_HZ, n_samples=100_000, dtype=np.float32)
    assert single.dtype == np.float32
    error_db = 20 * np.log10(np.sqrt(np.mean((single - double) ** 2)) / np.sqrt(np.mean(double**2)))
    assert error_db < -130


def test_six_decibels_more_is_twice_the_amplitude() -> None:
    louder = string(level_db=20 * np.log10(2.0))
    assert_close(louder, 2 * string(), rtol=0, atol=1e-12, why="linear; rounding only")


def test_energy_only_decays() -> None:
    blocks = string().reshape(-1, 1600)  # 0.1 s each, many periods
    assert (np.diff((blocks**2).sum(axis=1)) < 0).all()


def test_a_longer_string_sound_begins_like_a_shorter_one() -> None:
    assert_close(string(duration_s=0.7)[:4000], string(duration_s=0.25), rtol=0, atol=1e-11, why="rounding of blocks")


def test_a_partial_above_half_the_sample_rate_is_refused() -> None:
    with pytest.raises(InputError, match="below half the sample rate"):
        damped_string(
            f0_hz=5000.0,
            inharmonicity_b=0.0,
            level_db=[0.0, 0.0],
            decay_per_s=[1.0, 1.0],
            phase_rad=[0.0, 0.0],
            sample_rate_hz=RATE_HZ,
            duration_s=0.1,
        )


def test_noise_has_the_stated_deviation_and_seed() -> None:
    noise = white_noise(n_samples=100_000, noise_sd=0.01, seed=4)
    assert_close(noise.std(), 0.01, rtol=0.01, atol=0, why="standard error of a standard deviation: 0.22 %")
    assert (noise == white_noise(n_samples=100_000, noise_sd=0.01, seed=4)).all()
    assert not (noise == white_noise(n_samples=100_000, noise_sd=0.01, seed=5)).any()
