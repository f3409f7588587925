"""Listenings to pianos of known B and pitch, as values: nothing is played."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.keyboard import Compass, equal_tempered_hz, key_name
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.units import CENTS_PER_NEPER, ratio_from_cents

KEYS: Final = np.arange(1, 89)
BREAK: Final = 26
TYPICAL_B: Final = typical_inharmonicity_b(KEYS)
Floats = NDArray[np.float64]


def heard_piano_of(
    first_cents: Floats,
    *,
    b: Floats = TYPICAL_B,
    b_relative_se: float = 0.005,
    cents_se: float = 0.3,
    silent: Collection[int] = (),
    a4_hz: float = 440.0,
) -> Listening:
    """Return a listening that heard every first partial where it is, cents from equal temperament at `a4_hz`."""
    notes = []
    for place, key in enumerate(KEYS):
        if key in silent:
            continue
        first_hz = float(equal_tempered_hz(key, a4_hz=a4_hz) * ratio_from_cents(first_cents[place]))
        f0_hz = first_hz / float(np.sqrt(1.0 + b[place]))
        f0_cents = float(first_cents[place]) - 0.5 * CENTS_PER_NEPER * float(np.log1p(b[place]))
        notes.append(
            Note(
                key=int(key),
                onset_s=2.0 * place,
                end_s=2.0 * place + 1.9,
                f0_hz=Measured(f0_hz, f0_hz * cents_se / CENTS_PER_NEPER),
                inharmonicity_b=Measured(float(b[place]), b_relative_se * float(b[place])),
                cents_from_et=Measured(f0_cents, cents_se),
                pitch_cents=Measured(float(first_cents[place]), cents_se),
            )
        )
    recording = Recording(
        sha256="",
        sample_rate_hz=44100,
        duration_s=2.0 * KEYS.size,
        kind=Kind.PASS,
        analyser="test",
        reference_a4_hz=a4_hz,
        compass=Compass(1, 88),
    )
    return Listening(recording=recording, notes=tuple(notes))


def write_heard(listening: Listening, path: Path, *, break_after: int | None = BREAK) -> Path:
    """Write a listening as ``strikeline listen --json`` does, with the break it found."""
    changes: list[Mapping[str, Any]] = []
    if break_after is not None:
        changes.append({"after": key_name(break_after), "change": "the break", "ends_winding": None})
    path.write_text(json.dumps({**listening.to_json(), "evenness": {"change_points": changes}}), "utf-8")
    return path
