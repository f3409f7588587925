"""Wire: metals, numbers and strength."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.winding import Winding, winding_linear_density_kg_per_m, winding_stiffness_n_m2
from strikeline.physics.wire import MATERIALS, WireMaterial, within
from strikeline.physics.wire_gauge import GaugeSystem, gauge_diameter_mm, gauge_number, nearest_stock, stock_sizes
from strikeline.physics.wire_strength import WireGrade, grade_for_year, wire_strength


def test_every_metal_has_a_source_and_an_error() -> None:
    assert set(MATERIALS) == {"steel", "iron", "copper", "brass"}
    for material in MATERIALS.values():
        assert material.source
        assert material.young_modulus_pa.se > 0
        assert material.density_kg_per_m3.se > 0


def test_a_metal_without_mass_is_refused() -> None:
    with pytest.raises(InputError, match="density_kg_per_m3"):
        WireMaterial("nothing", Measured(1e11, 0.0), Measured(0.0, 0.0), "")
    with pytest.raises(InputError, match="high"):
        within(2.0, 1.0)
    with pytest.raises(InputError, match="value"):
        within(1.0, 2.0, value=2.5)


@pytest.mark.parametrize("metal", sorted(MATERIALS))
def test_what_lies_anywhere_in_its_range_is_within_the_error_of_what_is_stated(metal: str) -> None:
    density = MATERIALS[metal].density_kg_per_m3
    low, high = {"steel": (7800, 7870), "iron": (7650, 7870), "copper": (8900, 8960), "brass": (8400, 8650)}[metal]
    truths = np.linspace(low, high, 10_001)
    assert np.mean(np.abs(truths - density.value) <= 1.96 * density.se) >= 0.95
    spread = np.sqrt(np.mean((truths - density.value) ** 2))
    assert_close(density.se, spread, rtol=1e-3, atol=0, why="root mean square distance of the range from the figure")


def test_a_second_layer_weighs_what_the_same_wire_weighs_on_a_core_of_that_thickness() -> None:
    layer = winding_linear_density_kg_per_m(
        inner_diameter_mm=2.5, wrap_diameter_mm=1.2, density_kg_per_m3=8930.0, packing=math.pi / 4
    )
    turn_mm = math.pi * 3.7
    per_turn_kg = math.hypot(turn_mm, 1.2) * 1e-3 * 8930.0 * math.pi * (0.6e-3) ** 2
    assert_close(layer, per_turn_kg / 1.2e-3, rtol=1e-12, atol=0, why="one turn of the helix to every wire's width")


def test_a_winding_that_cannot_be_is_refused() -> None:
    copper = MATERIALS["copper"]
    with pytest.raises(InputError, match="packing"):
        Winding(Measured(0.9, 0.01), copper, Measured(1.2, 0.0))
    with pytest.raises(InputError, match="wrap_diameter_mm"):
        Winding(Measured(0.0, 0.01), copper)
    with pytest.raises(InputError, match="inset_mm"):
        Winding(Measured(0.9, 0.01), copper, inset_mm=(Measured(-1.0, 0.1), Measured(1.0, 0.1)))


@pytest.mark.parametrize("system", GaugeSystem)
def test_numbers_and_diameters_come_back(system: GaugeSystem) -> None:
    for size in stock_sizes(system=system):
        assert_close(gauge_diameter_mm(size.number, system=system), size.diameter_mm, rtol=1e-12, atol=0, why="a row")
        assert_close(gauge_number(size.diameter_mm, system=system), size.number, rtol=1e-12, atol=0, why="a row")
    assert_close(
        gauge_number(gauge_diameter_mm(14.37, system=system), system=system),
        14.37,
        rtol=1e-12,
        atol=0,
        why="no rounding",
    )


def test_an_odd_diameter_keeps_its_fraction_and_knows_its_neighbour() -> None:
    assert gauge_number(0.871, system=GaugeSystem.METRIC) == pytest.approx(14.92)
    assert nearest_stock(0.871, system=GaugeSystem.METRIC).number == 15.0
    assert nearest_stock(0.871, system=GaugeSystem.THOU).number == 14.5
    assert nearest_stock(0.3, system=GaugeSystem.THOU).number == 12.0


@pytest.mark.parametrize(("number", "system"), [(11.0, "thou"), (24.0, "thou"), (26.0, "metric"), (math.nan, "thou")])
def test_a_number_beyond_its_table_is_refused(number: float, system: str) -> None:
    with pytest.raises(InputError, match="wire number"):
        gauge_diameter_mm(number, system=GaugeSystem(system))


def test_strength_is_interpolated_and_its_error_is_that_of_a_rectangle() -> None:
    strength = wire_strength(0.925, grade=WireGrade.ASTM_A228)
    assert_close(
        strength.stress_mpa.se, (strength.high_mpa - strength.low_mpa) / math.sqrt(12), rtol=1e-12, atol=0, why="GUM"
    )
    assert strength.stress_mpa.value == (strength.low_mpa + strength.high_mpa) / 2
    assert strength.source


@pytest.mark.parametrize("grade", WireGrade)
def test_nothing_is_extrapolated_beyond_a_table(grade: WireGrade) -> None:
    assert wire_strength(1.0, grade=grade).stress_mpa.value > 0
    for diameter_mm in (0.5, 2.0):
        with pytest.raises(InputError, match="begins and ends"):
            wire_strength(diameter_mm, grade=grade)


def test_wire_gets_stronger_from_period_to_period() -> None:
    for diameter_mm in (0.75, 0.9, 1.0, 1.2):
        middle = [
            wire_strength(diameter_mm, grade=grade_for_year(year)).stress_mpa.value for year in (1840, 1865, 1880, 1905)
        ]
        assert middle == sorted(middle)


def test_a_year_in_which_no_piano_was_built_is_refused() -> None:
    with pytest.raises(InputError, match="year"):
        grade_for_year(19)


def test_the_least_stiffness_of_a_winding_is_that_of_one_turn_bent_piece_by_piece() -> None:
    modulus, poisson, wrap_m, turn_m = 1.2e11, 0.33, 0.8e-3, 1.85e-3
    bending = modulus * math.pi * wrap_m**4 / 64
    twisting = bending / (1 + poisson)
    n = 1000
    rotation = 0.0
    for at in range(n):
        angle = 2 * math.pi * (at + 0.5) / n  # the moment of 1 N·m is bending here, twisting a quarter turn on
        piece_m = math.pi * turn_m / n
        rotation += piece_m * (math.sin(angle) ** 2 / bending + math.cos(angle) ** 2 / twisting)
    found = winding_stiffness_n_m2(inner_diameter_mm=1.05, wrap_diameter_mm=0.8, young_modulus_pa=modulus)
    assert_close(found, wrap_m / rotation, rtol=1e-9, atol=0, why="moment over rotation per length of one turn")
