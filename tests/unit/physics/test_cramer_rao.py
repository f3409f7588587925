"""The bounds against closed forms and against a Fisher matrix by finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.cramer_rao import damped_tone_bound, string_bound

RATE_HZ = 8000.0


@pytest.mark.parametrize(("decay_per_s", "n_samples"), [(0.5, 4000), (3.0, 16000), (40.0, 8000)])
def test_the_sums_equal_the_closed_form_of_yao_and_pandit(decay_per_s: float, n_samples: int) -> None:
    # Yao & Pandit (1995), IEEE Trans. Signal Process. 43, 878 (from memory): complex tone, noise variance σ² in all;
    # four times as large for a real tone, whose energy is halved twice over.
    sigma, amplitude = 0.02, 0.7
    z2 = np.exp(-2 * decay_per_s / RATE_HZ)
    z2n = z2**n_samples
    denominator = 2 * amplitude**2 * (-(n_samples**2) * z2n * (1 - z2) ** 2 + z2 * (1 - z2n) ** 2)
    variance = 4 * sigma**2 * (1 - z2) ** 3 * (1 - z2n) / denominator
    bound = damped_tone_bound(
        amplitude=amplitude, decay_per_s=decay_per_s, noise_sd=sigma, sample_rate_hz=RATE_HZ, n_samples=n_samples
    )
    assert_close(
        bound.frequency_sd_hz,
        [np.sqrt(variance) * RATE_HZ / (2 * np.pi)],
        rtol=1e-6,
        atol=0,
        why="the closed form cancels ten digits at slow decay",
    )


def test_a_record_much_longer_than_the_decay_needs_no_sums() -> None:
    alpha, sigma, amplitude = 20.0, 0.01, 1.0
    bound = damped_tone_bound(
        amplitude=amplitude, decay_per_s=alpha, noise_sd=sigma, sample_rate_hz=RATE_HZ, n_samples=8000
    )
    expected = 2 / np.pi * np.sqrt(alpha**3 * sigma**2 / (amplitude**2 * RATE_HZ))
    assert_close(bound.frequency_sd_hz, [expected], rtol=5e-3, atol=0, why="sum against integral: α/fs = 0.25 %")


def test_without_damping_it_is_the_bound_of_a_steady_tone() -> None:
    # Kay (1993), "Fundamentals of Statistical Signal Processing", ex. 3.14 (from memory): 12/(η·N·(N² - 1)), η = A²/2σ²
    n, sigma, amplitude = 1000, 0.1, 2.0
    bound = damped_tone_bound(amplitude=amplitude, decay_per_s=0.0, noise_sd=sigma, sample_rate_hz=RATE_HZ, n_samples=n)
    eta = amplitude**2 / (2 * sigma**2)
    expected = np.sqrt(12 / (eta * n * (n**2 - 1))) * RATE_HZ / (2 * np.pi)
    assert_close(bound.frequency_sd_hz, [expected], rtol=1e-9, atol=0, why="rounding of the sums")


def test_the_joint_bound_equals_that_of_the_whole_signal() -> None:
    partial = np.array([1, 2, 3, 4])
    f0_hz, b, sigma, n_samples = 220.0, 4e-4, 0.01, 12000
    amplitude, decay = np.array([1.0, 0.5, 0.3, 0.2]), np.array([1.0, 1.5, 2.0, 3.0])
    start = np.concatenate([[f0_hz, b], amplitude, decay, np.array([0.3, 1.0, 2.0, -1.0])])
    information = fisher_matrix(partial, start, sigma=sigma, n_samples=n_samples)
    covariance = np.linalg.inv(information)
    tones = damped_tone_bound(
        amplitude=amplitude, decay_per_s=decay, noise_sd=sigma, sample_rate_hz=RATE_HZ, n_samples=n_samples
    )
    bound = string_bound(partial, f0_hz=f0_hz, inharmonicity_b=b, partial_sd_hz=tones.frequency_sd_hz)
    scale = np.sqrt(np.diag(covariance)[:2])
    assert_close(
        [bound.f0_sd_hz, bound.inharmonicity_b_sd],
        scale,
        rtol=0.01,
        atol=0,
        why="partials 220 Hz apart overlap a little",
    )
    correlation = covariance[0, 1] / (scale[0] * scale[1])
    assert_close(bound.correlation, correlation, rtol=0, atol=0.01, why="the same")


def fisher_matrix(
    partial: NDArray[np.int64], start: NDArray[np.float64], *, sigma: float, n_samples: int
) -> NDArray[np.float64]:
    """Return the Fisher matrix of (f0, B, amplitudes, decays, phases) by central differences, in scaled units."""
    t = np.arange(n_samples)[:, None] / RATE_HZ
    k = partial.size

    def signal(value: NDArray[np.float64]) -> NDArray[np.float64]:
        f0, b = value[:2]
        amplitude, decay, phase = value[2 : 2 + k], value[2 + k : 2 + 2 * k], value[2 + 2 * k :]
        hz = partial * f0 * np.sqrt(1 + b * partial**2)
        return np.asarray((amplitude * np.exp(-decay * t) * np.cos(2 * np.pi * hz * t + phase)).sum(axis=1))

    steps = np.concatenate([[1e-5, 1e-9], np.full(3 * k, 1e-5)])
    slopes = [
        (signal(start + step * unit) - signal(start - step * unit)) / (2 * step)
        for step, unit in zip(steps, np.eye(start.size), strict=True)
    ]
    stacked = np.array(slopes)
    return np.asarray(stacked @ stacked.T / sigma**2)


def test_one_partial_cannot_tell_f0_from_b() -> None:
    with pytest.raises(InputError, match="two different partials"):
        string_bound([3, 3], f0_hz=100.0, inharmonicity_b=1e-4, partial_sd_hz=[0.1, 0.1])


@pytest.mark.parametrize("field", ["amplitude", "noise_sd", "sample_rate_hz"])
def test_zero_is_refused_by_name(field: str) -> None:
    figures = {"amplitude": 1.0, "decay_per_s": 1.0, "noise_sd": 0.1, "sample_rate_hz": 8000.0, field: 0.0}
    with pytest.raises(InputError, match=field):
        damped_tone_bound(n_samples=100, **figures)
