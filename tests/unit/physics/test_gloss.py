"""Gloss: the angle, the class, and what an eye sees."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.gloss import (
    GlossClass,
    GlossSeen,
    PlaceGloss,
    angle_for,
    gloss_class,
    gloss_difference,
    mean_reading,
    place_gloss,
)


def place(name: str, **by_angle: float) -> PlaceGloss:
    readings = {int(angle.removeprefix("at")): Measured(value, 0.2) for angle, value in by_angle.items()}
    return place_gloss(name, readings, n_readings=dict.fromkeys(readings, 5))


@pytest.mark.parametrize(("gloss", "angle"), [(95.0, 20), (70.1, 20), (70.0, 60), (35.0, 60), (10.0, 60), (9.9, 85)])
def test_the_angle_goes_by_the_reading_at_60_degrees(gloss: float, angle: int) -> None:
    assert angle_for(Measured(gloss, 1.0)) == angle


def test_the_standards_example_of_one_finish_at_three_angles_asks_for_20_degrees() -> None:
    # Class 9 in the preview of ISO 2813:2014 reads 35, 70 and 95 GU at 20, 60 and 85 degrees: just at the limit.
    assert angle_for(Measured(70.0, 0.0)) == 60
    assert gloss_class(Measured(70.0, 1.0)) is GlossClass.CANNOT_TELL


@pytest.mark.parametrize(("gloss", "kind"), [(85.0, GlossClass.HIGH), (40.0, GlossClass.MEDIUM), (5.0, GlossClass.LOW)])
def test_classes_go_by_the_reading_at_60_degrees(gloss: float, kind: GlossClass) -> None:
    assert gloss_class(Measured(gloss, 1.0)) is kind


@pytest.mark.parametrize("n", [3, 5, 10])
def test_the_error_of_a_mean_holds_the_truth_in_95_of_100(n: int) -> None:
    rng = np.random.default_rng(n)
    means = [mean_reading(list(50.0 + 2.0 * rng.normal(size=n)), single_half_width=3.0) for _ in range(2000)]
    inside = np.mean([abs(one.value - 50.0) < 1.96 * one.se for one in means])
    assert_close(inside, 0.95, rtol=0, atol=0.015, why="three standard deviations of 2000 draws")


def test_one_or_two_readings_are_as_good_as_a_careful_hand() -> None:
    assert_close(mean_reading([50.0], single_half_width=3.0).se, 3.0 / 1.96, rtol=1e-12, atol=0, why="the definition")
    assert_close(
        mean_reading([50.0, 50.0], single_half_width=3.0).se, 3.0 / 1.96 / 2**0.5, rtol=1e-12, atol=0, why="two of them"
    )
    assert mean_reading([50.0] * 5, single_half_width=3.0).se > 0, "a meter has steps"


def test_places_are_compared_at_the_angle_the_first_asks_for() -> None:
    told = gloss_difference(place("a", at60=80.0, at20=60.0), place("b", at60=76.0, at20=48.0))
    assert told is not None
    assert told.angle_deg == 20
    assert told.is_right_angle
    assert_close(told.difference.value, -12.0, rtol=0, atol=1e-12, why="a difference")
    assert told.seen is GlossSeen.SEEN


def test_the_wrong_angle_is_used_only_where_the_right_one_lacks_and_that_is_said() -> None:
    told = gloss_difference(place("a", at60=80.0), place("b", at60=76.0))
    assert told is not None
    assert told.angle_deg == 60
    assert not told.is_right_angle
    assert told.seen is GlossSeen.NOT_SEEN


@pytest.mark.parametrize(
    ("one", "other", "seen"),
    [
        (40.0, 46.0, GlossSeen.SEEN),
        (40.0, 44.0, GlossSeen.NOT_SEEN),
        (40.0, 45.2, GlossSeen.CANNOT_TELL),
        (4.0, 8.0, GlossSeen.SEEN),
        (4.0, 6.0, GlossSeen.NOT_SEEN),
    ],
)
def test_five_units_are_seen_and_three_on_matt_surfaces(one: float, other: float, seen: GlossSeen) -> None:
    told = gloss_difference(place("a", at60=one), place("b", at60=other))
    assert told is not None
    assert told.seen is seen


def test_without_a_common_angle_nothing_is_compared() -> None:
    assert gloss_difference(place("a", at60=40.0), place("b", at85=40.0)) is None


def test_other_angles_and_impossible_readings_are_refused() -> None:
    with pytest.raises(InputError, match="angle"):
        place("a", at45=40.0)
    with pytest.raises(InputError, match="readings"):
        mean_reading([-1.0], single_half_width=3.0)
    with pytest.raises(InputError, match="readings"):
        mean_reading([], single_half_width=3.0)
