"""Movement of wood across the grain, USDA Wood Handbook (2010), Tables 4-3 and 13-5."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.physics.wood import SPECIES, movement_per_pct

ROWS = list(csv.DictReader((Path(__file__).parent / "movement.csv").read_text().splitlines()))


@pytest.mark.parametrize("direction", ["radial", "tangential"])
def test_the_printed_coefficients_follow_from_the_printed_shrinkage(direction: str) -> None:
    shrinkage = np.array([float(row[f"{direction}_shrinkage_pct"]) for row in ROWS])
    printed = np.array([float(row[f"{direction}_coefficient"]) for row in ROWS])
    why = "half a step of 0.1 % in the shrinkage is 0.000018 of the coefficient, half a step of its own 0.000005"
    assert_close(movement_per_pct(shrinkage), printed, rtol=0, atol=0.000023, why=why)


def test_a_wood_of_the_program_that_was_read_has_the_printed_figures() -> None:
    beech = next(row for row in ROWS if row["species"] == "beech, American")
    ours = SPECIES["beech, American"]
    printed = [float(beech["radial_shrinkage_pct"]), float(beech["tangential_shrinkage_pct"])]
    assert_close([ours.radial_shrinkage_pct, ours.tangential_shrinkage_pct], printed, rtol=0, atol=0, why="copied")
