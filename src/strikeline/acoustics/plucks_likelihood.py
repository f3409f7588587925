"""How likely each sound of a plucked section is a pluck of each string, or something else, taken by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from strikeline.acoustics.plucks_chain import StringSlot, log_normal
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

Real = NDArray[np.float64]

ALL_KEYS: Final = tuple(range(LOWEST_KEY, HIGHEST_KEY + 1))
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
_FOREIGN: Final = 0.02
_NEIGHBOURS: Final = (-2, -1, 1, 2)
_OTHER_STRING: Final = 0.15
_SWELLS: Final = 0.1
"""So many sounds that are no pluck are what already rings, swelling as its strings beat: they have the note's pitch."""
_MOST_WEIGHT: Final = 20.0
_LEVEL_REACH: Final = 0.4
_FLATTEST: Final = -0.7
"""Without a list a row has its name within a semitone: pianos that wait for a tuner are flat far more often than sharp
(common practice, no source)."""
CLEAR_NATS: Final = 3.0
_PLUCK_SD_DB: Final = 9.0
_NOISE_SD_DB: Final = 9.0
_ANY_LOUDNESS_SHARE: Final = 0.1
_LOUDNESS_SPAN_DB: Final = 80.0
_NOISE_SOFTER_DB: Final = 25.0
_TOUCHED_SOFTER_DB: Final = 6.0
_ROUNDS: Final = 8
PRIOR_WORTH: Final = 3.0
"""The starting value of either loudness counts like so many sounds."""
_SLOW_ATTACK_DB: Final = 3.0
_MOST_VOICE_NATS: Final = 6.0
_VOICE_NATS: Final = 2.0
_USUAL_STEP_DB: Final = 2.5
_NATS_PER_STEP_DB: Final = 0.6
_LEAST_STEP_NATS: Final = 2.0
_MOST_STEP_NATS: Final = 1.5
"""Of generated plucks 9 in 10 step by more than 2.7 dB, of thumps and swells 1 in 7; real ones may be less unlike, so
that this counts for less than it would."""
_LEAST_CUT_DB: Final = 2.5
_NATS_PER_CUT_DB: Final = 0.8
_MOST_CUT_NATS: Final = 6.0
"""A damper that falls cuts what rings by 10 dB and more in the time looked at; a pluck cuts nothing unless the nail
stops its own string first."""


def expected_position(keys: Real) -> Real:
    """Return where the first partials of keys lie on a piano in its natural stretch, as fractional keys.

    Parameters
    ----------
    keys : ndarray of float, shape (k,)
        Key numbers.
    """
    stretch = natural_stretch(
        keys,
        inharmonicity_b=typical_inharmonicity_b(keys),
        a4_inharmonicity_b=float(typical_inharmonicity_b(49)),
    )
    return np.asarray(keys + stretch.first_partial_cents / 100.0)


def pitch_levels(evidence: Sequence[PluckEvidence], keys: tuple[int, ...], *, is_listed: bool) -> tuple[float, ...]:
    """Return how far the piano may stand above the keys, semitones, from the sounds with a clear pitch.

    Parameters
    ----------
    evidence : sequence of PluckEvidence
        The sounds.
    keys : tuple of int
        Keys that may have been plucked.
    is_listed : bool
        Whether they were given: then the piano may stand more than half a semitone off. Which of several levels a
        semitone apart is the right one, the row of sounds tells.

    Returns
    -------
    tuple of float
        The best level, and others as good as it may be.
    """
    clear = [(one.position[0], one.score[0]) for one in evidence if one.is_pitched]
    if not clear:
        return (0.0,)
    position = np.array([p for p, _ in clear])
    weight = np.minimum([s for _, s in clear], _MOST_WEIGHT)
    grid = np.arange(-1.5, 1.01, 0.02) if is_listed else np.arange(_FLATTEST, _FLATTEST + 1.0, 0.02)
    expected = expected_position(np.array(sorted(set(keys)), dtype=np.float64))
    off = (position[:, None, None] - expected[None, :, None] - grid) / _PITCH_SD
    fit = np.exp(-0.5 * np.square(off)).max(axis=1)
    support = weight @ np.log(0.05 + fit)
    best = float(grid[np.argmax(support)])
    levels = [best]
    for step in (-1.0, 1.0):
        near = np.abs(grid - best - step) < _LEVEL_REACH
        if near.any():
            levels.append(float(grid[near][np.argmax(support[near])]))
    return tuple(levels)


def pitch_fit(evidence: Sequence[PluckEvidence], level: float) -> Real:
    """Return for each sound and key the log-likelihood ratio of that key's string against no string.

    A clear pitch speaks by its score. Where no string explains a sound well, as under felt, its best explanations still
    lie at the string's pitch or on a partial of it more often than chance would have them there.
    """
    expected = expected_position(np.array(ALL_KEYS, dtype=np.float64)) + level
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


def pluck_nats(evidence: Sequence[PluckEvidence], fit: Real) -> Real:
    """Return how much more a sound is like a pluck than like a noise, by how it sets in.

    What plucks and noises of this recording are like above 500 Hz is learned from it: two normal distributions of
    their levels, the one of the plucks begun at those whose pitch is clear; a tenth of the noises may be of any
    loudness. A voice comes late, and a damper that falls cuts what rang.
    """
    bright_db = np.array([10.0 * np.log10(np.sum(10.0 ** (one.band_db[1:] / 10.0))) for one in evidence])
    clear = fit.max(axis=1) > CLEAR_NATS
    first = float(np.median(bright_db[clear])) if clear.any() else float(np.quantile(bright_db, 0.7))
    begun = (first - _TOUCHED_SOFTER_DB, first - _NOISE_SOFTER_DB)
    of_pluck, of_noise = begun
    nats = np.zeros(bright_db.size)
    for _ in range(_ROUNDS):
        nats = log_normal(bright_db, of_pluck, _PLUCK_SD_DB) - np.logaddexp(
            np.log(1.0 - _ANY_LOUDNESS_SHARE) + log_normal(bright_db, of_noise, _NOISE_SD_DB),
            np.log(_ANY_LOUDNESS_SHARE / _LOUDNESS_SPAN_DB),
        )
        share = np.where(clear, 1.0, expit(nats))
        of_pluck = (begun[0] * PRIOR_WORTH + share @ bright_db) / (PRIOR_WORTH + share.sum())
        heard = np.maximum(bright_db, of_pluck - 2.0 * _NOISE_SOFTER_DB)
        of_noise = (begun[1] * PRIOR_WORTH + (1.0 - share) @ heard) / (PRIOR_WORTH + (1.0 - share).sum())
    late = np.array([one.late_attack_db for one in evidence])
    voice = np.clip(late - _SLOW_ATTACK_DB, 0.0, _MOST_VOICE_NATS)
    voice += _VOICE_NATS * np.array([one.is_voice_like for one in evidence])
    cut = np.array([one.cut_db for one in evidence])
    damper = np.clip(_NATS_PER_CUT_DB * (cut - _LEAST_CUT_DB), 0.0, _MOST_CUT_NATS)
    step = np.array([one.step_db for one in evidence])
    click = np.clip(_NATS_PER_STEP_DB * (step - _USUAL_STEP_DB), -_LEAST_STEP_NATS, _MOST_STEP_NATS)
    return np.asarray(np.clip(nats, -8.0, 4.0) - voice - damper + click)


def other_nats(
    evidence: Sequence[PluckEvidence], fit: Real, slots: tuple[StringSlot, ...], is_pluck: Real
) -> tuple[Real, tuple[int | None, ...]]:
    """Return for each sound and slot the log-likelihood of something else while that note is being plucked.

    Something else is a noise, any other string, or a string of a neighbour. Also returned: the key on or beside the
    list that the pitch of each sound clearly fits.

    Parameters
    ----------
    evidence : sequence of PluckEvidence, length n
        The sounds.
    fit : ndarray of float, shape (n, keys)
        From `pitch_fit`.
    slots : tuple of StringSlot
        The strings.
    is_pluck : ndarray of float, shape (n,)
        From `pluck_nats`.
    """
    best = np.array([one.score[0] if one.score.size else 0.0 for one in evidence])
    any_string = np.minimum(_NATS_PER_SCORE * best, _MOST_NATS) - np.log(len(ALL_KEYS))
    noise = np.logaddexp(np.log(1.0 - _OTHER_STRING), np.log(_OTHER_STRING) + any_string)
    column = np.array([ALL_KEYS.index(slot.key) for slot in slots])
    listed = {slot.key for slot in slots}
    beside = np.full((len(evidence), len(slots)), -np.inf)
    for step in _NEIGHBOURS:
        near = np.clip(column + step, 0, len(ALL_KEYS) - 1)
        beside = np.logaddexp(beside, fit[:, near] - np.log(len(_NEIGHBOURS)))
    other = np.logaddexp(noise[:, None], np.log(_FOREIGN) + beside + is_pluck[:, None])
    other = np.logaddexp(other, np.log(_SWELLS) + fit[:, column])
    around = sorted({key + step for key in listed for step in (0, *_NEIGHBOURS)} & set(ALL_KEYS))
    of_around = fit[:, [ALL_KEYS.index(key) for key in around]]
    heard = tuple(around[int(row.argmax())] if row.max() > CLEAR_NATS else None for row in of_around)
    return other, heard
