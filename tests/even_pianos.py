"""Invented pianos as values of notes: even but for natural scatter, and the listening that heard them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.evenness_quantities import QUANTITIES, Quantity
from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.keyboard import FULL_COMPASS, Compass
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

Floats = NDArray[np.float64]
BREAK_AFTER = 20
NOTHING = {quantity.field: np.full(88, np.nan) for quantity in QUANTITIES}


def even_piano(
    rng: np.random.Generator, *, keys: Floats | None = None, scatter_times: float = 1.0, tail_dof: float | None = None
) -> dict[str, Floats]:
    """Return the true values of every quantity of a piano that has nothing but natural scatter, on the judged scale."""
    keys = np.arange(1.0, 89.0) if keys is None else keys
    x = (keys - 44.0) / 44.0
    log_b = np.log(typical_inharmonicity_b(keys)) + 0.3 * (keys > BREAK_AFTER)
    stretch = natural_stretch(keys, inharmonicity_b=np.exp(log_b), a4_inharmonicity_b=9.7e-4).first_partial_cents
    trends = {
        "pitch_cents": stretch,
        "inharmonicity_b": log_b,
        "brightness": 2.0 * x - 1.5 * x**2,
        "sustain_db_per_s": 2.0 + 1.2 * x + 0.6 * x**2,
        "singing_s": 1.6 - 1.2 * x - 0.6 * x**2,
        "level_db": -22.0 - 4.0 * x**2,
        "knock_db": -25.0 + 8.0 * x,
    }
    return {
        quantity.field: trends[quantity.field] + scatter_times * scatter(quantity, keys, rng, tail_dof)
        for quantity in QUANTITIES
    }


def scatter(quantity: Quantity, keys: Floats, rng: np.random.Generator, tail_dof: float | None) -> Floats:
    """Return own scatter and slow drift of one quantity, as a well-kept piano has them."""
    size = quantity.scatter(keys)
    if tail_dof is None:
        own = rng.standard_normal(len(keys))
    else:
        own = rng.standard_t(tail_dof, len(keys)) * np.sqrt((tail_dof - 2.0) / tail_dof)
    distance = (keys[:, None] - keys[None, :]) / quantity.wander_keys
    root = np.linalg.cholesky(np.exp(-0.5 * distance**2) + 1e-9 * np.eye(len(keys)))
    return np.asarray(size * (own + quantity.wander_ratio * (root @ rng.standard_normal(len(keys)))))


def listening_of(
    values: dict[str, Floats], *, keys: Floats | None = None, compass: Compass | None = FULL_COMPASS
) -> Listening:
    """Return a listening that heard these values, each with a standard error of a fifth of the natural scatter."""
    keys = np.arange(1.0, 89.0) if keys is None else keys
    notes = []
    for i, key in enumerate(keys):
        fields: dict[str, Measured] = {}
        for quantity in QUANTITIES:
            value, se = values[quantity.field][i], 0.2 * float(quantity.scatter(np.array([key]))[0])
            if np.isfinite(value):
                fields[quantity.field] = (
                    Measured(float(np.exp(value)), float(np.exp(value)) * se)
                    if quantity.is_log
                    else Measured(float(value), se)
                )
        notes.append(
            Note(
                key=int(key),
                onset_s=float(i),
                end_s=i + 0.9,
                f0_hz=Measured(100.0, 0.1),
                pitch_cents=fields.get("pitch_cents"),
                inharmonicity_b=fields.get("inharmonicity_b"),
                brightness=fields.get("brightness"),
                sustain_db_per_s=fields.get("sustain_db_per_s"),
                singing_s=fields.get("singing_s"),
                level_db=fields.get("level_db"),
                knock_db=fields.get("knock_db"),
            )
        )
    recording = Recording(
        sha256="0" * 64,
        sample_rate_hz=48000,
        duration_s=100.0,
        kind=Kind.PASS,
        analyser="test",
        reference_a4_hz=440.0,
        compass=compass,
    )
    return Listening(recording=recording, notes=tuple(notes))
