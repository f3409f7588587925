from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.unit.physics.pin_fields import field, pin

from strikeline.physics.pin_pattern import (
    Pattern,
    chance_of_so_few_runs,
    find_pattern,
    weaker_than_neighbours,
)

WEAK, FIRM = 4.0, 9.0


def runs_of(row: np.ndarray) -> int:
    return int(np.sum(np.diff(np.concatenate([[0], row.astype(int)])) == 1))


@pytest.mark.parametrize("lengths", [(9,), (5, 4), (3, 3, 3), (6, 1, 2)])
@pytest.mark.parametrize("n_weak", [1, 3, 5])
def test_the_chance_of_runs_is_that_of_counting_every_arrangement(lengths: tuple[int, ...], n_weak: int) -> None:
    cuts = np.cumsum(lengths)[:-1]
    arrangements = []
    for places in combinations(range(sum(lengths)), n_weak):
        marks = np.zeros(sum(lengths), dtype=bool)
        marks[list(places)] = True
        arrangements.append(np.split(marks, cuts))
    counts = np.array([sum(runs_of(row) for row in rows) for rows in arrangements])
    for rows, n_runs in zip(arrangements[::7], counts[::7], strict=True):
        by_counting = float(np.mean(counts <= n_runs))
        assert_close(chance_of_so_few_runs(rows), by_counting, rtol=1e-9, atol=0, why="exact; logarithms of factorials")


def test_a_field_without_a_pattern_is_called_one_at_most_once_in_twenty() -> None:
    n = 300
    alarms = [find_pattern(field(seed)).pattern not in {Pattern.SCATTERED, Pattern.CANNOT_TELL} for seed in range(n)]
    # 5 % of 300 are 15; three standard deviations of such a count are 11.
    assert sum(alarms) <= 26, f"{sum(alarms)} of {n}"


def test_a_run_of_nine_slipped_pins_is_found_where_it_is() -> None:
    found = [find_pattern(field(seed, run=range(15, 24))) for seed in range(60)]
    told = [one for one in found if one.pattern is Pattern.RUNS]
    assert len(told) >= 48, f"{len(told)} of 60"
    for one in told:
        assert one.runs[0].row == "row 1"
        assert one.runs[0].is_at_frame is True
        assert set(range(one.runs[0].first_key, one.runs[0].last_key + 1)) & set(range(15, 24))


def test_a_weak_row_and_a_weak_end_are_told_from_runs() -> None:
    rows = [find_pattern(field(seed, row_drop_nm=2.5)) for seed in range(40)]
    ends = [find_pattern(field(seed, slope_nm=2.5)) for seed in range(40)]
    assert sum(one.pattern is Pattern.ONE_ROW for one in rows) >= 34
    assert {one.weak_row for one in rows if one.pattern is Pattern.ONE_ROW} == {"row 1"}
    assert sum(one.pattern is Pattern.ONE_END for one in ends) >= 30
    assert {one.towards for one in ends if one.pattern is Pattern.ONE_END} == {"bass"}
    assert sum(Pattern.RUNS in (one.pattern, *one.also) for one in [*rows, *ends]) <= 8, "1 in 20 of 80, and 2 sd"


def test_three_weak_pins_are_too_few_to_tell() -> None:
    pins = [pin(key, WEAK if key in {3, 4, 5} else FIRM) for key in range(1, 31)]
    told = find_pattern(pins)
    assert told.pattern is Pattern.CANNOT_TELL
    assert told.cannot_tell is not None
    assert "too few weak pins: 3" in told.cannot_tell


def test_a_handful_of_pins_has_no_pattern() -> None:
    told = find_pattern([pin(key, WEAK if key < 5 else FIRM) for key in range(1, 13)])
    assert told.pattern is Pattern.CANNOT_TELL


def test_where_half_are_weak_the_lower_limit_is_looked_at() -> None:
    pins = [pin(key, 2.0 if 5 <= key <= 12 else WEAK) for key in range(1, 41)]
    told = find_pattern(pins)
    assert_close(told.below_nm, 30 * 0.1129848, rtol=1e-6, atol=0, why="30 in-lb in newton metres")
    assert told.pattern is Pattern.RUNS
    assert (told.runs[0].first_key, told.runs[0].last_key, told.runs[0].n) == (5, 12, 8)


def test_a_field_weak_all_over_needs_no_pattern() -> None:
    assert find_pattern([pin(key, 2.0) for key in range(1, 41)]).pattern is Pattern.NEARLY_ALL


def test_the_order_of_the_table_does_not_matter() -> None:
    pins = field(3, run=range(15, 24))
    shuffled = [pins[i] for i in np.random.default_rng(0).permutation(len(pins))]
    assert find_pattern(shuffled) == find_pattern(pins)


@pytest.mark.parametrize("is_long_tailed", [False, True])
def test_even_fields_have_a_lonely_pin_at_most_once_in_twenty(is_long_tailed: bool) -> None:
    n = 300
    alarms = sum(bool(weaker_than_neighbours(field(seed, is_long_tailed=is_long_tailed))) for seed in range(n))
    assert alarms <= 26, f"{alarms} of {n}: 5 % and three standard deviations"


def test_a_pin_that_slipped_alone_is_named_with_its_neighbours() -> None:
    pins = [pin(key, 9.0 + 0.3 * np.sin(7.0 * key)) for key in range(1, 41)]
    pins[19] = pin(20, 5.0)
    (lonely,) = weaker_than_neighbours(pins)
    assert lonely.key == 20
    assert_close(lonely.neighbours_nm, 9.0, rtol=0, atol=0.3, why="the field is even within 0.3")
