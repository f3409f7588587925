"""Downbearing, temperature and humidity as technicians worked or measured them; see SOURCE.md for year and month."""

from __future__ import annotations

import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.bearing import press_n, slope_deg
from strikeline.physics.climate_effects import rh_drift_cents, temperature_drift

LBF_N = 4.4482216
INCH_MM = 25.4


def test_the_pounds_of_1998_02_are_met() -> None:
    angle = slope_deg(0.018 * INCH_MM, length_mm=INCH_MM)
    assert_close(angle, 1.0, rtol=0, atol=0.035, why="the post rounds: 1 in 57.3 is 0.01746, not 0.018")
    assert_close(press_n(200 * LBF_N, angle_deg=angle) / LBF_N, 3.6, rtol=2e-4, atol=0, why="sine for tangent")


def test_a_line_of_the_gauge_of_1998_02_is_a_sixth_of_a_degree() -> None:
    angle = slope_deg(0.009 * 3.0 * INCH_MM, length_mm=3.0 * INCH_MM)
    assert_close(angle, 3.0 / 6.0, rtol=0.035, atol=0, why="the post rounds 0.172° to a sixth")


@pytest.mark.parametrize("measured_cents_per_degf", [-0.56, -0.92])
def test_warm_air_lowers_the_pitch_by_what_was_measured_in_2004_04(measured_cents_per_degf: float) -> None:
    drift = temperature_drift(1.0 / 1.8)
    most, least = drift.at_once_cents, drift.settled_cents
    assert most.value - 1.96 * most.se < measured_cents_per_degf < least.value + 1.96 * least.se


def test_once_settled_the_pitch_is_nearly_back_as_told_in_2005() -> None:
    drift = temperature_drift(10.0)
    assert abs(drift.settled_cents.value) < 0.2 * abs(drift.at_once_cents.value)


def test_a4_moves_four_cents_for_five_per_cent_as_told_in_2001_10() -> None:
    drift = rh_drift_cents(Measured(5.0, 0.0), key=49)
    assert drift is not None
    assert_close(drift.value, 4.0, rtol=1e-12, atol=0, why="the rule itself; rounding only")
    assert drift.se > 1.0, "one author's rule is not sure"
