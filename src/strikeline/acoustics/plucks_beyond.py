"""Whether a note beside the list was plucked as well: a list that begins too late or ends too soon."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

import numpy as np

from strikeline.acoustics.plucks import ToldPlucks
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.acoustics.plucks_sequence import align_plucks
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, key_name

_TAKEN: Final = 0.5
_CLEAR_STEP_DB: Final = 5.0
_LEVEL_SEMITONES: Final = 0.5
_EXCESS: Final = 0.3
_BETTER_NATS: Final = 6.0
"""So much likelier must the row be with the note added: one in 400 by chance."""
_PLUCKED: Final = 0.6
"""Share of the strings of the note added that must have been heard: a single string may be a slip of the hand."""


def find_note_beyond(told: ToldPlucks, evidence: Sequence[PluckEvidence], *, n_strings: int | None) -> int | None:
    """Return the key just before or after a listed row that was plucked, too, or ``None``.

    The sounds are put beside the row with a note more at either end. It is taken if that explains them much better, and
    if most strings of the note added were then plucked.

    Parameters
    ----------
    told : ToldPlucks
        The section, its notes listed.
    evidence : sequence of PluckEvidence
        The sounds that it was made of.
    n_strings : int or None
        Strings of every note as given, or ``None``.
    """
    keys = told.alignment.keys
    added = [key for key in _neighbours(keys) if key is not None]
    if not added or not _is_open_ended(told, evidence):
        return None
    found: list[tuple[float, int]] = []
    for key in added:
        longer = (*keys, key) if key == _neighbours(keys)[1] else (key, *keys)
        alignment = align_plucks(evidence, notes=longer, n_strings=n_strings)
        number = longer.index(key)
        strings = np.minimum(alignment.probability[:, number].sum(axis=0), 1.0)
        count = int(alignment.count_probability[number].argmax()) + 1
        gain = alignment.log_likelihood - told.alignment.log_likelihood
        if gain > _BETTER_NATS and float(strings.sum()) > _PLUCKED * count:
            found.append((gain, key))
    return max(found)[1] if found else None


def _is_open_ended(told: ToldPlucks, evidence: Sequence[PluckEvidence]) -> bool:
    """Return whether anything speaks for more notes: plucks too many, a piano off by a semitone, plucks outside."""
    if abs(told.alignment.pitch_level) > _LEVEL_SEMITONES:
        return True
    if any(note.n_plucks > len(note.plucks) + _EXCESS for note in told.notes):
        return True
    taken = np.flatnonzero(told.alignment.probability.sum(axis=(1, 2)) > _TAKEN)
    if taken.size == 0:
        return False
    outside = (*evidence[: taken[0]], *evidence[taken[-1] + 1 :])
    return any((one.is_pitched and not one.is_voice_like) or one.step_db > _CLEAR_STEP_DB for one in outside)


def _neighbours(keys: tuple[int, ...]) -> tuple[int | None, int | None]:
    """Return the keys before and after a plain row, chromatic or of white keys; ``None`` where there is none."""
    steps = {after - before for before, after in itertools.pairwise(keys)}
    direction = 1 if max(steps, default=1) > 0 else -1
    is_white = not any(_is_black(key) for key in keys)
    if not steps <= {direction, 2 * direction} or (2 * direction in steps and not is_white):
        return None, None
    before, after = keys[0] - direction, keys[-1] + direction
    if 2 * direction in steps:
        before -= direction * _is_black(before)
        after += direction * _is_black(after)
    first, last = (key if LOWEST_KEY <= key <= HIGHEST_KEY else None for key in (before, after))
    return first, last


def _is_black(key: int) -> bool:
    return "#" in key_name(key)
