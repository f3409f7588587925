"""Intervals between the strings of one note, each recorded alone, told from their partials one by one."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy.special
from numpy.typing import NDArray

from strikeline.acoustics.listening import Mode, Note, Partial
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio, cents_se

Real = NDArray[np.float64]

_RIVAL_DB: Final = 10.0
"""A second mode fainter than this is not taken for the pitch of a string."""
_B_SPREAD: Final = 0.02
"""Standard deviation of ln B between the strings of a note, a guess: wires of one coil, wraps wound one by one."""
_TRUSTED_SIGMA: Final = 2.0
_CLOCK_CENTS: Final = 0.002
"""Two recordings have not quite the same clock: a quartz holds to about 1 ppm over minutes (from memory)."""
_FEWEST_DOF: Final = 0.5
_N_ROUNDS: Final = 30
_N_HALVINGS: Final = 60
_NORMAL: Final = 1.959964


def interval_cents(note: Note, reference: Note) -> Measured | None:
    """Return how far one string lies above another, cents of f0; ``None`` if they share no partial.

    The cents between their partials are fitted with a constant and, as far as the partials ask for it, a slope in n²
    for strings that differ in B (the constant is then the interval of f0). What scatters beyond noise is estimated from
    the partials (Paule & Mandel 1982, from memory) and widens the error, by Student's t as they are few. One partial
    alone gives its own interval, with the error of noise and of the recorder's clock.

    Parameters
    ----------
    note, reference : Note
        One string each, of the same key.
    """
    ours, theirs = pitches(note), pitches(reference)
    shared = sorted(ours.keys() & theirs.keys())
    if not shared:
        return None
    number = np.array(shared, dtype=np.float64)
    cents = cents_from_ratio(np.array([ours[n].value / theirs[n].value for n in shared]))
    se = np.array(
        [np.hypot(cents_se(ours[n].value, ours[n].se), cents_se(theirs[n].value, theirs[n].se)) for n in shared]
    )
    b = reference.inharmonicity_b.value if reference.inharmonicity_b is not None else 0.0
    slope = CENTS_PER_NEPER * 0.5 * b * number**2 / (1.0 + b * number**2)
    return _constant(cents, np.maximum(se, 1e-6), slope)


def loudest(partial: Partial) -> Mode:
    """Return the mode that is loudest at the onset."""
    return max(partial.modes, key=lambda mode: mode.level_db)


def pitches(note: Note) -> dict[int, Measured]:
    """Return the pitch of each partial: its loudest mode, or the mean of two that are about as loud."""
    return {partial.n: _pitch(partial) for partial in note.partials if partial.modes}


def rivals(partial: Partial) -> list[Mode]:
    """Return the loudest mode and those about as loud."""
    loudest_db = loudest(partial).level_db
    return [mode for mode in partial.modes if mode.level_db > loudest_db - _RIVAL_DB]


def _pitch(partial: Partial) -> Measured:
    main, loud = loudest(partial), rivals(partial)
    if len(loud) == 1:
        return main.f_hz
    power = np.array([10.0 ** ((mode.level_db - main.level_db) / 10.0) for mode in loud])
    frequency = np.array([mode.f_hz.value for mode in loud])
    mean = float(np.average(frequency, weights=power))
    spread = float(np.average((frequency - mean) ** 2, weights=power))
    noise = float(np.average([mode.f_hz.se**2 for mode in loud], weights=power))
    return Measured(mean, float(np.sqrt(spread + noise)))


def _constant(cents: Real, se: Real, slope: Real) -> Measured:
    """Fit ``cents = c + s·slope`` with s near 0, robustly, and return c."""
    design = np.stack([np.ones(cents.size), slope], axis=1)
    prior = np.diag([0.0, _B_SPREAD**-2])
    weight, variance = np.ones(cents.size), float(np.median((cents - np.median(cents)) ** 2))
    for _ in range(_N_ROUNDS):
        total = se**2 + variance
        scaled = design * (weight / total)[:, None]
        covariance = np.linalg.inv(scaled.T @ design + prior)
        error = cents - design @ (covariance @ (scaled.T @ cents))
        dof = float(weight.sum()) - float(np.trace(covariance @ (scaled.T @ design)))
        weight = np.minimum(1.0, (_TRUSTED_SIGMA / np.maximum(np.abs(error) / np.sqrt(total), 1e-12)) ** 2)
        variance = _extra_variance(error, se, weight, dof) if dof > _FEWEST_DOF else 0.0
    # also where noise explains everything: that it does is known no better than so many partials tell
    widened = float(scipy.special.stdtrit(dof, 0.975)) / _NORMAL if dof > _FEWEST_DOF else 1.0
    value = float((covariance @ (scaled.T @ cents))[0])
    return Measured(value, float(np.hypot(np.sqrt(covariance[0, 0]) * widened, _CLOCK_CENTS)))


def _extra_variance(error: Real, se: Real, weight: Real, dof: float) -> float:
    """Return the variance beyond noise, 0 if noise explains the errors: the root of ``Σ w·e²/(se² + τ²) = dof``."""
    low, high = 0.0, float((weight * error**2).sum()) / dof  # at which the sum is below dof whatever the noise

    def surplus(variance: float) -> float:
        return float((weight * error**2 / (se**2 + variance)).sum()) - dof

    if surplus(0.0) <= 0.0:
        return 0.0
    for _ in range(_N_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if surplus(middle) > 0.0 else (low, middle)
    return high
