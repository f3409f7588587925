"""Touch weights, lead, friction of centres."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.centres import (
    flange_torque_gf_mm,
    swings_of,
    torque_from_swings_gf_mm,
)
from strikeline.physics.touch import find_outliers, friction_at_key_g, lead_at_front_g, touch_of, weights_for


def test_the_example_of_the_trade_reference() -> None:
    # Technicians' teaching sheet, mailing-list archive 2003-12: 52/28 is a balance weight of 40, a friction of 12.
    note = touch_of(40, down_weight_g=Measured(52.0, 0.0), up_weight_g=Measured(28.0, 0.0))
    assert (note.balance_weight_g.value, note.friction_g.value) == (40.0, 12.0)


@given(balance=st.floats(10.0, 60.0), friction=st.floats(0.0, 30.0), more=st.floats(0.0, 20.0))
def test_friction_moves_both_weights_apart_and_leaves_the_balance(balance: float, friction: float, more: float) -> None:
    before, after = (weights_for(balance_weight_g=balance, friction_g=one) for one in (friction, friction + more))
    assert_close(after[0] - before[0], more, rtol=0, atol=1e-9, why="rounding only")
    assert_close(before[1] - after[1], more, rtol=0, atol=1e-9, why="rounding only")
    back = touch_of(1, down_weight_g=Measured(float(after[0]), 1.0), up_weight_g=Measured(float(after[1]), 1.0))
    assert_close(back.balance_weight_g.value, balance, rtol=0, atol=1e-9, why="rounding only")
    assert_close(back.friction_g.value, friction + more, rtol=0, atol=1e-9, why="rounding only")
    assert_close(back.friction_g.se, np.sqrt(0.5), rtol=1e-9, atol=0, why="half of two independent errors of 1")


def test_swapped_weights_are_refused() -> None:
    with pytest.raises(InputError, match="were they swapped"):
        touch_of(40, down_weight_g=Measured(28.0, 1.0), up_weight_g=Measured(52.0, 1.0))


@given(mass=st.floats(1.0, 30.0), arm=st.floats(-200.0, 250.0), front=st.floats(150.0, 260.0))
def test_a_lead_weighs_by_its_lever(mass: float, arm: float, front: float) -> None:
    weight = lead_at_front_g(lead_g=mass, from_balance_mm=arm, front_arm_mm=front)
    assert_close(weight * front, mass * arm, rtol=1e-12, atol=1e-9, why="moments balance")


def test_the_work_of_friction_is_the_same_at_the_centre_and_at_the_key() -> None:
    torque, ratio, arm, travel = 80.0, 5.0, 130.0, 8.0
    at_key = friction_at_key_g(torque_gf_mm=torque, turn_rad_per_mm=ratio / arm)
    assert_close(at_key * travel, torque * ratio * travel / arm, rtol=1e-12, atol=0, why="rounding only")


def test_outliers_are_found_and_a_sloping_run_has_none() -> None:
    rng = np.random.default_rng(3)
    found = 0
    for _ in range(200):
        run = [Measured(float(value), 0.7) for value in np.linspace(62, 48, 30) + rng.normal(0, 1.5, 30)]
        found += len(find_outliers(range(1, 31), run, least=0.0))
        run[12] = Measured(run[12].value + 12.0, 0.7)
        assert 13 in {one.key for one in find_outliers(range(1, 31), run, least=4.0)}
    # 3.3 standard deviations, and a scatter that is itself estimated from 30: below one in 200 keys.
    assert found / (200 * 30) < 0.005
    assert find_outliers(range(5), [Measured(50.0, 1.0)] * 5, least=0.0) == ()


@given(share=st.floats(0.01, 0.5), weight=st.floats(4.0, 15.0), arm=st.floats(60.0, 140.0))
def test_more_friction_never_swings_longer_and_only_its_share_counts(share: float, weight: float, arm: float) -> None:
    moment = weight * arm
    swings = swings_of(torque_gf_mm=share * moment, weight_g=weight, arm_mm=arm)
    assert swings_of(torque_gf_mm=1.3 * share * moment, weight_g=weight, arm_mm=arm) <= swings
    assert swings_of(torque_gf_mm=share, weight_g=1.0, arm_mm=1.0) == pytest.approx(swings)


def test_swings_agree_with_the_equation_of_motion() -> None:
    """Integrate θ'' = -sin θ - share·sign(θ') and count turning points: an independent way to the same count."""
    from scipy.integrate import solve_ivp

    for share in (0.03, 0.08, 0.2):
        halves, angle = 0, np.pi / 2
        while np.sin(abs(angle)) > share:
            side = -np.sign(angle)

            def motion(_t: float, state: np.ndarray, drag: float = share * side) -> list[float]:
                return [state[1], -np.sin(state[0]) - drag]

            def stops(_t: float, state: np.ndarray) -> float:
                return float(state[1])

            stops.terminal, stops.direction = True, -side  # type: ignore[attr-defined]  # scipy reads them there
            run = solve_ivp(motion, (0, 50), [angle, side * 1e-9], events=stops, rtol=1e-9, atol=1e-10)
            reached = float(run.y[0, -1])
            if np.sign(reached) == np.sign(angle) or abs(reached) < 1e-6:
                break
            angle, halves = reached, halves + 1
        counted = swings_of(torque_gf_mm=share, weight_g=1.0, arm_mm=1.0)
        assert_close(counted, halves / 2, rtol=0, atol=0.51, why="the last half swing is counted in part")


def test_torque_from_swings_undoes_swings_of_torque() -> None:
    for torque in (30.0, 60.0, 100.0, 150.0):
        swings = swings_of(torque_gf_mm=torque, weight_g=8.0, arm_mm=110.0)
        back = torque_from_swings_gf_mm(swings=Measured(swings, 0.5), weight_g=8.0, arm_mm=110.0)
        assert abs(back.value - torque) < 1.96 * back.se
    with pytest.raises(InputError, match="swings"):
        torque_from_swings_gf_mm(swings=Measured(0.0, 0.5), weight_g=8.0, arm_mm=110.0)


def test_a_parts_makers_friction_swings_as_often_as_technicians_accept() -> None:
    # 2 to 5 g (parts maker) at an arm of 25 mm (our assumption) against 4 to 7 swings commonly accepted (from memory).
    fewest, most = (
        swings_of(torque_gf_mm=float(flange_torque_gf_mm(force_gf=force, arm_mm=25.0)), weight_g=8.0, arm_mm=110.0)
        for force in (5.0, 2.0)
    )
    assert 2.0 < fewest < 4.0 < most < 7.0


@pytest.mark.parametrize("n_keys", [6, 8, 12, 24, 88])
def test_even_touch_has_a_false_outlier_in_one_of_ten_sets_however_few_the_keys(n_keys: int) -> None:
    rng = np.random.default_rng(33)
    n = 200
    false = 0
    for _ in range(n):
        weights = [Measured(float(rng.normal(50.0, 2.0) + rng.normal(0.0, 0.7)), 0.7) for _ in range(n_keys)]
        false += bool(find_outliers(range(1, n_keys + 1), weights, least=0.0))
    # Binomial spread of 200 trials at 10 % is 2.1 %.
    assert false / n <= 0.165
