"""Closed forms of sums over damped sinusoids against the sums themselves."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.acoustics.mode_sums import Stretch

RATE_HZ = 80.0
START = 3.2
"""Samples from the onset to the first sample."""


@pytest.mark.parametrize("n_samples", [8, 97, 240])
@pytest.mark.parametrize("slowest_per_s", [0.02, 1.0, 30.0])
def test_the_sums_are_those_over_whole_sinusoids(n_samples: int, slowest_per_s: float) -> None:
    rng = np.random.default_rng(n_samples)
    place = np.arange(n_samples)
    exponent = -slowest_per_s * rng.uniform(1.0, 3.0, (4, 3)) + 2j * np.pi * rng.uniform(-10.0, 10.0, (4, 3))
    exponent /= RATE_HZ
    signal = rng.standard_normal((4, n_samples)) + 1j * rng.standard_normal((4, n_samples))
    sinusoid = np.exp(exponent[..., None] * place)
    stretch = Stretch.of(signal, start=START)
    closed = stretch.with_each_other(exponent)
    for power in range(3):
        whole = np.einsum("kim,klm->kil", sinusoid.conj(), (START + place) ** power * sinusoid)
        error = np.abs(closed[:, power] - whole) / np.abs(whole).max()
        why = "1 − z is 5e-4 at the slowest decay, and its cube divides the last sum"
        assert_close(error, np.zeros(whole.shape), rtol=0, atol=1e-5 if power == 2 else 1e-8, why=why)
    heard = stretch.with_signal(exponent)
    for power in range(2):
        whole = np.einsum("kim,km->ki", sinusoid.conj(), (START + place) ** power * signal)
        error = np.abs(heard[:, :, power] - whole)
        assert_close(error, np.zeros(whole.shape), rtol=0, atol=1e-10, why="rounding of 240 terms of up to 240")


def test_one_mode_has_the_same_sums_with_itself_in_real_numbers() -> None:
    exponent = np.array([[-0.0003 + 0.2j], [-0.02 - 0.1j], [-0.7 + 0.0j]])
    stretch = Stretch.of(np.zeros((3, 120), dtype=np.complex128), start=START)
    whole = stretch.with_each_other(exponent)[:, :, 0, 0]
    for power, sums in enumerate(stretch.of_product(2.0 * exponent.real[:, 0])):
        assert_close(whole[:, power].imag, np.zeros(3), rtol=0, atol=0, why="conj(s) + s is real")
        assert_close(sums, whole[:, power].real, rtol=1e-9, atol=0, why="the same closed forms, grouped otherwise")


def test_the_energy_is_that_of_the_signal() -> None:
    signal = np.array([[3.0 + 4.0j, 0.0, 1.0j]])
    assert_close(Stretch.of(signal, start=0.0).energy, np.array([26.0]), rtol=1e-15, atol=0, why="25 + 1")
