"""Laws of one string: how tension goes with pitch, length and wire; round trips; errors against Monte Carlo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.string_choice import Part, diameter_for_inharmonicity, diameter_for_tension, with_diameter
from strikeline.physics.stringing import (
    StringDimensions,
    carried_string,
    frequency_of_tension,
    string_results,
    string_state,
)
from strikeline.physics.winding import Winding, winding_from_outside
from strikeline.physics.wire import MATERIALS

STEEL, COPPER, IRON = MATERIALS["steel"], MATERIALS["copper"], MATERIALS["iron"]
lengths_mm, diameters_mm, pitches_hz = st.floats(50, 1800), st.floats(0.7, 1.4), st.floats(27, 4200)
factors = st.floats(0.6, 1.6)


def plain(length_mm: float, diameter_mm: float) -> StringDimensions:
    return StringDimensions(Measured(length_mm, 0.5), Measured(diameter_mm, 0.005), STEEL)


WOUND = StringDimensions(Measured(1100.0, 0.5), Measured(1.05, 0.005), STEEL, (Winding(Measured(0.8, 0.01), COPPER),))
DOUBLE = replace(WOUND, windings=(Winding(Measured(0.5, 0.01), IRON), Winding(Measured(1.1, 0.01), COPPER)))
OVER_HEXAGON = StringDimensions(
    Measured(1100.0, 0.5),
    Measured(1.05, 0.005),
    STEEL,
    (winding_from_outside(Measured(2.8, 0.01), inner_mm=Measured(1.212, 0.006), material=COPPER),),
    is_hexagonal=True,
)
BARE = replace(WOUND, bare_mm=(Measured(18.0, 0.5), Measured(22.0, 0.5)))


def tension_n(length_mm: float, diameter_mm: float, f0_hz: float) -> float:
    return string_state(plain(length_mm, diameter_mm), f0_hz=f0_hz, strength=None).tension_n.value


@given(length_mm=lengths_mm, diameter_mm=diameters_mm, f0_hz=pitches_hz, factor=factors)
def test_tension_of_plain_wire_goes_as_the_squares_of_pitch_length_and_diameter(
    length_mm: float, diameter_mm: float, f0_hz: float, factor: float
) -> None:
    once = tension_n(length_mm, diameter_mm, f0_hz)
    for more in (
        tension_n(factor * length_mm, diameter_mm, f0_hz),
        tension_n(length_mm, factor * diameter_mm, f0_hz),
        tension_n(length_mm, diameter_mm, factor * f0_hz),
    ):
        assert_close(more / once, factor**2, rtol=1e-12, atol=0, why="T = π·ρ·(d·L·f)²; rounding only")


@given(length_mm=lengths_mm, diameter_mm=diameters_mm, f0_hz=pitches_hz, factor=factors)
def test_b_of_plain_wire_at_its_pitch_goes_as_the_square_of_the_diameter(
    length_mm: float, diameter_mm: float, f0_hz: float, factor: float
) -> None:
    b = [
        string_state(plain(length_mm, d), f0_hz=f0_hz, strength=None).inharmonicity_b.value
        for d in (diameter_mm, factor * diameter_mm)
    ]
    assert_close(b[1] / b[0], factor**2, rtol=1e-12, atol=0, why="B = π²·E·d²/(64·ρ·L⁴·f²); rounding only")


@given(length_mm=lengths_mm, diameter_mm=diameters_mm, f0_hz=pitches_hz)
@settings(max_examples=20)
def test_plain_wire_comes_back_from_its_tension_and_from_its_b(
    length_mm: float, diameter_mm: float, f0_hz: float
) -> None:
    string = plain(length_mm, diameter_mm)
    state = string_state(string, f0_hz=f0_hz, strength=None)
    other = plain(length_mm, 1.0)
    by_tension = diameter_for_tension(other, tension_n=state.tension_n.value, f0_hz=f0_hz)
    by_b = diameter_for_inharmonicity(other, inharmonicity_b=state.inharmonicity_b.value, f0_hz=f0_hz)
    assert_close([by_tension.value, by_b.value], [diameter_mm] * 2, rtol=1e-9, atol=0, why="solved to 1e-12")
    back = frequency_of_tension(string, tension_n=state.tension_n.value)
    assert_close(back.value, f0_hz, rtol=1e-12, atol=0, why="rounding only")


@pytest.mark.parametrize("string", [WOUND, DOUBLE, BARE], ids=["wound", "double", "bare ends"])
@pytest.mark.parametrize("part", Part)
def test_core_and_winding_come_back_from_tension_and_b(string: StringDimensions, part: Part) -> None:
    exact = replace(string, length_mm=Measured(1100.0, 0.0))
    found = string_results(
        exact,
        {name: one.value for name, one in exact.inputs().items()} | {"f0_hz": 55.0, "section_lost_ratio": 0.0},
        n_partials=6,
    )
    true_mm = exact.core_diameter_mm if part is Part.CORE else exact.windings[-1].wrap_diameter_mm
    nearby = with_diameter(exact, part, Measured(1.1 * true_mm.value, 0.0))
    by_tension = diameter_for_tension(nearby, tension_n=found["tension_n"], f0_hz=55.0, part=part, n_partials=6)
    by_b = diameter_for_inharmonicity(
        nearby, inharmonicity_b=found["inharmonicity_b"], f0_hz=55.0, part=part, n_partials=6
    )
    assert_close([by_tension.value, by_b.value], [true_mm.value] * 2, rtol=1e-7, atol=0, why="B is a small difference")


def test_the_diameter_for_a_tension_has_the_error_of_length_and_density() -> None:
    found = diameter_for_tension(plain(404.0, 0.9), tension_n=700.0, f0_hz=440.0)
    share = np.hypot(0.5 / 404.0, STEEL.density_kg_per_m3.se / 7850.0 / 2.0)
    assert_close(found.se, found.value * share, rtol=1e-3, atol=0, why="d goes as 1/(L·√ρ); second order is 1e-6")


@pytest.mark.parametrize(
    ("string", "f0_hz", "n"),
    [(plain(404.0, 0.947), 440.0, 4000), (DOUBLE, 40.0, 2000), (OVER_HEXAGON, 55.0, 2000), (BARE, 55.0, 200)],
    ids=["plain", "double", "hexagonal", "bare ends"],
)
def test_the_carried_errors_are_those_of_monte_carlo(string: StringDimensions, f0_hz: float, n: int) -> None:
    rng = np.random.default_rng(1726)
    pitch = Measured(f0_hz, 1e-3 * f0_hz)
    strength = Measured(2300.0, 68.0)
    carried = carried_string(string, f0_hz=pitch, strength_mpa=strength, n_partials=5)
    inputs = {**string.inputs(), "f0_hz": pitch, "strength_mpa": strength}
    fields = [name for name in carried.fields if name not in {"law_departure_cents", "bare_ends_tension_ratio"}]
    known = [name for name in carried.fields if not np.isnan(carried.value[carried.fields.index(name)])]
    fields = [
        name for name in known if name in fields and carried.measured(name).se > 0
    ]  # neither unknown nor 0 by definition
    drawn = []
    for _ in range(n):
        values = {name: rng.normal(one.value, one.se) for name, one in inputs.items()} | {"section_lost_ratio": 0.0}
        found = string_results(string, values, n_partials=5)
        drawn.append([found[name] for name in fields])
    spread = np.std(drawn, axis=0, ddof=1)
    expected = [carried.measured(name).se for name in fields]
    by_chance = 4.0 / np.sqrt(2.0 * n)  # four standard errors of a standard deviation
    assert_close(
        spread / expected, np.ones(len(fields)), rtol=0.02 + by_chance, atol=0, why="chance, and 2 % curvature"
    )
    tied = np.corrcoef(np.array(drawn)[:, [fields.index("tension_n"), fields.index("stress_mpa")]].T)[0, 1]
    shares = carried.shares[:, [carried.fields.index("tension_n"), carried.fields.index("stress_mpa")]]
    linear = shares[:, 0] @ shares[:, 1] / np.prod(np.linalg.norm(shares, axis=0))
    assert_close(tied, linear, rtol=0, atol=4.0 / np.sqrt(n), why="four standard errors of a correlation")
