"""Listen to a recording: from a sound to one measured note per strike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from itertools import count
from typing import Final

from strikeline.acoustics.brightness import level_out
from strikeline.acoustics.damping_judgement import judge_dampers
from strikeline.acoustics.identity import Naming, StrikeEvidence
from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.acoustics.pedal import HeardStrike, RingingOn, find_ringing_on, without_dampers
from strikeline.acoustics.short_blows import short_blows_warning
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError, SignalError
from strikeline.keyboard import Compass
from strikeline.workshop.bench import Bench
from strikeline.workshop.hearing import Heard, cut_again, hear
from strikeline.workshop.naming import name_note, name_pass
from strikeline.workshop.one_note import measure_note
from strikeline.workshop.ports import Progress, SoundSource
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.second_pair import SecondPair
from strikeline.workshop.short_note import measure_short_note
from strikeline.workshop.staccato import join_releases, with_joined
from strikeline.workshop.steps import Steps

_MOST_TIMES: Final = 6
"""Moments of sounds that were no note that are told one by one."""
_LONG_S: Final = 30.0
"""A second process needs half a second to load its libraries; shorter recordings are done by then."""


class Interrupted(KeyboardInterrupt):
    """A listening was stopped by the user; what was found so far is in `so_far`.

    Attributes
    ----------
    so_far : Listening or None
        The listening up to the interruption, with ``recording.is_partial`` set; ``None`` when nothing was found yet.
    """

    def __init__(self, so_far: Listening | None) -> None:
        super().__init__("stopped by the user")
        self.so_far = so_far


def listen(
    source: SoundSource,
    *,
    kind: Kind,
    note: int | None,
    compass: Compass | None,
    a4_hz: float,
    analyser: str,
    n_strings: int | None = None,
    progress: Progress | None = None,
) -> Listening:
    """Listen to a recorded sound and measure every note in it.

    The sound is streamed and never held whole. Its opening decides which channels are heard; then every strike is cut
    out, the strikes are named together, and each named strike is measured by itself.

    Parameters
    ----------
    source : SoundSource
        The recording.
    kind : Kind
        A pass over the keyboard, or one note.
    note : int or None
        Key number of the one note, only for `Kind.NOTE`; ``None`` to have it found.
    compass : Compass or None
        Keys the instrument has; ``None`` to have them found from the pass.
    a4_hz : float
        Frequency of A4 that the instrument is compared with, 380 to 480 Hz; ISO 16 has 440.
    analyser : str
        Version of the program, kept with the result.
    n_strings : int or None
        How many strings of the one note sound, 1 to 3, if that is known; only for `Kind.NOTE`.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Returns
    -------
    Listening
        Strikes in the order of time. Sounds that are no note are left out and counted in a warning.

    Raises
    ------
    InputError
        If an argument leaves the range given above.
    SignalError
        If there is nothing to measure: silence, speech only, no strike.
    Interrupted
        If the user stops it; what was found so far is kept in the exception.
    """
    _check(kind=kind, note=note, a4_hz=a4_hz, n_strings=n_strings)
    task = _Task(
        source=source, kind=kind, note=note, compass=compass, a4_hz=a4_hz, analyser=analyser, n_strings=n_strings
    )
    heard, measured, steps = Heard(), dict[int, Note](), Steps(progress)
    try:
        with ExitStack() as stack:
            second = stack.enter_context(SecondPair()) if _is_long(source) else None
            hear(source, heard, a4_hz=a4_hz, second=second, steps=steps)
            naming = task.name(heard)
            if kind is Kind.STACCATO:
                heard = with_joined(heard, task.strikes(heard), naming, a4_hz=a4_hz, second=second)
                naming = task.name(heard)
            task.measure(heard, naming, measured, second, steps)
    except KeyboardInterrupt:
        raise Interrupted(task.so_far(heard, measured)) from None
    steps.finished()
    return task.result(heard, naming, measured)


def _is_long(source: SoundSource) -> bool:
    """Return whether a recording is worth starting a second process for."""
    return source.duration_s is None or source.duration_s >= _LONG_S


def _check(*, kind: Kind, note: int | None, a4_hz: float, n_strings: int | None) -> None:
    if note is not None and kind is not Kind.NOTE:
        raise InputError(
            "a note was given, but a pass has many; leave it out, or say that the kind is note", name="note"
        )
    if n_strings is not None and kind is not Kind.NOTE:
        raise InputError("a number of strings was given, but a pass has many notes; leave it out", name="n_strings")
    check_a4_hz(a4_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """What was asked for."""

    source: SoundSource
    kind: Kind
    note: int | None
    compass: Compass | None
    a4_hz: float
    analyser: str
    n_strings: int | None

    def name(self, heard: Heard) -> Naming:
        """Name the strikes heard so far."""
        evidence = list(_in_order(heard.evidence))
        if not evidence:
            raise SignalError("no struck note was found in the recording; play nearer to the microphone, or louder")
        if self.kind is Kind.NOTE:
            return name_note(
                evidence, heard.peaks[: len(evidence)], note=self.note, compass=self.compass, a4_hz=self.a4_hz
            )
        return name_pass(evidence, compass=self.compass, a4_hz=self.a4_hz)

    def measure(
        self, heard: Heard, naming: Naming, measured: dict[int, Note], second: SecondPair | None, steps: Steps
    ) -> None:
        """Measure every named strike into `measured`, by number of strike."""
        n_notes = _n_named(naming)
        with Bench(measured, second=second, tell=lambda n_done: steps.measured(n_done, n_notes)) as bench:
            for number, strike in enumerate(self.strikes(heard)):
                key, f0_hz = naming.keys[number], naming.f0_hz[number]
                if key is not None and f0_hz is not None:
                    struck = partial(measure_note, peaks=heard.evidence[number].peaks, n_strings=self.n_strings)
                    how = measure_short_note if self.kind is Kind.STACCATO else struck
                    bench.take(number, partial(how, strike, key=key, f0_start_hz=f0_hz, a4_hz=self.a4_hz))

    def strikes(self, heard: Heard) -> Iterable[Strike]:
        """Return the strikes of a hearing that ended, from memory or cut again."""
        if heard.kept is not None:
            return heard.kept
        assert heard.channel is not None  # noqa: S101  (a hearing that ended has chosen)
        strikes = cut_again(self.source, heard.channel)
        return join_releases(strikes, heard.releases) if heard.releases else strikes

    def so_far(self, heard: Heard, measured: dict[int, Note]) -> Listening | None:
        """Return what an interrupted listening has found."""
        try:
            naming = self.name(heard)
        except SignalError:
            return None
        stopped = f"stopped by the user after {heard.heard_s:.0f} s of the recording had been heard"
        if heard.is_whole:
            stopped = f"stopped by the user when {len(measured)} of {_n_named(naming)} notes had been measured"
        listening = self.result(heard, naming, measured)
        warnings = (stopped, *listening.recording.warnings)
        return replace(listening, recording=replace(listening.recording, is_partial=True, warnings=warnings))

    def result(self, heard: Heard, naming: Naming, measured: dict[int, Note]) -> Listening:
        """Put the listening together."""
        notes = tuple(
            _finished(measured.get(number), heard, number, key=key, notices=naming.notices[number])
            for number, key in enumerate(naming.keys)
            if key is not None
        )
        ringing = _ringing_on(heard, naming, measured) if self.kind is Kind.PASS else None
        if ringing is not None:
            notes = tuple(without_dampers(note) if ringing.covers(note.onset_s) else note for note in notes)
        if self.kind is Kind.PASS:
            notes = level_out(notes)
        short = short_blows_warning(notes) if self.kind is Kind.PASS else None
        judged = judge_dampers(notes) if self.kind is Kind.STACCATO else None
        if judged is not None:
            notes = judged.notes
        broke_off = self.source.broke_off if heard.is_whole else None
        warnings = (
            *((f"{broke_off}; what is whole was measured",) if broke_off else ()),
            *(heard.channel.warnings if heard.channel else ()),
            *heard.quality_warnings,
            *naming.warnings,
            *(() if ringing is None else (ringing.warning,)),
            *(() if short is None else (short,)),
            *(() if judged is None else judged.warnings),
            *(_left_out(_foreign_s(heard, naming)) if self.kind in {Kind.PASS, Kind.STACCATO} else ()),
        )
        recording = Recording(
            sha256=self.source.sha256,
            sample_rate_hz=self.source.sample_rate_hz,
            duration_s=heard.heard_s,
            kind=self.kind,
            analyser=self.analyser,
            reference_a4_hz=self.a4_hz,
            warnings=warnings,
            compass=naming.compass,
            missing_keys=tuple(naming.missing_keys),
            is_partial=broke_off is not None,
        )
        return Listening(recording=recording, notes=notes)


def _finished(note: Note | None, heard: Heard, number: int, *, key: int, notices: tuple[str, ...]) -> Note:
    """Return the note with what was noticed about it elsewhere; one not measured yet says so."""
    onset_s, end_s = heard.spans_s[number]
    clipped = any(start_s < end_s and stop_s > onset_s for start_s, stop_s in heard.clipped_s)
    notices = (*notices, *(("clipped",) if clipped else ()))
    if note is None:
        reason = "everything: stopped by the user before this note was measured"
        return Note(key=key, onset_s=onset_s, end_s=end_s, cannot_tell=(reason,), notices=notices)
    return replace(note, notices=(*notices, *note.notices)) if notices else note


def _ringing_on(heard: Heard, naming: Naming, measured: dict[int, Note]) -> RingingOn | None:
    """Return where former notes ring on under later ones."""
    strikes = [
        HeardStrike(
            onset_s=heard.spans_s[number][0], note=measured.get(number), peaks=heard.evidence[number].peaks.heard
        )
        for number in range(len(naming.keys))
    ]
    return find_ringing_on(strikes)


def _in_order(evidence: dict[int, StrikeEvidence]) -> Iterator[StrikeEvidence]:
    """Return the evidence from the first strike on; an interrupted hearing may lack the last few."""
    for number in count():
        if number not in evidence:
            return
        yield evidence[number]


def _n_named(naming: Naming) -> int:
    return sum(key is not None for key in naming.keys)


def _foreign_s(heard: Heard, naming: Naming) -> list[float]:
    """Return when the sounds that were no note began; what only goes on from the strike before is none of its own."""
    numbered = enumerate(zip(naming.keys, naming.continues, strict=True))
    return [heard.spans_s[number][0] for number, (key, goes_on) in numbered if key is None and not goes_on]


def _left_out(onsets_s: list[float]) -> tuple[str, ...]:
    """Say how many sounds were no note, and when the first of them were, so that they can be listened to."""
    n = len(onsets_s)
    if n == 0:
        return ()
    clock = list(dict.fromkeys(f"{int(onset_s) // 60}:{int(onset_s) % 60:02d}" for onset_s in onsets_s))
    when = f"at {', '.join(clock[:_MOST_TIMES])}{' and later' if len(clock) > _MOST_TIMES else ''}"
    what = "1 sound was" if n == 1 else f"{n} sounds were"
    whom = "it" if n == 1 else "them"
    return (f"{what} left out, no piano note was recognised in {whom} (talk, a door, a damper): {when}",)
