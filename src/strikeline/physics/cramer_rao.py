"""How well frequency and inharmonicity can be known at all: Cramér–Rao bounds in white noise.

No unbiased estimator has a smaller variance than the bound. It counts white noise only; the departures of a real string
from the stiff-string law (bridge, unison, attack) come on top and are usually larger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, zero_or_more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DampedToneBound:
    """Smallest standard deviations for damped tones, each alone in white noise."""

    frequency_sd_hz: NDArray[np.float64]  # shape (k,)
    decay_sd_per_s: NDArray[np.float64]
    """Bound for the amplitude decay rate α of e^(-αt), per second; equals 2π times `frequency_sd_hz`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringBound:
    """Smallest standard deviations for f0 and B estimated together from the partials of one string."""

    f0_sd_hz: float
    inharmonicity_b_sd: float
    correlation: float
    """Correlation of the two estimates, -1 to 1; negative, for a larger B can stand in for a larger f0."""


def damped_tone_bound(
    *,
    amplitude: ArrayLike,
    decay_per_s: ArrayLike,
    noise_sd: float,
    sample_rate_hz: float,
    n_samples: int,
) -> DampedToneBound:
    """Return the bound for real tones ``A·e^(-αt)·cos(ωt + φ)`` with all four parameters unknown.

    ``var(ω) = var(α) = (2σ²/A²)·S0/(S0·S2 - S1²)`` with ``S_k = Σ t^k·e^(-2αt)`` over the samples. Holds when the tone
    lies many cycles from 0 Hz, from half the sample rate and from other tones.

    Parameters
    ----------
    amplitude : array_like of float, shape (k,)
        Peak amplitudes A at the first sample, above 0.
    decay_per_s : array_like of float, shape (k,)
        Decay rates α of the amplitude, 0 or more. 8.686·α is the rate in dB/s.
    noise_sd : float
        Standard deviation σ of the noise in each sample, above 0.
    sample_rate_hz : float
        Above 0.
    n_samples : int
        Number of samples, 4 or more.

    Returns
    -------
    DampedToneBound
        Standard deviations, shape (k,).

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] Y.-X. Yao and S. M. Pandit, IEEE Trans. Signal Process. 43, 878 (1995) (closed form, from memory, used as an
       independent check in the tests); the sums follow from the Fisher matrix.

    Examples
    --------
    >>> recording = {"sample_rate_hz": 48000.0, "n_samples": 480000}
    >>> bound = damped_tone_bound(amplitude=1.0, decay_per_s=1.0, noise_sd=0.01, **recording)
    >>> f"{float(bound.frequency_sd_hz[0]):.3e}"
    '2.906e-05'
    """
    tone_amplitude = np.atleast_1d(above_zero("amplitude", amplitude))
    decay = np.atleast_1d(zero_or_more("decay_per_s", decay_per_s))
    sigma, rate = float(above_zero("noise_sd", noise_sd)), float(above_zero("sample_rate_hz", sample_rate_hz))
    if n_samples < 4:
        raise InputError.of("n_samples", n_samples, "4 or more, as many as there are unknowns")
    tone_amplitude, decay = np.broadcast_arrays(tone_amplitude, decay)
    t = np.arange(n_samples) / rate
    sums = np.empty((3, decay.size))
    for column, alpha in enumerate(decay):
        weight = np.exp(-2.0 * alpha * t)
        sums[:, column] = weight.sum(), weight @ t, weight @ t**2
    s0, s1, s2 = sums
    omega_variance = 2.0 * sigma**2 / tone_amplitude**2 * s0 / (s0 * s2 - s1**2)
    decay_sd = np.sqrt(omega_variance)
    return DampedToneBound(frequency_sd_hz=decay_sd / (2.0 * np.pi), decay_sd_per_s=decay_sd)


def string_bound(partial: ArrayLike, *, f0_hz: float, inharmonicity_b: float, partial_sd_hz: ArrayLike) -> StringBound:
    """Return the joint bound for f0 and B of the stiff-string law.

    The information of well separated partials adds: ``J = Σ g·gᵀ/var(f_n)`` with
    ``g = [n·sqrt(1 + B·n²), n³·f0/(2·sqrt(1 + B·n²))]``; the bound is the inverse of J.

    Parameters
    ----------
    partial : array_like of int, shape (k,)
        Partial numbers, two different ones at least.
    f0_hz, inharmonicity_b : float
        Parameters of the law, above 0 and 0 or more.
    partial_sd_hz : array_like of float, shape (k,)
        Smallest standard deviation of each partial, for instance from `damped_tone_bound`, above 0.

    Returns
    -------
    StringBound
        Standard deviations and correlation.

    Raises
    ------
    InputError
        If a value leaves its range, the shapes differ or fewer than two different partials are given.

    References
    ----------
    .. [1] Change of parameters in the Fisher matrix, S. M. Kay, "Fundamentals of Statistical Signal Processing:
       Estimation Theory" (1993), ch. 3 (from memory).

    Examples
    --------
    >>> bound = string_bound([1, 2, 3], f0_hz=440.0, inharmonicity_b=7e-4, partial_sd_hz=[1e-3, 1e-3, 1e-3])
    >>> f"{bound.f0_sd_hz:.2e} {bound.inharmonicity_b_sd:.2e} {bound.correlation:.2f}"
    '7.25e-04 4.40e-07 -0.93'
    """
    n = above_zero("partial", partial)
    sd = above_zero("partial_sd_hz", partial_sd_hz)
    if n.shape != sd.shape or np.unique(n).size < 2:
        raise InputError.of("partial", partial, "two different partials or more, each with its partial_sd_hz")
    f0, b = float(above_zero("f0_hz", f0_hz)), float(zero_or_more("inharmonicity_b", inharmonicity_b))
    root = np.sqrt(1.0 + b * n**2)
    slopes = np.stack([n * root, n**3 * f0 / (2.0 * root)]) / sd
    (j_ff, j_fb), (_, j_bb) = slopes @ slopes.T
    determinant = j_ff * j_bb - j_fb**2
    return StringBound(
        f0_sd_hz=float(np.sqrt(j_bb / determinant)),
        inharmonicity_b_sd=float(np.sqrt(j_ff / determinant)),
        correlation=float(-j_fb / np.sqrt(j_ff * j_bb)),
    )
