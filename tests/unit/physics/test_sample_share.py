"""How often what a sample says of a set holds."""

from __future__ import annotations

import numpy as np
import pytest

from strikeline.errors import InputError
from strikeline.physics.sample_share import count_interval, share_interval


@pytest.mark.parametrize(
    ("n_read", "n_all", "n_bad"), [(8, 88, 20), (8, 88, 40), (16, 88, 22), (16, 88, 5), (40, 88, 20), (60, 88, 30)]
)
def test_the_count_in_the_set_lies_within_as_often_as_said(n_read: int, n_all: int, n_bad: int) -> None:
    rng = np.random.default_rng(1927)
    hits, n = 0, 3000
    for drawn in rng.hypergeometric(n_bad, n_all - n_bad, n_read, size=n):
        fewest, _likely, most = count_interval(n_of_kind=int(drawn), n_read=n_read, n_all=n_all)
        # Counts are whole: an end at 9.6 allows for 10.
        hits += fewest - 0.5 <= n_bad <= most + 0.5
    # Wilson's interval holds 95 % on the average over shares; on single ones a count moves it by a few per cent
    # (L. D. Brown, T. T. Cai and A. DasGupta, Stat. Sci. 16, 101-133 (2001), from memory).
    assert hits / n >= 0.92


def test_a_set_that_was_read_as_a_whole_leaves_nothing_open() -> None:
    assert count_interval(n_of_kind=3, n_read=20, n_all=20) == (3.0, 3.0, 3.0)


def test_what_was_read_bounds_the_count() -> None:
    fewest, likely, most = count_interval(n_of_kind=1, n_read=80, n_all=88)
    assert 1.0 <= fewest <= likely <= most <= 9.0


def test_wilsons_interval_of_a_known_case() -> None:
    # Closed form at a share of one half: the middle stays, the half-width is z/2 · sqrt(1/(n + z²)).
    low, high = share_interval(8, 16)
    assert abs(low + high - 1.0) < 1e-12
    assert abs((high - low) - 1.96 / np.sqrt(16 + 1.96**2)) < 1e-12


@pytest.mark.parametrize("counts", [(3, 2, 88), (1, 0, 88), (1, 5, 4), (-1, 5, 9)])
def test_counts_that_do_not_go_together_are_refused(counts: tuple[int, int, int]) -> None:
    with pytest.raises(InputError):
        count_interval(n_of_kind=counts[0], n_read=counts[1], n_all=counts[2])
    with pytest.raises(InputError):
        share_interval(3, 2)
