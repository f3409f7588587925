"""Shape of the stretch: Railsback (1938), and the model of Rigaud et al. (2011) on the same B."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.keyboard import key_from_name
from strikeline.physics.inharmonicity_curve import InharmonicityCurve, exact_curve, inharmonicity_curve
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b
from strikeline.physics.temperaments import TEMPERAMENTS
from strikeline.physics.tuning_leanings import LEANINGS
from strikeline.physics.tuning_targets import TuningTargets, tuning_targets

HERE = Path(__file__).parent
CURVE = {
    key_from_name(row["note"]): float(row["cents"])
    for row in csv.DictReader((HERE / "curve.csv").read_text().splitlines())
}
GRAND = list(csv.DictReader((HERE.parent / "recorded_grands" / "grand_i_survey.csv").read_text().splitlines()))
KEYS = np.arange(1, 89)
LAST_BASS_KEY = key_from_name("E2")


def recorded_grand() -> InharmonicityCurve:
    b = np.array([float(row["inharmonicity_b"]) for row in GRAND])
    keys = [key_from_name(row["note"]) for row in GRAND]
    se = np.where(np.array(keys) > key_from_name("C5"), 0.02, 0.005) * b  # as SOURCE.md there says
    return inharmonicity_curve(
        KEYS, measured_key=keys, measured_b=b, measured_b_se=se, sections_end_after=[LAST_BASS_KEY]
    )


PIANOS = {
    "recorded grand": recorded_grand(),
    "model of B": exact_curve(KEYS, inharmonicity_b=typical_inharmonicity_b(KEYS)),
}


def targets(curve: InharmonicityCurve, leaning: str) -> TuningTargets:
    return tuning_targets(curve, temperament=TEMPERAMENTS["equal"], leaning=LEANINGS[leaning], a4_hz=440.0)


@pytest.mark.parametrize("piano", PIANOS)
@pytest.mark.parametrize("leaning", LEANINGS)
def test_the_stretch_has_the_shape_of_railsback(piano: str, leaning: str) -> None:
    made = targets(PIANOS[piano], leaning).stretch_cents
    ours = np.array([made[key - 1] for key in CURVE])
    theirs = np.array(list(CURVE.values()))
    assert (np.diff(ours) > 0).all(), "rises from octave to octave"
    assert -35.0 < ours[0] < -5.0
    assert 20.0 < ours[-1] < 50.0
    middle = np.abs([made[key - 1] for key in range(25, 58)])
    assert middle.max() < 5.0, "Rigaud 2013: within 5 cents in the middle; Railsback is at 5 on A5 itself"
    assert np.corrcoef(ours, theirs)[0, 1] > 0.9
    # Steepest at the ends: the two outer octaves each rise more than the two of the middle together.
    rises = np.diff(ours[:-1])
    assert min(rises[0], rises[-1]) > rises[2] + rises[3]


def test_the_stretch_runs_as_the_model_of_rigaud_on_the_same_b() -> None:
    for curve in PIANOS.values():
        b = curve.smooth_b
        model = natural_stretch(KEYS, inharmonicity_b=b, a4_inharmonicity_b=float(b[48])).first_partial_cents
        ours = targets(curve, "middle").stretch_cents
        inner = slice(12, 76)  # A1 to C7; at the ends the two choose other octave types
        assert_close(ours[inner], model[inner], rtol=0, atol=3.0, why="two criteria; both leave octaves 1 to 3 cents")
        assert np.corrcoef(ours[inner], model[inner])[0, 1] > 0.97
