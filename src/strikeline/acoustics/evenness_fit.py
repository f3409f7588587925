"""Trend over the keyboard and the notes that leave it, found together.

The values of one quantity along the keyboard are taken as

    polynomial + step and bend at the break + slow drift (Gaussian process) + scatter of each note + measurement error

to which any number of shifts is added: of single notes and of runs of neighbours (`evenness_shifts`). Each is chosen in
the generalised least-squares model that already holds all others; so a run of twenty worn hammers is neither swallowed
by the trend nor does it drag the trend along. Chance is judged with a weighted Bonferroni bound (half for the n single
notes, half for all runs, divided by the number of quantities looked at), which holds whatever the dependence between
the candidates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.linalg import solve_triangular

from strikeline.acoustics.evenness_model import Floats, Series, TrendModel, TrendShape, heard_on_both_sides
from strikeline.acoustics.evenness_shifts import HINT, Shift, find_shifts, net_shifts
from strikeline.acoustics.tails import student_tail

MIN_NOTES: Final = 12
"""Fewer notes than this have too few neighbours to be compared with."""
_BREAK_CHANCE: Final = 0.02
"""A break is named up to this chance; smooth simulated scales then show one in about 1 of 20."""
_SCALE_RANGE: Final = (0.6, 50.0)
"""A piano's own scatter over that of the well-kept grand: judged by its own, but never as if it were far more even."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrendFit:
    """Trend and shifts of one quantity."""

    scale: float  # own scatter of this piano over that of a well-kept one
    shifts: tuple[Shift, ...]  # ascending
    grid_keys: Floats  # shape (m,), every key from the lowest to the highest note
    trend: Floats  # shape (m,)
    trend_se: Floats  # shape (m,)


def fit_trend(
    series: Series, *, break_after: float | None, n_looks: int, steps_after: Sequence[float] = ()
) -> TrendFit:
    """Fit the trend of one quantity and find what leaves it.

    Parameters
    ----------
    series : Series
        At least `MIN_NOTES` notes.
    break_after : float or None
        Last key below the break, ``None`` if there is none or it cannot be told.
    n_looks : int
        Number of quantities looked at on the same sheet.
    steps_after : sequence of float
        Keys after which the trend may step besides.

    Returns
    -------
    TrendFit
    """
    if break_after is not None and not heard_on_both_sides(series.keys, break_after):
        break_after = None  # too few values of this quantity to tell a step from a bend
    steps_after = [after for after in steps_after if heard_on_both_sides(series.keys, after, n=3)]
    shape = TrendShape.of(series.keys, max_degree=series.max_degree, break_after=break_after, steps_after=steps_after)
    own = shape.columns(series.keys)
    # The differences tell the scatter only to about 15 %, so the first search is lenient on both counts; what remains
    # once everything suspicious is set aside tells it better, and the second search is strict.
    scale = max(_SCALE_RANGE[0], 0.85 * _scale_from_differences(series, own))
    suspicious = find_shifts(series, own, scale, n_looks, up_to=1.0)
    for _ in range(3):
        model = TrendModel.of(series, own, suspicious, scale)
        scale = float(np.clip(scale * np.sqrt(model.chi2 / model.dof), *_SCALE_RANGE))
    shifts = find_shifts(series, own, scale, n_looks, up_to=HINT)
    model = TrendModel.of(series, own, shifts, scale)
    return _describe(series, model, len(shifts), scale, shape, n_looks)


def find_break(series: Series, *, candidates: range) -> tuple[int, float] | None:
    """Find where the trend steps, if anywhere.

    Parameters
    ----------
    series : Series
        The logarithm of inharmonicity, where the change from one bridge to the other shows best.
    candidates : range
        Keys after which the break may lie.

    Returns
    -------
    tuple of int and float, or None
        Last key below the break, and the bound on the chance that a piano without a break shows such a step.
        ``None`` if that chance is above 2 %.
    """
    plain = TrendShape.of(series.keys, max_degree=series.max_degree, break_after=None)
    scale = _scale_from_differences(series, plain.columns(series.keys))
    chol = np.linalg.cholesky(series.covariance(scale))
    best: tuple[int, float] | None = None
    usable = [b for b in candidates if heard_on_both_sides(series.keys, b)]
    for after in usable:
        stepped = TrendShape.of(series.keys, max_degree=series.max_degree, break_after=after).columns(series.keys)
        white = solve_triangular(chol, np.column_stack([stepped, series.values]), lower=True)
        beta, _, rank, _ = np.linalg.lstsq(white[:, :-1], white[:, -1], rcond=None)
        residual = white[:, -1] - white[:, :-1] @ beta
        dof = len(series.keys) - int(rank)
        inverse = np.linalg.pinv(white[:, :-1].T @ white[:, :-1])
        column = plain.degree + 1
        # At the boundary the bend is 0, so the coefficient of the first column below the break is the step itself.
        spread = np.sqrt(inverse[column, column] * max(1.0, float(residual @ residual) / dof))
        p = min(1.0, 2.0 * len(usable) * float(student_tail(abs(beta[column]) / spread, dof)))
        if best is None or p < best[1]:
            best = (after, p)
    return best if best is not None and best[1] <= _BREAK_CHANCE else None


def with_own_scatter(series: Series, *, after: float) -> Series:
    """Return the notes with the scatter of a well-kept piano made larger or smaller on either side of a key.

    Wound strings scatter more in B than plain ones, and more in one piano than in another: judged alike, the bass would
    hide what stands out above it.

    Parameters
    ----------
    series : Series
        The notes.
    after : float
        Last key below the change.
    """
    scatter = series.scatter.copy()
    for side in (series.keys <= after, series.keys > after):
        if side.sum() < MIN_NOTES:
            return series
        part = replace(
            series,
            keys=series.keys[side],
            values=series.values[side],
            se=series.se[side],
            scatter=series.scatter[side],
        )
        shape = TrendShape.of(part.keys, max_degree=2, break_after=None)
        scatter[side] *= _scale_from_differences(part, shape.columns(part.keys))
    return replace(series, scatter=scatter / float(np.median(scatter / series.scatter)))


def _scale_from_differences(series: Series, own: Floats) -> float:
    """Return the scatter over that of a well-kept piano, from differences of neighbours: steps and runs hardly move it.

    The median of the absolute differences over their standard deviation is 0.6745 for normal errors.
    """
    beta, *_ = np.linalg.lstsq(own, series.values, rcond=None)
    difference = np.diff(series.values - own @ beta)

    def excess(scale: float) -> float:
        cov = series.covariance(scale)
        variance = np.diag(cov)[:-1] + np.diag(cov)[1:] - 2.0 * np.diag(cov, 1)
        return float(np.median(np.abs(difference) / np.sqrt(variance)) / 0.6745)

    low, high = _SCALE_RANGE
    if excess(low) <= 1.0:
        return low
    for _ in range(30):
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if excess(middle) > 1.0 else (low, middle)
    return high


def _describe(
    series: Series, model: TrendModel, n_shifts: int, scale: float, shape: TrendShape, n_looks: int
) -> TrendFit:
    """Turn the fit into a trend on every key and the net shifts as runs of one direction."""
    n_own = model.columns.shape[1] - n_shifts
    grid = np.arange(series.keys[0], series.keys[-1] + 1.0)
    own_grid = shape.columns(grid)
    gain = solve_triangular(model.chol, series.wander(grid, scale).T, lower=True).T  # shape (m, n), times white data
    white_columns = solve_triangular(model.chol, model.columns, lower=True)
    trend = own_grid @ model.coefficients[:n_own] + gain @ model.residual_white
    lever = np.column_stack([own_grid, np.zeros((len(grid), n_shifts))]) - gain @ white_columns
    variance = (
        series.wander_variance(grid, scale)
        - (gain**2).sum(axis=1)
        + np.einsum("ij,jk,ik->i", lever, model.covariance, lever)
    )
    return TrendFit(
        scale=scale,
        shifts=net_shifts(model, n_own, scale, n_looks),
        grid_keys=grid,
        trend=trend,
        trend_se=np.sqrt(np.maximum(variance, 0.0)),
    )
