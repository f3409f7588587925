"""One string: its tension, stress, stretch and B, and how their errors hang together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.stringing import (
    StringDimensions,
    carried_string,
    frequency_of_tension,
    string_results,
    string_state,
)
from strikeline.physics.strings import plain_inharmonicity_b, wound_linear_density_kg_per_m
from strikeline.physics.winding import Winding, winding_from_outside, winding_stiffness_n_m2
from strikeline.physics.wire import MATERIALS
from strikeline.physics.wire_strength import WireGrade, wire_strength

STEEL, COPPER = MATERIALS["steel"], MATERIALS["copper"]
PLAIN = StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), STEEL)
WOUND = StringDimensions(
    Measured(1200.0, 0.5),
    Measured(1.1, 0.005),
    STEEL,
    (Winding(Measured(0.9, 0.01), COPPER, Measured(np.pi / 4, 0.0)),),
)
DOUBLE = StringDimensions(
    Measured(1200.0, 0.5),
    Measured(1.3, 0.005),
    STEEL,
    (Winding(Measured(0.6, 0.01), COPPER), Winding(Measured(1.2, 0.01), COPPER)),
    (Measured(15.0, 0.5), Measured(12.0, 0.5)),
)


def results_at(string: StringDimensions) -> dict[str, float]:
    """Return plain results at 800 N."""
    values = {name: one.value for name, one in string.inputs().items()}
    return string_results(string, values | {"tension_n": 800.0, "section_lost_ratio": 0.0}, n_partials=20)


def test_a_plain_string_has_the_stress_and_stretch_of_hooke() -> None:
    state = string_state(PLAIN, f0_hz=440.0, strength=None)
    area_mm2 = np.pi * 0.947**2 / 4
    stress_mpa = state.tension_n.value / area_mm2
    assert_close(state.stress_mpa.value, stress_mpa, rtol=1e-12, atol=0, why="the definition")
    assert_close(
        state.stress_mpa.value, 4 * 7850 * (0.404 * 440) ** 2 / 1e6, rtol=1e-12, atol=0, why="σ = 4ρL²f0², any diameter"
    )
    stretch_mm = 404.0 * stress_mpa * 1e6 / STEEL.young_modulus_pa.value
    assert_close(state.elongation_mm.value, stretch_mm, rtol=1e-12, atol=0, why="Hooke")
    assert state.breaking_share is None
    assert state.breaking_reason is not None


def test_the_stress_of_a_plain_string_does_not_depend_on_what_the_micrometer_read() -> None:
    carried = carried_string(PLAIN, f0_hz=440.0)
    by_diameter = carried.shares[carried.inputs.index("core_diameter_mm")]
    stress, tension = (by_diameter[carried.fields.index(name)] for name in ("stress_mpa", "tension_n"))
    assert_close(stress, 0.0, rtol=0, atol=1e-9, why="tension and section move together")
    assert_close(tension / 694.0, 2 * 0.005 / 0.947, rtol=0.01, atol=0, why="tension goes as d²")


def test_a_wound_string_without_bare_ends_is_the_old_formula_and_its_winding() -> None:
    state = string_state(WOUND, f0_hz=60.0, strength=None)
    density = wound_linear_density_kg_per_m(core_diameter_mm=1.1, wrap_diameter_mm=0.9)
    assert_close(state.linear_density_kg_per_m.value, density, rtol=1e-12, atol=0, why="the same helix")
    b = plain_inharmonicity_b(
        diameter_mm=1.1, length_mm=1200.0, tension_n=state.tension_n.value, young_modulus_pa=2.02e11
    )
    assert_close(state.stiffness_b.value, b, rtol=1e-12, atol=0, why="the core of the published formula")
    winding = float(winding_stiffness_n_m2(inner_diameter_mm=1.1, wrap_diameter_mm=0.9, young_modulus_pa=1.2e11))
    core = STEEL.young_modulus_pa.value * np.pi / 64 * 1.1e-3**4
    whole = b * (1 + winding / core)
    assert_close(state.inharmonicity_b.value, whole, rtol=1e-12, atol=0, why="core and winding bend together")
    assert_close(state.winding_b.value, whole - b, rtol=1e-9, atol=0, why="what the winding makes of it")
    assert state.bare_ends_b is None


def test_pitch_and_tension_of_a_double_wound_string_come_back() -> None:
    tension_n = string_state(DOUBLE, f0_hz=32.0, strength=None).tension_n
    assert_close(
        frequency_of_tension(DOUBLE, tension_n=tension_n.value).value, 32.0, rtol=1e-9, atol=0, why="the same fit"
    )


def test_the_breaking_share_uses_what_rust_has_left() -> None:
    strength = wire_strength(0.947, grade=WireGrade.ASTM_A228)
    sound = string_state(PLAIN, f0_hz=440.0, strength=strength)
    rusted = string_state(PLAIN, f0_hz=440.0, strength=strength, section_lost_ratio=0.2)
    assert sound.breaking_share is not None
    assert rusted.breaking_share is not None
    assert_close(
        rusted.breaking_share.value, sound.breaking_share.value / 0.8, rtol=1e-12, atol=0, why="a fifth is gone"
    )
    assert rusted.tension_n == sound.tension_n


def test_two_layers_of_copper_share_what_is_not_known_of_copper() -> None:
    assert list(DOUBLE.inputs()).count("density_kg_per_m3 of copper") == 1


def test_a_hexagonal_core_has_its_own_section_and_stiffness() -> None:
    hexagonal = replace(WOUND, is_hexagonal=True)
    results = {name: results_at(string) for name, string in (("hexagon", hexagonal), ("round", WOUND))}
    area = np.sqrt(3) / 2 / (np.pi / 4)
    moment = 5 * np.sqrt(3) / 144 / (np.pi / 64)
    stress, b = (results["hexagon"][name] / results["round"][name] for name in ("stress_mpa", "stiffness_b"))
    assert_close(1 / stress, area, rtol=1e-12, atol=0, why="0.8660 s² over 0.7854 d²")
    assert_close(b, moment, rtol=1e-12, atol=0, why="0.06014 s⁴ over 0.04909 d⁴")


def test_the_section_and_stiffness_of_a_hexagon_are_those_of_its_area_cut_into_strips() -> None:
    y = np.linspace(-0.5, 0.5, 20001)  # flats above and below, 1 apart; the width falls from the corners to the flats
    width = (2.0 - 2.0 * np.abs(y)) / np.sqrt(3.0)
    hexagonal = replace(WOUND, core_diameter_mm=Measured(1.0, 0.0), is_hexagonal=True)
    body = hexagonal.body({name: one.value for name, one in hexagonal.inputs().items()})
    area_mm2, moment_mm4 = np.trapezoid(width, y), np.trapezoid(width * y**2, y)
    assert_close(hexagonal.core_area_m2(1.0) * 1e6, area_mm2, rtol=1e-7, atol=0, why="strips of 5e-5")
    stiffness = STEEL.young_modulus_pa.value * moment_mm4 * 1e-12
    assert_close(body.bending_stiffness_n_m2, stiffness, rtol=1e-7, atol=0, why="strips of 5e-5")


@pytest.mark.parametrize("is_hexagonal", [False, True])
def test_a_layer_measured_over_its_outside_is_the_layer_of_its_wire(is_hexagonal: bool) -> None:
    by_wire = replace(WOUND, is_hexagonal=is_hexagonal)
    corners = 2 / np.sqrt(3) if is_hexagonal else 1.0
    layer = winding_from_outside(
        Measured(1.1 * corners + 1.8, 0.01), inner_mm=Measured(1.1 * corners, 0.005 * corners), material=COPPER
    )
    assert_close(layer.wrap_diameter_mm.value, 0.9, rtol=1e-12, atol=0, why="half the difference")
    over = replace(by_wire, windings=(replace(layer, packing=WOUND.windings[0].packing),))
    masses = [results_at(string)["linear_density_kg_per_m"] for string in (by_wire, over)]
    assert_close(masses[1], masses[0], rtol=1e-12, atol=0, why="the same string")


def test_over_a_finished_winding_an_error_of_the_core_hardly_moves_the_mass() -> None:
    layer = winding_from_outside(Measured(2.9, 0.01), inner_mm=Measured(1.1, 0.005), material=COPPER)
    over = replace(WOUND, windings=(layer,))
    by_core = [
        one.shares[one.inputs.index("core_diameter_mm"), one.fields.index("linear_density_kg_per_m")]
        for one in (carried_string(string, f0_hz=60.0) for string in (WOUND, over))
    ]
    # Steel in place of copper that fills π/4 of its ring: 7850 against 7010 kg/m³; with the wire known, all moves out.
    assert 0 < by_core[1] < 0.25 * by_core[0]


def test_what_cannot_be_a_string_is_refused() -> None:
    with pytest.raises(InputError, match="has no winding"):
        StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), STEEL, (), (Measured(1, 0), Measured(1, 0)))
    with pytest.raises(InputError, match="less than the speaking length"):
        StringDimensions(
            Measured(404.0, 0.5), Measured(0.947, 0.005), STEEL, WOUND.windings, (Measured(300, 0), Measured(200, 0))
        )
    with pytest.raises(InputError, match="one of the two"):
        carried_string(PLAIN)
    with pytest.raises(InputError, match="section_lost_ratio"):
        string_state(PLAIN, f0_hz=440.0, strength=None, section_lost_ratio=1.0)
