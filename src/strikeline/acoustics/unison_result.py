"""What is told of the strings of one note: what sounds, how it is heard, and, where it can be told, each string."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from strikeline.measured import Measured


class UnisonVerdict(StrEnum):
    """How a unison is heard."""

    LOCKED = "locked"
    """One string, or several that sound as one: at most a prompt sound and an aftersound, and no beat."""
    UNEVEN = "uneven"
    """No whole beat, but the strings work against each other: the sound dips once, or its pitch moves."""
    BEATING = "beating"
    """The level falls and rises again as the modes go in and out of step."""
    CANNOT_TELL = "cannot tell"
    """Too little sound, or too much else in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """A beat that a listener hears in one partial."""

    partial: int
    rate_hz: Measured
    """Difference of the frequencies of its two modes."""
    depth_db: float
    """How far the level dips between two swells, dB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unison:
    """Three answers that are never mixed: what sounds (the modes of each `Partial`), how it is heard, and the strings.

    Below about one cent the strings of a note pull each other through the bridge, and what sounds are normal modes, not
    strings; `strings` is then ``None``.
    """

    verdict: UnisonVerdict
    beats: tuple[Beat, ...] = ()
    """The beats heard, the loudest partial first."""
    string_f0_hz: tuple[Measured, ...] | None = None
    """f0 of each string alone, ascending; ``None`` where the strings cannot be told apart."""
    spread_cents: Measured | None = None
    """Highest over lowest string."""
    rests_on: str | None = None
    """What the separation into strings assumes, in words."""
    is_false_beat: bool | None = None
    """Whether one string alone beats with itself in any strong partial; ``None`` where it cannot be told from two
    strings."""

    def to_json(self) -> dict[str, Any]:
        """Return verdict and beats as plain data; the strings have fields of their own in the note."""
        return {
            "verdict": self.verdict.value,
            "beats_hz": [
                {
                    "partial": beat.partial,
                    "rate_hz": {"value": beat.rate_hz.value, "se": beat.rate_hz.se},
                    "depth_db": beat.depth_db,
                }
                for beat in self.beats
            ],
            "rests_on": self.rests_on,
            "false_beat": self.is_false_beat,
        }
