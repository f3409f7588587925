"""What is told of the strings of one note when each was also recorded alone, the others muted."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from strikeline.acoustics.pluck_result import StringPlace
from strikeline.acoustics.unison_result import Beat, Unison
from strikeline.keyboard import key_name
from strikeline.measured import Measured


class Agreement(StrEnum):
    """How the strings told from the one recording of all of them compare with the strings recorded alone."""

    AGREES = "agrees"
    DISAGREES = "disagrees"
    BLIND_CANNOT_TELL = "blind cannot tell"
    """The recording of all strings does not tell them apart; that is usual for a good unison."""
    ALONE_CANNOT_TELL = "alone cannot tell"
    """Not every string was recorded alone, or one of them could not be measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringAlone:
    """One string, the others muted."""

    string: StringPlace
    f0_hz: Measured | None
    """f0 of its stiff-string law; its error holds how far a string departs from the law."""
    inharmonicity_b: Measured | None
    from_mean_cents: Measured | None
    """How far it lies above the mean of the strings recorded alone. What departs alike in all of them cancels."""
    false_beats: tuple[Beat, ...] | None = ()
    """Partials in which it beats with itself, the loudest first; ``None`` where its recording cannot tell."""
    also_heard: tuple[StringPlace, ...] = ()
    """Strings that seem to sound in its recording although they should be muted; its beats may then be with them."""

    def to_json(self) -> dict[str, Any]:
        """Return the string as plain data."""
        return {
            "string": self.string.value,
            "f0_hz": _measured_json(self.f0_hz),
            "inharmonicity_b": _measured_json(self.inharmonicity_b),
            "from_mean_cents": _measured_json(self.from_mean_cents),
            "false_beats_hz": None
            if self.false_beats is None
            else [
                {"partial": beat.partial, "rate_hz": _measured_json(beat.rate_hz), "depth_db": beat.depth_db}
                for beat in self.false_beats
            ],
            "also_heard": [place.value for place in self.also_heard],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupling:
    """What the bridge does to one partial of the strings: the complex κ of `strikeline.acoustics.coupling`."""

    partial: int
    loss_per_s: Measured
    """Real part: decay that the bridge adds to each string alone; the first decay of N strings is N times that."""
    pull_hz: Measured
    """How far the bridge raises this partial of each string alone, below 0 where it is springy: -Im κ/2π."""
    locks_below_cents: Measured
    """Two strings nearer than this sound as one system, not as two strings: 2·abs(κ) over their frequency."""
    n_modes: int
    """Modes of the note with all strings that it rests on."""

    def to_json(self) -> dict[str, Any]:
        """Return the coupling as plain data."""
        return {
            "partial": self.partial,
            "loss_per_s": _measured_json(self.loss_per_s),
            "pull_hz": _measured_json(self.pull_hz),
            "locks_below_cents": _measured_json(self.locks_below_cents),
            "modes": self.n_modes,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class StringsOfNote:
    """Everything told of one note from its strings together and alone."""

    key: int
    strings: tuple[StringAlone, ...]
    """Those recorded alone, from left to right."""
    is_complete: bool
    """Whether these are all the strings of the note."""
    spread_cents: Measured | None
    """Highest over lowest string, ``None`` where fewer than two were told."""
    together: Unison | None
    """What the recording of all strings tells by itself."""
    agreement: Agreement
    coupling: tuple[Coupling, ...] = ()
    """By partial, ascending; partials in which it could not be told are left out."""
    rests_on: tuple[str, ...] = ()
    """What the numbers take for granted, in words."""
    cannot_tell: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    """What should be looked into: false beats, a mute that does not hold."""

    @property
    def name(self) -> str:
        """Name in scientific pitch."""
        return key_name(self.key)

    def to_json(self) -> dict[str, Any]:
        """Return the note as plain data."""
        blind = None if self.together is None else self.together.string_f0_hz
        return {
            "note": self.name,
            "key": self.key,
            "strings": [string.to_json() for string in self.strings],
            "all_strings": self.is_complete,
            "spread_cents": _measured_json(self.spread_cents),
            "together": None
            if self.together is None
            else {
                **self.together.to_json(),
                "strings": None if blind is None else [{"f0_hz": _measured_json(f0)} for f0 in blind],
                "spread_cents": _measured_json(self.together.spread_cents),
            },
            "agreement": self.agreement.value,
            "coupling": [coupling.to_json() for coupling in self.coupling],
            "rests_on": list(self.rests_on),
            "cannot_tell": list(self.cannot_tell),
            "notices": list(self.notices),
        }


def _measured_json(measured: Measured | None) -> dict[str, float] | None:
    return None if measured is None else {"value": measured.value, "se": measured.se}
