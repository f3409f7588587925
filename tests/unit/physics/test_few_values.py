"""The middle of a few readings."""

from __future__ import annotations

import numpy as np
import pytest

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.few_values import median_of, scatter_for_few


@pytest.mark.parametrize("n", [2, 3, 5, 12])
def test_the_scatter_of_few_values_is_wide_enough_for_their_mean(n: int) -> None:
    rng = np.random.default_rng(1908)
    drawn = rng.normal(46.0, 0.7, (2000, n))
    hits = sum(abs(float(row.mean()) - 46.0) <= 1.96 * scatter_for_few(row) / np.sqrt(n) for row in drawn)
    # Student's t makes it 95 %; binomial spread of 2000 trials is 0.5 %.
    assert 0.935 <= hits / 2000 <= 0.965


def test_one_value_does_not_scatter() -> None:
    assert scatter_for_few(np.array([46.0])) == 0.0


@pytest.mark.parametrize("n", [1, 2, 3, 5, 12, 40])
def test_the_median_lies_within_its_error_as_often_as_said(n: int) -> None:
    rng = np.random.default_rng(46)
    hits = 0
    for row in rng.normal(46.0, 0.7, (1000, n)):
        # One note tells nothing of how notes scatter: there only its own error counts.
        found = median_of([Measured(float(value), 0.1 if n > 1 else 0.7) for value in row])
        hits += abs(found.value - 46.0) <= 1.96 * found.se
    # Binomial spread of 1000 trials is 0.7 %; a median of few is a little surer than √(π/2) says.
    assert 0.93 <= hits / 1000 <= 0.985


def test_nothing_has_no_middle() -> None:
    with pytest.raises(InputError):
        median_of([])
