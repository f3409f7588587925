"""Whether the notes of a plucked section can be those that were plucked, from the counts and the pitches."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

import numpy as np

from strikeline.acoustics.plucks import ToldPlucks
from strikeline.acoustics.plucks_beyond import find_note_beyond
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.acoustics.plucks_likelihood import expected_position
from strikeline.keyboard import key_name

_MOST_EXCESS_SHARE: Final = 0.15
_MOST_EXCESS: Final = 2.0
"""A pluck repeated here and there is usual; more than both of these is another row of notes (our own choice)."""
_SHIFTED_SEMITONES: Final = 0.5
_BETWEEN_SEMITONES: Final = 0.35
_SHIFTED_EXCESS: Final = 1.5
"""A list one note too short is heard as a piano a semitone off, with the strings of two notes on one."""
_FOREIGN_SEMITONES: Final = 1.5
_BESIDE_SEMITONES: Final = 0.5
_FEWEST_FOREIGN: Final = 2
_FOREIGN_SHARE: Final = 0.5
_PLUCKED: Final = 0.5
_SURE: Final = 0.8
_FEWEST_BACK: Final = 2
_DOUBT: Final = 0.3
_MOST_NAMED: Final = 8
_WHITE_KEY_STEPS: Final = frozenset({1, 2})
_LEAP_KEYS: Final = 5
"""Keys by which a row found by ear may not go back (our reasoning)."""
FOUND_BY_EAR: Final = "the notes were found by ear; say which were plucked, as --notes F3-F4"
"""Warning for a row found without a list that is no plain row."""


def list_misfit(told: ToldPlucks, evidence: Sequence[PluckEvidence], *, n_strings: int | None) -> str | None:
    """Return why the list of notes does not fit what was plucked, in words; ``None`` where it fits or none was given.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    evidence : sequence of PluckEvidence
        The sounds that it was made of.
    n_strings : int or None
        Strings of every note as given, or ``None``.
    """
    if not told.is_listed:
        return None
    row = row_name(told)
    excess = [max(0.0, note.n_plucks - len(note.plucks)) for note in told.notes]
    is_shifted = abs(told.alignment.pitch_level) > _SHIFTED_SEMITONES and max(excess) > _SHIFTED_EXCESS
    lacking = max(len(note.plucks) - note.n_plucks for note in told.notes)
    is_disordered = max(excess) > _SHIFTED_EXCESS and lacking > _SHIFTED_EXCESS
    is_another = is_shifted or is_disordered or sum(excess) > max(_MOST_EXCESS, _MOST_EXCESS_SHARE * told.n_strings)
    n_plucks = round(sum(note.n_plucks for note in told.notes))
    if is_another and n_plucks > told.n_strings:
        strings = "string" if told.n_strings == 1 else "strings"
        said = f"{n_plucks} plucks were heard for {told.n_strings} {strings} of {row}"
    elif _is_foreign(told, evidence):
        said = f"the pitches heard are not those of {row}"
    elif is_another:
        said = f"the plucks do not follow the order of {row}"
    elif _is_backwards(told):
        said = f"the notes were plucked in the reverse of the order of {row}"
    elif (beyond := find_note_beyond(told, evidence, n_strings=n_strings)) is not None:
        name = key_name(beyond, typographic=True)
        said = f"strings of {name} were plucked, too, which is not in the list {row}"
    else:
        return None
    return f"{said}: the list does not fit what was plucked; say which notes were plucked with --notes"


def _is_backwards(told: ToldPlucks) -> bool:
    """Return whether most steps from note to note go back in the list."""
    by_note = told.alignment.probability.sum(axis=2)
    sure = by_note.max(axis=1) > _SURE
    steps = np.diff(by_note[sure].argmax(axis=1))
    n_back, n_on = int((steps < 0).sum()), int((steps > 0).sum())
    return n_back >= _FEWEST_BACK and n_back > n_on


def _is_foreign(told: ToldPlucks, evidence: Sequence[PluckEvidence]) -> bool:
    """Return whether most strings with a clear pitch are other notes: than the one they were put to, or than any."""
    by_note = told.alignment.probability.sum(axis=2)
    clear = [i for i, one in enumerate(evidence) if one.is_pitched and not one.is_voice_like]
    if not clear:
        return False
    expected = expected_position(np.array(told.alignment.keys, dtype=np.float64)) + told.alignment.pitch_level
    heard = np.array([evidence[i].position[0] for i in clear])
    off = np.abs(heard[:, None] - expected)
    is_taken = by_note[clear].sum(axis=1) > _PLUCKED
    of_taken = off[np.arange(len(clear)), by_note[clear].argmax(axis=1)] > _FOREIGN_SEMITONES
    is_foreign = np.where(is_taken, of_taken, off.min(axis=1) > _BESIDE_SEMITONES)
    return int(is_foreign.sum()) >= _FEWEST_FOREIGN and float(is_foreign.mean()) > _FOREIGN_SHARE


def level_warning(told: ToldPlucks) -> str | None:
    """Return a warning where the strings sound nearer to the notes beside those listed.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    level = told.alignment.pitch_level
    if not told.is_listed or abs(level) <= _SHIFTED_SEMITONES:
        return None
    where = "higher" if level > 0.0 else "lower"
    return (
        f"the strings sound about a semitone {where} than {row_name(told)}; unless the piano stands so, say which "
        "notes were plucked with --notes"
    )


def leap_back(told: ToldPlucks) -> str | None:
    """Return a warning where a row found by ear leaps back down the keyboard: some of its names are wrong.

    Strings are plucked note after note up a section; a hand goes back by a note or two, not by a fourth.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    if told.is_listed:
        return None
    heard = [note for note in told.notes if any(pluck.at_s is not None for pluck in note.plucks)]
    in_time = sorted(heard, key=lambda note: note.onset_s)
    for before, after in itertools.pairwise(in_time):
        if before.key - after.key >= _LEAP_KEYS:
            names = [key_name(note.key, typographic=True) for note in (before, after)]
            return (
                f"the notes were found by ear, and the row leaps from {names[0]} back to {names[1]}: some of the names "
                "are wrong, so no string is told; say which notes were plucked, as --notes F3-F4"
            )
    return None


def is_between_rows(told: ToldPlucks) -> bool:
    """Return whether a row found by ear might as well be the one a semitone beside it.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    return not told.is_listed and abs(told.alignment.pitch_level) > _BETWEEN_SEMITONES


def is_plain_row(told: ToldPlucks) -> bool:
    """Return whether the notes follow each other without a gap and each has as many plucks as strings.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    steps = {after.key - before.key for before, after in itertools.pairwise(told.notes)}
    is_white = steps <= _WHITE_KEY_STEPS and not any("#" in key_name(note.key) for note in told.notes)
    is_counted = all(abs(note.n_plucks - len(note.plucks)) <= _DOUBT for note in told.notes)
    return is_counted and (steps <= {1} or is_white)


def row_name(told: ToldPlucks) -> str:
    """Return the notes in words, such as *A♯3–F4*.

    Parameters
    ----------
    told : ToldPlucks
        The section.
    """
    keys = [note.key for note in told.notes]
    names = [key_name(key, typographic=True) for key in keys]
    steps = {after - before for before, after in itertools.pairwise(keys)}
    if len(keys) > 1 and steps in ({1}, {-1}):
        return f"{names[0]}–{names[-1]}"
    more = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
