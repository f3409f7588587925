"""Strings and hammers of Chaigne & Askenfelt (1994)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.physics.strings import fundamental_hz
from strikeline.synthesis.hammer import Hammer, strike_strings
from strikeline.synthesis.scale import StringUnison

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}


@pytest.mark.parametrize("note", ["C4", "C7"])
def test_f0_follows_from_length_mass_and_tension(note: str) -> None:
    row = ROWS[note]
    length_m = float(row["length_m"])
    f0_hz = fundamental_hz(
        length_mm=length_m * 1e3,
        tension_n=float(row["tension_n"]),
        linear_density_kg_per_m=float(row["mass_g"]) * 1e-3 / length_m,
    )
    assert_close(f0_hz, float(row["f1_hz"]), rtol=3e-5, atol=0, why="f1 is printed to 5 figures and more")


def test_the_hammer_stays_on_c7_about_as_long_as_measured() -> None:
    row = ROWS["C7"]
    length_m, mass_kg, tension_n = float(row["length_m"]), float(row["mass_g"]) * 1e-3, float(row["tension_n"])
    f0_hz = float(row["f1_hz"])
    diameter_mm = 1e3 * np.sqrt(4 * mass_kg / length_m / (np.pi * 7850.0))
    string = StringUnison(
        key=76,
        speaking_length_mm=length_m * 1e3,
        core_diameter_mm=float(diameter_mm),
        wrap_diameter_mm=None,
        f0_hz=(f0_hz,),
    )
    assert_close(string.tension_n, tension_n, rtol=1e-3, atol=0, why="the same string by another route")
    exponent = float(row["felt_exponent"])
    hammer = Hammer(
        mass_kg=float(row["hammer_mass_g"]) * 1e-3,
        stiffness_n=float(row["felt_stiffness"]) * 3e-4**exponent,
        exponent=exponent,
        strike_ratio=float(row["strike_ratio"]),
    )
    pulses = strike_strings([string], [hammer], speed_m_per_s=np.array([2.5]))
    periods = pulses.contact_s[0] * f0_hz
    assert_close(periods, 1.26, rtol=0.2, atol=0, why="our string has no stiffness and no losses; K is in doubt")
