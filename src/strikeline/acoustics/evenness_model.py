"""Values along the keyboard as trend, slow drift, scatter and measurement error, and their least-squares fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

Floats = NDArray[np.float64]
Span = tuple[int, int]
"""Index of the first and of the last note of a run."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """One quantity along the keyboard, on the judged scale."""

    keys: Floats  # shape (n,), ascending
    values: Floats  # shape (n,)
    se: Floats  # shape (n,), standard error of measurement
    scatter: Floats  # shape (n,), own scatter of a well-kept piano
    wander_ratio: float
    wander_keys: float
    max_degree: int  # of the trend's polynomial
    slow_ratio: float = 0.0
    """Standard deviation of a trend that is known to lie near its polynomial, over the scatter."""
    slow_keys: float = 25.0

    def covariance(self, scale: float) -> Floats:
        """Return the covariance of the values, shape (n, n), for a piano `scale` times as uneven as a well-kept one."""
        own = np.diag(self.se**2 + (scale * self.scatter) ** 2)
        return np.asarray(own + self.wander(self.keys, scale))

    def wander(self, keys: Floats, scale: float) -> Floats:
        """Return the covariance of the slow drift between `keys`, shape (m,), and the notes, shape (m, n)."""
        unit = scale * self.scatter
        unit_there = np.interp(keys, self.keys, unit)
        apart = keys[:, None] - self.keys[None, :]
        shape = self.wander_ratio**2 * np.exp(-0.5 * (apart / self.wander_keys) ** 2)
        if self.slow_ratio > 0.0:
            shape += self.slow_ratio**2 * np.exp(-0.5 * (apart / self.slow_keys) ** 2)
        return np.asarray(unit_there[:, None] * unit[None, :] * shape)

    def wander_variance(self, keys: Floats, scale: float) -> Floats:
        """Return the variance of the slow drift at `keys`, shape (m,)."""
        unit = scale * np.interp(keys, self.keys, self.scatter)
        return np.asarray(unit**2 * (self.wander_ratio**2 + self.slow_ratio**2))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendShape:
    """The columns of the trend: polynomial over all keys, step and bend below the break, further steps."""

    degree: int
    break_after: float | None
    bend: int
    steps_after: tuple[float, ...] = ()

    @classmethod
    def of(
        cls, keys: Floats, *, max_degree: int, break_after: float | None, steps_after: Sequence[float] = ()
    ) -> TrendShape:
        """Return the shape that the notes can carry: the fewer notes, the lower the degree.

        Parameters
        ----------
        keys : ndarray of float, shape (n,)
            Key numbers of the notes there are, ascending.
        max_degree : int
            Highest degree of the polynomial.
        break_after : float or None
            Key after which the scale breaks; ``None`` for a scale without a break.
        steps_after : sequence of float
            Keys after which the trend steps besides.
        """
        n = len(keys)
        degree = min(max_degree, 1 if n < 20 else 2 if n < 28 else 3 if n < 40 else 4)
        n_below = 0 if break_after is None else int((keys <= break_after).sum())
        return cls(
            degree=degree,
            break_after=break_after,
            bend=0 if n_below < 4 else 1 if n_below < 10 or max_degree < 4 else 2,
            steps_after=tuple(steps_after),
        )

    def columns(self, keys: Floats) -> Floats:
        """Return the design matrix, shape (n, p); the step at the break is column ``degree + 1``."""
        x = (keys - 44.5) / 44.0
        columns = [x**power for power in range(self.degree + 1)]
        if self.break_after is not None:
            below = (keys <= self.break_after).astype(np.float64)
            bend = (keys - self.break_after - 0.5) / 12.0
            columns += [below * bend**power for power in range(self.bend + 1)]
        columns += [(keys <= after).astype(np.float64) for after in self.steps_after]
        return np.column_stack(columns)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrendModel:
    """A generalised least-squares fit of trend and shifts."""

    columns: Floats  # shape (n, p + q): trend, then shifts
    coefficients: Floats  # shape (p + q,)
    covariance: Floats  # shape (p + q, p + q)
    chol: Floats  # shape (n, n)
    residual_white: Floats  # shape (n,)
    dof: int

    @property
    def chi2(self) -> float:
        """Squared residuals in units of their variance."""
        return float(self.residual_white @ self.residual_white)

    @classmethod
    def of(cls, series: Series, own: Floats, shifts: Sequence[Span], scale: float) -> TrendModel:
        """Fit the trend with columns `own`, shape (n, p), and one more column for each of q shifts.

        Parameters
        ----------
        series : Series
            The notes.
        own : ndarray of float, shape (n, p)
            From `TrendShape.columns`.
        shifts : sequence of pairs of int
            First and last index of each shifted run.
        scale : float
            Scatter of this piano over that of a well-kept one.
        """
        columns = np.column_stack([own, *(indicator(len(series.keys), *shift) for shift in shifts)])
        chol = np.linalg.cholesky(series.covariance(scale))
        white = solve_triangular(chol, np.column_stack([columns, series.values]), lower=True)
        design_white, target = white[:, :-1], white[:, -1]
        inverse = np.linalg.pinv(design_white.T @ design_white)
        coefficients = inverse @ design_white.T @ target
        residual = target - design_white @ coefficients
        return cls(
            columns=columns,
            coefficients=coefficients,
            covariance=inverse,
            chol=np.asarray(chol, dtype=np.float64),
            residual_white=residual,
            dof=max(1, len(target) - columns.shape[1]),
        )


def indicator(n: int, first: int, last: int) -> Floats:
    """Return a column of `n` numbers, 1 from index `first` to `last` and 0 elsewhere.

    Parameters
    ----------
    n : int
        Length of the column.
    first, last : int
        Indices, both included.
    """
    column = np.zeros(n)
    column[first : last + 1] = 1.0
    return column


def heard_on_both_sides(keys: Floats, after: float, *, n: int = 5) -> bool:
    """Return whether enough notes lie below and above, and the step itself is not inside a gap.

    Parameters
    ----------
    keys : ndarray of float, shape (m,)
        Keys of the notes, ascending.
    after : float
        Last key below the step.
    n : int
        Fewest notes on each side.
    """
    below, above = keys[keys <= after], keys[keys > after]
    return len(below) >= n and len(above) >= n and bool(below[-1] >= after - 1) and bool(above[0] <= after + 2)
