"""Laws of wood and of bent strings that hold for any numbers."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.bearing import press_n, slope_deg, string_bearing
from strikeline.physics.climate_effects import cents_per_kelvin
from strikeline.physics.wood import (
    equilibrium_moisture_pct,
    humidity_for_moisture_pct,
    movement_per_pct,
    panel_movement,
)

RH = st.floats(1.0, 99.0)
DEGC = st.floats(-10.0, 60.0)
ANGLE = st.floats(-10.0, 10.0)


@given(rh=RH, degc=DEGC)
def test_the_inverse_gives_the_humidity_back(rh: float, degc: float) -> None:
    moisture = equilibrium_moisture_pct(rh, temperature_degc=degc)
    back = humidity_for_moisture_pct(moisture, temperature_degc=degc)
    assert_close(back, rh, rtol=0, atol=1e-7, why="halving to the last digit, over a slope of 0.1 to 5 % per %")


@given(rh=RH, step=st.floats(0.01, 1.0), degc=DEGC)
def test_damper_air_leaves_damper_wood(rh: float, step: float, degc: float) -> None:
    drier, damper = equilibrium_moisture_pct([rh, rh + step], temperature_degc=degc)
    assert damper > drier


@given(rh=st.floats(10.0, 90.0), degc=st.floats(10.0, 30.0))
def test_warmer_air_of_the_same_humidity_leaves_drier_wood(rh: float, degc: float) -> None:
    colder, warmer = equilibrium_moisture_pct(rh, temperature_degc=[degc, degc + 5.0])
    assert warmer < colder


@given(shrinkage=st.floats(1.0, 15.0), moisture=st.floats(0.0, 30.0))
def test_from_green_to_dry_the_movement_is_the_shrinkage(shrinkage: float, moisture: float) -> None:
    # Whatever moisture the size was taken at: size·C is the same length for each %, 30 of which make the shrinkage.
    green = 100.0
    size = green * (1.0 - shrinkage / 100.0 * (30.0 - moisture) / 30.0)
    per_pct = size * movement_per_pct(shrinkage, moisture_pct=moisture)
    assert_close(30.0 * per_pct, shrinkage, rtol=1e-9, atol=0, why="the formula's own definition; rounding only")


@given(before=st.floats(30.0, 70.0), after=st.floats(30.0, 70.0), width=st.floats(100.0, 2000.0))
def test_a_panel_moves_in_proportion_to_its_width_and_stays_in_the_same_air(
    before: float, after: float, width: float
) -> None:
    def moved(width_mm: float, to: float) -> float:
        return panel_movement(
            width_mm,
            rh_before_pct=before,
            rh_after_pct=to,
            temperature_before_degc=20.0,
            temperature_after_degc=20.0,
            shrinkage_pct=4.3,
        ).movement_mm.value

    assert_close(moved(2 * width, after), 2 * moved(width, after), rtol=1e-9, atol=1e-12, why="linear in the width")
    assert moved(width, before) == 0.0


@given(height=st.floats(-5.0, 5.0), length=st.floats(30.0, 2000.0))
def test_a_drop_and_a_rise_bend_alike_the_other_way(height: float, length: float) -> None:
    up, down = slope_deg([height, -height], length_mm=length)
    assert_close(up, -down, rtol=1e-12, atol=0, why="odd function")


@given(angle=ANGLE, tension=st.floats(100.0, 1500.0))
def test_twice_the_tension_presses_twice_as_hard(angle: float, tension: float) -> None:
    once, twice = press_n([tension, 2 * tension], angle_deg=angle)
    assert_close(twice, 2 * once, rtol=1e-12, atol=1e-12, why="linear in the tension")


@settings(max_examples=25)
@given(front=st.floats(-4.0, 4.0), back=st.floats(-4.0, 4.0), se=st.floats(0.01, 0.2))
def test_the_error_of_a_force_is_that_of_many_draws(front: float, back: float, se: float) -> None:
    one = string_bearing(front_deg=Measured(front, se), back_deg=Measured(back, se), tension_n=Measured(700.0, 20.0))
    rng = np.random.default_rng(0)
    n = 20_000
    tension, behind = rng.normal(700.0, 20.0, n), rng.normal(1.0, 0.045, n)
    slopes = np.radians([rng.normal(front, se, n), rng.normal(back, se, n)])
    drawn = tension * (np.sin(slopes[0]) + behind * np.sin(slopes[1]))
    assert one.total_n is not None
    assert_close(
        one.total_n.se, drawn.std(), rtol=0.03, atol=0.02, why="20,000 draws know a spread to 0.5 %, 5 of them"
    )


@given(stress=st.floats(300.0, 1500.0), frame=st.floats(0.0, 11e-6))
def test_warmer_strings_are_flatter_while_the_frame_expands_less(stress: float, frame: float) -> None:
    assert cents_per_kelvin(stress, wire_expansion_per_k=11.6e-6, frame_expansion_per_k=frame) < 0
