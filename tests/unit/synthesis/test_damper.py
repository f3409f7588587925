"""Dampers that land: their grip on each partial, and the sound they leave, measured by plain Fourier sums."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS
from strikeline.synthesis.damper import Damper, usual_damper
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import SynthesisedPiano, piano
from strikeline.synthesis.performance import KeyBlow, Performance, staccato
from strikeline.synthesis.rendering import RenderedPass, render_pass
from strikeline.synthesis.room import DRY

RATE_HZ = 16_000
GRAND = piano(compass=FULL_COMPASS, seed=21, pitch_level_cents=0.0)
HOLD_S = 0.3
KEY = 40


def one_blow(instrument: SynthesisedPiano, *, key: int = KEY) -> RenderedPass:
    blow = KeyBlow(key=key, at_s=0.1, speed_m_per_s=2.5, hold_s=HOLD_S)
    return render_pass(instrument, Performance(blows=(blow,), duration_s=2.0), sample_rate_hz=RATE_HZ, seed=2, room=DRY)


def level_db(rendered: RenderedPass, hz: float, at_s: float) -> float:
    """Level of one tone over 0.1 s around a moment."""
    start = round((at_s - 0.05) * RATE_HZ)
    sound = rendered.samples[start : start + RATE_HZ // 10]
    tone = np.exp(-2j * np.pi * hz * np.arange(sound.size) / RATE_HZ) * np.hanning(sound.size)
    return float(20.0 * np.log10(np.abs(sound @ tone) * 4.0 / sound.size))


def fall_db(rendered: RenderedPass, n: int) -> float:
    """How far a partial falls from just before the landing to 0.4 s after it."""
    strike = rendered.truth.strikes[0]
    assert strike.damping is not None
    hz = next(p.f_hz for p in strike.damping.partials if p.n == n)
    lands_s = strike.onset_s + strike.damping.lands_s
    return level_db(rendered, hz, lands_s - 0.06) - level_db(rendered, hz, lands_s + 0.4)


def test_the_grip_is_the_mean_of_twice_the_squared_sine_over_the_felt() -> None:
    damper = Damper(t60_s=0.3, place_ratio=0.14, width_ratio=0.05)
    partial = np.arange(1, 30)
    x = np.linspace(0.115, 0.165, 20_001)
    mean = np.mean(2.0 * np.sin(np.pi * partial[:, None] * x) ** 2, axis=1)
    assert_close(damper.grip(partial), mean, rtol=0, atol=1e-4, why="20 000 points across the felt")


def test_a_narrow_felt_on_a_node_has_no_grip_on_that_partial_and_t60_is_that_of_partial_1() -> None:
    damper = Damper(t60_s=0.3, place_ratio=1.0 / 6.0, width_ratio=1e-3)
    assert damper.grip(np.array([6]))[0] < 1e-3
    assert_close(
        damper.decay_per_s(np.array([1]))[0], np.log(1000.0) / 0.3, rtol=1e-12, atol=0, why="the definition of T60"
    )


@pytest.mark.parametrize(
    "wrong",
    [{"t60_s": 0.0}, {"place_ratio": 0.01}, {"width_ratio": 0.0}, {"lands_after_s": 0.001}, {"presses_s": 0.0}],
)
def test_an_impossible_damper_is_refused(wrong: dict[str, float]) -> None:
    sound = Damper(t60_s=0.3, place_ratio=0.14, width_ratio=0.05)
    with pytest.raises(InputError):
        replace(sound, **wrong)  # type: ignore[arg-type]  # names of fields that are floats
    with pytest.raises(InputError, match="last damped"):
        usual_damper(80, speaking_length_mm=100.0)


def test_nothing_changes_before_the_felt_touches_and_the_sound_goes_on_without_a_step() -> None:
    fitted = with_dampers(GRAND, seed=1)
    damped, free = one_blow(fitted), one_blow(fitted.replacing(replace(fitted[KEY], damper=None, damper_t60_s=None)))
    damping = damped.truth.strikes[0].damping
    assert damping is not None
    touches = round((damped.truth.strikes[0].onset_s + damping.lands_s - 0.0076) * RATE_HZ)
    assert_close(damped.samples[:touches], free.samples[:touches], rtol=0, atol=1e-6, why="float32 rounding")
    around = np.abs(np.diff(damped.samples[touches - 200 : touches + 400]))
    assert around[200:].max() < 1.5 * around[:200].max(), "a step would stand out from the slopes of the sound"


def test_a_felt_on_a_node_leaves_that_partial_and_no_other_and_the_truth_says_so() -> None:
    rendered = one_blow(with_dampers(GRAND, seed=1, at_node_of={KEY: 3}))
    damping = rendered.truth.strikes[0].damping
    assert damping is not None
    assert 3 in damping.leaking_partials
    assert not {1, 2, 4} & set(damping.leaking_partials)
    stopped_db = min(fall_db(rendered, n) for n in (1, 2, 4))
    assert stopped_db > 25.0
    assert fall_db(rendered, 3) < 0.5 * stopped_db, "its own free decay, and little more"


def test_a_missed_string_of_three_goes_on_a_third_as_strong() -> None:
    rendered = one_blow(with_dampers(GRAND, seed=1, misses={KEY: (1,)}))
    strike = rendered.truth.strikes[0]
    assert strike.damping is not None
    assert set(range(1, 9)) <= set(strike.damping.leaking_partials)
    falls = [fall_db(rendered, n) for n in (1, 2, 3)]
    assert_close(np.median(falls), 9.5, rtol=0, atol=5.0, why="20·log10(3), and what the bridge has shared out before")


def test_decays_under_the_felt_are_those_of_the_truth() -> None:
    rendered = one_blow(with_dampers(GRAND, seed=1, strength_ratio={KEY: 0.4}))
    strike = rendered.truth.strikes[0]
    assert strike.damping is not None
    first = next(p for p in strike.damping.partials if p.n == 1)
    lands_s = strike.onset_s + strike.damping.lands_s
    levels = [level_db(rendered, first.f_hz, lands_s + s) for s in (0.1, 0.3)]
    assert_close((levels[0] - levels[1]) / 0.2, 60.0 / first.t60_s, rtol=0.08, atol=0, why="prompt sound on top of it")


def test_a_late_damper_lands_late() -> None:
    usual, late = (one_blow(with_dampers(GRAND, seed=1, late_s=by)).truth.strikes[0].damping for by in ({}, {KEY: 0.2}))
    assert usual is not None
    assert late is not None
    assert_close(late.lands_s - usual.lands_s, 0.2, rtol=0, atol=1e-9, why="the same chance, rounding")


def ring(after_ring_db: float | None) -> NDArray[np.float32]:
    fitted = replace(with_dampers(GRAND, seed=1), after_ring_db=after_ring_db, release_noise_db=None)
    return one_blow(fitted).samples


def test_other_strings_ring_on_only_where_asked_and_the_truth_names_them() -> None:
    fitted = replace(with_dampers(GRAND, seed=1), after_ring_db=-25.0)
    rendered = one_blow(fitted)
    damping = rendered.truth.strikes[0].damping
    assert damping is not None
    assert damping.after_ring_hz
    assert (ring(None) == one_blow(with_dampers(GRAND, seed=1)).samples).all()
    tail = slice(round(1.0 * RATE_HZ), round(1.5 * RATE_HZ))
    assert np.std(ring(-25.0)[tail]) > 3.0 * np.std(ring(None)[tail])


def test_a_key_let_go_is_heard_only_where_asked() -> None:
    fitted = with_dampers(GRAND, seed=1)
    plain, noisy = one_blow(fitted).samples, one_blow(replace(fitted, release_noise_db=-6.0)).samples
    release = round((0.1 + HOLD_S) * RATE_HZ)
    assert (plain[:release] == noisy[:release]).all()
    assert np.abs(noisy - plain)[release:].max() > 1e-3


def test_short_blows_are_short_and_repeatable() -> None:
    played = staccato((10, 11, 12, 13), speed_m_per_s=2.5, seed=4, hold_s=0.2, rest_s=1.0)
    assert played == staccato((10, 11, 12, 13), speed_m_per_s=2.5, seed=4, hold_s=0.2, rest_s=1.0)
    assert all(0.12 < blow.hold_s < 0.3 for blow in played.blows)
    assert_close(np.diff([blow.at_s for blow in played.blows]), [1.2] * 3, rtol=0.3, atol=0, why="scatter of a hand")
    with pytest.raises(InputError, match="hold_s"):
        staccato((10,), speed_m_per_s=2.5, seed=4, hold_s=0.0)
