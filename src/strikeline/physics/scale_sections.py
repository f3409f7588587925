"""Which notes of a scale belong together: the bridge they lie on, and whether they are plain or wound."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from strikeline.keyboard import Compass
from strikeline.physics.scale_entry import ScaleEntry

PLAIN, SINGLE, DOUBLE = "plain", "wound", "double wound"
KINDS: Final = (PLAIN, SINGLE, DOUBLE)
"""Words by the number of windings."""
_CLEAR_RISE: Final = 1.02
"""A string longer by this than its lower neighbour lies on another bridge (our choice: reading errors are smaller)."""
BELOW, ABOVE = "below the break", "above the break"


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of notes over which lengths and wire run smoothly."""

    name: str
    """In the words of who measured, or which side of the break."""
    kind: str
    """Plain, wound or double wound."""

    def __str__(self) -> str:
        return ", ".join(part for part in (self.name, self.kind) if part)


@dataclass(frozen=True, slots=True)
class Sections:
    """The section of every note that one can be given to."""

    by_key: Mapping[int, Section]
    break_after: int | None
    """Highest key below the break, ``None`` where it is not known."""
    is_break_found: bool
    """Whether the break was found from the lengths rather than told."""
    untold: Mapping[int, str]
    """Why a note could not be given to a section."""


def sections_of(entries: Sequence[ScaleEntry], *, compass: Compass, break_after: int | None) -> Sections:
    """Return the section of each note, as far as the entries tell.

    A note between two entered ones belongs to their section when they agree. The break is where `break_after` says,
    or where the names of sections change, or else where the speaking length
    grows most going up (if between notes that are not neighbours, the notes between them belong to neither side).

    Parameters
    ----------
    entries : sequence of ScaleEntry
        Entered notes, ascending by key.
    compass : Compass
        All notes of the piano.
    break_after : int or None
        Highest key below the break, where it is known.
    """
    is_named = any(entry.section for entry in entries)
    rise = None if break_after is not None or is_named else _rise_of_lengths(entries)
    found = rise[0] if rise is not None and rise[1] == rise[0] + 1 else break_after
    names = _spread(_names(entries, break_after=break_after if rise is None else rise[0]), compass, found)
    kinds = _spread(
        {entry.key: KINDS[len(entry.windings)] for entry in entries if entry.windings is not None}, compass, found
    )
    untold = {
        key: "which section it belongs to cannot be told from the notes entered beside it"
        if names.get(key) is None
        else "whether it is plain or wound cannot be told from the notes entered beside it"
        for key in compass
        if names.get(key) is None or kinds.get(key) is None
    }
    told = {key: Section(names[key], kinds[key]) for key in compass if key not in untold}
    return Sections(
        by_key=told,
        break_after=found if found is not None else _only_change(told),
        is_break_found=found is not None and break_after is None,
        untold=untold,
    )


def _names(entries: Sequence[ScaleEntry], *, break_after: int | None) -> dict[int, str]:
    """Return the written name of each entered note, or which side of the break it lies on."""
    if any(entry.section for entry in entries):
        return {entry.key: entry.section for entry in entries if entry.section}
    if break_after is None:
        return {entry.key: "" for entry in entries}
    return {entry.key: BELOW if entry.key <= break_after else ABOVE for entry in entries}


def _rise_of_lengths(entries: Sequence[ScaleEntry]) -> tuple[int, int] | None:
    """Return the two measured notes between which the speaking length grows most going up, if it clearly does."""
    known = [(entry.key, entry.length_mm) for entry in entries if entry.length_mm is not None]
    rises = [
        (above.value / below.value, low, high)
        for (low, below), (high, above) in itertools.pairwise(known)
        if above.value > _CLEAR_RISE * below.value
    ]
    return max(rises)[1:] if rises else None


def _spread(known: Mapping[int, str], compass: Compass, break_after: int | None) -> dict[int, str]:
    """Return the word of each note between two known ones that have the same word and lie on one side of the break."""
    keys = sorted(known)
    spread: dict[int, str] = {}
    for key in compass:
        same_side = [one for one in keys if break_after is None or (one <= break_after) == (key <= break_after)]
        beside = {
            known[one]
            for one in (
                max((one for one in same_side if one <= key), default=None),
                min((one for one in same_side if one >= key), default=None),
            )
            if one is not None
        }
        if len(beside) == 1:
            spread[key] = beside.pop()
    return spread


def _only_change(told: Mapping[int, Section]) -> int | None:
    """Return the note after which the written name changes, where it does so once."""
    keys = sorted(told)
    places = [a for a, b in itertools.pairwise(keys) if told[a].name != told[b].name and b == a + 1]
    return places[0] if len(places) == 1 else None
