"""Plain strings of an upright, Fletcher (1964): B with its error, and a misprint found by it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.stringing import StringDimensions, StringState, string_state
from strikeline.physics.wire import MATERIALS, WireMaterial

ROWS = {row["key"]: row for row in csv.DictReader((Path(__file__).parent / "upright.csv").read_text().splitlines())}
# The constant of his printed formula, 3.95e10 (cgs), is π²·E/(64·ρ): E/ρ = 2.561e7 m²/s².
WIRE = WireMaterial("Fletcher's wire", Measured(64 * 3.95e6 / 9.8696 * 7850, 0.0), Measured(7850.0, 0.0), "1964")


def state_of(key: str, metal: WireMaterial) -> StringState:
    row = ROWS[key]
    string = StringDimensions(
        Measured(float(row["length_cm"]) * 10, 0.5), Measured(float(row["diameter_mm"]), 0.005), metal
    )
    return string_state(string, f0_hz=float(equal_tempered_hz(int(key), a4_hz=440.0)), strength=None)


@pytest.mark.parametrize("key", ROWS)
def test_b_of_the_upright_follows_from_wire_length_and_pitch(key: str) -> None:
    b = state_of(key, WIRE).inharmonicity_b
    assert_close(b.value, float(ROWS[key]["inharmonicity_b"]), rtol=5e-3, atol=0, why="B is printed to 3 figures")


def test_the_misprinted_b_is_no_reading_of_this_string_and_the_measured_one_is_near() -> None:
    b = state_of("59", MATERIALS["steel"]).inharmonicity_b
    assert b.differs_from(0.000167, by_se=20.0)  # as Table IV prints it
    assert not b.differs_from(1.67e-3, by_se=4.0)  # the measured mean: 6 % below the formula, his and ours
