r"""What two recordings of the same strings differ by at every frequency alike: microphone, room, coding.

Partial n of note i changes its level by d_in = g_i + H(log f_in) + e_in. The gain g_i of each note is free: how hard it
was struck and how loud it was recorded say nothing about the transfer. H is one smooth curve for all notes, a cubic
spline over the logarithm of frequency whose second derivative is penalised (P. H. C. Eilers & B. D. Marx, "Flexible
smoothing with B-splines and penalties", Statistical Science 11, 89 (1996), from memory), fitted with Huber's weights
(P. J. Huber 1964, from memory), so that a minority of notes that truly changed does not draw it along.

What this cannot do: a change that lies on every note alike, such as softer hammers throughout, is partly a curve over
frequency too, and what it has in common with one is taken for the microphone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

Real = NDArray[np.float64]
Index = NDArray[np.int64]

_REFERENCE_HZ: Final = 1000.0
_KNOT_OCTAVES: Final = 0.5
"""Finer than the colour of a microphone or the boundary effect of a floor needs, coarser than the modes of a room,
which no curve common to all notes can follow; those are the scatter."""
_MARGIN_OCTAVES: Final = 0.1
_ROUGHNESS: Final = 1.0
"""Weight of Σ (Δ²c)² against a sum of squares in units of the scatter: with n partials a knot the curve follows
bends of n knots or more (checked on generated passes)."""
_HUBER: Final = 1.5
_N_ROUNDS: Final = 12
_FEWEST_PARTIALS: Final = 30
_LEAST_SCATTER_DB: Final = 0.3
"""Levels of partials repeat no better than this, however alike two recordings are."""
_MAD_TO_SD: Final = 1.4826
_N_DRAWN: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelChanges:
    """Partials heard in both recordings, all notes in one row; arrays of shape (n,)."""

    note: Index
    """Index of the note each partial belongs to."""
    f_hz: Real
    change_db: Real
    """Level after less level before."""
    se_db: Real


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Transfer:
    """The smooth change common to all notes."""

    knot: Real
    coefficient: Real
    low_hz: float
    """Lowest partial that took part; below, the curve goes on level."""
    high_hz: float
    scatter_db: float
    """Standard deviation of single partials about curve and note gain: modes of the room, beats, the blow."""
    n_partials: int

    def at(self, f_hz: Real) -> Real:
        """Return the curve in decibels, shape of `f_hz`; its mean over the partials that made it is 0."""
        x = _octaves(np.clip(f_hz, self.low_hz, self.high_hz))
        return np.asarray(BSpline(self.knot, self.coefficient, 3)(x), dtype=np.float64)

    def drawn(self) -> tuple[Real, Real]:
        """Return frequencies in equal steps of the logarithm, and the curve there, shapes (60,)."""
        f_hz = np.geomspace(self.low_hz, self.high_hz, _N_DRAWN)
        return f_hz, self.at(f_hz)

    @property
    def span_db(self) -> float:
        """Highest less lowest place of the curve."""
        return float(np.ptp(self.drawn()[1]))

    @property
    def tilt_db_per_octave(self) -> float:
        """Slope of the straight line through the curve over the octaves it covers."""
        f_hz, curve_db = self.drawn()
        about = _octaves(f_hz) - _octaves(f_hz).mean()
        return float(about @ curve_db / (about @ about))


def fit_transfer(changes: LevelChanges) -> Transfer | None:
    """Fit the smooth change of level over frequency that all notes share.

    Parameters
    ----------
    changes : LevelChanges
        Partials heard in both recordings.

    Returns
    -------
    Transfer or None
        ``None`` with fewer than 30 partials, or when all lie within one octave: there is no curve then.
    """
    x = _octaves(changes.f_hz)
    if x.size < _FEWEST_PARTIALS or np.ptp(x) < 1.0:
        return None
    knot, basis = _basis(x)
    note_count = int(changes.note.max()) + 1
    smooth = _penalty(basis.shape[1])
    scatter = max(_LEAST_SCATTER_DB, _MAD_TO_SD * float(np.median(np.abs(changes.change_db - _means(changes)))))
    robust: Real = np.ones(x.size)
    coefficient: Real = np.zeros(basis.shape[1])
    for _ in range(_N_ROUNDS):
        variance = changes.se_db**2 + scatter**2
        weight = robust / variance
        columns = _without_note_means(basis, weight, changes.note, note_count)
        target = _without_note_means(changes.change_db[:, None], weight, changes.note, note_count)[:, 0]
        normal = columns.T @ (columns * weight[:, None]) + _ROUGHNESS * smooth
        coefficient = np.asarray(np.linalg.solve(normal, columns.T @ (weight * target)), dtype=np.float64)
        residual = target - columns @ coefficient
        scatter = _scatter(residual, changes.se_db, n_lost=note_count)
        robust = np.minimum(1.0, _HUBER * np.sqrt(variance) / np.maximum(np.abs(residual), 1e-12))
        robust *= _whole_note_weights(x, residual, weight, changes.note, note_count)
    mean = float(np.mean(basis @ coefficient))
    return Transfer(
        knot=knot,
        coefficient=coefficient - mean,  # the basis sums to 1 everywhere
        low_hz=float(changes.f_hz.min()),
        high_hz=float(changes.f_hz.max()),
        scatter_db=scatter,
        n_partials=x.size,
    )


def _octaves(f_hz: Real) -> Real:
    return np.asarray(np.log2(f_hz / _REFERENCE_HZ))


def _basis(x: Real) -> tuple[Real, Real]:
    """Return knots, and the cubic B-splines at `x`, shape (n, k)."""
    low, high = float(x.min()) - _MARGIN_OCTAVES, float(x.max()) + _MARGIN_OCTAVES
    inner = np.linspace(low, high, max(3, round((high - low) / _KNOT_OCTAVES) + 1))
    knot = np.concatenate([np.full(3, low), inner, np.full(3, high)])
    return knot, np.asarray(BSpline.design_matrix(x, knot, 3).toarray())


def _penalty(k: int) -> Real:
    """Return the matrix of Σ (second difference)², with a trace of the plain sum of squares: the constant is free."""
    second = np.diff(np.eye(k), n=2, axis=0)
    return np.asarray(second.T @ second + 1e-6 * np.eye(k))


def _means(changes: LevelChanges) -> Real:
    """Return the median change of the note of each partial."""
    medians = {i: float(np.median(changes.change_db[changes.note == i])) for i in np.unique(changes.note)}
    return np.array([medians[i] for i in changes.note])


def _without_note_means(columns: Real, weight: Real, note: Index, note_count: int) -> Real:
    """Return columns, shape (n, k), less the weighted mean over each note: the free gain of every note."""
    total = np.zeros((note_count, columns.shape[1]))
    np.add.at(total, note, columns * weight[:, None])
    share = np.bincount(note, weights=weight, minlength=note_count)
    return np.asarray(columns - (total / np.maximum(share, 1e-300)[:, None])[note])


def _whole_note_weights(x: Real, residual: Real, weight: Real, note: Index, note_count: int) -> Real:
    """Return less weight for the notes whose residuals slope over frequency more than those of the others do.

    No single partial of a needled hammer lies far off; all of them together do.
    """
    about = _without_note_means(x[:, None], weight, note, note_count)[:, 0]
    size = np.sqrt(np.bincount(note, weights=weight * about**2, minlength=note_count))
    pull = np.bincount(note, weights=weight * about * residual, minlength=note_count) / np.maximum(size, 1e-12)
    sd = _MAD_TO_SD * float(np.median(np.abs(pull[size > 0.0]))) if (size > 0.0).any() else 0.0
    if sd == 0.0:
        return np.ones(x.size)
    return np.asarray(np.minimum(1.0, _HUBER * sd / np.maximum(np.abs(pull), 1e-12)), dtype=np.float64)[note]


def _scatter(residual: Real, se: Real, *, n_lost: int) -> float:
    """Return the scatter beyond the errors, from the median deviation; each note's gain has cost one partial."""
    free = max(0.2, 1.0 - n_lost / residual.size)
    total = (_MAD_TO_SD * float(np.median(np.abs(residual)))) ** 2 / free
    return float(np.sqrt(max(total - float(np.median(se)) ** 2, _LEAST_SCATTER_DB**2)))
