from __future__ import annotations

import numpy as np
import pytest
from tests.plucked import damped_tone

from strikeline.acoustics.plucks_bright import bright_part, smoothing_samples
from strikeline.acoustics.plucks_cut import PluckCutter


@pytest.mark.parametrize("rate_hz", [8000.0, 44_100.0])
@pytest.mark.parametrize("order", [0, 1, 2])
def test_a_sample_of_the_bright_part_belongs_to_the_middle_of_what_made_it(rate_hz: float, order: int) -> None:
    samples = np.zeros(200)
    samples[100] = 1.0
    bright = np.abs(bright_part(samples, sample_rate_hz=rate_hz, order=order))
    shorter = smoothing_samples(rate_hz) + order
    assert bright.size == samples.size - shorter
    middle = float(np.flatnonzero(bright).mean())
    assert middle + shorter / 2 == 100.0


def test_a_soft_dark_pluck_is_placed_in_spite_of_the_noise_of_the_microphone() -> None:
    rate_hz, at_s = 44_100, 1.0
    rng = np.random.default_rng(4)
    samples = 4e-4 * rng.standard_normal(2 * rate_hz)  # its second difference is louder than that of the pluck
    n = round((2.0 - at_s) * rate_hz)
    samples[-n:] += 0.02 * damped_tone(262.0, 200.0, n_samples=n, sample_rate_hz=rate_hz)
    cutter = PluckCutter(sample_rate_hz=rate_hz)
    sounds = cutter.feed(samples.astype(np.float32)) + cutter.finish()
    assert min(abs(sound.onset_s - at_s) for sound in sounds) < 0.005
