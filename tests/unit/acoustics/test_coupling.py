"""The coupling of strings, from modes that are exact."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.coupling import Poles, estimate_coupling

OMEGA = 2j * np.pi * 440.0


def poles(values: NDArray[np.complex128], level_db: NDArray[np.float64], sd: float = 1e-3) -> Poles:
    return Poles(pole_per_s=values, sd_per_s=np.full(values.size, sd), level_db=level_db)


def struck(own_hz: tuple[float, ...], kappa: complex, *, loss: float = 0.4, sd: float = 1e-3) -> tuple[Poles, Poles]:
    """Return the strings alone, and their modes together after an even blow."""
    n = len(own_hz)
    alone = OMEGA + 2j * np.pi * np.array(own_hz) - loss - kappa
    value, vector = np.linalg.eig(np.diag(alone - OMEGA) - kappa * (np.ones((n, n)) - np.eye(n)))
    weight = vector.sum(axis=0) * np.linalg.solve(vector, np.ones(n))
    level = 20.0 * np.log10(np.abs(weight) + 1e-9)
    return poles(alone, np.zeros(n), sd), poles(value + OMEGA, level, sd)


@pytest.mark.parametrize("own_hz", [(-0.1, 0.1), (0.0, 0.02), (-0.15, 0.02, 0.2), (-0.03, 0.0, 0.04)])
@pytest.mark.parametrize("kappa", [0.8, 0.5 + 0.6j, 0.4 - 0.5j])
def test_the_coupling_of_an_even_unison_comes_back(own_hz: tuple[float, ...], kappa: complex) -> None:
    fit = estimate_coupling(*struck(own_hz, kappa))
    assert fit is not None
    found = [fit.kappa_per_s.real, fit.kappa_per_s.imag]
    assert_close(found, [np.real(kappa), np.imag(kappa)], rtol=1e-3, atol=1e-3, why="exact modes; modes left out pull")
    assert 0.0 < fit.se_per_s < 0.2 * abs(kappa)


def test_strings_far_apart_do_not_tell_which_way_the_bridge_pulls() -> None:
    """Then κ and -κ make nearly the same modes, and only what a bridge can be could tell them apart."""
    assert estimate_coupling(*struck((-2.0, 2.0), 0.002 + 0.5j, sd=0.002)) is None


def test_modes_that_no_bridge_can_make_give_no_coupling() -> None:
    """Strings together that decay slower than alone all of them, in step: the bridge would have to drive them."""
    alone, together = struck((-0.01, 0.01), 0.5)
    driven = Poles(pole_per_s=together.pole_per_s + 3.0, sd_per_s=together.sd_per_s, level_db=together.level_db)
    assert estimate_coupling(alone, driven) is None


def test_one_string_has_no_coupling_to_others() -> None:
    alone, together = struck((0.0,), 0.5)
    assert estimate_coupling(alone, together) is None


def test_a_mode_that_was_not_found_makes_the_error_larger() -> None:
    alone, together = struck((-0.02, 0.0, 0.05), 0.8)
    loudest = np.argsort(-together.level_db)
    fewer = Poles(
        pole_per_s=together.pole_per_s[loudest[:2]],
        sd_per_s=together.sd_per_s[loudest[:2]],
        level_db=together.level_db[loudest[:2]],
    )
    whole, part = estimate_coupling(alone, together), estimate_coupling(alone, fewer)
    assert whole is not None
    assert part is not None
    assert (whole.n_modes, part.n_modes) == (3, 2)
    assert part.se_per_s > whole.se_per_s


@given(st.floats(0.2, 2.0), st.floats(-0.8, 0.8), st.integers(0, 2**31))
def test_noise_moves_the_coupling_by_about_its_error(loss: float, pull: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    sd = 0.01
    alone, together = struck((-0.1, 0.12), complex(loss, pull), sd=sd)
    shaken = [
        Poles(
            pole_per_s=one.pole_per_s + sd * (rng.standard_normal(2) + 1j * rng.standard_normal(2)),
            sd_per_s=one.sd_per_s,
            level_db=one.level_db,
        )
        for one in (alone, together)
    ]
    fit = estimate_coupling(*shaken)
    if fit is not None:
        assert abs(fit.kappa_per_s - complex(loss, pull)) < 6.0 * fit.se_per_s
