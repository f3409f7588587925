"""The damper: found where it lands, and not where a unison beats."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from strikeline.acoustics.release import find_release

RATE_HZ = 16_000.0
TIME_S = np.arange(round(3.0 * RATE_HZ)) / RATE_HZ
NOISE = 1e-4 * np.random.default_rng(0).standard_normal(TIME_S.size)


def note(*, db_per_s: float = 10.0, damper_s: float | None = None, damped_t60_s: float = 0.3) -> NDArray[np.float64]:
    free = np.cos(2 * np.pi * 262.0 * TIME_S) * 10.0 ** (-db_per_s * TIME_S / 20.0)
    if damper_s is not None:
        free *= 10.0 ** (-3.0 / damped_t60_s * np.maximum(TIME_S - damper_s, 0.0))
    return np.asarray(free + NOISE)


@pytest.mark.parametrize("damped_t60_s", [0.1, 0.3, 0.45])
@pytest.mark.parametrize("damper_s", [0.3, 0.5, 1.0, 2.0])
def test_a_damper_is_found_where_it_lands_or_a_little_before(damper_s: float, damped_t60_s: float) -> None:
    found_s = find_release(note(damper_s=damper_s, damped_t60_s=damped_t60_s), sample_rate_hz=RATE_HZ)
    assert found_s is not None
    assert damper_s - 0.12 <= found_s <= damper_s + 0.02


def test_a_sound_that_breaks_off_counts_as_released() -> None:
    sound = note()
    sound[round(1.0 * RATE_HZ) :] = 0.0
    found_s = find_release(sound, sample_rate_hz=RATE_HZ)
    assert found_s is not None
    assert 0.88 <= found_s <= 1.02


@pytest.mark.parametrize("db_per_s", [0.0, 10.0, 60.0, 100.0])
def test_a_free_string_is_not_released(db_per_s: float) -> None:
    assert find_release(note(db_per_s=db_per_s), sample_rate_hz=RATE_HZ) is None


@pytest.mark.parametrize("phase_rad", [0.0, 1.5, 3.1])
@pytest.mark.parametrize("beat_hz", [0.5, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0])
def test_a_beating_unison_is_not_released(beat_hz: float, phase_rad: float) -> None:
    beating = np.cos(2 * np.pi * 523.0 * TIME_S) + 0.95 * np.cos(2 * np.pi * (523.0 + beat_hz) * TIME_S + phase_rad)
    found_s = find_release(beating * 10.0 ** (-10.0 * TIME_S / 20.0) + NOISE, sample_rate_hz=RATE_HZ)
    assert found_s is None or found_s > 2.4, "a dip within the last half second is not seen to come back"


@pytest.mark.parametrize("n_samples", [0, 100, 3000])
def test_a_very_short_sound_has_no_release(n_samples: int) -> None:
    assert find_release(note()[:n_samples], sample_rate_hz=RATE_HZ) is None


def test_silence_has_no_release() -> None:
    assert find_release(np.zeros(16_000), sample_rate_hz=RATE_HZ) is None


def test_gain_has_no_say() -> None:
    sound = note(damper_s=1.0)
    assert find_release(1e-6 * sound, sample_rate_hz=RATE_HZ) == find_release(1e3 * sound, sample_rate_hz=RATE_HZ)
