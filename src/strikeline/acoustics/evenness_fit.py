"""Trend over the keyboard and the notes that leave it, found together.

The values of one quantity along the keyboard are taken as

    polynomial + step and bend at the break + slow drift (Gaussian process) + scatter of each note + measurement error

to which any number of shifts is added: of single notes and of runs of neighbours. Shifts are chosen one by one, each
time the least likely to be chance, in the generalised least-squares model that already holds all others; so a run of
twenty worn hammers is neither swallowed by the trend nor does it drag the trend along. Chance is judged with a weighted
Bonferroni bound (half for the n single notes, half for all runs, divided by the number of quantities looked at), which
holds whatever the dependence between the candidates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.stats import t as student_t

Floats = NDArray[np.float64]

MIN_NOTES: Final = 12
"""Fewer notes than this have too few neighbours to be compared with."""
HINT: Final = 0.20
"""Chance of a false alarm up to which a shift is mentioned at all."""
_TAIL_DOF: Final = 20
"""Chance is judged by Student's t with at most this many degrees of freedom.

The scatter of real pianos has heavier tails than the normal distribution: about its local line, the spectral centroid
of the Iowa grand has a standard deviation of 1.25 semitones by the median deviation and 1.75 in full (survey in
tests/reference/recorded_grands). The number itself is a choice, kept because simulated pianos with t5 scatter then
raise less than one false alarm a sheet.
"""
_BREAK_CHANCE: Final = 0.02
"""A break is named up to this chance; smooth simulated scales then show one in about 1 of 20."""
_MAX_SHIFTS: Final = 14
_SHORT_RUN: Final = 4
_N_REFINED: Final = 6
"""Candidates of each search whose ends are tried key by key."""
_SCALE_RANGE: Final = (0.6, 50.0)
"""A piano's own scatter over that of the well-kept grand: judged by its own, but never as if it were far more even."""
_MIN_IDENTIFIABLE: Final = 0.03
"""A shift of which less than this share is independent of the trend cannot be told from it."""


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

    def covariance(self, scale: float) -> Floats:
        """Return the covariance of the values, shape (n, n), for a piano `scale` times as uneven as a well-kept one."""
        own = np.diag(self.se**2 + (scale * self.scatter) ** 2)
        return np.asarray(own + self.wander(self.keys, scale))

    def wander(self, keys: Floats, scale: float) -> Floats:
        """Return the covariance of the slow drift between `keys`, shape (m,), and the notes, shape (m, n)."""
        amplitude = scale * self.wander_ratio * self.scatter
        amplitude_there = np.interp(keys, self.keys, amplitude)
        distance = (keys[:, None] - self.keys[None, :]) / self.wander_keys
        return np.asarray(amplitude_there[:, None] * amplitude[None, :] * np.exp(-0.5 * distance**2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A note or a run of neighbouring notes that leaves the trend."""

    first: int
    """Index of the first note."""
    last: int
    """Index of the last note."""
    effect: float
    """Mean departure, judged scale."""
    se: float
    p_false: float
    """Bound on the chance that an even piano shows one like it, anywhere, in any quantity looked at."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrendFit:
    """Trend and shifts of one quantity."""

    scale: float  # own scatter of this piano over that of a well-kept one
    shifts: tuple[Shift, ...]  # ascending
    grid_keys: Floats  # shape (m,), every key from the lowest to the highest note
    trend: Floats  # shape (m,)
    trend_se: Floats  # shape (m,)
    step: float | None  # jump of the trend from the last key below the break to the first above
    step_se: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendShape:
    """The columns of the trend: polynomial over all keys, step and bend below the break."""

    degree: int
    break_after: float | None
    bend: int

    @classmethod
    def of(cls, keys: Floats, *, max_degree: int, break_after: float | None) -> TrendShape:
        """Return the shape that the notes can carry: the fewer notes, the lower the degree.

        Parameters
        ----------
        keys : ndarray of float, shape (n,)
            Key numbers of the notes there are, ascending.
        max_degree : int
            Highest degree of the polynomial.
        break_after : float or None
            Key after which the scale breaks; ``None`` for a scale without a break.
        """
        n = len(keys)
        degree = min(max_degree, 1 if n < 20 else 2 if n < 28 else 3 if n < 40 else 4)
        n_below = 0 if break_after is None else int((keys <= break_after).sum())
        return cls(
            degree=degree,
            break_after=break_after,
            bend=0 if n_below < 4 else 1 if n_below < 10 or max_degree < 4 else 2,
        )

    def columns(self, keys: Floats) -> Floats:
        """Return the design matrix, shape (n, p); the step is column ``degree + 1``."""
        x = (keys - 44.5) / 44.0
        columns = [x**power for power in range(self.degree + 1)]
        if self.break_after is not None:
            below = (keys <= self.break_after).astype(np.float64)
            bend = (keys - self.break_after - 0.5) / 12.0
            columns += [below * bend**power for power in range(self.bend + 1)]
        return np.column_stack(columns)


def fit_trend(series: Series, *, break_after: float | None, n_looks: int) -> TrendFit:
    """Fit the trend of one quantity and find what leaves it.

    Parameters
    ----------
    series : Series
        At least `MIN_NOTES` notes.
    break_after : float or None
        Last key below the break, ``None`` if there is none or it cannot be told.
    n_looks : int
        Number of quantities looked at on the same sheet.

    Returns
    -------
    TrendFit
    """
    if break_after is not None and not _heard_on_both_sides(series.keys, break_after):
        break_after = None  # too few values of this quantity to tell a step from a bend
    shape = TrendShape.of(series.keys, max_degree=series.max_degree, break_after=break_after)
    own = shape.columns(series.keys)
    # The differences tell the scatter only to about 15 %, so the first search is lenient on both counts; what remains
    # once everything suspicious is set aside tells it better, and the second search is strict.
    scale = max(_SCALE_RANGE[0], 0.85 * _scale_from_differences(series, own))
    suspicious = _find_shifts(series, own, scale, n_looks, up_to=1.0)
    for _ in range(3):
        model = _Model.of(series, own, suspicious, scale)
        scale = float(np.clip(scale * np.sqrt(model.reduced_chi2), *_SCALE_RANGE))
    shifts = _find_shifts(series, own, scale, n_looks, up_to=HINT)
    model = _Model.of(series, own, shifts, scale)
    return _describe(series, model, shifts, scale, shape, n_looks)


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
    usable = [b for b in candidates if _heard_on_both_sides(series.keys, b)]
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
        p = min(1.0, 2.0 * len(usable) * float(student_t.sf(abs(beta[column]) / spread, dof)))
        if best is None or p < best[1]:
            best = (after, p)
    return best if best is not None and best[1] <= _BREAK_CHANCE else None


def _heard_on_both_sides(keys: Floats, after: float, *, n: int = 5) -> bool:
    """Return whether enough notes lie below and above, and the step itself is not inside a gap."""
    below, above = keys[keys <= after], keys[keys > after]
    return len(below) >= n and len(above) >= n and below[-1] >= after - 1 and above[0] <= after + 2


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Model:
    """A generalised least-squares fit of trend and shifts."""

    columns: Floats  # shape (n, p + q): trend, then shifts
    coefficients: Floats  # shape (p + q,)
    covariance: Floats  # shape (p + q, p + q)
    chol: Floats  # shape (n, n)
    residual_white: Floats  # shape (n,)
    dof: int
    reduced_chi2: float

    @classmethod
    def of(cls, series: Series, own: Floats, shifts: list[tuple[int, int]], scale: float) -> _Model:
        columns = np.column_stack([own, *(_indicator(len(series.keys), *shift) for shift in shifts)])
        chol = np.linalg.cholesky(series.covariance(scale))
        white = solve_triangular(chol, np.column_stack([columns, series.values]), lower=True)
        design_white, target = white[:, :-1], white[:, -1]
        inverse = np.linalg.pinv(design_white.T @ design_white)
        coefficients = inverse @ design_white.T @ target
        residual = target - design_white @ coefficients
        dof = max(1, len(target) - columns.shape[1])
        return cls(
            columns=columns,
            coefficients=coefficients,
            covariance=inverse,
            chol=np.asarray(chol, dtype=np.float64),
            residual_white=residual,
            dof=dof,
            reduced_chi2=float(residual @ residual) / dof,
        )


def _indicator(n: int, first: int, last: int) -> Floats:
    column = np.zeros(n)
    column[first : last + 1] = 1.0
    return column


def _candidate_spans(n: int) -> NDArray[np.int64]:
    """Return first and last index of every shift tried, shape (m, 2): all single notes, and runs on a coarser grid.

    Lengths of runs grow by about a fifth and longer runs start every fifth of their length; `_refined` moves the ends.
    """
    lengths = [length for length in (2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22, 27, 33, 40, 48) if length <= n // 2]
    spans = [(i, i) for i in range(n)]
    for length in lengths:
        starts = {*range(0, n - length + 1, max(1, length // 5)), n - length}
        spans += [(i, i + length - 1) for i in sorted(starts)]
    return np.array(spans, dtype=np.int64)


def _n_looks(n: int, *, is_single: bool) -> float:
    """Return by how much a chance is multiplied: half of the false alarms are allowed to single notes, half to runs."""
    return 2.0 * (n if is_single else max(1, len(_candidate_spans(n)) - n))


def _chance(z: float, *, dof: int, n: int, length: int, n_quantities: int) -> float:
    """Return the bound on the chance of a departure of |z| standard errors anywhere on the sheet.

    The mean over a run is closer to normal than its notes, so the cap on the degrees of freedom grows with its length.
    """
    tail = 2.0 * float(student_t.sf(abs(z), min(dof, _TAIL_DOF * length)))
    return min(1.0, tail * _n_looks(n, is_single=length == 1) * n_quantities)


def _find_shifts(series: Series, own: Floats, scale: float, n_looks: int, *, up_to: float) -> list[tuple[int, int]]:
    """Choose shifts one by one until the next is no longer unlikely to be chance."""
    n = len(series.keys)
    spans = _candidate_spans(n)
    chol = np.linalg.cholesky(series.covariance(scale))
    cumulated = np.vstack([np.zeros(n), np.cumsum(solve_triangular(chol, np.eye(n), lower=True).T, axis=0)])
    length = spans[:, 1] - spans[:, 0] + 1
    looks = np.where(length == 1, _n_looks(n, is_single=True), _n_looks(n, is_single=False))
    chosen: list[tuple[int, int]] = []
    while len(chosen) < _MAX_SHIFTS:
        model = _Model.of(series, own, chosen, scale)
        dof = np.minimum(model.dof, _TAIL_DOF * length)
        z = _pull(model, cumulated, spans) * _trusted(length, scale)
        # The logarithm of the tail of Student's t, up to slow factors: it ranks where the tail itself underflows.
        likeliest = np.argsort(np.log(looks) - 0.5 * dof * np.log1p(z**2 / dof))[:_N_REFINED]
        chance, span = min(_refined(model, cumulated, spans[i], scale, n_looks) for i in likeliest)
        if chance >= up_to:
            break
        chosen.append(span)
    return chosen


def _trusted(length: NDArray[np.int64], scale: float) -> Floats:
    """Return the factor on departures of runs of `length`, shape (m,), in a piano more even than a well-kept one.

    Up to four notes must depart by the scatter of a well-kept piano: no piano owes more than that. Longer runs are
    compared with the piano's own scatter, because their mean would not be where it is by scatter at all.
    """
    return np.where(length <= _SHORT_RUN, min(1.0, scale), 1.0)


def _pull(model: _Model, cumulated: Floats, spans: NDArray[np.int64]) -> Floats:
    """Return by how many standard errors each span, shape (m, 2), would depart if it were added, shape (m,)."""
    candidates = cumulated[spans[:, 1] + 1] - cumulated[spans[:, 0]]  # white indicators, shape (m, n)
    basis, _ = np.linalg.qr(solve_triangular(model.chol, model.columns, lower=True))
    # einsum stays on one thread: on arrays this small, waiting for a second one takes longer than the sums.
    power = np.einsum("mn,mn->m", candidates, candidates)
    shared = np.einsum("mn,np->mp", candidates, basis)
    free = power - np.einsum("mp,mp->m", shared, shared)
    pull = np.abs(np.einsum("mn,n->m", candidates, model.residual_white))
    told_apart = free > _MIN_IDENTIFIABLE * power
    return np.where(told_apart, pull / np.sqrt(np.where(told_apart, free, 1.0)), 0.0)


def _refined(
    model: _Model, cumulated: Floats, span: NDArray[np.int64], scale: float, n_looks: int
) -> tuple[float, tuple[int, int]]:
    """Return the run with its ends moved to where it departs most, after its chance; a single note stays."""
    first, last = int(span[0]), int(span[1])
    n = len(cumulated) - 1
    reach = 0 if first == last else (last - first + 1) // 5 + 1
    near = [
        (i, j)
        for i in range(max(0, first - reach), first + reach + 1)
        for j in range(last - reach, min(n - 1, last + reach) + 1)
        if j > i or first == last
    ]
    spans = np.array(near, dtype=np.int64)
    z = _pull(model, cumulated, spans) * _trusted(spans[:, 1] - spans[:, 0] + 1, scale)
    best = int(np.argmax(z))
    length = near[best][1] - near[best][0] + 1
    return _chance(float(z[best]), dof=model.dof, n=n, length=length, n_quantities=n_looks), near[best]


def _describe(
    series: Series,
    model: _Model,
    chosen: list[tuple[int, int]],
    scale: float,
    shape: TrendShape,
    n_looks: int,
) -> TrendFit:
    """Turn the fit into a trend on every key and the net shifts as runs of one direction."""
    n_own = model.columns.shape[1] - len(chosen)
    grid = np.arange(series.keys[0], series.keys[-1] + 1.0)
    own_grid = shape.columns(grid)
    gain = solve_triangular(model.chol, series.wander(grid, scale).T, lower=True).T  # shape (m, n), times white data
    white_columns = solve_triangular(model.chol, model.columns, lower=True)
    trend = own_grid @ model.coefficients[:n_own] + gain @ model.residual_white
    lever = np.column_stack([own_grid, np.zeros((len(grid), len(chosen)))]) - gain @ white_columns
    amplitude = scale * series.wander_ratio * np.interp(grid, series.keys, series.scatter)
    variance = amplitude**2 - (gain**2).sum(axis=1) + np.einsum("ij,jk,ik->i", lever, model.covariance, lever)
    step = step_se = None
    if shape.break_after is not None:
        step = -float(model.coefficients[shape.degree + 1])
        step_se = float(np.sqrt(model.covariance[shape.degree + 1, shape.degree + 1]))
    return TrendFit(
        scale=scale,
        shifts=_net_shifts(model, n_own, scale, n_looks),
        grid_keys=grid,
        trend=trend,
        trend_se=np.sqrt(np.maximum(variance, 0.0)),
        step=step,
        step_se=step_se,
    )


def _net_shifts(model: _Model, n_own: int, scale: float, n_looks: int) -> tuple[Shift, ...]:
    """Gather neighbouring notes that are shifted the same way into one run each."""
    indicators = model.columns[:, n_own:]
    if indicators.shape[1] == 0:
        return ()
    alpha = model.coefficients[n_own:]
    cov = model.covariance[n_own:, n_own:]
    net = indicators @ alpha
    sign = np.where(indicators.any(axis=1), np.sign(net), 0.0)
    n = len(sign)
    shifts = []
    first = 0
    while first < n:
        last = first
        while last + 1 < n and sign[last + 1] == sign[first]:
            last += 1
        if sign[first] != 0:
            contrast = indicators[first : last + 1].mean(axis=0)
            effect, se = float(contrast @ alpha), float(np.sqrt(contrast @ cov @ contrast))
            length = last - first + 1
            z = effect / se * (min(1.0, scale) if length <= _SHORT_RUN else 1.0)
            p = _chance(z, dof=model.dof, n=n, length=length, n_quantities=n_looks)
            if p <= HINT:
                shifts.append(Shift(first=first, last=last, effect=effect, se=se, p_false=p))
        first = last + 1
    return tuple(shifts)
