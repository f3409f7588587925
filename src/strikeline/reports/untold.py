"""What could not be told, gathered by reason: numbers that differ from note to note inside a reason become a range."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from strikeline.acoustics.evenness_quantities import QUANTITIES, Quantity
from strikeline.acoustics.listening import Kind, Listening, Note
from strikeline.reports.figures import key_ranges

_NUMBER: Final = re.compile(r"\d+(?:\.\d+)?(?![\w♯♭])")
_SHORT_LIST: Final = 6
"""Notes that are listed one by one even if they are all that was heard."""
_FIELD_NAMES: Final = {
    "f0_hz": "pitch (f0)",
    "f0": "pitch (f0)",
    "cents_from_et": "pitch",
    "strings": "single strings",
    "singing_s": "singing",
    "unison, strings": "unison",
    "damping": "damper",
    "damping, time to die": "time to fall by 60 dB",
    "plucks": "strings against the hammer",
    **{quantity.field: quantity.name for quantity in QUANTITIES},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Untold:
    """One reason why one thing could not be told, with the notes it holds for."""

    what: str
    notes: str
    n_notes: int
    why: str


def gather_untold(listening: Listening) -> tuple[Untold, ...]:
    """Return what could not be told, first keys that did not sound, then by number of notes."""
    groups: dict[tuple[str, str], list[tuple[Note, str]]] = defaultdict(list)
    is_struck = listening.recording.kind in {Kind.PASS, Kind.NOTE}
    for note in _notes(listening):
        for what, why in _reasons(note, QUANTITIES if is_struck else ()):
            groups[what, _NUMBER.sub("#", why)].append((note, why))
    heard = frozenset(listening.best_by_key())
    gathered = [
        Untold(what=what, notes=_names([one for one, _ in members], heard), n_notes=len(members), why=_merged(members))
        for (what, _), members in groups.items()
    ]
    gathered.sort(key=lambda one: -one.n_notes)
    missing = listening.recording.missing_keys
    if missing:
        silent = Untold(
            what="everything",
            notes=key_ranges(missing),
            n_notes=len(missing),
            why="no sound of this key was found in the recording",
        )
        gathered.insert(0, silent)
    return tuple(gathered)


def untold_keys(listening: Listening, field: str) -> tuple[int, ...]:
    """Return the keys that were heard or should have been, but have no value of `field`."""
    heard = listening.best_by_key()
    silent = set(listening.recording.missing_keys)
    return tuple(sorted(silent | {key for key, note in heard.items() if getattr(note, field) is None}))


def _notes(listening: Listening) -> list[Note]:
    """Return one note a key, and the strikes that could not be named."""
    unnamed = [note for note in listening.notes if note.key is None]
    return [*listening.best_by_key().values(), *unnamed]


def _reasons(note: Note, expected: Sequence[Quantity]) -> list[tuple[str, str]]:
    """Return what is missing of one note and why; an expected value without a reason is said to have none."""
    if note.key is None:
        return [("which key it was", "; ".join(note.cannot_tell) or "the sound fits no note")]
    split = [reason.partition(":") for reason in note.cannot_tell]
    given = [
        (_FIELD_NAMES.get(what.strip(), what.strip()), why.strip()) if colon else ("something", what.strip())
        for what, colon, why in split
    ]
    explained = {name for reason, colon, _ in split if colon for name in _named(reason)}
    if "everything" in explained:
        return given
    silent = [q.name for q in expected if getattr(note, q.field) is None and q.name not in explained]
    if "pitch" in silent and "pitch (f0)" in explained:
        silent.remove("pitch")
    return [*given, *((name, "no reason was noted") for name in silent)]


def _named(what: str) -> set[str]:
    """Return the names of all that a reason is given for; several are parted by commas."""
    return {_FIELD_NAMES.get(name.strip(), name.strip()) for name in (what, *what.split(","))}


def _names(notes: list[Note], heard: frozenset[int]) -> str:
    """Return the notes as runs of names; a long list of all that was heard is said as that."""
    keys = {note.key for note in notes if note.key is not None}
    named = key_ranges(keys)
    if keys == heard and "," in named and len(keys) > _SHORT_LIST:
        named = "every note heard"
    unnamed = [f"the strike at {note.onset_s:.1f} s" for note in notes if note.key is None]
    return ", ".join([*([named] if named else []), *unnamed[:4], *(["…"] if len(unnamed) > 4 else [])])


def _merged(members: list[tuple[Note, str]]) -> str:
    """Return the reason once, each number in it as the range it takes."""
    found = [_NUMBER.findall(why) for _, why in members]
    columns = list(zip(*found, strict=True))
    pieces = _NUMBER.split(members[0][1])
    text = pieces[0]
    for values, piece in zip(columns, pieces[1:], strict=True):
        low, high = min(values, key=float), max(values, key=float)
        text += (low if float(low) == float(high) else f"{low}–{high}") + piece
    return text
