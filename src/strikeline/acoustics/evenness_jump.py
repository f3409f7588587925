"""How far one quantity jumps where the scale changes, and whether chance explains it.

The jump is estimated beside a straight line, a slow trend, a change of slope below it, the drift of neighbours, and
scatter with heavy tails (Student's t with five degrees of freedom, and three notes of a hundred at fault; by
reweighting). How strong drift and trend are in *this* piano is not known, nor whether a run that seems worn is one; a
jump is easily taken for drift and drift for a jump. So the estimate is made for every combination on a grid and
averaged with the weight that the notes themselves give each (restricted likelihood).

Single notes that stand out are not set aside here: chosen because they are far off, they would leave less scatter than
there is, and jumps would look surer than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, lgamma, log, pi, sqrt
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_model import Floats, Series, heard_on_both_sides
from strikeline.acoustics.tails import student_tail
from strikeline.measured import Measured

FEWEST: Final = 5
"""Notes on each side of a change from which its jump is estimated."""
_REACH_KEYS: Final = 30
"""Notes farther from the jump say nothing of it that a slow trend would carry so far."""
_DRIFT_RATIO_SD: Final = 0.6
"""How far another piano's drift, over its scatter, may lie from the well-kept grand's 0.25 to 1.4 (assumed)."""
_DRIFT_OFFSETS: Final = (-_DRIFT_RATIO_SD, 0.0, _DRIFT_RATIO_SD)
_TREND_AND_BEND: Final = ((0.6, 0.7), (2.4, 0.7), (2.4, 5.0))
"""Slow trend over scatter, and change of slope at the jump in scatters per octave. In a recorded grand and in rendered
pianos the slope of brightness and level changes by 1 to 6 scatters per octave at the break."""
_TREND_KEYS: Final = 26.0
_OTHER_STEP_RATIO: Final = 3.0
"""Jumps at other changes of the scale, scatters (assumed; one standard deviation)."""
_TAIL_DOF: Final = 5.0
_CORE: Final = (_TAIL_DOF - 2.0) / _TAIL_DOF
"""Squared scale of Student's t over its variance."""
_EFFICIENCY: Final = (_TAIL_DOF + 3.0) / (_TAIL_DOF + 1.0)
"""Variance of a mean under Student's t over the squared scale (inverse of its Fisher information)."""
_FAULT_SHARE: Final = 0.03
"""Notes that are off by a fault of their own, not by scatter (assumed)."""
_FAULT_RATIO: Final = 6.0
"""By how much, in scatters: one standard deviation (assumed)."""
_FAULT_SQUARE: Final = (1.0 + _FAULT_RATIO**2) / _CORE
"""Variance of a note at fault over the squared scale of the others."""
_T_TOP: Final = exp(lgamma(0.5 * (_TAIL_DOF + 1.0)) - lgamma(0.5 * _TAIL_DOF)) / sqrt(_TAIL_DOF * pi)
"""Density of Student's t at 0."""
_RUN_RATIO: Final = 4.0
"""By how much a worn run is off, in scatters: one standard deviation (assumed)."""
_RUN_LOG_ODDS: Final = -log(150.0)
"""Against such a run where the search found one, before its evidence: about as many runs were looked at."""
_MOST_DOF: Final = 20
"""Drift is known from few independent stretches near the jump: chance is judged by Student's t with no more degrees of
freedom than this (a choice, made on invented pianos of other seeds than those of the benchmark: 4 of 100 without a jump
then show one)."""
_WEIGHING_ROUNDS: Final = 4
_SCALING_ROUNDS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Jump:
    """A jump from below to above, on the judged scale."""

    size: Measured
    scatter: float
    """Standard deviation of a note of this piano about its trend, drift included, errors of measurement left out."""
    p_value: float
    """Chance of one as large, up or down, where there is none."""


def estimate_jump(
    series: Series,
    *,
    after: float,
    others: Sequence[float] = (),
    shifted: Sequence[tuple[float, float]] = (),
    is_of_strings: bool = False,
) -> Jump | None:
    """Estimate how far a quantity jumps after a key.

    Parameters
    ----------
    series : Series
        The notes, with a trend that is known beforehand taken off.
    after : float
        Last key below the jump.
    others : sequence of float
        Last keys below other places where the quantity may jump.
    shifted : sequence of pairs of float
        First and last key of runs that seem to leave the trend on their own. Those that touch the jump belong to it;
        of the others the notes tell whether they are runs or drift.
    is_of_strings : bool
        Whether it is a quantity of the strings alone, which jumps and bends as far as their maker chose.

    Returns
    -------
    Jump or None
        ``None`` with fewer than five notes on a side, or if the place lies in a gap.
    """
    if not heard_on_both_sides(series.keys, after, n=FEWEST):
        return None
    near = np.abs(series.keys - after) <= _REACH_KEYS
    here = replace(
        series, keys=series.keys[near], values=series.values[near], se=series.se[near], scatter=series.scatter[near]
    )
    runs = [_between(here.keys, low, high) for low, high in shifted if not low - 1.0 <= after <= high]
    aside: list[Floats] = []
    bend = _bend(here.keys, after)
    if is_of_strings:
        aside = [bend, bend**2, *((here.keys <= other).astype(np.float64) for other in others)]
        bend, others = np.zeros(bend.size), ()
    return (
        _Grid.of(here, after, bend, others)
        .with_runs([run for run in runs if run.any()])
        .estimate(_columns(here.keys, after, aside))
    )


def _between(keys: Floats, low: float, high: float) -> Floats:
    return ((keys >= low) & (keys <= high)).astype(np.float64)


def _bend(keys: Floats, after: float) -> Floats:
    return np.where(keys <= after, (keys - after - 0.5) / 12.0, 0.0)


def _columns(keys: Floats, after: float, aside: Sequence[Floats]) -> Floats:
    """Return line, jump and what is set aside, shape (n, 3 + q); what nothing else tells apart is left out."""
    columns = np.column_stack([np.ones(keys.size), (keys - after) / 12.0, (keys > after).astype(np.float64)])
    for column in aside:
        wider = np.column_stack([columns, column])
        if wider.shape[1] < keys.size and np.linalg.matrix_rank(wider) == wider.shape[1]:
            columns = wider
    return columns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """All combinations of drift, trend and bend, without and with worn runs, c of them, at unit scatter."""

    series: Series
    smooth: Floats  # shape (c, n, n), covariance of all that is not a note's own
    drift_ratio: Floats  # shape (c,)
    typical: float  # scatter of a note of a well-kept piano at the jump
    prior: Floats  # shape (c,), logarithm

    @classmethod
    def of(cls, series: Series, after: float, bend: Floats, others: Sequence[float]) -> _Grid:
        keys = series.keys
        typical = float(np.interp(after, keys, series.scatter))
        apart = keys[:, None] - keys[None, :]
        drift = np.outer(series.scatter, series.scatter) * np.exp(-0.5 * (apart / series.wander_keys) ** 2)
        trend = np.exp(-0.5 * (apart / _TREND_KEYS) ** 2)
        bends = np.outer(bend, bend)
        rest = np.zeros_like(drift)
        for other in others:
            below = (keys <= other).astype(np.float64)
            rest += _OTHER_STEP_RATIO**2 * np.outer(below, below)
        ratios = [max(0.0, series.wander_ratio + offset) for offset in _DRIFT_OFFSETS]
        combinations = [(drifting, *slow) for drifting in ratios for slow in _TREND_AND_BEND]
        chance = [-0.5 * (offset / _DRIFT_RATIO_SD) ** 2 for offset in _DRIFT_OFFSETS for _ in _TREND_AND_BEND]
        ratio = np.array([drifting for drifting, _, _ in combinations])
        return cls(
            series=series,
            smooth=np.array(
                [a**2 * drift + typical**2 * (b**2 * trend + c**2 * bends + rest) for a, b, c in combinations]
            ),
            drift_ratio=ratio,
            typical=typical,
            prior=np.array(chance),
        )

    def with_runs(self, runs: Sequence[Floats]) -> _Grid:
        """Return the grid with each combination once more, beside runs, shape (n,) each, that are off by themselves."""
        if not runs:
            return self
        off = (_RUN_RATIO * self.typical) ** 2 * sum(np.outer(run, run) for run in runs)
        return replace(
            self,
            smooth=np.concatenate([self.smooth, self.smooth + off]),
            drift_ratio=np.tile(self.drift_ratio, 2),
            prior=np.concatenate([self.prior, self.prior + _RUN_LOG_ODDS * len(runs)]),
        )

    def estimate(self, columns: Floats) -> Jump:
        """Return the jump, column 2, averaged over the grid."""
        n, p = columns.shape
        weight = self._weights(columns)
        size = np.ones(len(self.smooth))  # scatter of this piano over that of a well-kept one, for each combination
        for _ in range(_SCALING_ROUNDS):
            fit = self.fit(columns, size, weight)
            size = np.clip(size * np.sqrt(fit.chi2 / (n - p)), 0.05, 50.0)
        fit = self.fit(columns, size, weight / _EFFICIENCY)
        share = np.exp(self.prior + fit.log_likelihood - np.max(self.prior + fit.log_likelihood))
        share /= share.sum()
        jump, se = fit.beta[:, 2], fit.beta_se[:, 2]
        mean = float(share @ jump)
        note = np.sqrt(1.0 + self.drift_ratio**2) * size * self.typical
        return Jump(
            size=Measured(mean, float(np.sqrt(share @ (se**2 + (jump - mean) ** 2)))),
            scatter=float(share @ note),
            p_value=float(share @ (2.0 * student_tail(np.abs(jump) / se, min(n - p, _MOST_DOF)))),
        )

    def _weights(self, columns: Floats) -> Floats:
        """Return the weight of each note, shape (n,), 1 on average: little for one far from its neighbours.

        Found with the combination nearest to the well-kept piano and the freest trend.
        """
        n, p = columns.shape
        one = replace(self, smooth=self.smooth[[self._middle]])  # with the runs, where there are any
        size, weight = np.ones(1), np.ones(n)
        for _ in range(_WEIGHING_ROUNDS):
            fit = one.fit(columns, size, weight)
            weight = _weight(fit.own_square[0] / one.own(size)[0])
            size = np.clip(size * np.sqrt(fit.chi2 / (n - p)), 0.05, 50.0)
        return np.asarray(weight)

    @property
    def _middle(self) -> int:
        n_slow, n_drifts = len(_TREND_AND_BEND), len(_DRIFT_OFFSETS)
        return len(self.smooth) - n_slow * n_drifts + _DRIFT_OFFSETS.index(0.0) * n_slow + 1

    def own(self, size: Floats) -> Floats:
        """Return the squared scale of each note's own scatter and error, shape (c, n)."""
        return np.asarray(_CORE * (self.series.se**2 + (size[:, None] * self.series.scatter) ** 2))

    def fit(self, columns: Floats, size: Floats, weight: Floats) -> _Fits:
        """Fit the notes for each combination."""
        smooth = size[:, None, None] ** 2 * self.smooth
        return _fit(columns, self.series.values, smooth, self.own(size) / weight)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fits:
    """Generalised least squares for c covariances at once."""

    beta: Floats  # shape (c, p)
    beta_se: Floats  # shape (c, p)
    chi2: Floats  # shape (c,)
    log_likelihood: Floats  # shape (c,), restricted, up to a constant
    own_square: Floats  # shape (c, n), expected square of each note's own departure


def _fit(columns: Floats, values: Floats, smooth: Floats, own: Floats) -> _Fits:
    """Fit `values`, shape (n,), with covariance `smooth`, shape (c, n, n), plus the diagonal `own`, shape (c, n)."""
    covariance = smooth.copy()
    diagonal = np.arange(values.size)
    covariance[:, diagonal, diagonal] += own
    inverse = np.linalg.inv(covariance)
    gain = inverse @ columns  # shape (c, n, p)
    spread = np.linalg.inv(columns.T @ gain)
    beta = np.einsum("cpq,cnq,n->cp", spread, gain, values, optimize=True)
    residual = values - beta @ columns.T
    pulled = np.einsum("cnm,cm->cn", inverse, residual)
    chi2 = np.einsum("cn,cn->c", residual, pulled)
    determinants = np.linalg.slogdet(covariance)[1] - np.linalg.slogdet(spread)[1]
    uncertain = np.maximum(own - own**2 * np.einsum("cnn->cn", inverse), 0.0)
    return _Fits(
        beta=beta,
        beta_se=np.sqrt(np.einsum("cpp->cp", spread)),
        chi2=chi2,
        log_likelihood=-0.5 * (determinants + chi2),
        own_square=(own * pulled) ** 2 + uncertain,
    )


def _weight(square: Floats) -> Floats:
    """Return the weight of notes, shape (n,), from squared departures over the squared scale.

    It is the expected inverse of a note's own variance: under Student's t, or under the normal distribution of notes
    at fault, by the chance of either.
    """
    at_fault = _FAULT_SHARE / sqrt(2.0 * pi * _FAULT_SQUARE) * np.exp(-0.5 * square / _FAULT_SQUARE)
    sound = (1.0 - _FAULT_SHARE) * _T_TOP * (1.0 + square / _TAIL_DOF) ** (-0.5 * (_TAIL_DOF + 1.0))
    share = at_fault / (at_fault + sound)
    weight = (1.0 - share) * (_TAIL_DOF + 1.0) / (_TAIL_DOF + square) + share / _FAULT_SQUARE
    return np.asarray(weight)
