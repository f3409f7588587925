"""A straight or gently bent run through readings over the compass, which single wild keys cannot bend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured

_BEND_AT: Final = 1.345
"""Standard deviations beyond which a reading pulls no harder (P. J. Huber, Ann. Math. Stat. 35, 73-101 (1964), and the
usual constant for 95 % efficiency; from memory)."""
_STEPS: Final = 400
_SCALE_STEPS: Final = 30
"""Steps in which the scale follows the residuals; held fast afterwards, the sum that is minimised is convex and the
steps end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)  # == on arrays is ambiguous
class Run:
    """A run through readings."""

    degree: int
    """1 for a straight line, 2 for one that sags or bulges."""
    middle_key: float
    half_span: float
    """Half the keys from the first to the last reading; the run is a polynomial of (key - middle)/half_span."""
    coefficients: NDArray[np.float64]
    """Shape (degree + 1,), in the readings' unit, the constant first."""
    covariance: NDArray[np.float64]
    """Of the coefficients; widened for the few degrees of freedom, so that 1.96 standard errors hold 95 of 100."""
    scatter: float
    """Standard deviation of single readings about the run, wild ones left aside."""

    def at(self, key: float) -> Measured:
        """Return the run at a key."""
        powers = ((key - self.middle_key) / self.half_span) ** np.arange(self.degree + 1)
        return Measured(float(powers @ self.coefficients), float(np.sqrt(powers @ self.covariance @ powers)))

    @property
    def tilt(self) -> Measured:
        """Return how much higher the last key lies than the first."""
        return Measured(2.0 * float(self.coefficients[1]), 2.0 * float(np.sqrt(self.covariance[1, 1])))

    @property
    def sag(self) -> Measured | None:
        """Return how far the middle lies below the chord from first to last; ``None`` for a straight line."""
        if self.degree < 2:
            return None
        return Measured(float(self.coefficients[2]), float(np.sqrt(self.covariance[2, 2])))


def fit_run(keys: Sequence[int], values: Sequence[Measured], *, degree: int) -> Run | None:
    """Fit a run through readings, each pulling with its distance up to a limit and no harder beyond it.

    Parameters
    ----------
    keys : sequence of int
        Key numbers; several readings may share one.
    values : sequence of Measured
        One for each key. Their standard errors bound the scatter from below.
    degree : int
        1 or 2.

    Returns
    -------
    Run or None
        ``None`` where there are fewer than three readings more than coefficients, or all are at one place.

    Raises
    ------
    InputError
        If the degree is another, or the counts differ.

    Notes
    -----
    Huber's estimate by weighted least squares, scale from the median absolute residual, covariance by Huber's formula
    with its correction for few readings (P. J. Huber and E. M. Ronchetti, Robust Statistics, 2nd ed. 2009, section 7.6;
    from memory). Student's t for the degrees of freedom left widens it. How often the truth lies within is tested on
    invented keyboards (``tests/unit/physics/test_even_run.py``).

    Examples
    --------
    >>> level = [Measured(value, 0.05) for value in (0.0, 0.1, 0.0, -0.1, 1.5, 0.1, 0.0, -0.1)]
    >>> run = fit_run([1, 10, 20, 30, 40, 50, 60, 70], level, degree=1)
    >>> run is not None and abs(run.at(40).value) < 0.1
    True
    """
    if degree not in {1, 2} or len(keys) != len(values):
        raise InputError.of("degree, counts", (degree, len(keys), len(values)), "degree 1 or 2 and equal counts")
    n, p = len(keys), degree + 1
    x_keys = np.asarray(keys, dtype=np.float64)
    if n < p + 3 or len(set(keys)) < p + 1:
        return None
    middle, half = (x_keys.max() + x_keys.min()) / 2.0, (x_keys.max() - x_keys.min()) / 2.0
    design = ((x_keys - middle) / half)[:, None] ** np.arange(p)
    y = np.array([one.value for one in values])
    least = max(float(np.sqrt(np.mean([one.se**2 for one in values]))), 1e-9)
    coefficients = np.linalg.lstsq(design, y, rcond=None)[0]
    scale = least
    for step in range(_STEPS):
        away = y - design @ coefficients
        if step < _SCALE_STEPS:
            # 1.4826 makes the median absolute residual a standard deviation; n - p readings are free to scatter.
            scale = max(least, 1.4826 * float(np.median(np.abs(away))) * float(np.sqrt(n / (n - p))))
        weight = np.minimum(1.0, _BEND_AT * scale / np.maximum(np.abs(away), 1e-12))
        root = np.sqrt(weight)
        moved = np.linalg.lstsq(design * root[:, None], y * root, rcond=None)[0]
        if np.abs(moved - coefficients).max() < 1e-10 * scale:
            coefficients = moved
            break
        coefficients = moved
    covariance = _covariance(design, (y - design @ coefficients) / scale, at_least=1.0 if scale == least else 0.0)
    return Run(
        degree=degree,
        middle_key=float(middle),
        half_span=float(half),
        coefficients=coefficients,
        covariance=covariance * (scale * float(stdtrit(n - p, 0.975)) / HALF_WIDTHS_PER_SE) ** 2,
        scatter=scale,
    )


def _covariance(design: NDArray[np.float64], away: NDArray[np.float64], *, at_least: float) -> NDArray[np.float64]:
    """Return Huber's covariance for residuals in units of their scale.

    Readings that fit better than their own errors say are not better for it: `at_least` is then 1.
    """
    n, p = design.shape
    pull = np.clip(away, -_BEND_AT, _BEND_AT)
    inside = max(float(np.mean(np.abs(away) < _BEND_AT)), 1e-9)
    correction = 1.0 + p / n * (1.0 - inside) / inside
    spread = max(at_least, correction**2 * float(np.sum(pull**2)) / (n - p) / inside**2)
    return np.asarray(spread * np.linalg.inv(design.T @ design), dtype=np.float64)
