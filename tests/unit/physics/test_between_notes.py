from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.between_notes import between_notes


def wander(seed: int, q: float = 0.1, n: int = 60) -> np.ndarray:
    return 1.0 + np.cumsum(np.random.default_rng(seed).normal(0.0, q, n))


def test_between_two_sure_notes_the_guess_is_the_straight_line() -> None:
    told = between_notes(
        {1: Measured(0.0, 1e-9), 11: Measured(1.0, 1e-9), 21: Measured(0.0, 1e-9), 31: Measured(1.0, 1e-9)}
    )
    assert_close(told.value[:11], np.linspace(0, 1, 11), rtol=0, atol=1e-6, why="the mean of a walk between two ends")
    assert told.at(6).se > told.at(3).se > told.at(1).se, "half-way is least sure"


def test_a_note_outside_is_refused() -> None:
    told = between_notes({k: Measured(1.0, 0.1) for k in (1, 5, 9, 13)})
    with pytest.raises(InputError, match="key"):
        told.at(14)


def test_three_notes_are_too_few() -> None:
    with pytest.raises(InputError, match="measured"):
        between_notes({k: Measured(1.0, 0.1) for k in (1, 5, 9)})


@pytest.mark.parametrize("readings", [(1.0, 1.0, 1.0, 1.0), (1.0, 1.001, 0.999, 1.0)])
def test_readings_that_agree_by_luck_are_no_reason_for_certainty(readings: tuple[float, ...]) -> None:
    told = between_notes({k: Measured(one, 0.1) for k, one in zip((1, 11, 21, 31), readings, strict=True)})
    assert told.at(6).se > 0.06, "more than four readings of 0.1 averaged, for they may have wandered unseen"


def test_exact_readings_that_agree_leave_a_share_of_themselves_open() -> None:
    told = between_notes({k: Measured(0.02, 0.0) for k in (1, 11, 21, 31)})
    assert 0.0 < told.at(6).se < 0.02


def test_errors_are_honest_for_notes_and_for_sums() -> None:
    # 120 walks of 60 notes, eight of them measured with an error of 0.1: the truth lies within 1.96 se in 95 of 100.
    inside_note = inside_sum = 0
    n = 120
    for seed in range(n):
        truth = wander(seed)
        rng = np.random.default_rng([seed, 1])
        at = np.linspace(0, 59, 8).astype(int)
        told = between_notes({int(k) + 1: Measured(float(truth[k] + rng.normal(0, 0.1)), 0.1) for k in at})
        inside_note += not told.at(13).differs_from(float(truth[12]))
        total = Measured(float(told.value.sum()), float(np.sqrt(told.covariance.sum())))
        inside_sum += not total.differs_from(float(truth.sum()))
    for inside in (inside_note, inside_sum):
        # 3 standard deviations of a count with 95 %: 7 of 120; unknown wander makes errors a little generous.
        assert 0.95 * n - 7 <= inside, f"{inside} of {n}"
