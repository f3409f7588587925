"""Recordings of real grands raise no false alarm, and faults put into them are found."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES, chromatic_grand, chromatic_pass, layered_grand

from strikeline.acoustics.quality import QualityMeter, choose_channel


def verdict(samples: NDArray[np.float32], rate: int, *, is_lossy: bool = False) -> tuple[str, ...]:
    meter = QualityMeter(sample_rate_hz=rate, codec_name="vorbis" if is_lossy else "flac", is_lossy=is_lossy)
    for start in range(0, len(samples), rate):
        meter.feed(samples[start : start + rate])
    return meter.finish()


def chosen(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    choice = choose_channel(samples[: 30 * rate], sample_rate_hz=rate)
    assert choice.is_certain
    assert choice.warnings == ()
    assert sorted(choice.weights.tolist()) == [0.0, 1.0], "two microphones in two places are never averaged"
    return np.ascontiguousarray(samples @ choice.weights)


@pytest.mark.parametrize("key", range(1, 89, 3))
def test_nothing_is_wrong_with_single_notes_of_a_real_grand(key: int) -> None:
    samples, rate = chromatic_grand(key)
    assert verdict(chosen(samples, rate), rate) == ()


@pytest.mark.parametrize(("first_key", "seconds", "gap_s"), [(1, 2.0, 0.0), (2, 3.0, 0.3)])
def test_nothing_is_wrong_with_a_pass_of_a_real_grand(first_key: int, seconds: float, gap_s: float) -> None:
    samples, rate, _ = chromatic_pass(range(first_key, 89, 2), seconds=seconds, gap_s=gap_s)
    mono = chosen(samples, rate)
    assert verdict(mono, rate) == ()
    noisy = mono + (1e-3 * np.random.default_rng(0).standard_normal(len(mono))).astype(np.float32)
    assert verdict(noisy, rate) == ()


@pytest.mark.parametrize("velocity", LAYERED_VELOCITIES)
def test_of_lossy_notes_only_the_coding_is_said_and_the_hum_that_is_there(velocity: int) -> None:
    """The room of this set hums: in each of its 30 notes a line stands at 49.9 to 50.1 Hz and one at just twice that.

    Where that hum comes within 60 dB of the loudest moment it may be said, and it must be 50 Hz.
    """
    for key in LAYERED_KEYS[velocity - min(LAYERED_VELOCITIES) :: len(LAYERED_VELOCITIES)]:
        samples, rate = layered_grand(key, velocity)
        for sentence in verdict(chosen(samples, rate), rate, is_lossy=True):
            assert sentence.startswith(("lossy coding (vorbis)", "mains hum of 50 Hz")), key


def test_a_real_pass_that_was_clipped_is_found_clipped() -> None:
    samples, rate, _ = chromatic_pass(range(30, 50), seconds=2.0)
    mono = chosen(samples, rate)
    hot = np.clip(1.6 * mono / np.abs(mono).max(), -1, 1)
    assert any(sentence.startswith("clipped") for sentence in verdict(hot, rate))


def test_automatic_gain_over_a_real_pass_is_found() -> None:
    from tests.unit.acoustics.test_quality import turned_up_and_down

    samples, rate, _ = chromatic_pass(range(20, 50), seconds=2.5)
    hiss = 1e-4 * np.random.default_rng(0).standard_normal(len(samples))
    mono = (samples[:, 0] + hiss).astype(np.float32)
    pumped = turned_up_and_down(mono, range_db=12, recovery_s=1.5, rate=rate)
    assert any(sentence.startswith("automatic gain") for sentence in verdict(pumped, rate))
