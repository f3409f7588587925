"""Which sound of a plucked section is which string: the whole row of sounds against the row of strings at once.

A string under felt has little pitch; its place follows from the sounds around it. The row is a hidden Markov chain: its
states are the strings, in the order of the notes and from left to right; each sound is the next string, or the same one
again, or one further on (others were missed), or one further back (out of order), or no pluck at all (an action noise,
a word, a string of a neighbour). Forward and backward sums give for each sound the probability of every string, so that
a place that cannot be told is known as such (L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77, 257
(1989), from memory). The chances of mistakes are our own, set on
generated sections other than those of the benchmark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.plucks_chain import Pace, StringChain, StringSlot
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.acoustics.plucks_likelihood import ALL_KEYS, other_nats, pitch_fit, pitch_levels, pluck_nats
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY

Real = NDArray[np.float64]

_PACE_ROUNDS: Final = 2
_FIRST_KEY: Final = LOWEST_KEY + 9
_LAST_KEY: Final = HIGHEST_KEY - 9
_REACH_KEYS: Final = 12
_FEWEST_CLEAR: Final = 3
_LEVEL_SD: Final = 0.35
"""Semitones: pianos stand as far from their pitch (our own guess); a whole semitone flat needs 4 nats."""


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
    log_likelihood: float
    """Of the whole row, nats; compares only with that of the same sounds beside other notes."""


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
    keys = tuple(notes) if notes is not None else _possible_keys(evidence)
    chain = StringChain(_slots(keys, n_strings), is_listed=is_listed, n_notes=len(keys))
    found = [_aligned(evidence, keys, chain, level) for level in pitch_levels(evidence, keys, is_listed=is_listed)]
    return max(found, key=lambda one: one.log_likelihood)


def _possible_keys(evidence: Sequence[PluckEvidence]) -> tuple[int, ...]:
    """Return the keys within an octave of the clear pitches, or all keys where hardly a pitch is clear."""
    clear = [one.position[0] for one in evidence if one.is_pitched]
    if len(clear) < _FEWEST_CLEAR:
        clear = [_FIRST_KEY, _LAST_KEY]
    first, last = (round(at) for at in (min(clear) - _REACH_KEYS, max(clear) + _REACH_KEYS))
    return tuple(range(min(max(first, _FIRST_KEY), _LAST_KEY), max(min(last, _LAST_KEY), _FIRST_KEY) + 1))


def _aligned(evidence: Sequence[PluckEvidence], keys: tuple[int, ...], chain: StringChain, level: float) -> Alignment:
    """Return the alignment if the piano stands `level` semitones off."""
    fit = pitch_fit(evidence, level)
    is_pluck = pluck_nats(evidence, fit)
    emission = fit[:, [ALL_KEYS.index(slot.key) for slot in chain.slots]] + is_pluck[:, None]
    other, heard = other_nats(evidence, fit, chain.slots, is_pluck)
    onset_s = np.array([one.onset_s for one in evidence])
    pace = Pace()
    for _ in range(_PACE_ROUNDS):
        by_slot, _likelihood = chain.probabilities(emission, other, onset_s, pace)
        pace = chain.pace_of(by_slot, onset_s)
    by_slot, likelihood = chain.probabilities(emission, other, onset_s, pace)
    probability, counts = np.zeros((len(evidence), len(keys), 3)), np.zeros((len(keys), 3))
    for column, slot in enumerate(chain.slots):
        probability[:, slot.note, slot.string] += by_slot[:, column]
        counts[slot.note, slot.n_strings - 1] += by_slot[:, column].sum() / slot.n_strings
    total = counts.sum(axis=1, keepdims=True)
    return Alignment(
        keys=keys,
        probability=probability,
        count_probability=counts / np.maximum(total, 1e-12),
        heard_key=heard,
        pitch_level=level,
        log_likelihood=likelihood - 0.5 * (level / _LEVEL_SD) ** 2,
    )


def _slots(keys: tuple[int, ...], n_strings: int | None) -> tuple[StringSlot, ...]:
    counts = (1, 2, 3) if n_strings is None else (n_strings,)
    return tuple(
        StringSlot(note=note, key=key, string=string, n_strings=count)
        for note, key in enumerate(keys)
        for count in counts
        for string in range(count)
    )
