"""Options that several commands share, and their values read."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import click

from strikeline.errors import InputError

if TYPE_CHECKING:
    from strikeline.keyboard import Compass

KINDS: Final = ("pass", "note", "staccato", "plucks")
"""Kinds of playing in the published contract."""
_MOST_STRINGS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the command line says about the sound: what was played, and on what."""

    kind: str
    note: int | None
    """Key number of the one note."""
    notes: tuple[int, ...] | None
    """Key numbers of the notes whose strings were plucked, in order."""
    n_strings: int | None
    """Strings of a note."""
    compass: Compass | None
    a4_hz: float


def sound_options(command: Callable[..., int]) -> Callable[..., int]:
    """Add the options that say what was played and on what; the command gets them read, as `asked`."""

    @functools.wraps(command)
    def with_asked(
        *args: Any,
        kind: str,
        note_name: str | None,
        notes_text: str | None,
        n_strings: int | None,
        compass_text: str | None,
        a4_hz: float,
        **others: Any,
    ) -> int:
        notes = read_notes(notes_text)
        _check(kind, note_name=note_name, notes_text=notes_text, n_strings=n_strings)
        asked = Asked(
            kind=kind,
            note=read_note(note_name),
            notes=notes,
            n_strings=n_strings,
            compass=_compass(compass_text),
            a4_hz=a4_hz,
        )
        return command(*args, asked=asked, **others)

    for option in _SOUND_OPTIONS:
        with_asked = option(with_asked)
    return with_asked


def read_hz(text: str) -> float:
    """Return a frequency given on the command line; tell in words what is wrong with anything that is no number."""
    try:
        return float(text)
    except ValueError:
        advice = "write it without a unit and with a point, such as 442.5"
        raise click.BadParameter(f"{text!r} is not a number; {advice}") from None


_KIND_HELP: Final = (
    "What was played: a run over the keyboard, one note, short blows for the dampers, or strings plucked against the "
    "hammers."
)
_NOTE_HELP: Final = "Which note was played, such as A4 or Bb0; with --kind note. Found from the sound when left out."
_NOTES_HELP: Final = (
    "Whose strings were plucked, in order, such as F3-C5 or A4,A#4,B4; with --kind plucks. Found from the sound when "
    "left out."
)
_STRINGS_HELP: Final = (
    "Strings of each note; with --kind plucks. With --kind note: strings that sounded, 1 for one string alone."
)
_COMPASS_HELP: Final = "Keys the piano has, such as A0-A7. Found from the pass when left out."
_A4_HELP: Final = "Frequency of A4 the piano is compared with; ISO 16 has 440 Hz."
_SOUND_OPTIONS: Final = (
    click.option("--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help=_A4_HELP),
    click.option("--compass", "compass_text", metavar="LOWEST-HIGHEST", help=_COMPASS_HELP),
    click.option("--strings", "n_strings", type=click.IntRange(1, _MOST_STRINGS), metavar="N", help=_STRINGS_HELP),
    click.option("--notes", "notes_text", metavar="NOTES", help=_NOTES_HELP),
    click.option("--note", "note_name", metavar="NOTE", help=_NOTE_HELP),
    click.option("--kind", type=click.Choice(KINDS), default="pass", show_default=True, help=_KIND_HELP),
)
"""The last one is shown first."""


def _check(kind: str, *, note_name: str | None, notes_text: str | None, n_strings: int | None) -> None:
    """Refuse what does not go together, such as one note's name for a whole pass."""
    if note_name is not None and kind != "note":
        advice = "say --notes for plucked strings" if kind == "plucks" else f"leave --note out for a {kind}"
        raise InputError(
            f"--note {note_name} says which one note was played; add --kind note, or {advice}",
            name="note",
            value=note_name,
        )
    if notes_text is not None and kind != "plucks":
        raise InputError(
            f"--notes {notes_text} says whose strings were plucked; add --kind plucks, or leave --notes out",
            name="notes",
            value=notes_text,
        )
    if n_strings is not None and kind not in {"note", "plucks"}:
        raise InputError(
            f"--strings {n_strings} goes with --kind note or --kind plucks; leave it out for a {kind}",
            name="strings",
            value=n_strings,
        )


def read_notes(text: str | None) -> tuple[int, ...] | None:
    """Return the key numbers of notes as written on the command line, in their order: names and runs with commas.

    Raises
    ------
    InputError
        If a part is no note and no run, or a note stands there twice.

    Examples
    --------
    >>> read_notes("A4, A#4,B4"), read_notes("E4-F#4,A4"), read_notes("C4-A3")
    ((49, 50, 51), (44, 45, 46, 49), (40, 39, 38, 37))
    """
    from strikeline.workshop.note_cells import clear_keys

    if text is None:
        return None
    keys: list[int] = []
    runs = [re.split(r"(?<=\d)\s*[-–]\s*", part, maxsplit=1) for part in re.split(r"[,;]", text)]
    ends = iter(clear_keys(*(end for run in runs for end in run)))
    for run in runs:
        first, *rest = [next(ends) for _end in run]
        last = rest[0] if rest else first
        keys += range(first, last + 1) if last >= first else range(first, last - 1, -1)
    if len(set(keys)) < len(keys):
        raise InputError(f"notes = {text!r} has a note twice; write each once", name="notes", value=text)
    return tuple(keys)


def read_note(note_name: str | None) -> int | None:
    """Return the key number of a note as written on the command line."""
    from strikeline.workshop.note_cells import clear_keys

    return None if note_name is None else clear_keys(note_name)[0]


def _compass(compass_text: str | None) -> Compass | None:
    from strikeline.workshop.note_cells import clear_compass

    return None if compass_text is None else clear_compass(compass_text)
