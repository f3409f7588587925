"""Ideal strings in white noise: the estimator against the Cramér-Rao bound, and the honesty of its standard errors.

Each string obeys the stiff-string law. B is typical for its key; losses are those of Bensa, Bilbao, Kronland-Martinet &
Smith 2003 (fits over the compass, lengths interpolated between their three strings); levels fall by 2 dB per 100 Hz
(Fletcher, Blackham & Stratton 1962; both as read in secondary surveys), by 15 dB a partial at most (as the top octaves
of the open recordings do), with 3 dB of scatter. The signal-to-noise ratio is that of the power in the first sample to
the noise in each sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.cramer_rao import damped_tone_bound, string_bound
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.ideal import damped_string, white_noise

SAMPLE_RATE_HZ = 48_000.0
DURATION_S = 3.0
PRE_ROLL_S = 0.25
HIGHEST_HZ = 0.45 * SAMPLE_RATE_HZ
FAINTEST_DB = -80.0
STEEPEST_DB = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One string measured once."""

    key: int
    n_partials: int
    f0_error: float
    """Estimate minus truth, over the bound."""
    b_error: float
    f0_standardised: float
    """Estimate minus truth, over the standard error claimed."""
    b_standardised: float
    partial_standardised: tuple[float, ...]
    decay_standardised: tuple[float, ...]


def trial(key: int, *, snr_db: float, seed: int) -> Trial | None:
    """Make, measure and compare one string; ``None`` if f0 or B could not be told."""
    rng = np.random.default_rng([key + 100, round(snr_db), seed])
    f0_hz = float(equal_tempered_hz(key, a4_hz=440.0) * np.exp2(rng.uniform(-8.0, 8.0) / 1200.0))
    b = float(typical_inharmonicity_b(key) * np.exp(rng.normal(0.0, 0.1)))
    n = np.arange(1, 400)
    n = n[partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=b) < HIGHEST_HZ]
    f_hz = partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=b)
    level_db = -min(0.02 * f0_hz, STEEPEST_DB) * (n - 1) + rng.normal(0.0, 3.0, n.size)
    heard = level_db > FAINTEST_DB
    n, f_hz, level_db = n[: heard.sum()], f_hz[: heard.sum()], level_db[: heard.sum()]
    level_db -= 10.0 * np.log10(np.sum(10.0 ** (level_db / 10.0)) / 2.0) + 20.0
    decay_per_s = _bensa_decay_per_s(key, f0_hz, n)
    sound = damped_string(
        f0_hz=f0_hz,
        inharmonicity_b=b,
        level_db=level_db,
        decay_per_s=decay_per_s,
        phase_rad=rng.uniform(0.0, 2 * np.pi, n.size),
        sample_rate_hz=SAMPLE_RATE_HZ,
        duration_s=DURATION_S,
    )
    noise_sd = 10.0 ** (-(20.0 + snr_db) / 20.0)
    pre_roll = round(PRE_ROLL_S * SAMPLE_RATE_HZ)
    noisy = white_noise(n_samples=pre_roll + sound.size, noise_sd=noise_sd, seed=int(rng.integers(2**31)))
    noisy[pre_roll:] += sound
    strike = Strike(samples=noisy.astype(np.float32), sample_rate_hz=SAMPLE_RATE_HZ, onset_sample=pre_roll, start_s=0.0)
    start_hz = f0_hz * np.exp2(rng.normal(0.0, 3.0) / 1200.0)
    note = measure_strike(strike, key=key, f0_start_hz=float(start_hz), a4_hz=440.0)
    if note.f0_hz is None or note.inharmonicity_b is None:
        return None
    tones = damped_tone_bound(
        amplitude=10.0 ** (level_db / 20.0),
        decay_per_s=decay_per_s,
        noise_sd=noise_sd,
        sample_rate_hz=SAMPLE_RATE_HZ,
        n_samples=sound.size,
    )
    bound = string_bound(n, f0_hz=f0_hz, inharmonicity_b=b, partial_sd_hz=tones.frequency_sd_hz)
    f0_off, b_off = note.f0_hz.value - f0_hz, note.inharmonicity_b.value - b
    early = [(p.n, p.decay_db_per_s.early) for p in note.partials if p.n <= n.size]
    return Trial(
        key=key,
        n_partials=len(note.partials),
        f0_error=f0_off / bound.f0_sd_hz,
        b_error=b_off / bound.inharmonicity_b_sd,
        f0_standardised=f0_off / note.f0_hz.se,
        b_standardised=b_off / note.inharmonicity_b.se,
        partial_standardised=tuple((p.f_hz.value - f_hz[p.n - 1]) / p.f_hz.se for p in note.partials if p.n <= n.size),
        decay_standardised=tuple(
            (rate.value - 8.685889638 * decay_per_s[number - 1]) / rate.se for number, rate in early if rate is not None
        ),
    )


def _bensa_decay_per_s(key: int, f0_hz: float, n: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return b1 + b2·(π·n/L)² with b1 = 4.4e-3·f0 − 0.04 and b2 = 1e-6·f0 + 1e-5, L between C2, C4 and C7."""
    length_m = np.exp(np.interp(key, (1, 16, 40, 76, 88), np.log((1.3, 1.23, 0.63, 0.10, 0.052))))
    b1, b2 = max(4.4e-3 * f0_hz - 0.04, 0.08), 1e-6 * f0_hz + 1e-5
    return np.asarray(b1 + b2 * (np.pi * n / length_m) ** 2)


def rms(values: list[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def covered(values: list[float]) -> float:
    """Return the share within 1.96 standard errors."""
    return float(np.mean(np.abs(values) <= 1.96))
