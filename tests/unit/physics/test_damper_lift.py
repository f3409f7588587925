"""Damper timing: shares of travel, and how even a set is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.damper_lift import key_travel_mm, later_hammer_mm, own_scatter


@given(start=st.floats(0, 100), wanted=st.floats(0, 100), blow=st.floats(20, 60), ratio=st.floats(3, 8))
def test_the_correction_brings_the_start_to_where_it_was_wanted(
    start: float, wanted: float, blow: float, ratio: float
) -> None:
    later = float(later_hammer_mm(start_pct=start, wanted_pct=wanted, blow_mm=blow))
    assert_close(start * blow / 100 + later, wanted * blow / 100, rtol=0, atol=1e-9, why="along the blow; rounding")
    key = float(key_travel_mm(hammer_mm=later, ratio=ratio))
    assert_close(key * ratio, later, rtol=1e-12, atol=1e-300, why="R is hammer over key")


def test_shares_outside_the_blow_are_refused() -> None:
    with pytest.raises(InputError, match=r"start_pct.*0 to 100 %"):
        later_hammer_mm(start_pct=120.0, wanted_pct=50.0, blow_mm=45.0)
    with pytest.raises(InputError, match="ratio"):
        key_travel_mm(hammer_mm=1.0, ratio=0.0)


@pytest.mark.parametrize("n", [8, 30])
@pytest.mark.parametrize("truth", [0.5, 1.5])
def test_the_scatter_of_reading_is_taken_away_and_the_error_is_honest(truth: float, n: int) -> None:
    rng = np.random.default_rng(9)
    found = []
    for _trial in range(800):
        read = rng.normal(0, truth, n) + rng.normal(0, 0.25, n)
        one = own_scatter([Measured(float(value), 0.25) for value in read], about=n * [0.0], n_fitted=0)
        assert one is not None
        found.append((one.value, one.se))
    values, errors = np.array(found).T
    assert_close(
        np.sqrt(np.mean(values**2)),
        truth,
        rtol=0.03 * np.sqrt(30 / n),
        atol=0,
        why="square is unbiased; three se of 800 trials",
    )
    inside = np.mean(np.abs(values - truth) < 1.96 * errors)
    # Binomial spread of 800 trials at 95 % is 0.8 %; a chi-square is skew, so a symmetric interval misses a little.
    assert 0.925 < inside < 0.985


def test_dampers_that_leave_together_scatter_by_nothing_that_can_be_told() -> None:
    rng = np.random.default_rng(2)
    read = [Measured(float(value), 0.25) for value in rng.normal(0, 0.25, 40)]
    one = own_scatter(read, about=40 * [0.0], n_fitted=0)
    assert one is not None
    assert one.value < 1.96 * one.se
    assert own_scatter(read[:6], about=6 * [0.0], n_fitted=2) is None
