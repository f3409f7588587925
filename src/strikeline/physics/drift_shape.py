"""What the pitch of a piano did over the compass between two visits: a smooth curve, and single notes about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, fdtrc

from strikeline.keyboard import A4_KEY
from strikeline.measured import Measured

REPEATS_CENTS: Final = 0.5
"""How well one note of an untouched piano repeats from one recording to the next, standard deviation: beating unisons
are caught at another moment of their beat (our reasoning; play the pass twice and measure your own)."""
_TENOR: Final = (A4_KEY - 12, A4_KEY)
_TOP_FROM: Final = 76
_FEWEST_IN_REGISTER: Final = 4
_SIGNIFICANT: Final = 0.05
_FAR_OFF: Final = 4.0
_MAD_TO_SD: Final = 1.4826
_BESIDE: Final = 3
"""Notes on either side that a note is held against (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftShape:
    """What the pitch did over the compass: a smooth curve, and single notes about it."""

    n: int
    mean_cents: Measured
    """Mean of the curve over the notes heard, above 0 for sharper."""
    tenor_cents: Measured | None
    """Mean of the notes from A3 to A4 but for those that moved by themselves; ``None`` below four of them."""
    top_cents: Measured | None
    """The same from C7 upwards."""
    curve_cents: Mapping[int, Measured]
    """The curve at each note heard, by key number."""
    chance_of_curve: float
    """How often a level change alone would look as curved as this: the F test of all terms but the level."""
    scatter_cents: Measured
    """Standard deviation of single notes about the curve, beyond reading and repeating."""
    chance_of_scatter: float
    """How often reading and repeating alone would scatter as much: the chi-square test of what the curve leaves."""
    off_the_curve: tuple[int, ...]
    """Keys that moved by themselves: further from the curve, and from three notes on either side, than four times what
    the others do."""

    @property
    def is_curved(self) -> bool:
        """Whether the notes moved unlike each other in a smooth way, beyond chance (once in twenty falsely)."""
        return self.chance_of_curve < _SIGNIFICANT


def fit_shape(changes_cents: Mapping[int, Measured], *, break_after: int | None, repeats_cents: float) -> DriftShape:
    """Return the smooth curve through changes of pitch, and how single notes scatter about it.

    A straight line on the bass bridge and a curve of fourth degree on the other, or one of fifth degree over all where
    the break is not known; by weighted least squares, notes far off left out, the scatter told by what is left over. So
    few bends cannot follow every drift: single registers are told from their own notes, not from the curve.

    Parameters
    ----------
    changes_cents : mapping of int to Measured
        Pitch after less before, by key number.
    break_after : int or None
        Last key on the bass bridge.
    repeats_cents : float
        Standard deviation with which one note repeats.

    Returns
    -------
    DriftShape
    """
    keys = np.array(sorted(changes_cents))
    y = np.array([changes_cents[key].value for key in keys.tolist()])
    known = np.array([changes_cents[key].se for key in keys.tolist()]) ** 2 + repeats_cents**2
    design = _design(keys, break_after)
    is_in = np.ones(len(keys), dtype=bool)
    for _ in range(3):
        fit = _fitted(design, y, known, is_in)
        off = np.abs(y - design @ fit.beta)
        usual = max(_MAD_TO_SD * float(np.median(off)), float(np.sqrt(np.median(known))))
        is_in = (off <= _FAR_OFF * usual) | ~_is_alone(y, _FAR_OFF * usual)
    fit = _fitted(design, y, known, is_in)

    variance = known + fit.scatter.value**2

    def some(wanted: NDArray[np.bool_]) -> Measured | None:
        inside = wanted & is_in
        n = int(inside.sum())
        if n < _FEWEST_IN_REGISTER:
            return None
        return Measured(float(y[inside].mean()), float(np.sqrt(variance[inside].sum())) / n)

    return DriftShape(
        n=len(keys),
        mean_cents=_mean(design, fit),
        tenor_cents=some((keys >= _TENOR[0]) & (keys <= _TENOR[1])),
        top_cents=some(keys >= _TOP_FROM),
        curve_cents={int(key): _mean(row[np.newaxis], fit) for key, row in zip(keys.tolist(), design, strict=True)},
        chance_of_curve=_chance_of_curve(design[is_in], fit),
        scatter_cents=fit.scatter,
        chance_of_scatter=fit.chance_of_scatter,
        off_the_curve=tuple(keys[~is_in].tolist()),
    )


def _is_alone(y: NDArray[np.float64], apart: float) -> NDArray[np.bool_]:
    """Return which notes stand apart from those below and from those above: a step of the whole scale is no loner."""
    alone = np.ones(len(y), dtype=bool)
    for i, value in enumerate(y.tolist()):
        for beside in (y[max(0, i - _BESIDE) : i], y[i + 1 : i + 1 + _BESIDE]):
            if len(beside) > 1 and abs(value - float(np.median(beside))) <= apart:
                alone[i] = False
    return alone


def _mean(rows: NDArray[np.float64], fit: _Fit) -> Measured:
    """Return the mean of the curve over some notes."""
    row = rows.mean(axis=0)
    return Measured(float(row @ fit.beta), float(np.sqrt(row @ fit.covariance @ row)))


@dataclass(frozen=True, slots=True)
class _Fit:
    beta: NDArray[np.float64]
    covariance: NDArray[np.float64]
    scatter: Measured
    chance_of_scatter: float
    freedom: int


def _design(keys: NDArray[np.int64], break_after: int | None) -> NDArray[np.float64]:
    """Return the terms of the curve at each key, shape (n, p); the first two of a bridge make its straight line."""
    if break_after is None or not _FEWEST_ON_BASS <= int(np.sum(keys <= break_after)) < len(keys) - _FEWEST_NOTES_ABOVE:
        return _powers(keys, 5)
    bass, treble = keys[keys <= break_after], keys[keys > break_after]
    below, above = _powers(bass, 1), _powers(treble, 4)
    return np.block(
        [
            [below, np.zeros((len(bass), above.shape[1]))],
            [np.zeros((len(treble), below.shape[1])), above],
        ]
    )


_FEWEST_ON_BASS: Final = 5
_FEWEST_NOTES_ABOVE: Final = 8


def _powers(keys: NDArray[np.int64], degree: int) -> NDArray[np.float64]:
    half = max(0.5 * float(keys[-1] - keys[0]), 1.0)
    return np.vander((keys - keys.mean()) / half, degree + 1, increasing=True)


def _fitted(
    design: NDArray[np.float64], y: NDArray[np.float64], known: NDArray[np.float64], is_in: NDArray[np.bool_]
) -> _Fit:
    """Fit the curve to the notes that are in; the scatter is what errors and repeating leave unexplained."""
    x, y, known = design[is_in], y[is_in], known[is_in]
    freedom = max(len(y) - x.shape[1], 1)
    extra = 0.0
    for _ in range(8):  # weights and scatter settle within a few rounds
        weight = 1.0 / (known + extra)
        covariance = np.linalg.inv((x.T * weight) @ x)
        beta = covariance @ (x.T * weight) @ y
        left = y - x @ beta
        extra = max(0.0, float(np.sum(left**2)) / freedom - float(known.mean()))
    spread = float(np.sum(left**2)) / freedom
    # The variance of n residuals has the relative standard error √(2/freedom); that of its root follows by halving.
    scatter = float(np.sqrt(extra))
    unsure = max(spread, float(np.mean(known + extra))) * float(np.sqrt(2.0 / freedom))
    se = unsure / (2.0 * scatter) if scatter**2 > unsure else float(np.sqrt(unsure)) / 2.0
    worse = max(1.0, spread / float(np.mean(known + extra)))
    chance = float(chdtrc(freedom, np.sum(left**2 / known)))
    return _Fit(beta, covariance * worse, Measured(scatter, se), chance, freedom)


def _chance_of_curve(x: NDArray[np.float64], fit: _Fit) -> float:
    """Return the p-value of the curve against one level for all notes, by the F test of all other directions."""
    level = np.linalg.lstsq(x, np.ones(len(x)), rcond=None)[0]
    others = np.linalg.svd(level[np.newaxis])[2][1:]  # directions at right angles to the level
    beta, covariance = others @ fit.beta, others @ fit.covariance @ others.T
    f = float(beta @ np.linalg.solve(covariance, beta)) / len(others)
    return float(fdtrc(len(others), fit.freedom, f))
