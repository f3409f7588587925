"""Formulae that stringers calculate with, bare ends included, against the exact string."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.bare_ends import MassLayer, SteppedString, first_order_bare_b, stepped_partials_hz
from strikeline.physics.stringing import StringDimensions, string_state
from strikeline.physics.winding import Winding
from strikeline.physics.wire import MATERIALS
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio

STEEL, COPPER = MATERIALS["steel"], MATERIALS["copper"]
IN_MM, LBF_N = 25.4, 4.4482216
CENTS_PER_B = CENTS_PER_NEPER / 2.0
"""Inharmonicity in cents is 865.6·B·n² to first order."""


def plain(length_in: float, diameter_thou: float) -> StringDimensions:
    return StringDimensions(Measured(length_in * IN_MM, 0.0), Measured(diameter_thou * 1e-3 * IN_MM, 0.0), STEEL)


@pytest.mark.parametrize(("length_in", "diameter_thou", "hz"), [(15.9, 37.0, 440.0), (37.0, 43.0, 175.0)])
def test_tension_and_stiffness_of_plain_wire_are_those_of_the_trade(
    length_in: float, diameter_thou: float, hz: float
) -> None:
    state = string_state(plain(length_in, diameter_thou), f0_hz=hz, strength=None)
    tension_lbf = state.tension_n.value / LBF_N
    cents = CENTS_PER_B * state.inharmonicity_b.value
    assert_close(tension_lbf, (hz * length_in * diameter_thou / 20833) ** 2, rtol=3e-3, atol=0, why="steel of 7838")
    by_tension = diameter_thou**4 / (81 * length_in**2 * tension_lbf)
    by_pitch = 5.3e12 * (diameter_thou * 1e-3) ** 2 / (hz**2 * length_in**4)
    assert_close([cents, cents], [by_tension, by_pitch], rtol=0.01, atol=0, why="81 and 5.3 have two figures")


def test_copper_round_steel_weighs_what_the_trade_takes_it_for() -> None:
    core, over = 41.0, 104.0
    wrap = Winding(Measured((over - core) / 2e3 * IN_MM, 0.0), COPPER, Measured(math.pi / 4, 0.0))
    string = StringDimensions(Measured(1100.0, 0.0), Measured(core * 1e-3 * IN_MM, 0.0), STEEL, (wrap,))
    core_density = STEEL.density_kg_per_m3.value * math.pi * (core * 1e-3 * IN_MM * 1e-3) ** 2 / 4
    density = string_state(string, f0_hz=55.0, strength=None).linear_density_kg_per_m.value
    ratio = density / core_density - 1
    assert_close(
        ratio, 0.89 * (over**2 - core**2) / core**2, rtol=0.015, atol=0, why="0.89, and our slope of the helix"
    )


@pytest.mark.parametrize(("length_in", "bare_in"), [(44.0, (0.5, 0.5)), (44.0, (0.75, 0.9)), (70.0, (1.0, 0.8))])
def test_bare_ends_add_what_the_handout_says_once_its_lost_pi_is_put_back(
    length_in: float, bare_in: tuple[float, float]
) -> None:
    core, over = 41.0, 104.0
    ratio = 0.89 * (over**2 - core**2) / core**2
    # As printed the sines have 4·L1/L and 16·L1/L; 0.287 = 1731.2/(2·16π·60) follows from partials 2 and 8 with
    # 4π·L1/L and 16π·L1/L, and from nothing else.
    handout_cents = (
        0.287
        * ratio
        / (1 + ratio)
        * sum(
            4 * math.sin(4 * math.pi * bare / length_in) - math.sin(16 * math.pi * bare / length_in) for bare in bare_in
        )
    )

    def cents_of(bare: tuple[float, float]) -> float:
        core_density = 7850 * math.pi * (core * 1e-3 * IN_MM * 1e-3) ** 2 / 4
        layer = MassLayer(ratio * core_density, bare[0] * IN_MM, bare[1] * IN_MM)
        string = SteppedString(
            length_mm=length_in * IN_MM,
            core_density_kg_per_m=core_density,
            bending_stiffness_n_m2=2.02e11 * math.pi / 64 * (core * 1e-3 * IN_MM * 1e-3) ** 4,
            layers=(layer,),
        )
        hz = stepped_partials_hz(string, tension_n=650.0, n_partials=8)
        return float(cents_from_ratio((hz[7] / 8) / (hz[1] / 2))) / (64 - 4)

    added = cents_of(bare_in) - cents_of((0.0, 0.0))
    assert_close(added, handout_cents, rtol=0.06, atol=0, why="first order against exact; the core bends at the step")
    without_pi = (
        0.287
        * ratio
        / (1 + ratio)
        * sum(4 * math.sin(4 * bare / length_in) - math.sin(16 * bare / length_in) for bare in bare_in)
    )
    assert added > 20 * without_pi


def test_the_handout_and_our_first_order_are_one_formula_for_short_ends() -> None:
    layer = MassLayer(0.9, 1.0, 1.0)
    string = SteppedString(length_mm=1000.0, core_density_kg_per_m=0.1, bending_stiffness_n_m2=0.01, layers=(layer,))
    handout_cents = 0.287 * 0.9 * 2 * (4 * np.sin(4 * np.pi * 1e-3) - np.sin(16 * np.pi * 1e-3))
    assert_close(first_order_bare_b(string) * CENTS_PER_B, handout_cents, rtol=2e-3, atol=0, why="0.287 has 3 figures")
