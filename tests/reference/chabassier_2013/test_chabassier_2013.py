"""Wound strings of Chabassier, Chaigne & Joly (2013): how much heavier the winding makes the core."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.string_choice import diameter_for_tension
from strikeline.physics.stringing import StringDimensions, frequency_of_tension, string_state
from strikeline.physics.winding import Winding
from strikeline.physics.wire import MATERIALS

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}
STEEL, COPPER = MATERIALS["steel"], MATERIALS["copper"]


def printed(note: str) -> tuple[float, float, float, float, float]:
    names = ("length_m", "core_diameter_mm", "mass_factor", "tension_n", "f0_hz")
    length_m, core_mm, factor, tension_n, f0_hz = (float(ROWS[note][name]) for name in names)
    return length_m * 1e3, core_mm, factor, tension_n, f0_hz


@pytest.mark.parametrize("note", ["F3", "C#5", "G6"])
def test_plain_strings_sound_as_printed(note: str) -> None:
    length_mm, diameter_mm, _, tension_n, f0_hz = printed(note)
    string = StringDimensions(Measured(length_mm, 0.3), Measured(diameter_mm, 0.003), STEEL)  # half a printed unit
    found = frequency_of_tension(string, tension_n=Measured(tension_n, 0.3))
    assert not found.differs_from(f0_hz, by_se=2.5)


@pytest.mark.parametrize("note", ["D#1", "C2"])
def test_the_winding_that_gives_the_printed_tension_has_the_printed_mass(note: str) -> None:
    length_mm, core_mm, factor, tension_n, f0_hz = printed(note)
    core = StringDimensions(
        Measured(length_mm, 0.0), Measured(core_mm, 0.0), STEEL, (Winding(Measured(1.0, 0.0), COPPER),)
    )
    wrap = diameter_for_tension(core, tension_n=tension_n, f0_hz=f0_hz)
    string = replace(core, windings=(replace(core.windings[0], wrap_diameter_mm=wrap),))
    density = string_state(string, f0_hz=f0_hz, strength=None).linear_density_kg_per_m.value
    core_density = STEEL.density_kg_per_m3.value * np.pi * (core_mm * 1e-3) ** 2 / 4
    rounding = 0.005 / factor + 2 * 0.005 / core_mm + 2 * 0.05 / f0_hz + 2 * 0.5 / length_mm
    assert_close(density / core_density, factor, rtol=rounding, atol=0, why="half a unit of each printed figure")
    assert 0.3 < wrap.value < 2.5  # a wire that a stringer would wind on such a core (common practice, no source)
