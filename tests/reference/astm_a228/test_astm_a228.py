"""Strength of modern wire: ASTM A228 by other people's arithmetic, a textbook's fit, and EN 10270-1."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.stringing import StringDimensions, string_state
from strikeline.physics.wire import MATERIALS
from strikeline.physics.wire_gauge import GaugeSystem, gauge_diameter_mm
from strikeline.physics.wire_strength import WireGrade, wire_strength

FOLDER = Path(__file__).parent
KSI_MPA = 6.894757


def rows(name: str) -> list[dict[str, float]]:
    return [
        {key: float(value) for key, value in row.items()}
        for row in csv.DictReader((FOLDER / name).read_text().splitlines())
    ]


def test_the_rows_of_the_table_come_back() -> None:
    for row in rows("table.csv"):
        strength = wire_strength(row["diameter_in"] * 25.4 + 1e-12, grade=WireGrade.ASTM_A228)
        assert_close(
            [strength.low_mpa, strength.high_mpa],
            [row["low_ksi"] * KSI_MPA, row["high_ksi"] * KSI_MPA],
            rtol=1e-6,
            atol=0,
            why="a row of the table; the ksi to 7 figures",
        )


def test_breaking_loads_by_number_agree_with_a_second_calculation() -> None:
    for row in rows("by_number.csv"):
        diameter_mm = gauge_diameter_mm(row["number"], system=GaugeSystem.THOU)
        strength = wire_strength(diameter_mm, grade=WireGrade.ASTM_A228)
        area_mm2 = math.pi * diameter_mm**2 / 4
        found = [strength.low_mpa, strength.high_mpa, strength.low_mpa * area_mm2, strength.high_mpa * area_mm2]
        expected = [row[name] for name in ("low_mpa", "high_mpa", "low_n", "high_n")]
        assert_close(found, expected, rtol=1.5e-3, atol=0.5, why="printed whole; strengths were rounded before")


@pytest.mark.parametrize("diameter_mm", [0.75, 0.9, 1.0, 1.1, 1.25])
def test_a_textbook_fit_runs_along_the_lower_limit(diameter_mm: float) -> None:
    fit_mpa = 2211.0 * diameter_mm**-0.145  # Shigley's Mechanical Engineering Design, music wire (from memory)
    low_mpa = wire_strength(diameter_mm, grade=WireGrade.ASTM_A228).low_mpa
    assert 0.0 <= fit_mpa / low_mpa - 1.0 <= 0.03


def test_the_european_spring_wire_is_weaker_than_music_wire_and_the_stronger_grade_like_it() -> None:
    for diameter_mm in (0.8, 1.0, 1.2):
        music, spring, strong = (
            wire_strength(diameter_mm, grade=grade)
            for grade in (WireGrade.ASTM_A228, WireGrade.EN_10270_1_SM, WireGrade.EN_10270_1_SH)
        )
        assert spring.stress_mpa.value < music.low_mpa
        assert music.low_mpa < strong.stress_mpa.value < music.high_mpa  # printed as equivalent by a wire dealer


def test_a_string_of_known_load_breaks_between_the_limits() -> None:
    string = StringDimensions(Measured(404.0, 0.5), Measured(1.016, 0.0), MATERIALS["steel"])
    state = string_state(string, f0_hz=440.0, strength=wire_strength(1.016, grade=WireGrade.ASTM_A228))
    assert state.breaking_load_n is not None
    assert 1761 < state.breaking_load_n.value < 1951
    assert_close(state.breaking_load_n.se, (1951 - 1761) / math.sqrt(12), rtol=0.02, atol=0, why="rectangular")
