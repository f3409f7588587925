"""What went wrong while a section was plucked, in words that say what to do."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

import numpy as np

from strikeline.acoustics.plucks import ToldNote, ToldPlucks
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.keyboard import key_name

_SURE: Final = 0.8
_DOUBT: Final = 0.3
_MOST_NAMED: Final = 8
_FEWEST_NOTES: Final = 4
_SINGLE_UP_TO_KEY: Final = 15
"""Above D♯2 pianos have two or three strings to a note (common practice, no source)."""
_STRUCK_SHARE: Final = 0.8
_AGAIN: Final = "pluck it again, left to right"


def sounds_struck(told: ToldPlucks) -> bool:
    """Return whether this is no plucked section but struck notes: each note of several strings is heard once and rings.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    once = [
        sum(pluck.at_s is not None for pluck in note.plucks) == 1
        for note in told.notes
        if note.key > _SINGLE_UP_TO_KEY and any(pluck.at_s is not None for pluck in note.plucks)
    ]
    said = [pluck.is_touched for note in told.notes for pluck in note.plucks if pluck.is_touched is not None]
    rings = bool(said) and said.count(False) >= _STRUCK_SHARE * len(said)
    return len(once) >= _FEWEST_NOTES and sum(once) >= _STRUCK_SHARE * len(once) and rings


def order_warnings(told: ToldPlucks, evidence: Sequence[PluckEvidence]) -> tuple[str, ...]:
    """Return warnings about the order of the plucks of a section made of the sounds `evidence`."""
    heard = [note for note in told.notes if any(pluck.at_s is not None for pluck in note.plucks)]
    warnings = []
    if told.is_listed and (silent := [note for note in told.notes if note not in heard]):
        warnings.append(f"not heard at all: {_names(silent)}; pluck their strings, left to right")
    if lacking := [note for note in heard if note.n_plucks < len(note.plucks) - _DOUBT]:
        warnings.append(f"fewer plucks than strings: {_names(lacking)}; pluck each of these again, left to right")
    if many := [note for note in heard if note.n_plucks > len(note.plucks) + _DOUBT]:
        warnings.append(f"more plucks than strings: {_names(many)}; pluck each of these again, left to right")
    warnings += _out_of_order(told, evidence)
    warnings += _foreign(told, evidence)
    return tuple(warnings)


def _names(notes: Sequence[ToldNote]) -> str:
    named = ", ".join(key_name(note.key, typographic=True) for note in notes[:_MOST_NAMED])
    return named if len(notes) <= _MOST_NAMED else f"{named} and {len(notes) - _MOST_NAMED} more"


def _out_of_order(told: ToldPlucks, evidence: Sequence[PluckEvidence]) -> list[str]:
    """Tell where a note or a string came after one that should follow it."""
    probability = told.alignment.probability
    by_string = probability.reshape(len(evidence), -1)
    sure = np.flatnonzero(by_string.max(axis=1) > _SURE).tolist()
    place = [divmod(int(by_string[i].argmax()), 3) for i in sure]
    keys = told.alignment.keys
    found = []
    for (_, (note, string)), (j, (next_note, next_string)) in itertools.pairwise(zip(sure, place, strict=True)):
        when = f"at {_clock(evidence[j].onset_s)}"
        name, next_name = (key_name(keys[number], typographic=True) for number in (note, next_note))
        if next_note < note and told.is_listed:
            found.append(f"out of order: {next_name} came after {name} {when}; if it was meant to, no harm is done")
        elif next_note == note and next_string < string:
            found.append(f"out of order: a string of {name} left of the one before it {when}; {_AGAIN}")
    return list(dict.fromkeys(found))[:_MOST_NAMED]


def _foreign(told: ToldPlucks, evidence: Sequence[PluckEvidence]) -> list[str]:
    """Tell sounds whose pitch is clearly that of a neighbour of the note being plucked."""
    probability = told.alignment.probability.sum(axis=2)
    keys = told.alignment.keys
    found: list[str] = []
    note: int | None = None  # that of the last sound that surely was a pluck
    for i, heard_key in enumerate(told.alignment.heard_key):
        if probability[i].sum() > _SURE:
            note = int(probability[i].argmax())
        if heard_key is None or probability[i].sum() > 1.0 - _SURE or note is None:
            continue
        found.append(
            f"at {_clock(evidence[i].onset_s)} a string of {key_name(heard_key, typographic=True)} sounded out of its "
            f"turn; if {key_name(keys[note], typographic=True)} was meant, {_AGAIN}"
        )
    return found[:_MOST_NAMED]


def _clock(time_s: float) -> str:
    return f"{int(time_s) // 60}:{time_s % 60:04.1f}"
