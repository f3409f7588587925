"""Strings of Chabassier & Duruflé (2012), INRIA RT-0425, calculated one by one with their errors."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.stringing import StringDimensions, frequency_of_tension, string_state
from strikeline.physics.wire import WireMaterial, within

ROWS = list(csv.DictReader((Path(__file__).parent / "scale.csv").read_text().splitlines()))


def string_of(row: dict[str, str]) -> StringDimensions:
    """One printed row: core and wrap made one wire of an effective density; errors from the last printed figure."""
    density = float(row["density_kg_per_m3"])
    metal = WireMaterial("as printed", Measured(2.02e11, 0.0), within(density - 0.5, density + 0.5), "RT-0425")
    length_mm, diameter_mm = float(row["length_m"]) * 1e3, float(row["diameter_mm"])
    return StringDimensions(
        within(length_mm - 0.5, length_mm + 0.5), within(diameter_mm - 5e-4, diameter_mm + 5e-4), metal
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["midi"])
def test_tension_pitch_and_b_agree_with_the_table_within_its_own_rounding(row: dict[str, str]) -> None:
    string, tension_n = string_of(row), float(row["tension_n"])
    f0_hz = frequency_of_tension(string, tension_n=within(tension_n - 0.5, tension_n + 0.5))
    # Rectangular errors are never larger than √3 standard errors each; of the sum, 2.5 are not exceeded.
    assert not f0_hz.differs_from(float(row["f0_hz"]), by_se=2.5)
    state = string_state(string, f0_hz=float(row["f0_hz"]), strength=None)
    assert not state.tension_n.differs_from(tension_n, by_se=2.5)
    printed_b = float(row["inharmonicity_b"])
    half_unit = 0.5 * 10 ** (np.floor(np.log10(printed_b)) - 2)
    assert abs(state.inharmonicity_b.value - printed_b) <= 2.5 * state.inharmonicity_b.se + half_unit


def test_the_stress_rises_to_the_treble_as_the_survey_computed_it() -> None:
    stress = [string_state(string_of(row), f0_hz=float(row["f0_hz"]), strength=None).stress_mpa.value for row in ROWS]
    printed = {24: 1001, 40: 1075, 41: 815, 60: 932, 69: 995, 84: 1118, 96: 1235, 107: 1356}
    found = [stress[at] for at, row in enumerate(ROWS) if int(row["midi"]) in printed]
    assert_close(found, list(printed.values()), rtol=2e-3, atol=0, why="length and diameter are printed to 0.1 %")
