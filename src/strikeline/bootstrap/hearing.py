"""Sounds in, listenings out: the microphone's files wired to the ear."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from threadpoolctl import threadpool_limits

from strikeline import __version__
from strikeline.acoustics.listening import Kind, Listening
from strikeline.bootstrap.results import read_listening
from strikeline.errors import InputError
from strikeline.media.sound import open_sound
from strikeline.workshop import listening as workshop_listening
from strikeline.workshop import plucks as workshop_plucks

if TYPE_CHECKING:
    from strikeline.acoustics.comparison_result import Comparison
    from strikeline.keyboard import Compass
    from strikeline.workshop.comparison import Hearing
    from strikeline.workshop.ports import Progress
    from strikeline.workshop.strings import StringsHeard


def listen(
    path: str | os.PathLike[str],
    *,
    kind: Kind | str = Kind.PASS,
    note: int | None = None,
    notes: Sequence[int] | None = None,
    n_strings: int | None = None,
    compass: Compass | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> Listening:
    """Listen to a sound file and measure every note in it.

    Parameters
    ----------
    path : str or path
        A sound or video file as a phone makes it: WAV, FLAC, OGG, MP3, M4A/AAC, MP4, MOV, WebM.
    kind : Kind or str
        ``"pass"`` for a run over the keyboard, ``"note"`` for one note, ``"staccato"`` for short blows up the keyboard,
        ``"plucks"`` for strings plucked one by one while the hammer is held against them.
    note : int, optional
        Key number of the one note (A4 = 49), only for kind ``"note"``; found from the sound when left out.
    notes : sequence of int, optional
        Key numbers of the notes whose strings were plucked, in order, only for kind ``"plucks"``; found from the sound
        when left out.
    n_strings : int, optional
        Strings of each note for kind ``"plucks"``; strings that sounded for kind ``"note"``, 1 for one string alone.
        Refused for other kinds; ``None`` where it is not known.
    compass : Compass, optional
        Keys the piano has; found from the pass when left out.
    a4_hz : float
        Frequency of A4 that the piano is compared with, 380 to 480 Hz. The default is that of ISO 16.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Returns
    -------
    Listening
        Strikes in the order of time, each number with its standard error.

    Raises
    ------
    InputError
        If an argument leaves the range given above.
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no sound.
    SignalError
        If the sound holds nothing to measure: silence, speech only.
    strikeline.workshop.listening.Interrupted
        A `KeyboardInterrupt` that carries what was found so far in ``so_far``.
    """
    asked = _kind(kind)
    if notes is not None and asked is not Kind.PLUCKS:
        raise InputError("notes were given, but they name plucked strings; leave them out for this kind", name="notes")
    # The matrices are tiny and two processes share the work already: more threads would only wait for each other.
    with threadpool_limits(limits=1, user_api="blas"):
        if asked is Kind.PLUCKS:
            if note is not None or compass is not None:
                raise InputError("a note or a compass was given; for plucked strings give notes instead", name="note")
            return workshop_plucks.listen_to_plucks(
                open_sound(Path(path)),
                notes=None if notes is None else tuple(notes),
                n_strings=n_strings,
                a4_hz=a4_hz,
                analyser=__version__,
                progress=progress,
            )
        return workshop_listening.listen(
            open_sound(Path(path)),
            kind=asked,
            note=note,
            compass=compass,
            a4_hz=a4_hz,
            n_strings=n_strings,
            analyser=__version__,
            progress=progress,
        )


def _kind(kind: Kind | str) -> Kind:
    try:
        return Kind(kind)
    except ValueError:
        raise InputError.of("kind", kind, " or ".join(repr(known.value) for known in Kind)) from None


def hear_strings(
    together: str | os.PathLike[str],
    *,
    left: str | os.PathLike[str] | None = None,
    middle: str | os.PathLike[str] | None = None,
    right: str | os.PathLike[str] | None = None,
    n_strings: int | None = None,
    note: int | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> StringsHeard:
    """Listen to one note with all its strings, and to its strings one by one, the others muted.

    Parameters
    ----------
    together : str or path
        The note struck with all its strings free.
    left, middle, right : str or path, optional
        The note struck with only this string free; at least one of the three.
    n_strings : int, optional
        Strings of the note, 2 or 3; as many as were recorded alone when left out.
    note : int, optional
        Key number (A4 = 49); found from the sound when left out.
    a4_hz : float
        Frequency of A4 that names of notes go by, 380 to 480 Hz.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Raises
    ------
    InputError
        If no string was recorded alone, two files hold the same sound, or they sound different notes.
    NotFoundError, StoreError
        If a file does not exist, cannot be read or is no sound.
    SignalError
        If one of the sounds holds nothing to measure.
    """
    from strikeline.acoustics.pluck_result import StringPlace
    from strikeline.workshop import strings as workshop_strings

    given = {StringPlace.LEFT: left, StringPlace.MIDDLE: middle, StringPlace.RIGHT: right}
    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_strings.hear_strings(
            open_sound(Path(together)),
            {place: open_sound(Path(path)) for place, path in given.items() if path is not None},
            note=note,
            n_strings=n_strings,
            a4_hz=a4_hz,
            analyser=__version__,
            progress=progress,
        )


def compare(
    before: str | os.PathLike[str],
    after: str | os.PathLike[str],
    *,
    again_before: Sequence[str | os.PathLike[str]] = (),
    again_after: Sequence[str | os.PathLike[str]] = (),
    kind: Kind | str = Kind.PASS,
    note: int | None = None,
    notes: Sequence[int] | None = None,
    n_strings: int | None = None,
    compass: Compass | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> Comparison:
    """Compare two recordings of one piano, note by note.

    Parameters
    ----------
    before, after : str or path
        Sounds, or listenings kept as JSON (files named ``.json``).
    again_before, again_after : sequence of str or path
        The same played again without work in between: they measure the repeatability.
    kind, note, notes, n_strings, compass, a4_hz
        What was played, as for `listen`; a listening kept as JSON has its own.
    progress : callable, optional
        Called as ``progress(fraction, words)`` over all recordings.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If an argument leaves its range or the recordings are of different playing.
    NotFoundError, StoreError
        If a file does not exist, cannot be read, or is neither a sound nor a listening.
    SignalError
        If a sound holds nothing to measure.
    KeyboardInterrupt
        If the user stops it; nothing is kept.
    """
    from strikeline.workshop import comparison as workshop_comparison

    def hearing(path: str | os.PathLike[str]) -> Hearing:
        if Path(path).suffix.lower() == ".json":
            return lambda _progress: read_listening(path)
        return lambda told: listen(
            path,
            kind=kind,
            note=note,
            notes=notes,
            n_strings=n_strings,
            compass=compass,
            a4_hz=a4_hz,
            progress=told,
        )

    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_comparison.compare(
            hearing(before),
            hearing(after),
            before_again=[hearing(path) for path in again_before],
            after_again=[hearing(path) for path in again_after],
            progress=progress,
        )
