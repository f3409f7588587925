"""Where sounds of a plucked section begin."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.plucked import damped_tone

from strikeline.acoustics.plucks_cut import LONGEST_S, PRE_S, PluckCutter
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.plucking import Hand, pluck_section
from strikeline.synthesis.plucks import render_plucks

RATE_HZ = 16_000
HAND = Hand(
    pace_s=0.45,
    change_s=0.8,
    timing_scatter=0.1,
    force_n=1.5,
    force_scatter_db=3.0,
    release_s=3e-4,
    click_db=-14.0,
)


def cut(samples: NDArray[np.floating], *, rate_hz: int = RATE_HZ, block: int | None = None) -> list[Strike]:
    cutter = PluckCutter(sample_rate_hz=rate_hz)
    sounds = []
    step = block or samples.size or 1
    for start in range(0, samples.size, step):
        sounds += cutter.feed(samples[start : start + step].astype(np.float32))
    return sounds + cutter.finish()


def test_every_pluck_begins_a_sound_also_under_felt_and_beside_open_strings() -> None:
    touch = {(key, string): 0.15 for key in (40, 41, 42) for string in (1, 2)}
    grand = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=0.0)
    performance = pluck_section(grand, (40, 41, 42), touch_t60_s=touch, hand=HAND, seed=4)
    made = render_plucks(grand, performance, sample_rate_hz=RATE_HZ, seed=4)
    onsets = np.array([sound.onset_s for sound in cut(made.samples)])
    for true in made.plucks:
        assert np.abs(onsets - true.at_s).min() < 0.012, true


def test_the_size_of_the_blocks_fed_changes_nothing() -> None:
    rng = np.random.default_rng(1)
    samples = 1e-4 * rng.standard_normal(4 * RATE_HZ)
    for at in (1.0, 1.5, 2.6):
        start = round(at * RATE_HZ)
        samples[start:] += 0.1 * damped_tone(700.0, 60.0, n_samples=samples.size - start, sample_rate_hz=RATE_HZ)
    whole = cut(samples)
    assert_close([s.onset_s for s in whole], [1.0, 1.5, 2.6], rtol=0, atol=0.002, why="a clean step")
    for block in (777, 5000):
        pieces = cut(samples, block=block)
        assert [(s.onset_s, s.end_s) for s in pieces] == [(s.onset_s, s.end_s) for s in whole]
        assert all((a.samples == b.samples).all() for a, b in zip(pieces, whole, strict=True))


def test_a_sound_holds_what_rang_before_it_and_ends_before_the_next() -> None:
    samples = np.zeros(5 * RATE_HZ)
    for at in (1.0, 1.5):
        start = round(at * RATE_HZ)
        samples[start:] += 0.1 * damped_tone(700.0, 5.0, n_samples=samples.size - start, sample_rate_hz=RATE_HZ)
    first, second = cut(samples)
    assert 0.48 < first.end_s - first.onset_s < 0.5
    assert_close(second.onset_s - second.start_s, PRE_S, rtol=0, atol=1e-3, why="one sample either way")
    assert_close(second.end_s - second.onset_s, LONGEST_S, rtol=0, atol=1e-3, why="one sample either way")


def test_silence_noise_and_a_constant_offset_begin_nothing() -> None:
    noise = 1e-3 * np.random.default_rng(2).standard_normal(6 * RATE_HZ)
    assert cut(np.zeros(2 * RATE_HZ)) == []
    assert cut(np.zeros(0)) == []
    assert len(cut(noise)) <= 1  # the noise itself may begin
    assert cut(np.full(2 * RATE_HZ, 0.2)) == []


def test_an_impossible_sample_rate_is_refused() -> None:
    with pytest.raises(InputError, match="sample_rate_hz"):
        PluckCutter(sample_rate_hz=1000.0)
