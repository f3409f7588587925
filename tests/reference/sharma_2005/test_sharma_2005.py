"""CIEDE2000 against the published test pairs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from tests.closeness import assert_close

from strikeline.physics.colour import difference_ciede2000

PAIRS = np.loadtxt(Path(__file__).parent / "pairs.csv", delimiter=",", skiprows=1)


def test_all_34_pairs_come_out_as_published() -> None:
    assert PAIRS.shape == (34, 7)
    computed = difference_ciede2000(PAIRS[:, :3], PAIRS[:, 3:6])
    assert_close(computed, PAIRS[:, 6], rtol=0, atol=1e-4, why="published to four decimals")


def test_the_order_of_a_pair_does_not_matter() -> None:
    back = difference_ciede2000(PAIRS[:, 3:6], PAIRS[:, :3])
    assert_close(back, PAIRS[:, 6], rtol=0, atol=1e-4, why="published to four decimals")
