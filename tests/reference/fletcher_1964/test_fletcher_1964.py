"""Plain strings of an upright, Fletcher (1964)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.strings import plain_inharmonicity_b, plain_linear_density_kg_per_m, tension_for_pitch_n

ROWS = list(csv.DictReader((Path(__file__).parent / "upright.csv").read_text().splitlines()))


def column(name: str) -> NDArray[np.float64]:
    return np.array([float(row[name]) for row in ROWS])


def test_b_of_the_upright_follows_from_wire_length_and_pitch() -> None:
    diameter_mm, length_mm = column("diameter_mm"), column("length_cm") * 10
    tension_n = tension_for_pitch_n(
        length_mm=length_mm,
        f0_hz=equal_tempered_hz(column("key"), a4_hz=440.0),
        linear_density_kg_per_m=plain_linear_density_kg_per_m(diameter_mm=diameter_mm),
    )
    b = plain_inharmonicity_b(
        diameter_mm=diameter_mm, length_mm=length_mm, tension_n=tension_n, young_modulus_pa=2.00e11
    )
    assert_close(b, column("inharmonicity_b"), rtol=0.01, atol=0, why="0.5 % in E/ρ, B printed to 3 figures")
