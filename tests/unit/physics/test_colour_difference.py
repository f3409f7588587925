"""Differences told from noisy colours: how often they are right, and when they are not told."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.colour import difference_ciede2000
from strikeline.physics.colour_difference import ColourDifference, Seen, colour_difference, passes
from strikeline.physics.colour_seen import SeenColours

BROWN = np.array([45.0, 5.0, 18.0])
N = 300


def colours(labs: NDArray[np.float64], covariance: NDArray[np.float64]) -> SeenColours:
    whole = np.zeros((2, 3, 2, 3))
    whole[0, :, 0] = whole[1, :, 1] = covariance
    noise = np.array([covariance, covariance])
    return SeenColours(names=("a", "b"), lab=labs, covariance=whole, noise=noise, spread=np.zeros((2, 3)))


def draws(size: float) -> list[tuple[float, ColourDifference]]:
    """Return true and told differences of pairs that lie `size` apart in any direction, with noise of any shape."""
    rng = np.random.default_rng(int(10 * size))
    found = []
    for _ in range(N):
        apart = rng.normal(size=3)
        apart *= size / np.linalg.norm(apart)
        shape = 0.25 * rng.normal(size=(3, 3))
        covariance = shape @ shape.T + 0.02 * np.eye(3)
        true = np.array([BROWN - apart / 2.0, BROWN + apart / 2.0])
        seen = true + rng.multivariate_normal(np.zeros(3), covariance, size=2)
        told = colour_difference(colours(seen, covariance), "a", "b")
        found.append((float(difference_ciede2000(*true)), told))
    return found


@pytest.mark.parametrize("size", [3.0, 8.0])
def test_the_error_holds_the_truth_in_95_of_100(size: float) -> None:
    told = [(true, one.de00) for true, one in draws(size) if one.de00 is not None]
    assert len(told) > 0.9 * N, "enough of them are told at all"
    inside = np.mean([abs(one.value - true) < 1.96 * one.se for true, one in told])
    assert_close(inside, 0.95, rtol=0, atol=0.038, why="three standard deviations of 300 draws")
    # In units, not in standard errors: those grow with the difference seen, which tilts their ratio.
    mean_error = np.mean([one.value - true for true, one in told])
    mean_se = np.mean([one.se for _, one in told])
    assert abs(mean_error) < 3.0 * mean_se / np.sqrt(len(told)), "what noise adds is taken away"


def test_where_nothing_differs_a_figure_is_given_in_at_most_5_of_100() -> None:
    assert sum(one.de00 is not None for _, one in draws(0.0)) < 0.05 * N + 3 * np.sqrt(0.05 * 0.95 * N)


@pytest.mark.parametrize("size", [0.0, 0.8, 3.0, 8.0])
def test_it_stays_below_what_is_said_in_95_of_100(size: float) -> None:
    below = np.mean([true <= one.at_most_de00 for true, one in draws(size)])
    assert below > 0.95 - 3 * np.sqrt(0.95 * 0.05 / N)


@pytest.mark.parametrize(
    ("apart", "seen", "wood"),
    [
        (0.1, Seen.NOT_SEEN, "invisible"),
        (1.4, Seen.SEEN, "very small"),
        (2.5, Seen.NOT_ACCEPTED, "small"),
        (4.5, Seen.NOT_ACCEPTED, "medium"),
        (9.0, Seen.NOT_ACCEPTED, "large"),
        (15.0, Seen.NOT_ACCEPTED, "another colour"),
    ],
)
def test_words_go_with_the_figure_where_it_is_sure(apart: float, seen: Seen, wood: str) -> None:
    labs = np.array([[50.0, 0.0, 0.0], [50.0 + apart, 0.0, 0.0]])
    told = colour_difference(colours(labs, 1e-4 * np.eye(3)), "a", "b")
    assert told.seen is seen
    assert told.wood_class == wood


def test_words_are_not_given_where_the_error_reaches_over_a_limit() -> None:
    labs = np.array([[50.0, 0.0, 0.0], [51.9, 0.0, 0.0]])
    told = colour_difference(colours(labs, 0.05 * np.eye(3)), "a", "b")
    assert told.seen is Seen.CANNOT_TELL
    assert told.de00 is not None


def test_a_limit_is_passed_or_failed_only_for_sure() -> None:
    def told(apart: float) -> bool | None:
        labs = np.array([[50.0, 0.0, 0.0], [50.0 + apart, 0.0, 0.0]])
        return passes(colour_difference(colours(labs, 0.02 * np.eye(3)), "a", "b"), 3.0)

    assert told(1.0) is True
    assert told(3.05) is None
    assert told(5.0) is False


def test_directions_are_those_from_the_first_to_the_second() -> None:
    labs = np.array([[50.0, 5.0, 20.0], [55.0, 4.0, 17.0]])
    told = colour_difference(colours(labs, 0.01 * np.eye(3)), "a", "b")
    found = [told.lightness.value, told.redness.value, told.yellowness.value]
    assert_close(found, [5.0, -1.0, -3.0], rtol=0, atol=1e-12, why="differences")
    assert told.lightness == Measured(told.lightness.value, float(np.sqrt(0.02)))


def test_errors_that_both_colours_share_do_not_blur_their_difference() -> None:
    labs = np.array([[50.0, 5.0, 20.0], [52.0, 5.0, 20.0]])
    one = colours(labs, 0.01 * np.eye(3))
    whole = one.covariance.copy()
    for i in range(2):
        for j in range(2):
            whole[i, :, j] += 9.0 * np.eye(3)
    shared = SeenColours(names=one.names, lab=labs, covariance=whole, noise=one.noise, spread=one.spread)
    apart, together = (colour_difference(each, "a", "b").de00 for each in (one, shared))
    assert apart is not None
    assert together is not None
    assert_close(together.se, apart.se, rtol=1e-6, atol=0, why="what is shared moves both alike")


def test_names_that_are_not_there_are_refused() -> None:
    with pytest.raises(InputError, match="patch"):
        colour_difference(colours(np.zeros((2, 3)), np.eye(3)), "a", "c")
