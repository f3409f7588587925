"""Model of B and of stretch, Rigaud, David & Daudet (2011)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b
from strikeline.units import ratio_from_cents

ROWS = list(csv.DictReader((Path(__file__).parent / "model.csv").read_text().splitlines()))


def test_the_model_of_b_gives_the_values_of_the_survey() -> None:
    b = typical_inharmonicity_b([int(row["midi"]) - 20 for row in ROWS])
    printed = np.array([float(row["inharmonicity_b"]) for row in ROWS])
    assert_close(b, printed, rtol=0.02, atol=0, why="the end values are given to two figures")


def test_b_is_least_between_e2_and_g_sharp_2() -> None:
    key = np.arange(1, 89)
    lowest = int(key[np.argmin(typical_inharmonicity_b(key))])
    assert 20 <= lowest <= 24


def test_partial_rho_of_a_note_meets_the_partial_of_a4_it_is_tuned_to() -> None:
    key = np.arange(1, 89)
    b = typical_inharmonicity_b(key)
    b_a4 = float(b[48])
    stretch = natural_stretch(key, inharmonicity_b=b, a4_inharmonicity_b=b_a4, octave_type_k=2.0)
    f0_hz = equal_tempered_hz(key, a4_hz=440.0) * ratio_from_cents(stretch.f0_cents)
    low = key <= 10  # erf is within 0.5 % of -1 only at the very bottom, where ρ is K
    rho = 2.0
    ratio = np.exp2((key - 49) / 12)
    of_note = rho * f0_hz * np.sqrt(1 + b * rho**2)
    of_a4 = ratio * rho * f0_hz[48] * np.sqrt(1 + b_a4 * (ratio * rho) ** 2)
    assert_close(of_note[low], of_a4[low], rtol=3e-5, atol=0, why="ρ is up to 1 % from K: 0.05 cent")
