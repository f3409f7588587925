"""Closed forms of sums over damped sinusoids against the sums themselves."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.acoustics.mode_sums import Stretch


@pytest.mark.parametrize("n_samples", [8, 97, 240])
@pytest.mark.parametrize("slowest_per_s", [0.02, 1.0, 30.0])
def test_the_sums_are_those_over_whole_sinusoids(n_samples: int, slowest_per_s: float) -> None:
    rng = np.random.default_rng(n_samples)
    time_s = 0.04 + np.arange(n_samples) / 80.0
    exponent = -slowest_per_s * rng.uniform(1.0, 3.0, (4, 3)) + 2j * np.pi * rng.uniform(-10.0, 10.0, (4, 3))
    signal = rng.standard_normal((4, n_samples)) + 1j * rng.standard_normal((4, n_samples))
    sinusoid = np.exp(exponent[..., None] * time_s)
    stretch = Stretch.of(signal, time_s)
    for power, closed in enumerate(stretch.with_each_other(exponent)):
        whole = np.einsum("kim,klm->kil", sinusoid.conj(), time_s**power * sinusoid)
        size = np.abs(whole).max()
        why = "1 − z is 5e-4 at the slowest decay, and its cube divides the last sum"
        assert_close(
            np.abs(closed - whole) / size, np.zeros(whole.shape), rtol=0, atol=1e-5 if power == 2 else 1e-8, why=why
        )
    for power, inner in enumerate(stretch.with_signal(exponent)):
        whole = np.einsum("kim,km->ki", sinusoid.conj(), time_s**power * signal)
        assert_close(np.abs(inner - whole), np.zeros(whole.shape), rtol=0, atol=1e-11, why="rounding of 240 terms")


def test_the_energy_is_that_of_the_signal() -> None:
    signal = np.array([[3.0 + 4.0j, 0.0, 1.0j]])
    assert_close(Stretch.of(signal, np.arange(3.0)).energy, np.array([26.0]), rtol=1e-15, atol=0, why="25 + 1")
