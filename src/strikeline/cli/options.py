"""Options that several commands share, and their values read."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from strikeline.errors import InputError

if TYPE_CHECKING:
    from strikeline.keyboard import Compass

KINDS: Final = ("pass", "note", "staccato", "plucks")
"""Kinds of playing in the published contract; this version understands the first two."""

_Command = TypeVar("_Command", bound=Callable[..., Any])


def sound_options(command: _Command) -> _Command:
    """Add the options that say what was played and on what."""
    for option in (
        click.option("--a4", "a4_hz", type=_read_hz, default=440.0, show_default=True, metavar="HZ", help=_A4_HELP),
        click.option("--compass", "compass_text", metavar="LOWEST-HIGHEST", help=_COMPASS_HELP),
        click.option("--note", "note_name", metavar="NOTE", help=_NOTE_HELP),
        click.option("--kind", type=click.Choice(KINDS), default="pass", show_default=True, help=_KIND_HELP),
    ):
        command = option(command)
    return command


_KIND_HELP: Final = "What was played: a run over the keyboard or one note. The other two are not in this version yet."
_NOTE_HELP: Final = "Which note was played, such as A4 or Bb0; with --kind note. Found from the sound when left out."
_COMPASS_HELP: Final = "Keys the piano has, such as A0-A7. Found from the pass when left out."
_A4_HELP: Final = "Frequency of A4 the piano is compared with; ISO 16 has 440 Hz."


def check_kind(kind: str, *, note_name: str | None) -> None:
    """Refuse the kinds that are promised but not built yet, and one note's name for a whole pass.

    Raises
    ------
    InputError
        For ``staccato`` and ``plucks``, and for a note without kind ``note``.
    """
    if kind in {"staccato", "plucks"}:
        raise InputError(
            f"--kind {kind} is not in this version yet; it listens to a pass or a note", name="kind", value=kind
        )
    if note_name is not None and kind != "note":
        raise InputError(
            f"--note {note_name} says which one note was played; add --kind note, or leave --note out for a pass",
            name="note",
            value=note_name,
        )


def _read_hz(text: str) -> float:
    """Return a frequency given on the command line; tell in words what is wrong with anything that is no number."""
    try:
        return float(text)
    except ValueError:
        advice = "write it without a unit and with a point, such as 442.5"
        raise click.BadParameter(f"{text!r} is not a number; {advice}") from None


def read_note(note_name: str | None) -> int | None:
    """Return the key number of a note given on the command line."""
    from strikeline.keyboard import key_from_name

    return None if note_name is None else key_from_name(note_name)


def read_compass(compass_text: str | None) -> Compass | None:
    """Return the compass given on the command line."""
    from strikeline.keyboard import Compass

    return None if compass_text is None else Compass.parse(compass_text)
