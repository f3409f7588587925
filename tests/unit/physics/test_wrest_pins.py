from __future__ import annotations

from math import comb

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.unit.physics.pin_fields import field, pin

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.wrest_pins import (
    CLASS_LIMITS,
    GripClass,
    describe_field,
    grip_class,
    grip_of_both,
    share_interval,
    string_moment_nm,
)


def tail(n: int, k: int, p: float) -> float:
    """Probability of k or more of n."""
    return sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))


@pytest.mark.parametrize(("k", "n"), [(1, 12), (3, 20), (11, 40), (19, 20)])
def test_the_range_of_a_share_is_where_the_tails_are_a_fortieth(k: int, n: int) -> None:
    low, high = share_interval(k, n)
    why = "Clopper and Pearson's definition; the inverse of a beta distribution to 1e-9"
    assert_close([tail(n, k, low), 1 - tail(n, k + 1, high)], [0.025, 0.025], rtol=1e-7, atol=0, why=why)


def test_none_and_all_reach_the_ends() -> None:
    assert share_interval(0, 10)[0] == 0.0
    assert share_interval(10, 10)[1] == 1.0


def test_the_range_holds_the_truth_for_a_known_piano() -> None:
    # 220 pins of which 40 are weak, 60 of them read: counted over every possible sample by its probability.
    n_all, weak, n = 220, 40, 60
    held = sum(
        comb(weak, k) * comb(n_all - weak, n - k) / comb(n_all, n)
        for k in range(n + 1)
        if k <= weak
        and share_interval(k, n, n_in_all=n_all)[0] <= weak / n_all <= share_interval(k, n, n_in_all=n_all)[1]
    )
    assert held >= 0.95
    assert held < 0.995, "a range that held everything would say nothing"


def test_a_survey_of_every_pin_leaves_no_range() -> None:
    assert share_interval(7, 30, n_in_all=30) == (7 / 30, 7 / 30)


@pytest.mark.parametrize(("k", "n", "of"), [(5, 4, None), (-1, 4, None), (1, 4, 3), (0, 0, None)])
def test_counts_that_do_not_fit_are_refused(k: int, n: int, of: int | None) -> None:
    with pytest.raises(InputError):
        share_interval(k, n, n_in_all=of)


def test_a_pin_read_as_a_limit_belongs_above_it() -> None:
    in_lb = 0.45359237 * 9.80665 * 0.0254
    assert grip_class(50.0 * in_lb) is GripClass.SERVICEABLE
    assert grip_class(49.9 * in_lb) is GripClass.MARGINAL
    assert [limit.below_in_lb for limit in CLASS_LIMITS] == sorted(limit.below_in_lb for limit in CLASS_LIMITS)


def test_both_directions_give_grip_and_string_apart() -> None:
    moment = float(string_moment_nm(tension_n=720.0, pin_diameter_mm=7.1, wire_diameter_mm=1.0))
    grip = grip_of_both(Measured(8.0 + moment, 0.3), Measured(8.0 - moment, 0.4))
    assert_close([grip.value, grip.se], [8.0, 0.25], rtol=1e-12, atol=0, why="half the sum; 3, 4, 5")


def test_a_field_is_described_by_its_counts() -> None:
    pins = [pin(key, torque) for key, torque in enumerate([2.0, 4.0, 5.0, 6.0, 7.0, 10.0, 12.0, 18.0], start=1)]
    told = describe_field(pins, n_in_piano=100)
    assert dict(told.classes) == {
        GripClass.FAILING: 1,
        GripClass.MARGINAL: 2,
        GripClass.SERVICEABLE: 2,
        GripClass.FIRM: 2,
        GripClass.TOO_TIGHT: 1,
    }
    assert [share.n_below for share in told.shares] == [1, 3]
    assert (told.lowest_nm, told.highest_nm, told.n, told.n_in_piano) == (2.0, 18.0, 8, 100)


def test_pins_on_a_limit_are_counted() -> None:
    told = describe_field([pin(1, 5.5), pin(2, 5.8), pin(3, 9.0)])
    assert told.shares[1].n_on_limit == 2


def test_the_median_of_a_field_is_honest() -> None:
    inside = 0
    for seed in range(300):
        told = describe_field(field(seed, mean_nm=8.0, is_long_tailed=True, n_notes=20)).median_nm
        assert told is not None
        inside += not told.differs_from(8.0)
    assert inside >= 0.95 * 300 - 11, f"{inside} of 300: 3 standard deviations below 95 %"


def test_pins_that_read_alike_still_have_the_error_of_a_reading() -> None:
    told = describe_field([pin(key, 8.0) for key in range(1, 30)]).median_nm
    assert told is not None
    assert_close(told.se, 0.3, rtol=1e-9, atol=0, why="that of one reading; their order adds nothing")


def test_five_pins_have_no_median_with_an_error() -> None:
    assert describe_field([pin(key, 8.0) for key in range(1, 6)]).median_nm is None


def test_no_pins_are_refused() -> None:
    with pytest.raises(InputError, match="pins"):
        describe_field([])


def test_the_shares_of_random_samples_are_held() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(400):
        low, high = share_interval(int(rng.binomial(40, 0.2)), 40)
        held += low <= 0.2 <= high
    assert held >= 0.95 * 400 - 13
