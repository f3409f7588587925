"""Struck strings whose truth is known, as the measuring core meets them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.ideal import damped_string, white_noise

PRE_ROLL_S = 0.25


@dataclass(frozen=True, kw_only=True, eq=False)
class Struck:
    """One strike and the string it was made from."""

    strike: Strike
    f0_hz: float
    inharmonicity_b: float
    f_hz: NDArray[np.float64]
    level_db: NDArray[np.float64]
    decay_per_s: NDArray[np.float64]


def struck_string(
    key: int,
    *,
    seed: int = 1,
    snr_db: float = 40.0,
    sample_rate_hz: float = 48_000.0,
    duration_s: float = 2.0,
    n_partials: int = 20,
    f0_hz: float | None = None,
    inharmonicity_b: float | None = None,
    decay_per_s: ArrayLike | None = None,
) -> Struck:
    """Return an ideal string in white noise; the tone starts at -20 dB, the noise lies `snr_db` below.

    Unless given for each partial or for all, losses grow with the fundamental as in Bensa et al. 2003 and with the
    square of the partial number; levels fall by 2 dB per 100 Hz, 15 dB a partial at most.
    """
    f0 = float(equal_tempered_hz(key, a4_hz=440.0)) if f0_hz is None else f0_hz
    b = float(typical_inharmonicity_b(key)) if inharmonicity_b is None else inharmonicity_b
    n = np.arange(1, n_partials + 1)
    n = n[partial_frequencies_hz(n, f0_hz=f0, inharmonicity_b=b) < 0.45 * sample_rate_hz]
    level_db = np.asarray(-20.0 - min(0.02 * f0, 15.0) * (n - 1.0), dtype=np.float64)
    given = _losses_per_s(f0, n) if decay_per_s is None else np.asarray(decay_per_s, dtype=np.float64)
    losses = np.broadcast_to(given, max(given.size, n.size))[: n.size].copy()
    rng = np.random.default_rng(seed)
    sound = damped_string(
        f0_hz=f0,
        inharmonicity_b=b,
        level_db=level_db,
        decay_per_s=losses,
        phase_rad=rng.uniform(0.0, 2 * np.pi, n.size),
        sample_rate_hz=sample_rate_hz,
        duration_s=duration_s,
    )
    return Struck(
        strike=in_noise(sound, sample_rate_hz=sample_rate_hz, noise_sd=10.0 ** (-(23.0 + snr_db) / 20.0), seed=seed),
        f0_hz=f0,
        inharmonicity_b=b,
        f_hz=partial_frequencies_hz(n, f0_hz=f0, inharmonicity_b=b),
        level_db=level_db,
        decay_per_s=losses,
    )


def in_noise(sound: NDArray[np.float64], *, sample_rate_hz: float, noise_sd: float, seed: int) -> Strike:
    """Return a sound as a strike: a quarter second of noise, then the sound in the same noise."""
    pre_roll = round(PRE_ROLL_S * sample_rate_hz)
    samples = white_noise(n_samples=pre_roll + sound.size, noise_sd=noise_sd, seed=seed)
    samples[pre_roll:] += sound
    return Strike(samples=samples.astype(np.float32), sample_rate_hz=sample_rate_hz, onset_sample=pre_roll, start_s=0.0)


def _losses_per_s(f0_hz: float, n: NDArray[np.int64]) -> NDArray[np.float64]:
    return np.asarray(max(4.4e-3 * f0_hz - 0.04, 0.08) * (1.0 + 0.02 * n**2))
