"""The mean of the strings' offsets over the partials: its errors hold whatever the partials' own scatter is."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.unison_offsets import MeanOffsets, mean_offsets
from strikeline.acoustics.unison_strings import PartialStrings

TRUE_CENTS = np.array([-0.6, -0.1, 0.7])


def partial_strings(n: int, cents: NDArray[np.float64], *, sd_cents: float) -> PartialStrings:
    return PartialStrings(
        partial=n,
        offset_cents=cents.astype(np.complex128),
        offset_sd_cents=sd_cents,
        share=np.ones(cents.size, dtype=np.complex128),
        mean_hz=440.0 * n,
        mean_sd_cents=sd_cents,
        coupling_per_s=0.5 + 0.0j,
        faintest_mode_ratio=1.0,
        next_mode_ratio=0.0,
    )


def drawn(
    rng: np.random.Generator, *, n_partials: int, scatter_cents: float, n_strings: int = 3, sd_cents: float = 0.01
) -> MeanOffsets:
    """Return what comes of strings whose partials stray, each string's by itself."""
    true = TRUE_CENTS if n_strings == 3 else np.array([-0.6, 0.6])
    partials = []
    for n in range(1, n_partials + 1):
        error = np.hypot(scatter_cents, sd_cents) * rng.standard_normal(n_strings)
        partials.append(partial_strings(n, true + error - error.mean(), sd_cents=sd_cents))
    return mean_offsets(partials, inharmonicity_b=3e-4)


@pytest.mark.parametrize("n_strings", [2, 3])
@pytest.mark.parametrize(("n_partials", "fewest"), [(2, 170), (4, 183), (8, 183)])
@pytest.mark.parametrize("scatter_cents", [0.0, 0.03, 0.11])
def test_spreads_lie_within_their_errors_whatever_the_scatter_and_however_few_partials(
    n_strings: int, n_partials: int, fewest: int, scatter_cents: float
) -> None:
    rng = np.random.default_rng([n_strings, n_partials, round(1e3 * scatter_cents)])
    true = 1.3 if n_strings == 3 else 1.2
    seen = [drawn(rng, n_partials=n_partials, scatter_cents=scatter_cents, n_strings=n_strings) for _ in range(200)]
    error = np.array([one.cents[-1] - one.cents[0] - true for one in seen])
    se = np.sqrt(2.0) * np.array([one.se_cents for one in seen])
    # Of 200, 190 are expected; fewer than 183 come once in 70 times if 95 % is right. Two partials say so little of a
    # scatter that the prior speaks, too: averaged over it 95 % hold, at its upper end nine in ten.
    assert np.sum(np.abs(error) <= 1.96 * se) >= fewest


@pytest.mark.parametrize("scatter_cents", [0.03, 0.1])
def test_many_partials_tell_their_scatter(scatter_cents: float) -> None:
    rng = np.random.default_rng(5)
    told = [drawn(rng, n_partials=8, scatter_cents=scatter_cents).scatter_cents for _ in range(50)]
    assert_close(
        np.median(told), scatter_cents, rtol=0.15, atol=0, why="50 medians of 14 degrees of freedom: 4 %, and the prior"
    )


def test_partials_that_agree_leave_the_smaller_error() -> None:
    rng = np.random.default_rng(6)
    alike, apart = (drawn(rng, n_partials=6, scatter_cents=scatter) for scatter in (0.0, 0.1))
    assert alike.se_cents < 0.5 * apart.se_cents


def test_two_partials_that_happen_to_agree_are_not_taken_for_proof_that_all_would() -> None:
    few, many = (
        mean_offsets([partial_strings(n, TRUE_CENTS, sd_cents=0.005) for n in range(1, 1 + k)], inharmonicity_b=3e-4)
        for k in (2, 8)
    )
    assert few.se_cents > 1.2 * many.se_cents


def test_strings_that_differ_in_stiffness_are_told_from_strings_that_differ_in_pitch() -> None:
    """Two strings 1 cent apart whose B differ by 2 % part, or meet, as n²: 0.5·1731·0.02·B·n² cent."""
    b = 4e-3
    partials = []
    for n in range(1, 9):
        bent = 0.5 * 1731.23 * 0.02 * b * n**2
        partials.append(partial_strings(n, np.array([-0.5 - bent / 2, 0.5 + bent / 2]), sd_cents=0.005))
    found = mean_offsets(partials, inharmonicity_b=b)
    se = np.sqrt(2.0) * found.se_cents
    assert_close(found.cents[-1] - found.cents[0], 1.0, rtol=0, atol=1.96 * se, why="its own error, at 95 of 100")
    assert se < 0.1
