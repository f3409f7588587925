"""How what is new falls, alone and beside what rings already."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.plucked import damped_tone

from strikeline.acoustics.plucks_ringing import Ringing, measure_ringing

RATE_HZ = 16_000
ONSET = round(0.35 * RATE_HZ)
PARTIAL_HZ = np.array([262.0, 525.0, 789.0, 1055.0, 1323.0])


def string(decay_db_per_s: float, *, n_samples: int, seed: int) -> NDArray[np.float64]:
    """Five partials, all falling alike."""
    phase = np.random.default_rng(seed).uniform(0.0, 2 * np.pi, PARTIAL_HZ.size)
    parts = [
        damped_tone(f, decay_db_per_s, n_samples=n_samples, sample_rate_hz=RATE_HZ, phase_rad=p) / n
        for n, (f, p) in enumerate(zip(PARTIAL_HZ, phase, strict=True), 1)
    ]
    return np.asarray(np.sum(parts, axis=0))


def heard(
    decay_db_per_s: float, *, old: float = 0.0, old_cents: float = 0.0, noise: float = 1e-5, seed: int = 1
) -> Ringing:
    n = ONSET + RATE_HZ
    samples = noise * np.random.default_rng(seed + 100).standard_normal(n)
    samples[ONSET:] += 0.01 * string(decay_db_per_s, n_samples=n - ONSET, seed=seed)
    if old:
        rate = 2.0 ** (old_cents / 1200.0)
        phase = np.random.default_rng(seed + 7).uniform(0.0, 2 * np.pi, PARTIAL_HZ.size)
        for number, (f, p) in enumerate(zip(PARTIAL_HZ, phase, strict=True), 1):
            samples += (
                0.01 * old * damped_tone(f * rate, 6.0, n_samples=n, sample_rate_hz=RATE_HZ, phase_rad=p) / number
            )
    return measure_ringing(
        samples.astype(np.float32),
        sample_rate_hz=RATE_HZ,
        onset_sample=ONSET,
        partial_hz=PARTIAL_HZ,
        spacing_hz=262.0,
    )


@pytest.mark.parametrize("decay", [4.0, 20.0, 80.0, 250.0])
def test_the_decay_of_a_string_alone_is_found(decay: float) -> None:
    found = heard(decay).decay_db_per_s
    assert found is not None
    assert_close(found.value, decay, rtol=0.06, atol=0.5, why="bands of finite width and steps of 15 ms")


def test_the_decay_is_within_its_errors() -> None:
    decays = [heard(40.0, noise=3e-4, seed=seed).decay_db_per_s for seed in range(30)]
    within = [abs(d.value - 40.0) <= 1.96 * d.se for d in decays if d is not None]
    assert len(within) == 30
    assert np.mean(within) >= 0.9


@pytest.mark.parametrize("old_cents", [0.0, 1.5, -3.0])
@pytest.mark.parametrize("old", [0.5, 2.0])
def test_short_and_long_are_told_apart_beside_a_string_that_rings(old: float, old_cents: float) -> None:
    for seed in range(3):
        short = heard(200.0, old=old, old_cents=old_cents, seed=seed).decay_db_per_s
        long = heard(8.0, old=old, old_cents=old_cents, seed=seed).decay_db_per_s
        assert short is not None
        assert long is not None
        assert short.value > 80.0
        assert long.value < 25.0


def test_levels_are_those_of_new_and_old() -> None:
    ringing = heard(8.0, old=2.0)
    assert_close(ringing.old_db - ringing.new_db, 6.0, rtol=0, atol=2.0, why="twice the amplitude; both fall meanwhile")
    assert ringing.n_partials == ringing.n_sought == PARTIAL_HZ.size


def test_nothing_new_gives_no_decay() -> None:
    n = ONSET + RATE_HZ
    noise = 1e-4 * np.random.default_rng(3).standard_normal(n)
    for samples in (noise, noise + 0.01 * string(6.0, n_samples=n, seed=1)):
        found = measure_ringing(
            samples.astype(np.float32),
            sample_rate_hz=RATE_HZ,
            onset_sample=ONSET,
            partial_hz=PARTIAL_HZ,
            spacing_hz=262.0,
        )
        assert found.decay_db_per_s is None
        assert found.n_partials == 0


def test_too_little_sound_gives_no_decay() -> None:
    for size in (10, ONSET + 100):
        found = measure_ringing(
            np.ones(size, dtype=np.float32),
            sample_rate_hz=RATE_HZ,
            onset_sample=min(ONSET, size - 1),
            partial_hz=PARTIAL_HZ,
            spacing_hz=262.0,
        )
        assert found.decay_db_per_s is None


def test_a_treble_sound_shorter_than_one_step_gives_no_decay_and_no_nan() -> None:
    n = ONSET + round(0.02 * RATE_HZ)
    found = measure_ringing(
        1e-3 * np.random.default_rng(8).standard_normal(n).astype(np.float32),
        sample_rate_hz=RATE_HZ,
        onset_sample=ONSET,
        partial_hz=np.array([3520.0]),
        spacing_hz=3520.0,
    )
    assert found.decay_db_per_s is None
    assert np.isfinite(found.new_db)


def test_the_gain_changes_levels_and_no_decay() -> None:
    n = ONSET + RATE_HZ
    samples = np.zeros(n)
    samples[ONSET:] = 0.01 * string(30.0, n_samples=n - ONSET, seed=1)
    samples += 1e-5 * np.random.default_rng(5).standard_normal(n)
    one, ten = (
        measure_ringing(
            (gain * samples).astype(np.float32),
            sample_rate_hz=RATE_HZ,
            onset_sample=ONSET,
            partial_hz=PARTIAL_HZ,
            spacing_hz=262.0,
        )
        for gain in (1.0, 10.0)
    )
    assert one.decay_db_per_s is not None
    assert ten.decay_db_per_s is not None
    assert_close(ten.decay_db_per_s.value, one.decay_db_per_s.value, rtol=1e-3, atol=0, why="single precision")
    assert_close(ten.new_db - one.new_db, 20.0, rtol=0, atol=1e-2, why="single precision")
