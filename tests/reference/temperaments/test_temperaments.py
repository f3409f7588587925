"""Temperaments from their commas against tables of cents."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.physics.temperaments import PURE_FIFTH_CENTS, TEMPERAMENTS

HERE = Path(__file__).parent
ROWS = list(csv.DictReader((HERE / "cents_from_c.csv").read_text().splitlines()))
C4 = 40


@pytest.mark.parametrize("row", ROWS, ids=[row["name"] for row in ROWS])
def test_a_temperament_made_of_its_commas_has_the_cents_of_the_table(row: dict[str, str]) -> None:
    printed = [float(text) for name, text in row.items() if name != "name"]
    made = TEMPERAMENTS[row["name"]].cents_from_c()
    assert_close(made, printed, rtol=0, atol=0.0051, why="printed to 0.01 cent")


def test_every_temperament_but_the_equal_one_has_a_table() -> None:
    assert {row["name"] for row in ROWS} == set(TEMPERAMENTS) - {"equal"}


def test_werckmeister_iii_stands_from_equal_temperament_as_a_tuner_wrote_it_down() -> None:
    row = next(csv.DictReader((HERE / "werckmeister_3_from_equal.csv").read_text().splitlines()))
    offset = TEMPERAMENTS["werckmeister-3"].offset_cents(np.arange(C4, C4 + 12))
    assert_close(offset, [float(text) for text in row.values()], rtol=0, atol=0.051, why="written to 0.1 cent")


def test_the_wolf_of_quarter_comma_meantone_is_36_cents_wide() -> None:
    cents = TEMPERAMENTS["meantone"].cents_from_c()
    wolf = (cents[3] - cents[8]) % 1200.0
    assert_close(wolf - PURE_FIFTH_CENTS, 7.0 * 1200.0 - 11.0 * 696.578428 - 701.955, rtol=0, atol=1e-4, why="¼ comma")
