"""Which sound of a plucked section is which string: the whole row of sounds against the row of strings at once.

A string under felt has little pitch; its place follows from the sounds around it. The row is a hidden Markov chain: its
states are the strings, in the order of the notes and from left to right; each sound is the next string, or the same one
again, or one further on (others were missed), or one further back (out of order), or no pluck at all (an action noise,
a word, a string of a neighbour). Forward and backward sums give for each sound the probability of every string, so that
a place that cannot be told is known as such (L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77, 257
(1989), from memory). The chances of mistakes are our own, chosen before any benchmark was run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

Real = NDArray[np.float64]

_NATS_PER_SCORE: Final = 0.5
"""The many peaks of one sound are no independent witnesses: each counts half, as in `strikeline.acoustics.evidence`."""
_MOST_NATS: Final = 12.0
_UNPITCHED_SHARE: Final = 0.5
_PITCH_SD: Final = 0.13
"""Semitones: tuning about the smooth curve, and the strings of a unison about each other."""
_RAISED_SHARE: Final = 0.3
_RAISED_TO: Final = 0.8
"""Felt makes the sounding part of a string shorter and stiffer; up to so many semitones."""
_N_RANKS: Final = 4
_MATCH_SEMITONES: Final = 0.3
_OWN_MATCH: Final = 10.0
_PARTIAL_MATCH: Final = 3.0
_NO_MATCH: Final = 0.6
"""Four best explanations out of the 106 semitones: by chance one lies within 0.3 of a given pitch in 2 of 100 sounds,
and near one of four partials in 9; of strings under felt we guess a quarter and another quarter."""
_PARTIALS_AT: Final = 12.0 * np.log2(np.array([2.0, 3.0, 4.0, 8.0]))
"""The partials whose strings are the usual mistakes, and the eighth, which has its node near the hammer."""
_MISSED: Final = 0.015
_NOTE_MISSED: Final = 0.01
_AGAIN: Final = 0.03
_BACK: Final = 0.01
_FAR_BACK: Final = 1e-3
_NO_PLUCK: Final = 0.3
_FOREIGN: Final = 0.02
_NEIGHBOURS: Final = (-2, -1, 1, 2)
_OTHER_STRING: Final = 0.15
_N_MEMORY: Final = 5
_SOONEST_S: Final = 0.23
_SOONEST_SLOPE_S: Final = 0.017
_NO_SOONER: Final = 1e-4
"""A hand needs about a quarter of a second from one string to the next (our own guess)."""
_PACE_ROUNDS: Final = 2
_FAIRLY_SURE: Final = 0.7
_WITHIN_SD: Final = 0.35
_ONWARDS_SD: Final = 0.45
_ODD_GAP_SHARE: Final = 0.15
_GAP_RANGE: Final = 3.0
_CLEAR_NATS: Final = 3.0
_SAME_COUNT: Final = 8.0
_WRONG_WAY: Final = 1e-3


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alignment:
    """Sounds and strings put side by side."""

    keys: tuple[int, ...]
    """Notes in their order."""
    probability: Real
    """Shape (sounds, notes, 3): that this sound is this string. What a sound lacks to 1 is "none of these"."""
    count_probability: Real
    """Shape (notes, 3): that the note has one, two or three strings; a row of zeros where nothing was plucked."""
    heard_key: tuple[int | None, ...]
    """For each sound the key, listed or a neighbour, whose pitch it clearly has; or ``None``."""
    pitch_level: float
    """How far the piano stands above the keys, semitones."""


def align_plucks(evidence: Sequence[PluckEvidence], *, notes: Sequence[int] | None, n_strings: int | None) -> Alignment:
    """Put the sounds of a section beside its strings.

    Parameters
    ----------
    evidence : sequence of PluckEvidence
        The sounds in the order of time, at least one.
    notes : sequence of int or None
        Keys in the order in which they were plucked; ``None`` to have them found: upwards, chromatic or white keys.
    n_strings : int or None
        Strings of every note, 1 to 3; ``None`` to have them found. They then grow from the bass upwards, as they do on
        pianos (common practice, no source).

    Returns
    -------
    Alignment
        Probabilities of every string for every sound.
    """
    is_listed = notes is not None
    keys = tuple(notes) if notes is not None else tuple(range(LOWEST_KEY + 9, HIGHEST_KEY - 8))
    level = _pitch_level(evidence, keys, is_listed=is_listed)
    slots = _slots(keys, n_strings)
    fit = _pitch_fit(evidence, level)
    is_pluck = _pluck_nats(evidence, fit)
    emission = fit[:, [_ALL_KEYS.index(slot.key) for slot in slots]] + is_pluck[:, None]
    other, heard = _other_nats(evidence, fit, slots, is_pluck)
    chain = _Chain(slots, is_listed=is_listed, n_notes=len(keys))
    onset_s = np.array([one.onset_s for one in evidence])
    pace = Pace()
    for _ in range(_PACE_ROUNDS):
        pace = chain.pace_of(chain.probabilities(emission, other, onset_s, pace), onset_s)
    by_slot = chain.probabilities(emission, other, onset_s, pace)
    probability, counts = np.zeros((len(evidence), len(keys), 3)), np.zeros((len(keys), 3))
    for column, slot in enumerate(slots):
        probability[:, slot.note, slot.string] += by_slot[:, column]
        counts[slot.note, slot.n_strings - 1] += by_slot[:, column].sum() / slot.n_strings
    total = counts.sum(axis=1, keepdims=True)
    return Alignment(
        keys=keys,
        probability=probability,
        count_probability=counts / np.maximum(total, 1e-12),
        heard_key=heard,
        pitch_level=level,
    )


_ALL_KEYS: Final = tuple(range(LOWEST_KEY, HIGHEST_KEY + 1))


def _expected_position(keys: Real) -> Real:
    """Return where the first partials of keys lie on a piano in its natural stretch, as fractional keys."""
    stretch = natural_stretch(
        keys,
        inharmonicity_b=typical_inharmonicity_b(keys),
        a4_inharmonicity_b=float(typical_inharmonicity_b(49)),
    )
    return np.asarray(keys + stretch.first_partial_cents / 100.0)


def _pitch_level(evidence: Sequence[PluckEvidence], keys: tuple[int, ...], *, is_listed: bool) -> float:
    """Return how far the piano stands above the keys, semitones, from the sounds with a clear pitch."""
    clear = [(one.position[0], one.score[0]) for one in evidence if one.score.size and one.score[0] > 6.0]
    if not clear:
        return 0.0
    position = np.array([p for p, _ in clear])
    weight = np.minimum([s for _, s in clear], 20.0)
    grid = np.arange(-1.5, 1.01, 0.02) if is_listed else np.arange(-0.5, 0.5, 0.02)
    expected = _expected_position(np.array(sorted(set(keys)), dtype=np.float64))
    off = (position[:, None, None] - expected[None, :, None] - grid) / _PITCH_SD
    fit = np.exp(-0.5 * np.square(off)).max(axis=1)
    support = weight @ np.log(0.05 + fit) - 0.5 * np.square(grid / 0.5)
    return float(grid[np.argmax(support)])


def _pitch_fit(evidence: Sequence[PluckEvidence], level: float) -> Real:
    """Return for each sound and key the log-likelihood ratio of that key's string against no string.

    A clear pitch speaks by its score. Where no string explains a sound well, as under felt, its best explanations still
    lie at the string's pitch or on a partial of it more often than chance would have them there.
    """
    expected = _expected_position(np.array(_ALL_KEYS, dtype=np.float64)) + level
    fit = np.full((len(evidence), expected.size), np.log(_UNPITCHED_SHARE * _NO_MATCH + 1.0 - _UNPITCHED_SHARE))
    for row, one in enumerate(evidence):
        if one.score.size == 0:
            continue
        worth = np.exp(np.minimum(_NATS_PER_SCORE * one.score, _MOST_NATS))[:, None]
        off = one.position[:, None] - expected
        is_raised = (off > 0.0) & (off < _RAISED_TO)
        near = np.maximum(np.exp(-0.5 * np.square(off / _PITCH_SD)), _RAISED_SHARE * is_raised)
        first = off[:_N_RANKS]
        is_own = (np.abs(first) < _MATCH_SEMITONES).any(axis=0)
        beyond = np.abs(first[:, :, None] - _PARTIALS_AT).min(axis=(0, 2)) < _MATCH_SEMITONES
        chance = np.select([is_own, beyond], [_OWN_MATCH, _PARTIAL_MATCH], _NO_MATCH)
        clear = (worth * near).max(axis=0)
        fit[row] = np.log(_UNPITCHED_SHARE * chance + (1.0 - _UNPITCHED_SHARE) * clear)
    return fit


_PLUCK_SD_DB: Final = 9.0
_NOISE_SD_DB: Final = 9.0
_ANY_LOUDNESS_SHARE: Final = 0.1
_LOUDNESS_SPAN_DB: Final = 80.0
_NOISE_SOFTER_DB: Final = 25.0
_TOUCHED_SOFTER_DB: Final = 6.0
_ROUNDS: Final = 8
_PRIOR_WORTH: Final = 3.0
"""The starting value of either loudness counts like so many sounds."""
_SLOW_ATTACK_DB: Final = 3.0
_MOST_VOICE_NATS: Final = 6.0
_VOICE_NATS: Final = 2.0
_USUAL_STEP_DB: Final = 2.5
_NATS_PER_STEP_DB: Final = 0.6
_LEAST_STEP_NATS: Final = 2.0
_MOST_STEP_NATS: Final = 1.5
"""Of generated plucks 9 in 10 step by more than 2.8 dB, of thumps and swells 1 in 10; real ones may be less unlike, so
that this counts for less than it would."""
_LEAST_CUT_DB: Final = 2.5
_NATS_PER_CUT_DB: Final = 0.8
_MOST_CUT_NATS: Final = 6.0
"""A damper that falls cuts what rings by 10 dB and more in the time looked at; a pluck cuts nothing unless the nail
stops its own string first."""


def _pluck_nats(evidence: Sequence[PluckEvidence], fit: Real) -> Real:
    """Return how much more a sound is like a pluck than like a noise, by how it sets in.

    What plucks and noises of this recording are like above 500 Hz is learned from it: two normal distributions of
    their levels, the one of the plucks begun at those whose pitch is clear; a tenth of the noises may be of any
    loudness. A voice comes late, and a damper that falls cuts what rang.
    """
    bright_db = np.array([10.0 * np.log10(np.sum(10.0 ** (one.band_db[1:] / 10.0))) for one in evidence])
    clear = fit.max(axis=1) > _CLEAR_NATS
    first = float(np.median(bright_db[clear])) if clear.any() else float(np.quantile(bright_db, 0.7))
    begun = (first - _TOUCHED_SOFTER_DB, first - _NOISE_SOFTER_DB)
    of_pluck, of_noise = begun
    nats = np.zeros(bright_db.size)
    for _ in range(_ROUNDS):
        nats = _log_normal(bright_db, of_pluck, _PLUCK_SD_DB) - np.logaddexp(
            np.log(1.0 - _ANY_LOUDNESS_SHARE) + _log_normal(bright_db, of_noise, _NOISE_SD_DB),
            np.log(_ANY_LOUDNESS_SHARE / _LOUDNESS_SPAN_DB),
        )
        share = np.where(clear, 1.0, expit(nats))
        of_pluck = (begun[0] * _PRIOR_WORTH + share @ bright_db) / (_PRIOR_WORTH + share.sum())
        heard = np.maximum(bright_db, of_pluck - 2.0 * _NOISE_SOFTER_DB)
        of_noise = (begun[1] * _PRIOR_WORTH + (1.0 - share) @ heard) / (_PRIOR_WORTH + (1.0 - share).sum())
    late = np.array([one.late_attack_db for one in evidence])
    voice = np.clip(late - _SLOW_ATTACK_DB, 0.0, _MOST_VOICE_NATS)
    voice += _VOICE_NATS * np.array([one.is_voice_like for one in evidence])
    cut = np.array([one.cut_db for one in evidence])
    damper = np.clip(_NATS_PER_CUT_DB * (cut - _LEAST_CUT_DB), 0.0, _MOST_CUT_NATS)
    step = np.array([one.step_db for one in evidence])
    click = np.clip(_NATS_PER_STEP_DB * (step - _USUAL_STEP_DB), -_LEAST_STEP_NATS, _MOST_STEP_NATS)
    return np.asarray(np.clip(nats, -8.0, 4.0) - voice - damper + click)


def _log_normal(value: Real, mean: float, sd: float) -> Real:
    return np.asarray(-0.5 * np.square((value - mean) / sd) - np.log(sd * np.sqrt(2.0 * np.pi)))


def _other_nats(
    evidence: Sequence[PluckEvidence], fit: Real, slots: tuple[StringSlot, ...], is_pluck: Real
) -> tuple[Real, tuple[int | None, ...]]:
    """Return for each sound and slot the log-likelihood of something else while that note is being plucked.

    Something else is a noise, any other string, or a string of a neighbour. Also returned: the key on or beside the
    list that the pitch of each sound clearly fits.
    """
    best = np.array([one.score[0] if one.score.size else 0.0 for one in evidence])
    any_string = np.minimum(_NATS_PER_SCORE * best, _MOST_NATS) - np.log(len(_ALL_KEYS))
    noise = np.logaddexp(np.log(1.0 - _OTHER_STRING), np.log(_OTHER_STRING) + any_string)
    column = np.array([_ALL_KEYS.index(slot.key) for slot in slots])
    listed = {slot.key for slot in slots}
    beside = np.full((len(evidence), len(slots)), -np.inf)
    for step in _NEIGHBOURS:
        near = np.clip(column + step, 0, len(_ALL_KEYS) - 1)
        beside = np.logaddexp(beside, fit[:, near] - np.log(len(_NEIGHBOURS)))
    other = np.logaddexp(noise[:, None], np.log(_FOREIGN) + beside + is_pluck[:, None])
    around = sorted({key + step for key in listed for step in (0, *_NEIGHBOURS)} & set(_ALL_KEYS))
    of_around = fit[:, [_ALL_KEYS.index(key) for key in around]]
    heard = tuple(around[int(row.argmax())] if row.max() > _CLEAR_NATS else None for row in of_around)
    return other, heard


def _slots(keys: tuple[int, ...], n_strings: int | None) -> tuple[StringSlot, ...]:
    counts = (1, 2, 3) if n_strings is None else (n_strings,)
    return tuple(
        StringSlot(note=note, key=key, string=string, n_strings=count)
        for note, key in enumerate(keys)
        for count in counts
        for string in range(count)
    )


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
    worth = log_gap.size / (log_gap.size + _PRIOR_WORTH)
    return float(np.exp(worth * np.median(log_gap) + (1.0 - worth) * np.log(start_s)))


class _Chain:
    """The hidden chain over slots."""

    def __init__(self, slots: tuple[StringSlot, ...], *, is_listed: bool, n_notes: int) -> None:
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

    def probabilities(self, emission: Real, other: Real, onset_s: Real, pace: Pace) -> Real:
        """Return the probability of each slot for each sound, shape (sounds, slots), by forward and backward sums.

        The state is the string plucked last and how many sounds ago: the time since then tells whether a hand could
        have plucked again. Plane m of a state: the last pluck was m sounds ago, m + 1 sounds or more in the last plane.
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
        return np.asarray(joint / max(whole, 1e-300))


def _gap_factors(onset_s: Real, usual_s: float, sd: float) -> Real:
    """Return for each sound and each number of sounds back how well the time between fits two plucks, shape (n, m).

    Against a time drawn evenly from `_GAP_RANGE` nepers; `_ODD_GAP_SHARE` of all gaps are of any length.
    """
    factor = np.ones((onset_s.size, _N_MEMORY))
    for back in range(1, _N_MEMORY + 1):
        gap_s = np.maximum(onset_s[back:] - onset_s[:-back], 1e-3)
        usual = np.exp(_log_normal(np.log(gap_s), float(np.log(usual_s)), sd))
        can = _NO_SOONER + (1.0 - _NO_SOONER) * expit((gap_s - _SOONEST_S) / _SOONEST_SLOPE_S)
        factor[back:, back - 1] = can * (_ODD_GAP_SHARE + (1.0 - _ODD_GAP_SHARE) * usual * _GAP_RANGE)
    return factor
