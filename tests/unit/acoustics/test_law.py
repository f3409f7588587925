"""The stiff-string law fitted to partials: efficient for ideal strings, honest for real ones."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.law import LawFit, fit_law
from strikeline.physics.cramer_rao import string_bound
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.units import ratio_from_cents

F0_HZ, B = 220.0, 2.4e-4
N = np.arange(1.0, 21.0)


def fit(
    departure_cents: NDArray[np.float64],
    *,
    n: NDArray[np.float64] = N,
    se_cents: float = 0.1,
    known_scatter_cents: float | None = None,
    unruliness: NDArray[np.float64] | None = None,
    start_cents: float = 3.0,
    start_b: float = 1.3 * B,
) -> LawFit:
    f_hz = partial_frequencies_hz(n, f0_hz=F0_HZ, inharmonicity_b=B) * ratio_from_cents(departure_cents)
    return fit_law(
        n,
        f_hz=f_hz,
        se_cents=np.full(n.size, se_cents),
        f0_hz=F0_HZ * float(ratio_from_cents(start_cents)),
        inharmonicity_b=start_b,
        known_scatter_cents=known_scatter_cents,
        unruliness=unruliness,
    )


def normal(seed: int, size: int = N.size) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(size)


def test_partials_on_the_law_give_it_back() -> None:
    law = fit(np.zeros(N.size))
    assert_close(law.f0_hz, F0_HZ, rtol=1e-9, atol=0, why="Newton has converged")
    assert_close(law.inharmonicity_b, B, rtol=1e-7, atol=0, why="Newton has converged")
    assert law.scatter_cents == 0.0
    assert_close(law.weight, np.ones(N.size), rtol=0, atol=0, why="all obey")


@pytest.mark.parametrize("start_b", [0.3 * B, 3.0 * B])
@pytest.mark.parametrize("start_cents", [-20.0, 20.0])
def test_the_start_does_not_matter(start_b: float, start_cents: float) -> None:
    noisy = 0.1 * normal(3)
    near, far = fit(noisy), fit(noisy, start_b=start_b, start_cents=start_cents)
    assert_close(far.inharmonicity_b, near.inharmonicity_b, rtol=1e-6, atol=0, why="the same minimum")


def test_the_errors_claimed_in_noise_are_the_bound() -> None:
    law = fit(0.1 * normal(4))
    f_hz = partial_frequencies_hz(N, f0_hz=F0_HZ, inharmonicity_b=B)
    bound = string_bound(N, f0_hz=F0_HZ, inharmonicity_b=B, partial_sd_hz=f_hz * (ratio_from_cents(0.1) - 1.0))
    assert law.scatter_cents == 0.0
    assert_close(law.f0_se_hz, bound.f0_sd_hz, rtol=1e-3, atol=0, why="cents for hertz, first order")
    assert_close(law.b_se, bound.inharmonicity_b_sd, rtol=2e-3, atol=0, why="the same, at the B found")


def standardised(scatter_cents: float, n: NDArray[np.float64], known: float | None) -> NDArray[np.float64]:
    laws = [
        fit(scatter_cents * normal(seed, n.size), n=n, se_cents=0.05, known_scatter_cents=known) for seed in range(400)
    ]
    return np.array([((law.f0_hz - F0_HZ) / law.f0_se_hz, (law.inharmonicity_b - B) / law.b_se) for law in laws])


@pytest.mark.parametrize(("k", "known"), [(20, None), (8, None), (8, 1.0), (3, 1.0), (2, 1.0)])
def test_nineteen_in_twenty_hold_where_partials_scatter(k: int, known: float | None) -> None:
    share = np.mean(np.abs(standardised(1.0, np.arange(1.0, k + 1.0), known)) < 1.96, axis=0)
    assert np.all(share > 0.91), f"{share}: 95 % less 4 standard deviations of 400 trials"


def test_the_scatter_found_is_the_scatter_there() -> None:
    scatter = [fit(1.5 * normal(seed), se_cents=0.1).scatter_cents for seed in range(100)]
    assert_close(np.median(scatter), 1.5, rtol=0.15, atol=0, why="18 degrees of freedom; outliers are held back")


@pytest.mark.parametrize("row", [0, 7, 19])
def test_one_partial_far_off_moves_nothing(row: int) -> None:
    noisy = 0.1 * normal(5)
    clean = fit(noisy)
    noisy[row] += 30.0
    law = fit(noisy)
    assert law.weight[row] < 0.05
    assert abs(law.f0_hz - clean.f0_hz) < 2.0 * clean.f0_se_hz
    assert abs(law.inharmonicity_b - clean.inharmonicity_b) < 2.5 * clean.b_se
    assert_close(
        law.departure_cents[row], 30.0 + noisy[row] - 30.0, rtol=0, atol=0.5, why="it is reported all the same"
    )


def test_unruliness_has_no_say_where_noise_explains_all() -> None:
    noisy = 0.1 * normal(6)
    plain, unruly = fit(noisy), fit(noisy, unruliness=N)
    assert plain.f0_hz == unruly.f0_hz
    assert plain.b_se == unruly.b_se


def test_unruly_partials_count_less_where_partials_scatter() -> None:
    departures = normal(7)
    departures[15:] += 12.0
    even, ruled = fit(departures), fit(departures, unruliness=np.where(N > 15, 12.0, 1.0))
    assert abs(ruled.inharmonicity_b - B) < abs(even.inharmonicity_b - B)


def test_two_partials_alone_are_believed_only_as_far_as_such_strings_are_known() -> None:
    two = np.array([1.0, 2.0])
    law = fit(np.zeros(2), n=two, se_cents=0.01, known_scatter_cents=1.0)
    f_hz = partial_frequencies_hz(two, f0_hz=F0_HZ, inharmonicity_b=B)
    bound = string_bound(two, f0_hz=F0_HZ, inharmonicity_b=B, partial_sd_hz=f_hz * (ratio_from_cents(1.0) - 1.0))
    assert_close(law.scatter_cents, 1.0, rtol=1e-9, atol=0, why="two partials fit any law: the known scatter stands")
    assert 1.0 <= law.b_se / bound.inharmonicity_b_sd < 2.0, "widened by Student's t with the prior's three freedoms"


def test_b_never_falls_below_nothing() -> None:
    law = fit(-30.0 * (N / 20.0) ** 2, se_cents=0.1)
    assert law.inharmonicity_b > 0.0
    assert np.isfinite(law.b_se)
