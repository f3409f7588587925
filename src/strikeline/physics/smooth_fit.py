"""A smooth curve through a few notes of a section, and how far a note that was not measured may lie from it.

The curve is a cubic smoothing spline, seen as a random function: a straight line plus an integrated Wiener process
whose strength is not known, and scatter of single notes about it. All strengths on a grid are tried, each weighs as
much as the measured notes make it likely, and what they disagree about is part of the error.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import stdtrit

from strikeline.measured import HALF_WIDTHS_PER_SE

FEWEST: Final = 4
"""Values below which scatter about a curve cannot be told."""
FARTHEST: Final = 3
"""Keys beyond the outermost value that the curve is still used for (our choice)."""
_BENDS: Final = np.geomspace(1e-7, 1e4, 34)
"""Variance of the bending of the curve per key over that of the scatter; from a straight line to every value itself."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SmoothFit:
    """A curve over the keys that were asked for."""

    keys: tuple[int, ...]
    curve: NDArray[np.float64]  # shape (m,)
    moves: NDArray[np.float64]  # shape (m, m): moves @ moves.T is the covariance of the curve
    scatter: float
    """Standard deviation of single values about the curve, widened for how few values told it."""

    def at(self, key: int) -> tuple[float, NDArray[np.float64]]:
        """Return the curve at a key, and how far it moves with each of its independent uncertainties."""
        place = self.keys.index(key)
        return float(self.curve[place]), self.moves[place]


def fit_smooth(key: ArrayLike, value: ArrayLike, *, least_scatter: float, wanted: tuple[int, ...]) -> SmoothFit | None:
    """Fit a smoothing spline and read it off at other keys.

    Parameters
    ----------
    key : array_like of int, shape (n,)
        Keys with a value, ascending.
    value : array_like of float, shape (n,)
        Values, usually logarithms.
    least_scatter : float
        Standard deviation with which single values were read at least; 0 or more.
    wanted : tuple of int
        Keys to read the curve at; those farther than `FARTHEST` beyond the outermost value are left out.

    Returns
    -------
    SmoothFit or None
        ``None`` for fewer than four values. Errors are widened by Student's t over 1.96 for the degrees of freedom.

    References
    ----------
    .. [1] G. Wahba, "Improper priors, spline smoothing and the problem of guarding against model errors in
       regression", J. R. Stat. Soc. B 40, 364-372 (1978) (from memory): the spline as a random function; the strengths
       are weighed by their restricted likelihood (from memory).
    """
    keys, values = np.asarray(key, dtype=np.float64), np.asarray(value, dtype=np.float64)
    n = len(keys)
    if n < FEWEST:
        return None
    reached = tuple(one for one in wanted if keys[0] - FARTHEST <= one <= keys[-1] + FARTHEST)
    origin = min([keys[0], *reached])
    fits = [
        _Spline.fit(keys - origin, values, np.array(reached) - origin, bend, least_scatter=least_scatter)
        for bend in _BENDS
    ]
    log_likelihood = np.array([fit.log_likelihood for fit in fits])
    weight = np.exp(log_likelihood - log_likelihood.max())
    weight /= weight.sum()
    curve = np.sum([w * fit.curve for w, fit in zip(weight, fits, strict=True)], axis=0)
    covariance = np.sum(
        [
            w * (fit.covariance + np.outer(fit.curve - curve, fit.curve - curve))
            for w, fit in zip(weight, fits, strict=True)
        ],
        axis=0,
    )
    widened = float(stdtrit(n - 2, 0.975)) / HALF_WIDTHS_PER_SE
    scale, direction = np.linalg.eigh(covariance)
    return SmoothFit(
        keys=reached,
        curve=np.asarray(curve, dtype=np.float64),
        moves=widened * direction * np.sqrt(np.maximum(scale, 0.0)),
        scatter=widened * float(np.sqrt(weight @ [fit.variance for fit in fits])),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Spline:
    """The spline of one strength of bending."""

    curve: NDArray[np.float64]
    covariance: NDArray[np.float64]
    variance: float
    log_likelihood: float

    @classmethod
    def fit(
        cls,
        at: NDArray[np.float64],
        value: NDArray[np.float64],
        wanted: NDArray[np.float64],
        bend: float,
        *,
        least_scatter: float,
    ) -> _Spline:
        line, wanted_line = _line(at), _line(wanted)
        factor = cho_factor(np.eye(len(at)) + bend * _bending(at, at), lower=True)
        solved_line = cho_solve(factor, line)
        normal = line.T @ solved_line
        slope = np.linalg.solve(normal, solved_line.T @ value)
        residual = value - line @ slope
        weighted = cho_solve(factor, residual)
        freedom = len(at) - 2
        variance = max(float(residual @ weighted) / freedom, least_scatter**2)
        cross = bend * _bending(wanted, at)
        rest = wanted_line - cross @ solved_line
        covariance = bend * _bending(wanted, wanted) - cross @ cho_solve(factor, cross.T)
        covariance += rest @ np.linalg.solve(normal, rest.T)
        log_likelihood = -np.log(np.diag(factor[0])).sum() - 0.5 * np.linalg.slogdet(normal)[1]
        log_likelihood -= 0.5 * (freedom * np.log(variance) + float(residual @ weighted) / variance)
        return cls(
            curve=np.asarray(wanted_line @ slope + cross @ weighted, dtype=np.float64),
            covariance=variance * covariance,
            variance=variance,
            log_likelihood=float(log_likelihood),
        )


def _line(at: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([np.ones_like(at), at], axis=1)


def _bending(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the covariance of an integrated Wiener process, ``s²(3t - s)/6`` for s <= t."""
    low, high = np.minimum(one[:, None], other), np.maximum(one[:, None], other)
    return low**2 * (3.0 * high - low) / 6.0
