"""Whether a listening is the pass over the keyboard that tuning needs, and what to record if it is not."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.short_blows import sounds_like_short_blows
from strikeline.errors import InputError

_OTHER: Final = {
    Kind.NOTE: "one note",
    Kind.STACCATO: "short blows for the dampers",
    Kind.PLUCKS: "strings plucked against the hammer",
}
_RECORD: Final = "record every note once up the keyboard, held for two seconds or more, and listen to it with kind pass"


def check_is_pass(listening: Listening, *, name: str) -> None:
    """Refuse a listening that is no pass: notes cut short or plucked do not give the pitch and B that are tuned by.

    Parameters
    ----------
    listening : Listening
        What was given.
    name : str
        As what it was given, such as ``"listening"`` or ``"after"``.

    Raises
    ------
    InputError
        If it is of another kind of playing; the message says what to record.
    """
    kind = listening.recording.kind
    if kind is not Kind.PASS:
        raise InputError(f"{name} is a listening to {_OTHER[kind]}, no pass over the keyboard; {_RECORD}", name=name)


def pass_warnings(listening: Listening, *, name: str) -> tuple[str, ...]:
    """Return what to say of a pass that sounds like another kind of playing; nothing of any other.

    Parameters
    ----------
    listening : Listening
        A pass.
    name : str
        As what it was given.
    """
    if not sounds_like_short_blows(listening.recording.warnings):
        return ()
    return (f"{name} sounds like short blows: pitch and B of notes cut short are rough; {_RECORD}",)
