from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.climate_effects import cents_per_kelvin, rh_drift_cents, temperature_drift
from strikeline.physics.strings import fundamental_hz, plain_linear_density_kg_per_m
from strikeline.units import cents_from_ratio

E_PA = 2.02e11


def test_cents_per_kelvin_follow_from_hookes_law() -> None:
    # A wire held by a rigid frame: warming by ΔT takes E·α·ΔT off the stress, and f goes as the root of the tension.
    diameter_mm, stress_mpa, alpha = 1.0, 900.0, 11.6e-6
    area_m2 = np.pi / 4 * (diameter_mm * 1e-3) ** 2
    density = plain_linear_density_kg_per_m(diameter_mm=diameter_mm)
    warmer = 0.001
    cold_n = stress_mpa * 1e6 * area_m2
    warm_n = cold_n - E_PA * alpha * warmer * area_m2
    warm_hz, cold_hz = (
        fundamental_hz(length_mm=400.0, tension_n=pull, linear_density_kg_per_m=density) for pull in (warm_n, cold_n)
    )
    by_hand = cents_from_ratio(warm_hz / cold_hz)
    ours = cents_per_kelvin(stress_mpa, wire_expansion_per_k=alpha, frame_expansion_per_k=0.0)
    assert_close(ours * warmer, by_hand, rtol=1e-5, atol=0, why="first order in a step of a thousandth of a kelvin")


def test_a_frame_of_the_same_metal_leaves_the_pitch_alone() -> None:
    ours = cents_per_kelvin(900.0, wire_expansion_per_k=11e-6, frame_expansion_per_k=11e-6)
    assert_close(ours, 0.0, rtol=0, atol=1e-12, why="equal expansions cancel")


def test_slack_strings_mind_the_temperature_more() -> None:
    tight, slack = (
        temperature_drift(5.0, stress_mpa=Measured(stress, 0.0)).at_once_cents.value for stress in (1000.0, 500.0)
    )
    assert_close(slack / tight, 2.0, rtol=1e-9, atol=0, why="goes as one over the stress")


@pytest.mark.parametrize("key", [36, 50, 1, 88])
def test_where_reports_do_not_agree_nothing_is_expected(key: int) -> None:
    assert rh_drift_cents(5.0, key=key) is None


def test_drift_doubles_down_the_octave_and_grows_less_sure() -> None:
    a4, a3 = rh_drift_cents(5.0, key=49), rh_drift_cents(5.0, key=37)
    assert a4 is not None
    assert a3 is not None
    assert_close(a3.value / a4.value, 2.0, rtol=1e-12, atol=0, why="the rule")
    assert a3.se / a3.value > a4.se / a4.value
