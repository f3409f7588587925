"""The bending stiffness of a winding against a frame of many short straight beams laid along its helix."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve
from tests.closeness import assert_close

from strikeline.physics.winding import winding_stiffness_n_m2

MODULUS_PA, POISSON = 1.2e11, 0.33


def beam(length: float, wire_m: float) -> NDArray[np.float64]:
    """Return the stiffness of a slender round beam along x: shifts and turns of its two ends."""
    area, moment = np.pi * wire_m**2 / 4, np.pi * wire_m**4 / 64
    ea, ei = MODULUS_PA * area, MODULUS_PA * moment
    gj = ei / (1 + POISSON)
    k = np.zeros((12, 12))
    for stiffness, at in ((ea, 0), (gj, 3)):
        k[np.ix_([at, at + 6], [at, at + 6])] = stiffness / length * np.array([[1, -1], [-1, 1]])
    a, b = 12 * ei / length**3, 6 * ei / length**2
    c, d = 4 * ei / length, 2 * ei / length
    for shift, turn, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        rows = [shift, turn, shift + 6, turn + 6]
        s = sign * b
        k[np.ix_(rows, rows)] = [[a, s, -a, s], [s, c, -s, d], [-a, -s, a, -s], [s, d, -s, c]]
    return k


def bent_frame_n_m2(*, inner_mm: float, wrap_mm: float, n_turns: int, per_turn: int) -> float:
    """Return moment over curvature of a helix of turn beside turn, held at one end, a moment at the other."""
    wire_m, radius_m = wrap_mm * 1e-3, (inner_mm + wrap_mm) / 2e3
    n = n_turns * per_turn
    angle = np.linspace(0, 2 * np.pi * n_turns, n + 1)
    points = np.column_stack([wire_m * angle / (2 * np.pi), radius_m * np.cos(angle), radius_m * np.sin(angle)])
    whole = lil_matrix((6 * (n + 1), 6 * (n + 1)))
    for at in range(n):
        along = points[at + 1] - points[at]
        length = float(np.linalg.norm(along))
        x = along / length
        y = np.cross([1.0, 0.0, 0.0], x)
        y /= np.linalg.norm(y)
        turn = np.kron(np.eye(4), np.array([x, y, np.cross(x, y)]))
        dofs = slice(6 * at, 6 * at + 12)
        whole[dofs, dofs] += turn.T @ beam(length, wire_m) @ turn
    load = np.zeros(6 * (n + 1))
    load[-2] = 1.0  # a moment of 1 N·m about an axis across the string
    moved = spsolve(whole.tocsc()[6:, 6:], load[6:])
    return float(points[-1, 0] / moved[-2])


@pytest.mark.parametrize(("inner_mm", "wrap_mm"), [(1.05, 0.8), (1.3, 1.6)])
def test_a_frame_along_the_helix_bends_as_the_formula_says(inner_mm: float, wrap_mm: float) -> None:
    found = bent_frame_n_m2(inner_mm=inner_mm, wrap_mm=wrap_mm, n_turns=12, per_turn=36)
    formula = winding_stiffness_n_m2(inner_diameter_mm=inner_mm, wrap_diameter_mm=wrap_mm, young_modulus_pa=MODULUS_PA)
    # The formula takes the turns for flat rings; they climb by up to 10°. More beams to a turn change it by 0.1 %.
    assert_close(found, formula, rtol=0.015, atol=0, why="slope of the helix: 1 % at most")
