"""The strings of one note: listen to all of them together and to each alone, the others muted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from strikeline.acoustics.listening import Kind, Note, Recording
from strikeline.acoustics.muted import PLACES, compare_strings
from strikeline.acoustics.muted_result import StringsOfNote
from strikeline.acoustics.pluck_result import StringPlace
from strikeline.errors import InputError, SignalError
from strikeline.keyboard import key_name
from strikeline.workshop.listening import listen
from strikeline.workshop.ports import Progress, SoundSource

SCHEMA: Final = "strikeline.unison/1"
_TOGETHER: Final = "all strings"
_MOST_STRINGS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class StringsHeard:
    """What was listened to and what it tells of the strings."""

    together: Recording
    alone: Mapping[StringPlace, Recording]
    note: StringsOfNote

    def to_json(self) -> dict[str, Any]:
        """Return the whole result as plain data in schema ``strikeline.unison/1``."""
        recordings = {"together": self.together, **{place.value: one for place, one in self.alone.items()}}
        return {
            "schema": SCHEMA,
            "analyser": self.together.analyser,
            "recordings": {
                name: {
                    "sha256": recording.sha256,
                    "sample_rate_hz": recording.sample_rate_hz,
                    "duration_s": round(recording.duration_s, 4),
                    "warnings": list(recording.warnings),
                }
                for name, recording in recordings.items()
            },
            **self.note.to_json(),
        }


def hear_strings(
    together: SoundSource,
    alone: Mapping[StringPlace, SoundSource],
    *,
    note: int | None,
    n_strings: int | None,
    a4_hz: float,
    analyser: str,
    progress: Progress | None = None,
) -> StringsHeard:
    """Listen to one note with all its strings, and to its strings one by one.

    Parameters
    ----------
    together : SoundSource
        The note struck with all its strings free.
    alone : mapping of StringPlace to SoundSource
        The note struck with one string free and the others muted; one to three such recordings.
    note : int or None
        Key number; ``None`` to have it found.
    n_strings : int or None
        Strings of the note, 2 or 3; ``None`` if they are as many as were recorded alone.
    a4_hz : float
        Frequency of A4 that names of notes go by, 380 to 480 Hz.
    analyser : str
        Version of the program, kept with the result.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Returns
    -------
    StringsHeard

    Raises
    ------
    InputError
        If there is no recording of a string alone, two recordings are the same, or they sound different notes.
    SignalError
        If one of them holds nothing to measure.
    """
    sources = {_TOGETHER: together, **{_words(place): alone[place] for place in PLACES if place in alone}}
    _check(sources, n_strings)
    recordings, notes = dict[str, Recording](), dict[str, Note]()
    for number, (words, source) in enumerate(sources.items()):
        try:
            listening = listen(
                source,
                kind=Kind.NOTE,
                note=note,
                compass=None,
                a4_hz=a4_hz,
                analyser=analyser,
                n_strings=1 if source is not together else None,
                progress=None if progress is None else partial(_tell, progress, number, len(sources), words),
            )
        except SignalError as error:
            raise SignalError(f"the recording of {words}: {error}") from error
        recordings[words], notes[words] = listening.recording, _one_note(listening.notes, words)
    _check_notes(notes)
    places = [place for place in PLACES if place in alone]
    return StringsHeard(
        together=recordings[_TOGETHER],
        alone={place: recordings[_words(place)] for place in places},
        note=compare_strings(notes[_TOGETHER], {place: notes[_words(place)] for place in places}, n_strings=n_strings),
    )


def _words(place: StringPlace) -> str:
    return f"the {place.value} string"


def _check(sources: Mapping[str, SoundSource], n_strings: int | None) -> None:
    """Refuse what cannot be compared, before anything is listened to."""
    n_alone = len(sources) - 1
    if n_alone == 0:
        raise InputError("no recording of a string alone was given; give that of one string or more", name="alone")
    if n_strings is not None and not max(2, n_alone) <= n_strings <= _MOST_STRINGS:
        raise InputError.of("n_strings", n_strings, f"{max(2, n_alone)} to {_MOST_STRINGS}")
    seen: dict[str, str] = {}
    for words, source in sources.items():
        if source.sha256 in seen:
            other = seen[source.sha256]
            raise InputError(
                f"the recordings of {other} and of {words} are the same file; give one of each", name="alone"
            )
        seen[source.sha256] = words


def _check_notes(notes: Mapping[str, Note]) -> None:
    key = notes[_TOGETHER].key
    for words, note in notes.items():
        if note.key != key and note.key is not None and key is not None:
            raise InputError(
                f"the recording of {words} sounds {key_name(note.key)}, that of {_TOGETHER} {key_name(key)}; "
                "give recordings of one note",
                name="alone",
            )


def _one_note(notes: tuple[Note, ...], words: str) -> Note:
    """Return the blow that was heard longest, of the note that was struck most often."""
    named = [note for note in notes if note.key is not None and note.partials]
    if not named:
        raise SignalError(f"the recording of {words}: no partial of a note stands clear of the noise")
    key, _ = Counter(note.key for note in named).most_common(1)[0]
    return max((note for note in named if note.key == key), key=lambda note: note.end_s - note.onset_s)


def _tell(progress: Progress, number: int, n: int, words: str, fraction: float, what: str) -> None:
    progress((number + fraction) / n, f"{words}: {what}")
