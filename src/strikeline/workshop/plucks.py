"""Listen to strings plucked one by one while the hammer is held against them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.acoustics.pluck_result import Pluck
from strikeline.acoustics.plucks import ToldNote, ToldPlucks, tell_plucks
from strikeline.acoustics.plucks_cut import PluckCutter
from strikeline.acoustics.plucks_evidence import PluckEvidence, gather_pluck_evidence
from strikeline.acoustics.plucks_fit import (
    FOUND_BY_EAR,
    is_between_rows,
    is_plain_row,
    leap_back,
    level_warning,
    list_misfit,
    row_name,
)
from strikeline.acoustics.plucks_order import order_warnings, sounds_struck
from strikeline.acoustics.quality import ChannelChoice, QualityMeter
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError, SignalError
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY
from strikeline.workshop.bench import Bench
from strikeline.workshop.hearing import choose, mono
from strikeline.workshop.listening import Interrupted
from strikeline.workshop.ports import Progress, SoundSource
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.second_pair import SecondPair
from strikeline.workshop.steps import Steps

_LONG_S: Final = 30.0
_TOO_FEW: Final = 0.6
_NO_STRUCK_SOUND: Final = "pitch, unison and tone: these strings were plucked; record a pass for what a blow tells"
_STRUCK: Final = (
    "these sound like struck notes, each heard once and ringing: hold each hammer gently against its strings, then "
    "pluck them one by one, left to right; for struck notes use --kind pass"
)
_STRUCK_WHY: Final = "plucks: this sounds like a struck note, not like strings plucked one by one"
_LEAP_WHY: Final = "plucks: the names found by ear do not make a row"
_MISFIT_WHY: Final = "plucks: the list of notes does not fit what was plucked; say which notes were plucked"


def listen_to_plucks(
    source: SoundSource,
    *,
    notes: tuple[int, ...] | None,
    n_strings: int | None,
    a4_hz: float,
    analyser: str,
    progress: Progress | None = None,
) -> Listening:
    """Listen to a plucked section and tell for every string whether the hammer's felt touches it.

    Parameters
    ----------
    source : SoundSource
        The recording.
    notes : tuple of int or None
        Key numbers of the notes plucked, in their order; ``None`` to have them found from the sounds that have a pitch.
    n_strings : int or None
        Strings of each note, 1 to 3; ``None`` to have them found.
    a4_hz : float
        Frequency of A4 that the instrument is compared with, 380 to 480 Hz; ISO 16 has 440.
    analyser : str
        Version of the program, kept with the result.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Returns
    -------
    Listening
        One note per note plucked, with its strings from left to right.

    Raises
    ------
    InputError
        If an argument leaves the range given above.
    SignalError
        If no plucked string is heard: silence, talk, steady noise.
    strikeline.workshop.listening.Interrupted
        If the user stops it; what was found so far is kept in the exception.
    """
    _check(notes, n_strings, a4_hz)
    task = _Task(source=source, notes=notes, n_strings=n_strings, a4_hz=a4_hz, analyser=analyser)
    heard, steps = _Heard(), Steps(progress)
    try:
        with ExitStack() as stack:
            is_long = source.duration_s is None or source.duration_s >= _LONG_S
            task.hear(heard, stack.enter_context(SecondPair()) if is_long else None, steps)
        listening = task.result(heard)
    except KeyboardInterrupt:
        raise Interrupted(task.so_far(heard)) from None
    steps.finished()
    return listening


def _check(notes: tuple[int, ...] | None, n_strings: int | None, a4_hz: float) -> None:
    if notes is not None and (not notes or not all(LOWEST_KEY <= key <= HIGHEST_KEY for key in notes)):
        raise InputError.of("notes", notes, f"one key number or more, each {LOWEST_KEY} to {HIGHEST_KEY}")
    if notes is not None and len(set(notes)) < len(notes):
        raise InputError.of("notes", notes, "each note once", advice="name a note plucked again only once")
    if n_strings is not None and n_strings not in (1, 2, 3):
        raise InputError.of("n_strings", n_strings, "1, 2 or 3 strings of each note")
    check_a4_hz(a4_hz)


@dataclass(slots=True, kw_only=True)
class _Heard:
    """What one hearing leaves; grows while the hearing goes on."""

    channel: ChannelChoice | None = None
    heard_s: float = 0.0
    evidence: dict[int, PluckEvidence] = field(default_factory=dict)
    quality_warnings: tuple[str, ...] = ()
    clipped_s: list[tuple[float, float]] = field(default_factory=list)
    is_whole: bool = False

    def in_order(self) -> list[PluckEvidence]:
        """Return the evidence from the first sound on; an interrupted hearing may lack the last few."""
        kept = []
        for number in range(len(self.evidence)):
            if number not in self.evidence:
                break
            kept.append(self.evidence[number])
        return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """What was asked for."""

    source: SoundSource
    notes: tuple[int, ...] | None
    n_strings: int | None
    a4_hz: float
    analyser: str

    def hear(self, heard: _Heard, second: SecondPair | None, steps: Steps) -> None:
        """Cut the whole recording and gather what each sound says, into `heard`."""
        source = self.source
        heard.channel = choose(source)
        codec = source.codec
        meter = QualityMeter(
            sample_rate_hz=source.sample_rate_hz,
            codec_name=codec.name,
            is_lossy=codec.is_lossy,
            bit_rate=codec.bit_rate,
        )
        cutter = PluckCutter(sample_rate_hz=source.sample_rate_hz)
        n_sounds = 0
        with Bench(heard.evidence, second=second) as bench:

            def take(sounds: Sequence[Strike]) -> None:
                nonlocal n_sounds
                for sound in sounds:
                    bench.take(n_sounds, partial(gather_pluck_evidence, sound, a4_hz=self.a4_hz))
                    n_sounds += 1

            for samples in mono(source, heard.channel):
                heard.heard_s += len(samples) / source.sample_rate_hz
                meter.feed(samples)
                take(cutter.feed(samples))
                steps.heard(heard.heard_s, source.duration_s)
            take(cutter.finish())
        heard.quality_warnings = meter.finish()
        heard.clipped_s = list(meter.clipped_s)
        heard.is_whole = True

    def result(self, heard: _Heard) -> Listening:
        """Put the sounds beside the strings and the listening together."""
        evidence = heard.in_order()
        told = self._tell(evidence, n_strings=self.n_strings)
        if told.n_heard < _TOO_FEW * told.n_strings:
            # So many strings of every note were not heard: were they not plucked but struck, once each?
            otherwise = self._tell(evidence, n_strings=None)
            told = otherwise if sounds_struck(otherwise) else told
        why_not, on_order = self._doubts(told, evidence)
        broke_off = self.source.broke_off if heard.is_whole else None
        warnings = (
            *on_order[:1],
            *((f"{broke_off}; what is whole was measured",) if broke_off else ()),
            *(heard.channel.warnings if heard.channel else ()),
            *heard.quality_warnings,
            *on_order[1:],
        )
        return Listening(
            recording=Recording(
                sha256=self.source.sha256,
                sample_rate_hz=self.source.sample_rate_hz,
                duration_s=heard.heard_s,
                kind=Kind.PLUCKS,
                analyser=self.analyser,
                reference_a4_hz=self.a4_hz,
                warnings=warnings,
                is_partial=broke_off is not None,
            ),
            notes=tuple(_note(note, heard, why_not=why_not) for note in told.notes),
        )

    def _doubts(self, told: ToldPlucks, evidence: list[PluckEvidence]) -> tuple[str | None, tuple[str, ...]]:
        """Return why no string may be told, if so, and the warnings about what was plucked, the gravest first."""
        if sounds_struck(told):
            return _STRUCK_WHY, (_STRUCK,)
        on_order = order_warnings(told, evidence)
        misfit = list_misfit(told, evidence, n_strings=self.n_strings)
        if misfit is not None:
            # What follows from a wrong list is no fault of the hand: none of the warnings about the order is given.
            found = tell_plucks(evidence, notes=None, n_strings=self.n_strings, a4_hz=self.a4_hz)
            is_named = found.holds_plucks and is_plain_row(found)
            return _MISFIT_WHY, (f"{misfit}; they sound like {row_name(found)}" if is_named else misfit,)
        leap = leap_back(told)
        if leap is not None:
            return _LEAP_WHY, (leap, *on_order)
        if is_between_rows(told) or not (told.is_listed or is_plain_row(told)):
            return None, (FOUND_BY_EAR, *on_order)
        level = level_warning(told)
        return None, on_order if level is None else (level, *on_order)

    def _tell(self, evidence: list[PluckEvidence], *, n_strings: int | None) -> ToldPlucks:
        """Tell the strings, or say that there are none."""
        if evidence:
            told = tell_plucks(evidence, notes=self.notes, n_strings=n_strings, a4_hz=self.a4_hz)
            if told.holds_plucks:
                return told
        raise SignalError(
            "no plucked string was found in the recording; pluck nearer to the microphone, one string after the other"
        )

    def so_far(self, heard: _Heard) -> Listening | None:
        """Return what an interrupted listening has found."""
        try:
            listening = self.result(heard)
        except SignalError:
            return None
        stopped = f"stopped by the user after {heard.heard_s:.0f} s of the recording had been heard"
        warnings = (stopped, *listening.recording.warnings)
        return replace(listening, recording=replace(listening.recording, is_partial=True, warnings=warnings))


def _note(told: ToldNote, heard: _Heard, *, why_not: str | None) -> Note:
    """Return one note of the listening."""
    plucks, why = told.plucks, told.cannot_tell
    if why_not is not None:
        plucks = tuple(Pluck(string=p.string, at_s=p.at_s, is_touched=None, confidence=0.5) for p in plucks)
        why = (why_not,)
    clipped = any(start_s < told.end_s and stop_s > told.onset_s for start_s, stop_s in heard.clipped_s)
    return Note(
        key=told.key,
        onset_s=told.onset_s,
        end_s=told.end_s,
        plucks=plucks,
        cannot_tell=(*why, _NO_STRUCK_SOUND),
        notices=("clipped",) if clipped else (),
    )
