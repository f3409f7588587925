"""Cutting a pass into strikes, on sound whose truth is known."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.errors import InputError
from strikeline.keyboard import SHORT_COMPASS, Compass
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import ascending, play
from strikeline.synthesis.rendering import render_pass


def cut(samples: NDArray[np.float32], rate: float, *, block: int | None = None) -> list[Strike]:
    cutter = StrikeCutter(sample_rate_hz=rate)
    size = block or max(samples.size, 1)
    strikes: list[Strike] = []
    for start in range(0, samples.size, size):
        strikes += cutter.feed(samples[start : start + size])
    return strikes + cutter.finish()


def blow(f_hz: float, *, seconds: float, rate: float, decay_per_s: float = 3.0) -> NDArray[np.float64]:
    time_s = np.arange(round(seconds * rate)) / rate
    tone = sum(np.sin(2.0 * np.pi * f_hz * n * time_s) / n for n in (1, 2, 3) if f_hz * n < 0.45 * rate)
    fade = np.minimum(1.0, (seconds - time_s) / 0.05)  # no string stops within one sample
    return np.asarray(0.1 * tone * np.exp(-decay_per_s * time_s) * fade)


@pytest.fixture(scope="module")
def rendered() -> tuple[NDArray[np.float32], int, list[float]]:
    made = render_pass(
        piano(compass=SHORT_COMPASS, seed=5, pitch_level_cents=-20.0),
        play(ascending(SHORT_COMPASS), speed_m_per_s=2.5, seed=6, length_ratio=0.4),
        sample_rate_hz=44100,
        seed=7,
    )
    return made.samples, made.sample_rate_hz, [strike.onset_s for strike in made.truth.strikes]


def test_onsets_of_a_generated_pass_are_found_within_5_ms(
    rendered: tuple[NDArray[np.float32], int, list[float]],
) -> None:
    samples, rate, truth_s = rendered
    found_s = np.array([strike.onset_s for strike in cut(samples, rate)])
    nearest = [found_s[np.argmin(np.abs(found_s - at))] for at in truth_s]
    assert_close(nearest, truth_s, rtol=0, atol=0.005, why="the target for onsets")
    assert len(found_s) <= len(truth_s) + 4, "hardly any cut where nothing was struck"


def test_strikes_tile_the_pass_without_overlap(rendered: tuple[NDArray[np.float32], int, list[float]]) -> None:
    samples, rate, _ = rendered
    strikes = cut(samples, rate)
    for strike, following in pairwise(strikes):
        assert strike.onset_s < strike.end_s <= following.onset_s
    for strike in strikes:
        begin = round(strike.start_s * rate)
        assert np.array_equal(strike.samples, samples[begin : begin + strike.samples.size]), "samples are the original"
        assert strike.onset_sample <= round(0.25 * rate)


@settings(max_examples=8, deadline=None)
@given(block=st.integers(min_value=37, max_value=60_000))
def test_the_result_does_not_depend_on_how_the_sound_is_fed(block: int) -> None:
    rng = np.random.default_rng(3)
    samples = 1e-4 * rng.standard_normal(8 * 16_000)
    for at_s, f_hz in ((0.7, 110.0), (1.9, 220.0), (2.4, 233.0), (5.0, 880.0)):
        tone = blow(f_hz, seconds=2.0, rate=16_000)
        samples[round(at_s * 16_000) : round(at_s * 16_000) + tone.size] += tone
    sound = samples.astype(np.float32)
    whole, pieces = cut(sound, 16_000), cut(sound, 16_000, block=block)
    assert [(s.start_s, s.onset_sample) for s in whole] == [(s.start_s, s.onset_sample) for s in pieces]
    assert all(np.array_equal(a.samples, b.samples) for a, b in zip(whole, pieces, strict=True))
    assert len(whole) >= 4


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000])
def test_any_sample_rate_finds_the_same_blows(rate: int) -> None:
    rng = np.random.default_rng(4)
    samples = 1e-5 * rng.standard_normal(6 * rate)
    truth_s = [0.9, 2.1, 3.3]
    for at_s, f_hz in zip(truth_s, (65.4, 440.0, 1760.0), strict=True):
        tone = blow(f_hz, seconds=1.2, rate=rate)
        samples[round(at_s * rate) : round(at_s * rate) + tone.size] += tone
    found_s = [strike.onset_s for strike in cut(samples.astype(np.float32), rate)]
    assert len(found_s) == 3
    assert_close(found_s, truth_s, rtol=0, atol=0.005, why="the target for onsets")


def test_a_note_after_which_nothing_comes_is_capped_at_12_s_and_memory_stays_bounded() -> None:
    rate = 16_000
    samples = np.zeros(40 * rate)
    tone = blow(110.0, seconds=39.0, rate=rate, decay_per_s=0.1)
    samples[rate : rate + tone.size] += tone
    cutter = StrikeCutter(sample_rate_hz=rate)
    strikes, held = [], 0
    for start in range(0, samples.size, 4000):
        strikes += cutter.feed(samples[start : start + 4000].astype(np.float32))
        held = max(held, cutter._stream.n_held)
    strikes += cutter.finish()
    assert len(strikes) == 1
    assert_close(strikes[0].end_s - strikes[0].onset_s, 12.0, rtol=0, atol=0.001, why="the cap")
    assert held < 15 * rate


def test_silence_direct_current_and_a_steady_hum_hold_no_blow() -> None:
    rate = 16_000
    time_s = np.arange(8 * rate) / rate
    rng = np.random.default_rng(5)
    hum = 0.05 * np.sin(2.0 * np.pi * 50.0 * time_s) + 0.02 * np.sin(2.0 * np.pi * 150.0 * time_s)
    assert cut(np.zeros(5 * rate, dtype=np.float32), rate) == []
    assert cut((hum + 0.003 * rng.standard_normal(hum.size) + 0.2).astype(np.float32), rate) == []


def test_an_empty_recording_gives_no_strikes_and_finishing_twice_gives_nothing_more() -> None:
    cutter = StrikeCutter(sample_rate_hz=44_100.0)
    assert cutter.feed(np.zeros(0, dtype=np.float32)) == []
    assert cutter.finish() == []
    assert cutter.finish() == []


def test_a_sample_rate_that_is_no_sound_is_refused() -> None:
    with pytest.raises(InputError, match="sample_rate_hz"):
        StrikeCutter(sample_rate_hz=100.0)


def test_the_same_note_struck_again_is_cut_at_each_blow() -> None:
    made = render_pass(
        piano(compass=Compass(40, 60), seed=8, pitch_level_cents=0.0),
        play([48] * 6, speed_m_per_s=2.5, seed=9, length_ratio=0.15),
        sample_rate_hz=44_100,
        seed=10,
    )
    truth_s = [strike.onset_s for strike in made.truth.strikes]
    found_s = np.array([strike.onset_s for strike in cut(made.samples, 44_100)])
    nearest = [found_s[np.argmin(np.abs(found_s - at))] for at in truth_s]
    assert_close(nearest, truth_s, rtol=0, atol=0.005, why="the target for onsets")
