"""A pass that was played as short blows: nothing of its tone can be told, and its dampers could be."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import median
from typing import Final

from strikeline.acoustics.listening import Note

_SOUND: Final = "these sound like short blows"
_SHORT_S: Final = 0.35
"""A note of a pass is held for a second or more; the key of a short blow is let go within a third of one (common
practice, no source)."""
_FEWEST_NOTES: Final = 8
_LAST_ASKED_KEY: Final = 60
"""G♯5, well below where dampers end: above, notes may die so soon however they are played."""


def short_blows_warning(notes: Iterable[Note]) -> str | None:
    """Return what to say of a pass whose notes were mostly let go at once, ``None`` of any other."""
    heard_s = [_heard_s(note) for note in notes if note.key is not None and note.key <= _LAST_ASKED_KEY]
    if len(heard_s) < _FEWEST_NOTES or median(heard_s) >= _SHORT_S:
        return None
    return f"{_SOUND}; listen with --kind staccato"


def sounds_like_short_blows(warnings: Iterable[str]) -> bool:
    """Return whether `short_blows_warning` stands among the warnings of a recording."""
    return any(warning.startswith(_SOUND) for warning in warnings)


def _heard_s(note: Note) -> float:
    """Return for how long a note was heard: to its damper, or to where the next sound begins."""
    until_next_s = note.end_s - note.onset_s
    return until_next_s if note.heard_s is None else min(until_next_s, note.heard_s)
