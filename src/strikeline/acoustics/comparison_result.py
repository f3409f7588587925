"""What a comparison of two listenings leaves behind: typed, frozen results, and their published JSON form.

The JSON is schema ``strikeline.comparison/1``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from strikeline.acoustics.comparison_quantities import ComparedQuantity
from strikeline.acoustics.comparison_transfer import Transfer
from strikeline.acoustics.listening import Recording
from strikeline.keyboard import key_name
from strikeline.measured import Measured

SCHEMA: Final = "strikeline.comparison/1"


class Verdict(StrEnum):
    """What the comparison comes to."""

    NO_CHANGE = "no change beyond repeatability"
    CHANGED = "changed"
    NOT_COMPARABLE = "not comparable"


class Basis(StrEnum):
    """What a difference is compared with."""

    REPEATED = "repeated playing"
    """How far the same notes differ when they are played again: measured."""
    SCATTER = "scatter of the differences"
    """How far the differences scatter from note to note, a minority that truly changed left aside: estimated."""
    ERRORS = "errors of measurement"
    """What the quantity's own standard errors explain; neither blow nor microphone moves it."""


class Cause(StrEnum):
    """What the smooth change that all notes share can come from."""

    NONE = "hardly any"
    """Microphone, room and blow were as before."""
    FREQUENCY = "frequency alone"
    """It depends on frequency alone: microphone, room, coding; or a change of all hammers that looks like it."""
    KEYBOARD = "frequency and key"
    """It also bends along the keyboard: a pass struck harder or softer, or all hammers changed."""
    UNKNOWN = "cannot tell"


class Strings(StrEnum):
    """Whether the strings are the same, by their inharmonicity."""

    SAME = "the same strings"
    SOME_OTHER = "some other strings"
    OTHER = "not the same strings"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteDifference:
    """One quantity of one note, before and after."""

    key: int
    before: float
    """As measured, in the quantity's unit."""
    after: float
    change: Measured
    """After less before, freed from what all notes share, in the quantity's `change_unit`; the error holds what is
    repeatable, too."""
    p_false: float | None
    """Bound on the chance that an unchanged piano shows the like anywhere; ``None`` for a note that is not named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One note, or a run of neighbours, that changed more than the others did."""

    quantity: ComparedQuantity
    first_key: int
    last_key: int
    n_notes: int
    before: float
    """Middle of the notes as measured, in the quantity's unit."""
    after: float
    change: Measured
    """Mean over the notes, in `change_unit`, freed from what all notes share."""
    p_false: float
    """Bound on the chance that an unchanged piano shows the like anywhere in the comparison."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityComparison:
    """One quantity over the keyboard."""

    quantity: ComparedQuantity
    basis: Basis
    notes: tuple[NoteDifference, ...]
    """Ascending; the notes that have a value in both recordings and can be compared."""
    common: Measured | None
    """What all notes share, in `change_unit`: the middle of the differences; ``None`` if nothing can be compared."""
    repeatability: float | None
    """Standard deviation of one difference of an unchanged note, in `change_unit`, middle of the notes."""
    n_repeats: int
    """Pairs of blows on the same note that the repeatability rests on; 0 unless measured."""
    scatter_ratio: float | None
    """Scatter of the differences over the repeatability, where that was measured."""
    changes: tuple[Change, ...]
    hints: tuple[Change, ...]
    """Differences that are worth a second listening, no more."""
    is_common_changed: bool
    """Whether what all notes share is a change of the piano: only where no microphone and no blow can make it."""
    why_not: str | None = None
    """Why it was not compared, or not judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WordChange:
    """A verdict in words that is another than before: of a unison, of a damper, of a string at the hammer."""

    key: int
    what: str
    before: str
    after: str
    is_certain: bool
    """Whether it is more than two recordings of the same differ by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """The whole result of comparing two listenings."""

    before: Recording
    after: Recording
    verdict: Verdict
    strings: Strings
    other_string_keys: tuple[int, ...]
    """Notes whose inharmonicity says that they carry other strings."""
    quantities: tuple[QuantityComparison, ...]
    words: tuple[WordChange, ...]
    transfer: Transfer | None
    """The smooth change over frequency that all notes share, and that was removed; ``None`` if it cannot be told."""
    cause: Cause
    n_common: int
    """Keys heard in both."""
    only_before: tuple[int, ...]
    only_after: tuple[int, ...]
    warnings: tuple[str, ...]
    """Why the recordings are not, or not wholly, comparable."""
    cannot_tell: tuple[str, ...]

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes of notes and runs, the surest first."""
        found = [change for one in self.quantities for change in one.changes]
        return tuple(sorted(found, key=lambda change: (change.p_false, change.first_key)))

    def to_json(self) -> dict[str, Any]:
        """Return the comparison as plain data in schema ``strikeline.comparison/1``."""
        return {
            "schema": SCHEMA,
            "before": _recording_json(self.before),
            "after": _recording_json(self.after),
            "verdict": self.verdict.value,
            "strings": self.strings.value,
            "other_strings": [key_name(key) for key in self.other_string_keys],
            "common_keys": self.n_common,
            "only_before": [key_name(key) for key in self.only_before],
            "only_after": [key_name(key) for key in self.only_after],
            "common_change": {"cause": self.cause.value, "transfer": _transfer_json(self.transfer)},
            "quantities": [_quantity_json(one) for one in self.quantities],
            "words": [
                {
                    "note": key_name(one.key),
                    "key": one.key,
                    "what": one.what,
                    "before": one.before,
                    "after": one.after,
                    "certain": one.is_certain,
                }
                for one in self.words
            ],
            "warnings": list(self.warnings),
            "cannot_tell": list(self.cannot_tell),
        }


def _recording_json(recording: Recording) -> dict[str, Any]:
    return {
        "sha256": recording.sha256,
        "sample_rate_hz": recording.sample_rate_hz,
        "duration_s": round(recording.duration_s, 4),
        "kind": recording.kind.value,
        "analyser": recording.analyser,
        "reference_a4_hz": recording.reference_a4_hz,
        "warnings": list(recording.warnings),
    }


def _transfer_json(transfer: Transfer | None) -> dict[str, Any] | None:
    if transfer is None:
        return None
    frequency_hz, curve_db = transfer.drawn()
    return {
        "tilt_db_per_octave": transfer.tilt_db_per_octave,
        "span_db": transfer.span_db,
        "scatter_db": transfer.scatter_db,
        "n_partials": transfer.n_partials,
        "curve": [{"f_hz": f, "db": db} for f, db in zip(frequency_hz.tolist(), curve_db.tolist(), strict=True)],
    }


def _quantity_json(one: QuantityComparison) -> dict[str, Any]:
    return {
        "name": one.quantity.name,
        "unit": one.quantity.unit,
        "change_unit": one.quantity.change_unit,
        "basis": one.basis.value,
        "repeatability": one.repeatability,
        "n_repeats": one.n_repeats,
        "scatter_ratio": one.scatter_ratio,
        "common": _measured_json(one.common),
        "common_is_a_change": one.is_common_changed,
        "changes": [_change_json(change) for change in one.changes],
        "hints": [_change_json(change) for change in one.hints],
        "notes": [
            {
                "note": key_name(note.key),
                "key": note.key,
                "before": note.before,
                "after": note.after,
                "change": _measured_json(note.change),
                "p_false": note.p_false,
            }
            for note in one.notes
        ],
        "why_not": one.why_not,
    }


def _change_json(change: Change) -> dict[str, Any]:
    return {
        "first": key_name(change.first_key),
        "last": key_name(change.last_key),
        "n_notes": change.n_notes,
        "before": change.before,
        "after": change.after,
        "change": _measured_json(change.change),
        "p_false": change.p_false,
    }


def _measured_json(measured: Measured | None) -> dict[str, float] | None:
    return None if measured is None else {"value": measured.value, "se": measured.se}
