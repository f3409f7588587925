"""Stiff strings of stepped mass against the exact transfer matrix and the first-order formula."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.optimize import brentq
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.bare_ends import (
    MassLayer,
    SteppedString,
    first_order_bare_b,
    stepped_law,
    stepped_partials_hz,
)

TENSION_N = 900.0


def bass_string(*layers: MassLayer, stiffness: float = 0.0145) -> SteppedString:
    """A core of 1.1 mm, speaking length 1.1 m."""
    return SteppedString(
        length_mm=1100.0, core_density_kg_per_m=7.46e-3, bending_stiffness_n_m2=stiffness, layers=layers
    )


def both_ends(bare_mm: float, density: float = 0.045) -> MassLayer:
    return MassLayer(density, bare_mm, bare_mm)


def segments(string: SteppedString) -> list[tuple[float, float, float]]:
    """Return lengths (m), masses per length and stiffnesses of the uniform pieces from left to right."""
    ends = {0.0, string.length_mm}
    for layer in string.layers:
        ends |= {layer.from_left_mm, string.length_mm - layer.from_right_mm}
    edges = sorted(ends)
    found = []
    for left, right in pairwise(edges):
        middle = (left + right) / 2
        here = [one for one in string.layers if one.from_left_mm < middle < string.length_mm - one.from_right_mm]
        density = string.core_density_kg_per_m + sum(layer.linear_density_kg_per_m for layer in here)
        stiffness = string.bending_stiffness_n_m2 + sum(layer.bending_stiffness_n_m2 for layer in here)
        found.append(((right - left) * 1e-3, density, stiffness))
    return found


def exact_partials_hz(string: SteppedString, near_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the roots of the exact boundary-value problem next to some frequencies.

    In each piece y is a sum of sin, cos (wave number q) and of exponentials that die away from either end (wave number
    p). y, y', and the second and third derivative times the stiffness are continuous across the joints; y = y'' = 0 at
    the pins. The determinant of all these conditions at once is zero at a partial: nothing grows, so nothing is lost
    to rounding.
    """
    pieces = segments(string)

    def shapes(x: float, length: float, q: float, p: float) -> NDArray[np.float64]:
        """Derivatives 0 to 3 (rows, scaled by q) of the four shapes at x."""
        s, c = np.sin(q * x), np.cos(q * x)
        left, right = np.exp(-p * x), np.exp(-p * (length - x))
        r = p / q
        return np.array([
            [s, c, left, right],
            [c, -s, -r * left, r * right],
            [-s, -c, r**2 * left, r**2 * right],
            [-c, s, -(r**3) * left, r**3 * right],
        ])  # fmt: skip

    def determinant(hz: float) -> float:
        omega = 2 * np.pi * hz
        waves = []
        for _, density, stiffness in pieces:
            root = np.sqrt(TENSION_N**2 + 4 * stiffness * density * omega**2)
            p2 = (TENSION_N + root) / (2 * stiffness)
            waves.append((np.sqrt(density * omega**2 / (stiffness * p2)), np.sqrt(p2)))
        matrix = np.zeros((4 * len(pieces), 4 * len(pieces)))
        first, last = shapes(0.0, pieces[0][0], *waves[0]), shapes(pieces[-1][0], pieces[-1][0], *waves[-1])
        matrix[0:2, 0:4] = first[[0, 2]]
        matrix[2:4, -4:] = last[[0, 2]]
        for joint in range(len(pieces) - 1):
            rows = slice(4 + 4 * joint, 8 + 4 * joint)
            stiffer = pieces[joint + 1][2] / pieces[joint][2]
            scale = (waves[joint + 1][0] / waves[joint][0]) ** np.arange(4) * np.array([1, 1, stiffer, stiffer])
            matrix[rows, 4 * joint : 4 * joint + 4] = shapes(pieces[joint][0], pieces[joint][0], *waves[joint])
            matrix[rows, 4 * joint + 4 : 4 * joint + 8] = -scale[:, None] * shapes(
                0.0, pieces[joint + 1][0], *waves[joint + 1]
            )
        matrix /= np.abs(matrix).max(axis=1, keepdims=True)
        sign, logarithm = np.linalg.slogdet(matrix)
        return float(sign * np.exp(logarithm))

    return np.array([brentq(determinant, hz * (1 - 2e-3), hz * (1 + 2e-3), xtol=1e-10 * hz) for hz in near_hz])


STRINGS = {
    "plain ends": bass_string(both_ends(0.0)),
    "both ends bare": bass_string(both_ends(20.0)),
    "one end bare": bass_string(MassLayer(0.045, 35.0, 0.0)),
    "double winding": bass_string(MassLayer(0.02, 12.0, 15.0), MassLayer(0.08, 20.0, 26.0)),
    "stiff winding": bass_string(MassLayer(0.045, 20.0, 25.0, 0.005)),
    "stiff double winding": bass_string(MassLayer(0.02, 12.0, 15.0, 0.001), MassLayer(0.08, 20.0, 26.0, 0.006)),
    "hardly stiff": bass_string(both_ends(20.0), stiffness=1e-4),
}


@pytest.mark.parametrize("name", STRINGS)
def test_the_partials_are_those_of_the_exact_problem(name: str) -> None:
    found_hz = stepped_partials_hz(STRINGS[name], tension_n=TENSION_N, n_partials=20)
    exact_hz = exact_partials_hz(STRINGS[name], found_hz)
    assert_close(found_hz, exact_hz, rtol=1e-9, atol=0, why="the roots are found to 1e-10")


def test_a_winding_from_end_to_end_leaves_the_law_of_the_stiff_string_exact() -> None:
    string = STRINGS["plain ends"]
    law = stepped_law(string, tension_n=TENSION_N, n_partials=20)
    f0_hz = np.sqrt(TENSION_N / string.full_density_kg_per_m) / 2.2
    b = np.pi**2 * string.bending_stiffness_n_m2 / (TENSION_N * 1.1**2)
    assert_close(law.f0_hz, f0_hz, rtol=1e-12, atol=0, why="tension and stiffness are diagonal in sines")
    assert_close(law.inharmonicity_b, b, rtol=1e-9, atol=0, why="the difference of near numbers, 1e-4 of them")
    assert law.departure_cents < 1e-6


def test_short_bare_ends_add_to_b_what_the_first_order_says() -> None:
    bare = bass_string(both_ends(4.0))
    added = stepped_law(bare, tension_n=TENSION_N, n_partials=5).inharmonicity_b - (
        np.pi**2 * bare.bending_stiffness_n_m2 / (TENSION_N * 1.1**2)
    )
    # Next order: sin² falls short of the square of its argument by a part of (nπa/L)²/3·(3/5), 0.1 % here. The joint
    # also carries the bending of the core, which decays over sqrt(EI/T) = 4 mm; the exact problem knows it.
    assert_close(added, first_order_bare_b(bare), rtol=0.02, atol=0, why="higher orders of nπa/L = 0.06")


def test_the_added_b_falls_as_the_cube_of_the_bare_length() -> None:
    def added(bare_mm: float) -> float:
        string = bass_string(both_ends(bare_mm), stiffness=1e-4)
        stiff = np.pi**2 * 1e-4 / (TENSION_N * 1.1**2)
        return stepped_law(string, tension_n=TENSION_N, n_partials=4).inharmonicity_b - stiff

    assert_close(added(6.0) / added(3.0), 8.0, rtol=0.02, atol=0, why="cube; higher orders of nπa/L = 0.07")


def test_bare_ends_raise_the_inharmonicity_and_never_lower_it() -> None:
    b = [
        stepped_law(bass_string(both_ends(bare_mm)), tension_n=TENSION_N, n_partials=20).inharmonicity_b
        for bare_mm in (0.0, 5.0, 10.0, 20.0, 30.0)
    ]
    assert (
        np.diff(b) > 0
    ).all()  # P. Chumnantas, PhD thesis, Edinburgh 1995: wound strings are sharper than their core


def rayleigh_ritz_hz(string: SteppedString, *, n_sines: int) -> NDArray[np.float64]:
    """Return the partials from the modes of the uniform string: tension and stiffness are diagonal, mass couples."""
    k = np.arange(1, n_sines + 1)
    wave = k * np.pi / (string.length_mm * 1e-3)
    stiff = np.diag(TENSION_N * wave**2 + string.bending_stiffness_n_m2 * wave**4)
    order = np.arange(1, 2 * n_sines + 1)
    mass = string.core_density_kg_per_m * np.eye(n_sines)
    for layer in string.layers:
        start, end = layer.from_left_mm / string.length_mm, 1 - layer.from_right_mm / string.length_mm
        cosines = np.append(
            end - start, (np.sin(order * np.pi * end) - np.sin(order * np.pi * start)) / (order * np.pi)
        )
        overlap = cosines[np.abs(k[:, None] - k)] - cosines[k[:, None] + k]
        mass += layer.linear_density_kg_per_m * overlap
        stiff += layer.bending_stiffness_n_m2 * wave[:, None] ** 2 * overlap * wave**2
    inverse = eigh(mass, stiff, eigvals_only=True, subset_by_index=(n_sines - 20, n_sines - 1))
    return np.asarray(1 / (2 * np.pi * np.sqrt(inverse[::-1])))


@pytest.mark.parametrize("name", STRINGS)
def test_rayleigh_ritz_comes_down_to_the_same_partials(name: str) -> None:
    found_hz = stepped_partials_hz(STRINGS[name], tension_n=TENSION_N, n_partials=20)
    above_hz = rayleigh_ritz_hz(STRINGS[name], n_sines=200)
    assert (above_hz >= found_hz * (1 - 1e-10)).all()
    assert_close(found_hz, above_hz, rtol=3e-6, atol=0, why="200 sines are not all; 3e-6 is 0.005 cents")


def test_what_cannot_be_fitted_is_refused() -> None:
    with pytest.raises(InputError, match="n_partials"):
        stepped_law(STRINGS["one end bare"], tension_n=TENSION_N, n_partials=2)
    with pytest.raises(InputError, match="n_partials"):
        stepped_partials_hz(STRINGS["one end bare"], tension_n=TENSION_N, n_partials=0)
    with pytest.raises(InputError, match="less than the speaking length"):
        bass_string(both_ends(550.0))
