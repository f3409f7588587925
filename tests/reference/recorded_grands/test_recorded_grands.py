"""Is the invented upright believable beside two recorded grands?"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz, key_from_name
from strikeline.synthesis.instrument import upright_1920s
from strikeline.synthesis.unison import couple_strings
from strikeline.units import DB_PER_NEPER

FOLDER = Path(__file__).parent
UPRIGHT = upright_1920s(7)


def test_b_in_the_plain_strings_is_that_of_a_piano() -> None:
    for row in csv.DictReader((FOLDER / "inharmonicity.csv").read_text().splitlines()):
        grands = np.mean([float(row["grand_i"]), float(row["grand_s"])])
        b = UPRIGHT[key_from_name(row["note"])].unison.inharmonicity_b
        assert_close(b, grands, rtol=0.2, atol=0, why="four grands agree within 8 %, C7 is less certain")


def test_b_steps_up_at_the_break() -> None:
    last_wound, first_plain = UPRIGHT[28].unison, UPRIGHT[29].unison
    assert last_wound.is_wound
    assert not first_plain.is_wound
    step = first_plain.inharmonicity_b / last_wound.inharmonicity_b
    assert 1.1 < step < 1.7, "grand I: 1.33"


def test_the_aftersound_falls_as_slowly_as_on_recorded_grands() -> None:
    for row in csv.DictReader((FOLDER / "late_slope.csv").read_text().splitlines()):
        key = key_from_name(row["note"])
        unison = UPRIGHT[key].unison
        unison = replace(unison, f0_hz=(unison.mean_f0_hz,) * unison.n_strings)  # loose unisons have no aftersound
        first = np.array([1])
        admittance = UPRIGHT.soundboard.admittance_s_per_kg(key, equal_tempered_hz(first + key - 1, a4_hz=435.0))
        modes = couple_strings(unison, first, admittance_s_per_kg=admittance, share=(1.0, 1.0, 1.0))
        late_db_per_s = DB_PER_NEPER * np.min(-modes.pole_per_s.real)
        slopes = np.array([float(row["grand_i_db_per_s"]), float(row["grand_s_db_per_s"])])
        assert slopes.min() / 2 < late_db_per_s < 2 * slopes.max(), "neighbouring notes scatter by a factor of two"
