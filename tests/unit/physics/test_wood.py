from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.wood import (
    EMC_SE_PCT,
    equilibrium_moisture_pct,
    humidity_for_moisture_pct,
    movement_per_pct,
    panel_movement,
    ribbed_panel_curvature_per_m,
    settled_moisture_pct,
)


def panel(**changed: Measured | float) -> dict[str, Measured | float]:
    return {
        "rh_before_pct": 60.0,
        "rh_after_pct": 40.0,
        "temperature_before_degc": 20.0,
        "temperature_after_degc": 20.0,
        "shrinkage_pct": 4.3,
    } | changed


def test_dry_air_leaves_dry_wood() -> None:
    assert_close(equilibrium_moisture_pct(0.0, temperature_degc=20.0), 0.0, rtol=0, atol=0, why="no water, exactly")


@pytest.mark.parametrize(("rh", "degc"), [(-1.0, 20.0), (101.0, 20.0), (50.0, 61.0), (np.nan, 20.0), (50.0, -11.0)])
def test_air_that_cannot_be_is_refused(rh: float, degc: float) -> None:
    with pytest.raises(InputError):
        equilibrium_moisture_pct(rh, temperature_degc=degc)


def test_a_moisture_that_no_air_gives_is_refused() -> None:
    with pytest.raises(InputError, match="moisture_pct"):
        humidity_for_moisture_pct(40.0, temperature_degc=20.0)


def test_a_panel_moves_by_width_coefficient_and_change_of_moisture() -> None:
    moved = panel_movement(900.0, **panel())
    by_hand = 900.0 * movement_per_pct(4.3, moisture_pct=moved.before_pct.value) * moved.change_pct.value
    assert_close(moved.movement_mm.value, by_hand, rtol=1e-12, atol=0, why="the same product; rounding only")
    assert moved.movement_mm.value < 0, "it dries"
    assert not moved.is_beyond_formula


def test_the_change_of_moisture_is_surer_than_the_two_moistures() -> None:
    moved = panel_movement(900.0, **panel(rh_after_pct=57.0))
    assert moved.change_pct.se < EMC_SE_PCT < np.hypot(moved.before_pct.se, moved.after_pct.se)


def test_very_damp_wood_is_said_to_leave_the_formula() -> None:
    assert panel_movement(900.0, **panel(rh_before_pct=80.0)).is_beyond_formula


def test_the_error_of_the_hygrometer_is_carried() -> None:
    sure = settled_moisture_pct(50.0, temperature_degc=20.0)
    unsure = settled_moisture_pct(Measured(50.0, 2.0), temperature_degc=20.0)
    slope = (
        equilibrium_moisture_pct(52.0, temperature_degc=20.0) - equilibrium_moisture_pct(48.0, temperature_degc=20.0)
    ) / 2.0
    assert_close(unsure.se**2, sure.se**2 + slope**2, rtol=1e-12, atol=0, why="independent errors add in squares")


def test_a_hygrometer_near_saturation_does_not_leave_the_scale() -> None:
    assert settled_moisture_pct(Measured(99.5, 2.0), temperature_degc=20.0).se > 0


def test_two_equal_layers_bend_as_a_bimetal_strip_does() -> None:
    # Timoshenko (1925): equal thickness and stiffness give 1.5·strain/height.
    bent = ribbed_panel_curvature_per_m(
        np.array([2e-3, -2e-3]), panel_thickness_mm=8.0, rib_height_mm=8.0, stiffness_ratio=1.0
    )
    assert_close(bent, np.array([1.5, -1.5]) * 2e-3 / 16e-3, rtol=1e-12, atol=0, why="closed form; rounding only")


@pytest.mark.parametrize("stiffness_ratio", [1e-6, 1e6])
def test_a_panel_much_softer_or_much_stiffer_than_its_ribs_does_not_bend(stiffness_ratio: float) -> None:
    sizes = {"panel_thickness_mm": 9.0, "rib_height_mm": 22.0}
    usual = ribbed_panel_curvature_per_m(1e-3, stiffness_ratio=0.3, **sizes)
    assert 0 < ribbed_panel_curvature_per_m(1e-3, stiffness_ratio=stiffness_ratio, **sizes) < 1e-3 * usual
