"""Invented fields of wrest pins: 40 notes of two pins in two rows, with a planted fault where one is wanted."""

from __future__ import annotations

import numpy as np

from strikeline.measured import Measured
from strikeline.physics.wrest_pins import Pin, StringSide

ROWS = (StringSide.LEFT, StringSide.RIGHT)


def pin(key: int, torque_nm: float, row: int = 1, *, is_at_frame: bool | None = None) -> Pin:
    """Return one pin; row 1 holds the left strings, row 2 the right ones."""
    return Pin(key=key, string=ROWS[row - 1], torque_nm=Measured(torque_nm, 0.3), row=row, is_at_frame=is_at_frame)


def field(
    seed: int,
    *,
    mean_nm: float = 8.0,
    sd_nm: float = 1.8,
    run: range = range(0),
    row_drop_nm: float = 0.0,
    slope_nm: float = 0.0,
    is_long_tailed: bool = False,
    n_notes: int = 40,
) -> list[Pin]:
    """Return a field: `run` has the keys of row 1 that lost 5 N·m, `slope_nm` the fall from the middle to the bass."""
    rng = np.random.default_rng(seed)
    pins = []
    for key in range(1, n_notes + 1):
        for row in (1, 2):
            torque = (
                mean_nm * np.exp(rng.normal(0.0, sd_nm / mean_nm)) if is_long_tailed else rng.normal(mean_nm, sd_nm)
            )
            torque -= 5.0 if row == 1 and key in run else 0.0
            torque -= row_drop_nm if row == 1 else 0.0
            torque += slope_nm * (key - n_notes / 2) / (n_notes / 2)
            pins.append(pin(key, float(max(torque, 0.3)), row, is_at_frame=row == 1))
    return pins
