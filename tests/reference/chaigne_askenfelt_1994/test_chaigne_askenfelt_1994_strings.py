"""Strings of Chaigne & Askenfelt (1994): tension from pitch and pitch from tension."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.stringing import StringDimensions, frequency_of_tension, string_state
from strikeline.physics.wire import MATERIALS

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}


@pytest.mark.parametrize("note", ["C4", "C7"])
def test_pitch_and_tension_follow_from_the_printed_length_and_mass(note: str) -> None:
    row = ROWS[note]
    length_m, mass_kg, tension_n = float(row["length_m"]), float(row["mass_g"]) * 1e-3, float(row["tension_n"])
    steel = MATERIALS["steel"]
    diameter_mm = 2e3 * np.sqrt(mass_kg / (length_m * np.pi * steel.density_kg_per_m3.value))
    string = StringDimensions(Measured(length_m * 1e3, 0.0), Measured(float(diameter_mm), 0.0), steel)
    f0_hz = frequency_of_tension(string, tension_n=tension_n).value
    assert_close(f0_hz, float(row["f1_hz"]), rtol=3e-5, atol=0, why="f1 is printed to 5 figures and more")
    state = string_state(string, f0_hz=float(row["f1_hz"]), strength=None)
    assert_close(state.tension_n.value, tension_n, rtol=6e-5, atol=0, why="twice the rounding of f1")
