"""What a listening leaves behind: typed, frozen results, and their published JSON form.

The JSON is schema ``strikeline.listening/1``. Every number that was estimated is a `Measured`; a number that cannot
be told is ``None`` with the reason in ``cannot_tell``. In JSON, ``level_db`` and the two decay rates stay plain numbers
and their standard errors stand beside them under ``…_se`` names.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

from strikeline.acoustics.damping_result import Damping
from strikeline.acoustics.pluck_result import Pluck
from strikeline.acoustics.unison_result import Unison
from strikeline.keyboard import Compass, key_name
from strikeline.measured import Measured

SCHEMA: Final = "strikeline.listening/1"


class Kind(StrEnum):
    """What was played."""

    PASS = "pass"  # noqa: S105  (a run over the keyboard, no password)
    """One run over the keyboard, note after note."""
    NOTE = "note"
    """One note, struck once."""
    STACCATO = "staccato"
    """Short blows up the keyboard, to hear what the dampers do."""
    PLUCKS = "plucks"
    """Strings plucked one by one while the hammer is held against its note."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One damped sinusoid inside a partial."""

    f_hz: Measured
    decay_db_per_s: Measured
    level_db: float
    """Level at the onset, dB re full scale (sine of amplitude 1 = 0 dB)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay:
    """The two stages of a decay. A stage that was not reached is ``None``."""

    early: Measured | None
    """Prompt sound, dB per second, positive for a falling level."""
    late: Measured | None
    """Aftersound, dB per second."""
    crossing_s: Measured | None = None
    """When the aftersound becomes the louder of the two, seconds after the onset."""
    crossing_db: Measured | None = None
    """Level of either of the two at that moment, against the partial at the onset, dB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Partial:
    """One partial of one struck note."""

    n: int
    f_hz: Measured
    """Measured frequency of the partial itself, not of the stiff-string law."""
    level_db: Measured
    """Level at the onset, dB re full scale."""
    decay_db_per_s: Decay
    modes: tuple[Mode, ...]
    law_cents: float | None
    """How far the partial sounds above the stiff-string law, cents; ``None`` where no law could be fitted."""
    in_law: bool
    """Whether the partial took part in the fit of f0 and B."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One struck note as heard."""

    key: int | None
    """Key number, or ``None`` when the note cannot be named."""
    onset_s: float
    end_s: float
    """The same as `onset_s`, 0, for a note that was named beforehand but of which nothing was heard."""
    f0_hz: Measured | None = None
    """f0 of the stiff-string law f_n = n·f0·√(1 + B·n²); the first partial sounds at f0·√(1+B)."""
    inharmonicity_b: Measured | None = None
    cents_from_et: Measured | None = None
    """f0 against equal temperament at the reference A4."""
    pitch_cents: Measured | None = None
    """First partial of the law, f0·√(1+B), against equal temperament: what stretch curves show."""
    partials: tuple[Partial, ...] = ()
    brightness: Measured | None = None
    level_db: Measured | None = None
    """Level of the struck note over its first moments, dB re full scale."""
    knock_db: Measured | None = None
    """Level of the blow's noise relative to the tone, dB."""
    sustain_db_per_s: Measured | None = None
    """Rate at which the whole note falls over its first seconds: one figure that compares along the compass."""
    singing_s: Measured | None = None
    """How long the note sings: one figure of prompt sound and aftersound together that compares over the compass."""
    unison: Unison | None = None
    damping: Damping | None = None
    """From a short blow (`Kind.STACCATO`)."""
    plucks: tuple[Pluck, ...] | None = None
    """From plucked strings (`Kind.PLUCKS`), left to right."""
    cannot_tell: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    """What a reader should know, for example 'clipped' or 'second strike of this key'."""
    heard_s: float | None = field(default=None, compare=False)
    """For how long the free string was heard, at most as long as measuring goes; not kept in the JSON."""

    @property
    def name(self) -> str | None:
        """Name in scientific pitch, or ``None``."""
        return None if self.key is None else key_name(self.key)

    @property
    def was_heard(self) -> bool:
        """Whether anything was heard of it, so that it has an onset and an end."""
        return self.end_s > self.onset_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What was listened to, and with what."""

    sha256: str
    sample_rate_hz: int
    duration_s: float
    kind: Kind
    analyser: str
    reference_a4_hz: float
    warnings: tuple[str, ...] = ()
    compass: Compass | None = None
    """Compass given or found; ``None`` when it cannot be told."""
    missing_keys: tuple[int, ...] = ()
    """Keys inside the compass that did not sound."""
    is_partial: bool = False
    """Whether the listening was interrupted or the file broke off before its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """The whole result of one listening."""

    recording: Recording
    notes: tuple[Note, ...]

    def best_by_key(self) -> dict[int, Note]:
        """Return one note per key, the latest strike that gave an f0, in ascending order of keys."""
        best: dict[int, Note] = {}
        for note in self.notes:
            if note.key is not None and (note.f0_hz is not None or note.key not in best):
                best[note.key] = note
        return dict(sorted(best.items()))

    def to_json(self) -> dict[str, Any]:
        """Return the listening as plain data in schema ``strikeline.listening/1``."""
        rec = self.recording
        return {
            "schema": SCHEMA,
            "recording": {
                "sha256": rec.sha256,
                "sample_rate_hz": rec.sample_rate_hz,
                "duration_s": round(rec.duration_s, 4),
                "kind": rec.kind.value,
                "analyser": rec.analyser,
                "reference_a4_hz": rec.reference_a4_hz,
                "warnings": list(rec.warnings),
                "compass": None if rec.compass is None else str(rec.compass),
                "missing": [key_name(key) for key in rec.missing_keys],
                "partial_result": rec.is_partial,
            },
            "notes": [_note_json(note, rec.kind) for note in self.notes],
        }


_PLAYED_FOR: Final = {
    Kind.STACCATO: "damping: needs short blows; record them and listen with kind staccato",
    Kind.PLUCKS: "plucks: need strings plucked against the hammer; record them and listen with kind plucks",
}
"""Answers that only one way of playing gives, and what to do for them."""
_HELD_FOR: Final = (
    "unison, strings, decay, brightness, sustain, singing, knock: what is missing of these needs notes that are held; "
    "record them and listen with kind pass"
)
"""What short blows leave open. Of plucked strings each note says so itself."""


def _reasons_of_playing(kind: Kind) -> tuple[str, ...]:
    """Return the reasons for what a way of playing cannot tell of any note."""
    return (
        *((_HELD_FOR,) if kind is Kind.STACCATO else ()),
        *(why for played, why in _PLAYED_FOR.items() if played is not kind),
    )


def _note_json(note: Note, kind: Kind) -> dict[str, Any]:
    unison = note.unison
    strings = None if unison is None else unison.string_f0_hz
    return {
        "note": note.name,
        "key": note.key,
        "onset_s": round(note.onset_s, 4) if note.was_heard else None,
        "end_s": round(note.end_s, 4) if note.was_heard else None,
        "f0_hz": _measured_json(note.f0_hz),
        "inharmonicity_b": _measured_json(note.inharmonicity_b),
        "cents_from_et": _measured_json(note.cents_from_et),
        "pitch_cents": _measured_json(note.pitch_cents),
        "partials": [_partial_json(partial) for partial in note.partials],
        "unison": None if unison is None else unison.to_json(),
        "strings": None if strings is None else [{"f0_hz": _measured_json(f0)} for f0 in strings],
        "unison_spread_cents": None if unison is None else _measured_json(unison.spread_cents),
        "brightness": _measured_json(note.brightness),
        "level_db": _value(note.level_db),
        "level_db_se": _se(note.level_db),
        "knock_db": _measured_json(note.knock_db),
        "sustain_db_per_s": _measured_json(note.sustain_db_per_s),
        "singing_s": _measured_json(note.singing_s),
        "damping": None if note.damping is None else note.damping.to_json(),
        "plucks": None if note.plucks is None else [pluck.to_json() for pluck in note.plucks],
        "cannot_tell": [*note.cannot_tell, *_reasons_of_playing(kind)],
        "notices": list(note.notices),
    }


def _partial_json(partial: Partial) -> dict[str, Any]:
    decay = partial.decay_db_per_s
    return {
        "n": partial.n,
        "f_hz": _measured_json(partial.f_hz),
        "level_db": _value(partial.level_db),
        "level_db_se": _se(partial.level_db),
        "decay_db_per_s": {
            "early": _value(decay.early),
            "late": _value(decay.late),
            "early_se": _se(decay.early),
            "late_se": _se(decay.late),
            "crossing_s": _measured_json(decay.crossing_s),
            "crossing_db": _measured_json(decay.crossing_db),
        },
        "modes": [
            {
                "f_hz": _measured_json(mode.f_hz),
                "decay_db_per_s": mode.decay_db_per_s.value,
                "decay_db_per_s_se": mode.decay_db_per_s.se,
                "level_db": mode.level_db,
            }
            for mode in partial.modes
        ],
        "law_cents": partial.law_cents,
        "in_law": partial.in_law,
    }


def _measured_json(measured: Measured | None) -> dict[str, float] | None:
    return None if measured is None else {"value": measured.value, "se": measured.se}


def _value(measured: Measured | None) -> float | None:
    return None if measured is None else measured.value


def _se(measured: Measured | None) -> float | None:
    return None if measured is None else measured.se
