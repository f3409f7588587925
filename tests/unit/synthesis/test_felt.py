"""Felt on a string at one point: exact roots against the first-order law and against waves followed step by step."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import hilbert
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.synthesis.felt import Felt, felt_shift_per_s, light_felt

PARTIAL = np.arange(1, 17)


def felt(resistance: float, *, stiffness: float = 0.0, at: float = 0.122, width: float = 0.0) -> Felt:
    return Felt(resistance_ratio=resistance, stiffness_ratio=stiffness, strike_ratio=at, width_ratio=width)


def test_light_felt_damps_as_the_square_of_the_sine() -> None:
    shift = felt_shift_per_s(PARTIAL, felt(1e-4), f0_hz=262.0)
    law = -1e-4 * 2.0 * 262.0 * np.sin(np.pi * PARTIAL * 0.122) ** 2
    assert_close(shift.real, law, rtol=1e-3, atol=1e-9, why="first order in R/Z = 1e-4; the second is 1e-4 of it")


def test_soft_felt_raises_the_pitch_as_a_spring_does() -> None:
    stiffness = 1e-3
    shift = felt_shift_per_s(PARTIAL, felt(0.0, stiffness=stiffness), f0_hz=262.0)
    law = stiffness / (np.pi * PARTIAL) * 2.0 * 262.0 * np.sin(np.pi * PARTIAL * 0.122) ** 2
    assert_close(shift.imag, law, rtol=5e-3, atol=1e-9, why="first order in the stiffness")
    assert_close(shift.real, np.zeros(PARTIAL.size), rtol=0, atol=1e-9, why="a spring loses nothing")


def test_a_partial_with_its_node_at_the_felt_rings_on_through_a_point_and_less_through_a_pad() -> None:
    point = felt_shift_per_s(PARTIAL, felt(0.5, at=0.125), f0_hz=262.0)
    pad = felt_shift_per_s(PARTIAL, felt(0.5, at=0.125, width=0.02), f0_hz=262.0)
    assert -point.real[7] < 1e-6
    assert -pad.real[7] > 1e-3 * -point.real[3]
    assert -pad.real[7] < 0.1 * -point.real[3]


@pytest.mark.parametrize("resistance", [0.1, 0.4, 0.9])
def test_the_roots_are_those_of_waves_that_meet_the_felt(resistance: float) -> None:
    n_near, n_far = 25, 175  # samples of travel on either side: a = 1/8
    decay = _decay_of_partial_1(n_near, n_far, resistance)
    f0_hz = 1.0 / (2 * (n_near + n_far))  # per sample
    shift = felt_shift_per_s(np.array([1]), felt(resistance, at=n_near / (n_near + n_far)), f0_hz=f0_hz)
    assert_close(
        decay, -shift.real[0], rtol=0.01, atol=0, why="other partials still sound a little in the steps fitted"
    )


def _decay_of_partial_1(n_near: int, n_far: int, resistance: float) -> float:
    """Follow waves on both parts of a string past a dashpot and return the decay per sample of partial 1."""
    passed = 2.0 / (2.0 + resistance)
    length = n_near + n_far
    place = (np.arange(length) + 0.5) / length
    right, left = np.sin(np.pi * place) / 2.0, np.sin(np.pi * place) / 2.0
    levels = []
    for _ in range(6 * 2 * length):
        levels.append(float((right + left) @ np.sin(np.pi * place)))
        into_right, into_left = right[n_near - 1], left[n_near]
        right, left = np.roll(right, 1), np.roll(left, -1)
        right[0], left[-1] = -left_out(left), -right_out(right)
        right[n_near] = passed * into_right - (1.0 - passed) * into_left
        left[n_near - 1] = passed * into_left - (1.0 - passed) * into_right
    level = np.abs(_analytic(np.array(levels)))
    span = slice(2 * length, 8 * length)
    return -float(np.polyfit(np.arange(level.size)[span], np.log(level[span]), 1)[0])


def left_out(left: NDArray[np.float64]) -> float:
    """What arrives at the left end: after the roll it stands at the right end of the array."""
    return float(left[-1])


def right_out(right: NDArray[np.float64]) -> float:
    """What arrives at the right end: after the roll it stands at the left end of the array, until written over."""
    return float(right[0])


def _analytic(signal: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.asarray(hilbert(signal))


def test_felt_never_feeds_a_string() -> None:
    for at in (0.06, 0.09, 0.122):
        for resistance in (0.05, 0.5, 1.0):
            shift = felt_shift_per_s(np.arange(1, 70), felt(resistance, stiffness=0.8, at=at), f0_hz=440.0)
            assert (shift.real < 1e-9).all()


def test_light_felt_has_the_time_it_is_asked_for_and_stops_where_felt_holds_fast() -> None:
    asked = light_felt(0.3, f0_hz=440.0, strike_ratio=0.12, width_ratio=0.0, stiffness_ratio=0.0)
    t60_s = np.log(1000.0) / -felt_shift_per_s(np.array([1]), asked, f0_hz=440.0).real[0]
    assert_close(t60_s, 0.3, rtol=0.05, atol=0, why="second order in R/Z = 0.2")
    firm = light_felt(0.01, f0_hz=30.0, strike_ratio=0.12, width_ratio=0.0, stiffness_ratio=0.0)
    assert firm.resistance_ratio == 1.0


def test_what_is_no_felt_is_refused() -> None:
    with pytest.raises(InputError, match="resistance_ratio"):
        felt(-0.1)
    with pytest.raises(InputError, match="strike_ratio"):
        felt(0.1, at=0.6)
    with pytest.raises(InputError, match="t60_s"):
        light_felt(0.0, f0_hz=440.0, strike_ratio=0.1, width_ratio=0.0, stiffness_ratio=0.0)
