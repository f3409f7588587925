"""Notes and runs of notes that leave the trend: a search that accounts for the number of looks.

Shifts are chosen one by one, each time the least likely to be chance; then single ones, and pairs, are taken out again
and replaced where another run explains the notes better. For a worn stretch of a third of the keyboard the first choice
is often a flank beside it, lowered: only the exchange finds the stretch itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from strikeline.acoustics.evenness_model import Floats, Series, Span, TrendModel
from strikeline.acoustics.tails import student_tail

HINT: Final = 0.20
"""Chance of a false alarm up to which a shift is mentioned at all."""
_TAIL_DOF: Final = 20
"""Chance is judged by Student's t with at most this many degrees of freedom.

The scatter of real pianos has heavier tails than the normal distribution: about its local line, the spectral centroid
of the Iowa grand has a standard deviation of 1.25 semitones by the median deviation and 1.75 in full (survey in
tests/reference/recorded_grands). The number itself is a choice, kept because simulated pianos with t5 scatter then
raise less than one false alarm a sheet.
"""
_MAX_SHIFTS: Final = 14
_MOST_EXCHANGES: Final = 6
_SHORT_RUN: Final = 4
_N_REFINED: Final = 6
"""Candidates of each search whose ends are tried key by key."""
_MIN_IDENTIFIABLE: Final = 0.03
"""A shift of which less than this share is independent of the trend cannot be told from it."""


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


def find_shifts(series: Series, own: Floats, scale: float, n_looks: int, *, up_to: float) -> list[Span]:
    """Choose shifts one by one until the next is no longer unlikely to be chance, then exchange those that fit badly.

    Parameters
    ----------
    series : Series
        The notes.
    own : ndarray of float, shape (n, p)
        Columns of the trend.
    scale : float
        Scatter of this piano over that of a well-kept one.
    n_looks : int
        Number of quantities looked at on the same sheet.
    up_to : float
        Chance of a false alarm up to which a shift is taken.

    Returns
    -------
    list of pairs of int
        First and last index of each.
    """
    search = _Search.over(series, own, scale, n_looks)
    chosen: list[Span] = []
    while len(chosen) < _MAX_SHIFTS:
        chance, span = search.next_one(chosen)
        if chance >= up_to:
            break
        chosen.append(span)
    return chosen if up_to > HINT else search.exchanged(chosen)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Search:
    """What stays the same while shifts are sought."""

    series: Series
    own: Floats
    scale: float
    n_looks: int
    spans: NDArray[np.int64]  # shape (m, 2)
    length: NDArray[np.int64]  # shape (m,)
    looks: Floats  # shape (m,)
    cumulated: Floats  # shape (n + 1, n)

    @classmethod
    def over(cls, series: Series, own: Floats, scale: float, n_looks: int) -> _Search:
        n = len(series.keys)
        spans = _candidate_spans(n)
        chol = np.linalg.cholesky(series.covariance(scale))
        white = solve_triangular(chol, np.eye(n), lower=True).T
        length = spans[:, 1] - spans[:, 0] + 1
        return cls(
            series=series,
            own=own,
            scale=scale,
            n_looks=n_looks,
            spans=spans,
            length=length,
            looks=np.where(length == 1, _n_looks(n, is_single=True), _n_looks(n, is_single=False)),
            cumulated=np.vstack([np.zeros(n), np.cumsum(white, axis=0)]),
        )

    def model(self, chosen: Sequence[Span]) -> TrendModel:
        return TrendModel.of(self.series, self.own, chosen, self.scale)

    def next_one(self, chosen: Sequence[Span], *, each_length: bool = False) -> tuple[float, Span]:
        """Return the span least likely to be chance beside those `chosen`, after its chance."""
        model = self.model(chosen)
        dof = np.minimum(model.dof, _TAIL_DOF * self.length)
        z = _pull(model, self.cumulated, self.spans) * _trusted(self.length, self.scale)
        # The logarithm of the tail of Student's t, up to slow factors: it ranks where the tail itself underflows.
        rank = np.log(self.looks) - 0.5 * dof * np.log1p(z**2 / dof)
        order = np.argsort(rank)
        if each_length:  # the best of each length: else all refined ones may be the same flank
            order = order[np.unique(self.length[order], return_index=True)[1]]
            order = order[np.argsort(rank[order])]
        return min(_refined(model, self.cumulated, self.spans[i], self.scale, self.n_looks) for i in order[:_N_REFINED])

    def exchanged(self, chosen: list[Span]) -> list[Span]:
        """Return the shifts after all exchanges of one or two runs for another that explain the notes better.

        Better is a smaller sum of the squared residuals and, for each shift, twice the logarithm of the looks it took.
        """
        best = self._cost(chosen)
        for _ in range(_MOST_EXCHANGES):
            runs = [span for span in chosen if span[1] > span[0]]
            pairs = [(a, b) for i, a in enumerate(runs) for b in runs[i + 1 :]]
            moves: list[list[Span]] = []
            for gone in [*((run,) for run in runs), *pairs]:
                rest = [span for span in chosen if span not in gone]
                moves.append([*rest, self.next_one(rest, each_length=True)[1]])
            for a, b in pairs:
                rest = [span for span in chosen if span not in (a, b)]
                moves += [[*rest, *spans] for spans in _regrouped(a, b)]
            costs = [self._cost(move) for move in moves]
            if not costs or min(costs) >= best - 1e-6:
                break
            best = min(costs)
            chosen = moves[costs.index(best)]
        return chosen

    def _cost(self, chosen: Sequence[Span]) -> float:
        n = len(self.series.keys)
        looks = sum(float(np.log(_n_looks(n, is_single=first == last))) for first, last in chosen)
        return self.model(chosen).chi2 + 2.0 * looks


def _regrouped(a: Span, b: Span) -> list[list[Span]]:
    """Return other runs that two runs together may stand for: what lies between, both with it, or the ends alone.

    Two notes far apart that depart alike are the difference of two runs between them: the ends are what was meant.
    """
    (low, low_end), (high, high_end) = sorted((a, b))
    last = max(low_end, high_end)
    ends = [(low, high - 1), (min(low_end, high_end) + 1, last)]
    groups = [[(low_end + 1, high - 1)], [(low, last)], ends]
    kept = [[(first, end) for first, end in group if first <= end] for group in groups]
    return [group for group in kept if group]


@lru_cache(maxsize=64)
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
    tail = 2.0 * float(student_tail(abs(z), min(dof, _TAIL_DOF * length)))
    return min(1.0, tail * _n_looks(n, is_single=length == 1) * n_quantities)


def _trusted(length: NDArray[np.int64], scale: float) -> Floats:
    """Return the factor on departures of runs of `length`, shape (m,), in a piano more even than a well-kept one.

    Up to four notes must depart by the scatter of a well-kept piano: no piano owes more than that. Longer runs are
    compared with the piano's own scatter, because their mean would not be where it is by scatter at all.
    """
    return np.where(length <= _SHORT_RUN, min(1.0, scale), 1.0)


def _pull(model: TrendModel, cumulated: Floats, spans: NDArray[np.int64]) -> Floats:
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
    model: TrendModel, cumulated: Floats, span: NDArray[np.int64], scale: float, n_looks: int
) -> tuple[float, Span]:
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


def net_shifts(model: TrendModel, n_own: int, scale: float, n_looks: int) -> tuple[Shift, ...]:
    """Gather neighbouring notes that are shifted the same way into one run each.

    Parameters
    ----------
    model : TrendModel
        With all shifts chosen.
    n_own : int
        Number of columns of the trend; those of the shifts follow.
    scale : float
        Scatter of this piano over that of a well-kept one.
    n_looks : int
        Number of quantities looked at on the same sheet.

    Returns
    -------
    tuple of Shift
        Ascending; those that are likely chance left out.
    """
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
