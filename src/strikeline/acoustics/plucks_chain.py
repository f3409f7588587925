"""The row of strings as a hidden Markov chain: what may follow what, and how soon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

Real = NDArray[np.float64]

_MISSED: Final = 0.015
_NOTE_MISSED: Final = 0.01
_AGAIN: Final = 0.03
_BACK: Final = 0.01
_FAR_BACK: Final = 1e-3
_NO_PLUCK: Final = 0.3
_N_MEMORY: Final = 5
_SOONEST_S: Final = 0.23
_SOONEST_SLOPE_S: Final = 0.017
_NO_SOONER: Final = 1e-4
"""A hand needs about a quarter of a second from one string to the next (our own guess)."""
_SAME_COUNT: Final = 8.0
_WRONG_WAY: Final = 1e-3
_FAIRLY_SURE: Final = 0.7
_WITHIN_SD: Final = 0.35
_ONWARDS_SD: Final = 0.45
_ODD_GAP_SHARE: Final = 0.15
_GAP_RANGE: Final = 3.0
_PACE_WORTH: Final = 3.0
"""The usual pace counts like so many gaps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringSlot:
    """One string that may have been plucked."""

    note: int
    """Number of the note in the list of notes."""
    key: int
    string: int
    """0 for the left one."""
    n_strings: int
    """Strings that the note has if this slot is right."""


def log_normal(value: Real, mean: float, sd: float) -> Real:
    """Return the logarithm of the normal density.

    Parameters
    ----------
    value : ndarray of float
        Where.
    mean, sd : float
        Of the distribution; `sd` above 0.
    """
    return np.asarray(-0.5 * np.square((value - mean) / sd) - np.log(sd * np.sqrt(2.0 * np.pi)))


def _usual_counts(key: NDArray[np.int64]) -> Real:
    """Return the probabilities of one, two and three strings, shape (k, 3) (common practice, no source)."""
    more_than_one, three = expit((key - 9.0) / 2.0), expit((key - 25.0) / 4.0)
    three = np.minimum(three, more_than_one)
    usual = np.stack([1.0 - more_than_one, more_than_one - three, three], axis=1)
    return np.asarray(np.maximum(usual, 0.005))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Times from pluck to pluck that are usual in one recording."""

    within_s: float = 0.6
    """Within a note."""
    onwards_s: float = 1.0
    """From the last string of a note to the first of the next."""


def _typical_s(log_gap: Real, start_s: float) -> float:
    """Return the median gap, drawn to the start as long as there are few."""
    if log_gap.size == 0:
        return start_s
    worth = log_gap.size / (log_gap.size + _PACE_WORTH)
    return float(np.exp(worth * np.median(log_gap) + (1.0 - worth) * np.log(start_s)))


class StringChain:
    """The hidden chain over slots."""

    def __init__(self, slots: tuple[StringSlot, ...], *, is_listed: bool, n_notes: int) -> None:
        self.slots = slots
        self._note = np.array([slot.note for slot in slots])
        self._key = np.array([slot.key for slot in slots])
        self._string = np.array([slot.string for slot in slots])
        self._count = np.array([slot.n_strings for slot in slots])
        self._usual = _usual_counts(self._key)[np.arange(len(slots)), self._count - 1]
        self._is_listed = is_listed
        self._n_notes = n_notes
        self._has_choice = np.unique(self._count).size > 1
        self._within, self._onwards = self._step_matrices()

    def pace_of(self, by_slot: Real, onset_s: Real) -> Pace:
        """Return the times from pluck to pluck of what is fairly sure."""
        sure = np.flatnonzero(by_slot.max(axis=1) > _FAIRLY_SURE)
        slot = by_slot[sure].argmax(axis=1)
        gap = np.log(np.maximum(np.diff(onset_s[sure]), 1e-3))
        same = np.diff(self._note[slot]) == 0
        next_one = (np.diff(sure) <= _N_MEMORY) & (
            (same & (np.diff(self._string[slot]) == 1)) | (~same & (self._string[slot][1:] == 0))
        )
        start = Pace()
        return Pace(
            within_s=_typical_s(gap[next_one & same], start.within_s),
            onwards_s=_typical_s(gap[next_one & ~same], start.onwards_s),
        )

    def _step_matrices(self) -> tuple[Real, Real]:
        """Return the chance of each next string after each string, within notes and between, shape (slots, slots)."""
        steps = self._note[None, :] - self._note[:, None]
        strings = self._string[None, :] - self._string[:, None]
        same = (steps == 0) & (self._count[None, :] == self._count[:, None])
        within = np.select(
            [strings == 1, strings > 1, strings == 0], [1.0, _MISSED ** np.maximum(strings - 1, 0), _AGAIN], _BACK
        )
        left_out = (self._count - 1 - self._string)[:, None] + self._string[None, :]
        onwards = _MISSED**left_out * self._note_steps(steps) * self._count_steps(steps)
        pluck = 1.0 - _NO_PLUCK
        return pluck * np.where(same, within, 0.0), pluck * np.where(steps == 0, 0.0, onwards)

    def _note_steps(self, steps: NDArray[np.int64]) -> Real:
        forward = np.maximum(steps, 1)
        if self._is_listed:
            ahead = _NOTE_MISSED ** np.minimum(forward - 1.0, 3.0)
        else:
            ahead = np.select([forward == 1, forward == 2, forward == 3], [0.6, 0.3, 0.03], 0.01)
        return np.asarray(np.where(steps > 0, ahead, _FAR_BACK))

    def _count_steps(self, steps: NDArray[np.int64]) -> Real:
        if not self._has_choice:
            return np.ones_like(steps, dtype=np.float64)
        more = self._count[None, :] - self._count[:, None]
        up = np.sign(self._key[None, :] - self._key[:, None])
        weight = self._usual[None, :] * np.where(more == 0, _SAME_COUNT, np.where(more * up < 0, _WRONG_WAY, 1.0))
        per_first = weight * (self._string[None, :] == 0)
        total = np.stack([(per_first * (self._note == note)).sum(axis=1) for note in range(self._n_notes)], axis=1)
        return np.asarray(weight / np.maximum(total[:, self._note], 1e-12))

    def _begin(self) -> Real:
        if self._is_listed:
            first = _MISSED**self._string * _NOTE_MISSED ** np.minimum(self._note, 3)
        else:
            first = _MISSED**self._string / self._n_notes
        return np.asarray(first * (self._usual if self._has_choice else 1.0))

    def _end(self) -> Real:
        left = _MISSED ** (self._count - 1.0 - self._string)
        if self._is_listed:
            left = left * _NOTE_MISSED ** np.minimum(self._n_notes - 1 - self._note, 3)
        return np.asarray(left)

    def probabilities(self, emission: Real, other: Real, onset_s: Real, pace: Pace) -> tuple[Real, float]:
        """Return the probability of each slot for each sound, shape (sounds, slots), and the log-likelihood of the row.

        The state is the string plucked last and how many sounds ago: the time since then tells whether a hand could
        have plucked again. Plane m of a state: the last pluck was m sounds ago, m + 1 sounds or more in the last plane.

        Parameters
        ----------
        emission, other : ndarray of float, shape (sounds, slots)
            Log-likelihood of each sound as a pluck of each slot, and as something else while that slot was the last.
        onset_s : ndarray of float, shape (sounds,)
            When the sounds began, ascending.
        pace : Pace
            Usual times from pluck to pluck.
        """
        n, size = emission.shape
        top = np.maximum(emission.max(axis=1), other.max(axis=1))
        pluck, noise = np.exp(emission - top[:, None]), _NO_PLUCK * np.exp(other - top[:, None])
        noise_first = noise.min(axis=1)
        begin = (1.0 - _NO_PLUCK) * self._begin()
        soon = (_gap_factors(onset_s, pace.within_s, _WITHIN_SD), _gap_factors(onset_s, pace.onwards_s, _ONWARDS_SD))
        forward, backward = np.zeros((n, _N_MEMORY, size)), np.zeros((n, _N_MEMORY, size))
        waiting, scale = 1.0, np.ones(n)
        for i in range(n):
            forward[i, 0] = waiting * begin
            if i:
                for gaps, step in zip(soon, (self._within, self._onwards), strict=True):
                    forward[i, 0] += (gaps[i] @ forward[i - 1]) @ step
                forward[i, 1:] = noise[i] * forward[i - 1, :-1]
                forward[i, -1] += noise[i] * forward[i - 1, -1]
            forward[i, 0] *= pluck[i]
            waiting *= noise_first[i]
            scale[i] = max(float(forward[i].sum()) + waiting, 1e-300)
            forward[i] /= scale[i]
            waiting /= scale[i]
        backward[-1] = self._end()
        for i in range(n - 1, 0, -1):
            next_pluck = pluck[i] * backward[i, 0]
            plucked = sum(
                gaps[i][:, None] * (step @ next_pluck)
                for gaps, step in zip(soon, (self._within, self._onwards), strict=True)
            )
            passed = noise[i] * np.concatenate([backward[i, 1:], backward[i, -1:]])
            backward[i - 1] = (plucked + passed) / scale[i]
        joint = forward[:, 0] * backward[:, 0]
        whole = float((forward[-1] * backward[-1]).sum())
        likelihood = float(top.sum() + np.log(scale).sum() + np.log(max(whole, 1e-300)))
        return np.asarray(joint / max(whole, 1e-300)), likelihood


def _gap_factors(onset_s: Real, usual_s: float, sd: float) -> Real:
    """Return for each sound and each number of sounds back how well the time between fits two plucks, shape (n, m).

    Against a time drawn evenly from `_GAP_RANGE` nepers; `_ODD_GAP_SHARE` of all gaps are of any length.
    """
    factor = np.ones((onset_s.size, _N_MEMORY))
    for back in range(1, _N_MEMORY + 1):
        gap_s = np.maximum(onset_s[back:] - onset_s[:-back], 1e-3)
        usual = np.exp(log_normal(np.log(gap_s), float(np.log(usual_s)), sd))
        can = _NO_SOONER + (1.0 - _NO_SOONER) * expit((gap_s - _SOONEST_S) / _SOONEST_SLOPE_S)
        factor[back:, back - 1] = can * (_ODD_GAP_SHARE + (1.0 - _ODD_GAP_SHARE) * usual * _GAP_RANGE)
    return factor
