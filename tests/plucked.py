"""Sounds of plucked sections made by hand, as the telling core meets them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.acoustics.plucks_ringing import Ringing
from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b

RATE_HZ = 8000.0


def heard_pluck(
    at_s: float,
    key: int | None,
    *,
    bright_db: float = -40.0,
    late_db: float = 0.0,
    cut_db: float = 0.0,
    step_db: float = 8.0,
) -> PluckEvidence:
    """Return a sound with the clear pitch of `key`, or none, that begins at `at_s`."""
    position = np.zeros(0) if key is None else np.array([float(key)])
    b = typical_inharmonicity_b(position)
    f0_hz = equal_tempered_hz(position, a4_hz=440.0) / np.sqrt(1.0 + b)
    silence = Strike(
        samples=np.zeros(round(0.7 * RATE_HZ), dtype=np.float32),
        sample_rate_hz=RATE_HZ,
        onset_sample=round(0.3 * RATE_HZ),
        start_s=at_s - 0.3,
    )
    return PluckEvidence(
        onset_s=at_s,
        end_s=at_s + 0.4,
        position=position,
        f0_hz=f0_hz,
        inharmonicity_b=b,
        score=np.full(position.size, 20.0),
        stiffness_nats=np.full(position.size, 10.0),
        band_db=np.array([bright_db, bright_db, bright_db - 10.0]),
        late_attack_db=late_db,
        drift_cents=None,
        cut_db=cut_db,
        step_db=step_db,
        sound=silence,
    )


def plucked_row(keys: Sequence[int | None], *, pace_s: float = 0.6, start_s: float = 1.0) -> list[PluckEvidence]:
    """Return plucks at an even pace; ``None`` is one without pitch."""
    return [heard_pluck(start_s + pace_s * number, key) for number, key in enumerate(keys)]


def ringing(
    decay_db_per_s: float,
    *,
    new_db: float = -40.0,
    old_db: float = -90.0,
    n_partials: int = 10,
    fade_db: float | None = None,
) -> Ringing:
    """Return how a string rings, the decay known to a tenth."""
    return Ringing(
        decay_db_per_s=Measured(decay_db_per_s, 0.1 * abs(decay_db_per_s)),
        is_at_least=False,
        new_db=new_db,
        old_db=old_db,
        n_partials=n_partials,
        n_sought=14,
        fade_db=fade_db,
    )


def damped_tone(
    f_hz: float, decay_db_per_s: float, *, n_samples: int, sample_rate_hz: float, phase_rad: float = 0.0
) -> NDArray[np.float64]:
    """Return a tone of amplitude 1 that falls."""
    time_s = np.arange(n_samples) / sample_rate_hz
    return np.asarray(10.0 ** (-decay_db_per_s * time_s / 20.0) * np.cos(2 * np.pi * f_hz * time_s + phase_rad))
