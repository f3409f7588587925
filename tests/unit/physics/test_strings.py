"""Refusals and identities of the string formulae; published figures are under tests/reference."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.strings import (
    fundamental_hz,
    partial_frequencies_hz,
    plain_inharmonicity_b,
    plain_linear_density_kg_per_m,
    tension_for_pitch_n,
    wound_inharmonicity_b,
    wound_linear_density_kg_per_m,
)


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf])
def test_a_length_that_cannot_be_is_refused_by_name(bad: float) -> None:
    with pytest.raises(InputError, match=r"length_mm.*agraffe"):
        fundamental_hz(length_mm=bad, tension_n=700.0, linear_density_kg_per_m=6e-3)


@pytest.mark.parametrize("bad", [0, -1, 1.5, np.nan])
def test_a_partial_number_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="partial"):
        partial_frequencies_hz([1, bad], f0_hz=100.0, inharmonicity_b=0.0)


def test_a_negative_b_is_refused() -> None:
    with pytest.raises(InputError, match="inharmonicity_b"):
        partial_frequencies_hz([1], f0_hz=100.0, inharmonicity_b=-1e-6)


def test_without_stiffness_the_partials_are_harmonic() -> None:
    partials = partial_frequencies_hz([1, 2, 3], f0_hz=100.0, inharmonicity_b=0.0)
    assert_close(partials, [100.0, 200.0, 300.0], rtol=0, atol=1e-12, why="B = 0; rounding only")


def test_tension_and_pitch_are_inverse() -> None:
    density = plain_linear_density_kg_per_m(diameter_mm=1.0)
    tension = tension_for_pitch_n(length_mm=650.0, f0_hz=261.6, linear_density_kg_per_m=density)
    back = fundamental_hz(length_mm=650.0, tension_n=tension, linear_density_kg_per_m=density)
    assert_close(back, 261.6, rtol=1e-14, atol=0, why="rounding only")


def test_a_thin_wrap_fills_pi_over_four_of_its_annulus() -> None:
    core_mm, wrap_mm, wrap_density = 1.5, 0.01, 8930.0
    wound = wound_linear_density_kg_per_m(
        core_diameter_mm=core_mm, wrap_diameter_mm=wrap_mm, wrap_density_kg_per_m3=wrap_density
    )
    wrap_only = wound - plain_linear_density_kg_per_m(diameter_mm=core_mm)
    annulus_m2 = np.pi / 4 * ((core_mm + 2 * wrap_mm) ** 2 - core_mm**2) * 1e-6
    assert_close(wrap_only / (wrap_density * annulus_m2), np.pi / 4, rtol=1e-5, atol=0, why="helix factor 2e-6 here")


def test_only_the_core_stiffens_a_wound_string() -> None:
    figures = {"length_mm": 1000.0, "tension_n": 800.0, "young_modulus_pa": 2.02e11}
    wound = wound_inharmonicity_b(core_diameter_mm=1.1, **figures)
    assert_close(wound, plain_inharmonicity_b(diameter_mm=1.1, **figures), rtol=0, atol=0, why="the same formula")


def test_a_whole_scale_goes_in_as_arrays() -> None:
    f0_hz = fundamental_hz(length_mm=[400.0, 800.0], tension_n=700.0, linear_density_kg_per_m=6e-3)
    assert f0_hz.shape == (2,)
