"""Strings of Bensa et al. (2003), Table I, found again from pitch and from B."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.string_choice import diameter_for_inharmonicity, diameter_for_tension
from strikeline.physics.stringing import StringDimensions, string_state
from strikeline.physics.wire import MATERIALS

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}
STEEL = MATERIALS["steel"]


@pytest.mark.parametrize("note", ROWS)
def test_wave_speed_and_stiffness_give_one_steel_string(note: str) -> None:
    row = ROWS[note]
    length_m, c, kappa = (float(row[name]) for name in ("length_m", "wave_speed_m_per_s", "stiffness_m2_per_s"))
    diameter_mm = 4e3 * kappa * np.sqrt(STEEL.density_kg_per_m3.value / STEEL.young_modulus_pa.value)
    string = StringDimensions(Measured(length_m * 1e3, 0.5), Measured(float(diameter_mm), 0.005), STEEL)
    f0_hz, b = c / (2 * length_m), (np.pi * kappa / (c * length_m)) ** 2
    state = string_state(string, f0_hz=f0_hz, strength=None)
    density = state.linear_density_kg_per_m.value
    assert_close(state.tension_n.value, c**2 * density, rtol=1e-12, atol=0, why="c = sqrt(T/μ)")
    assert_close(state.impedance_kg_per_s.value, c * density, rtol=1e-12, atol=0, why="Z = μ·c")
    assert_close(state.inharmonicity_b.value, b, rtol=1e-12, atol=0, why="B = (π·κ/(c·L))²")
    wrong = StringDimensions(string.length_mm, Measured(1.0, 0.0), STEEL)
    found = [
        diameter_for_inharmonicity(wrong, inharmonicity_b=b, f0_hz=f0_hz).value,
        diameter_for_tension(wrong, tension_n=c**2 * density, f0_hz=f0_hz).value,
    ]
    assert_close(found, [diameter_mm] * 2, rtol=1e-9, atol=0, why="two ways back to one wire")
