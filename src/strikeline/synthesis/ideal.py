"""Sound without surprises: one ideal stiff string and white noise, for benchmarks and tests."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.physics.ranges import finite, zero_or_more
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.modes import sum_of_modes
from strikeline.units import amplitude_from_db


def damped_string(
    *,
    f0_hz: float,
    inharmonicity_b: float,
    level_db: ArrayLike,
    decay_per_s: ArrayLike,
    phase_rad: ArrayLike,
    sample_rate_hz: float,
    duration_s: float,
) -> NDArray[np.float64]:
    """Return the sound of one string that obeys the stiff-string law exactly.

    ``x(t) = Σ 10^(level_n/20)·e^(-α_n·t)·cos(2π·f_n·t + φ_n)``, partials 1 to k. It starts at full level in the first
    sample: no attack, no knock, no room.

    Parameters
    ----------
    f0_hz, inharmonicity_b : float
        Parameters of the law, see `strikeline.physics.strings.partial_frequencies_hz`.
    level_db : array_like of float, shape (k,)
        Level of each partial in the first sample, dB re full scale (a sine of amplitude 1).
    decay_per_s : array_like of float, shape (k,)
        Decay rates α of the amplitudes, 0 or more. Not dB/s: divide those by 8.686.
    phase_rad : array_like of float, shape (k,)
        Phases of the cosines in the first sample, radians.
    sample_rate_hz : float
        Above 0; every partial must lie below half of it.
    duration_s : float
        Length, above 0.

    Returns
    -------
    ndarray of float64, shape (round(duration_s·sample_rate_hz),)
        Samples.

    Raises
    ------
    InputError
        If a value leaves its range or the three arrays differ in shape.

    Examples
    --------
    >>> damped_string(f0_hz=100.0, inharmonicity_b=0.0, level_db=[0.0], decay_per_s=[0.0], phase_rad=[0.0],
    ...               sample_rate_hz=400.0, duration_s=0.01).round(6) + 0.0
    array([ 1.,  0., -1.,  0.])
    """
    level, decay = finite("level_db", level_db), zero_or_more("decay_per_s", decay_per_s)
    phase = finite("phase_rad", phase_rad)
    if level.ndim != 1 or not level.shape == decay.shape == phase.shape:
        raise InputError.of("level_db", level.shape, "one level, decay and phase for each partial")
    if not duration_s > 0:
        raise InputError.of("duration_s", duration_s, "above 0 s")
    frequency_hz = partial_frequencies_hz(np.arange(1, level.size + 1), f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
    return sum_of_modes(
        -decay + 2j * np.pi * frequency_hz,
        amplitude_from_db(level) * np.exp(1j * phase),
        sample_rate_hz=sample_rate_hz,
        n_samples=round(duration_s * sample_rate_hz),
        dtype=np.float64,
    )


def white_noise(*, n_samples: int, noise_sd: float, seed: int) -> NDArray[np.float64]:
    """Return Gaussian white noise.

    Parameters
    ----------
    n_samples : int
        0 or more.
    noise_sd : float
        Standard deviation of each sample, 0 or more.
    seed : int
        The same seed gives the same noise.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Samples.

    Raises
    ------
    InputError
        If `noise_sd` is negative or not finite.

    Examples
    --------
    >>> white_noise(n_samples=3, noise_sd=0.0, seed=1)
    array([0., 0., 0.])
    """
    return np.random.default_rng(seed).standard_normal(n_samples) * float(zero_or_more("noise_sd", noise_sd))
