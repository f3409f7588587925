"""Strings of Bensa, Bilbao, Kronland-Martinet & Smith (2003), Table I, sounded with their losses and heard."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.heard import assert_heard
from tests.struck import struck_string

from strikeline.keyboard import key_from_name

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("note", sorted(ROWS))
def test_the_published_string_is_heard_again(note: str, seed: int) -> None:
    row = {name: float(value) for name, value in ROWS[note].items() if name != "note"}
    length_m, c, kappa = row["length_m"], row["wave_speed_m_per_s"], row["stiffness_m2_per_s"]
    n = np.arange(1.0, 41.0)
    struck = struck_string(
        key_from_name(note),
        seed=seed,
        duration_s=3.0,
        n_partials=n.size,
        f0_hz=c / (2.0 * length_m),
        inharmonicity_b=(np.pi * kappa / (c * length_m)) ** 2,
        decay_per_s=row["b1_per_s"] + row["b2_m2_per_s"] * (n * np.pi / length_m) ** 2,
    )
    assert_heard(struck, key=key_from_name(note))
