"""What is told of one damper, from a short blow."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from strikeline.measured import Measured


class DamperVerdict(StrEnum):
    """What a damper does."""

    STOPS = "stops"
    """It stops the note as its neighbours are stopped."""
    LEAKS = "leaks"
    """It stops the note except for some partials, which ring on."""
    WEAK = "weak"
    """The whole note dies away slower than its neighbours do."""
    LATE = "late"
    """It lands later than its neighbours do."""
    NONE = "no damper"
    """The string rings on as if nothing landed: no damper here, as at the top, or one that does nothing."""
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class DampedPartial:
    """One partial under the damper."""

    n: int
    decay_db_per_s: Measured | None
    """Fall after the damper has landed."""
    leaks: bool | None
    """Whether it rings on while the others are stopped; ``None`` if too faint to tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Damping:
    """One note after a short blow."""

    verdict: DamperVerdict
    lands_s: Measured | None = None
    """When the damper lands, seconds after the onset of the blow."""
    t60_s: Measured | None = None
    """Time from the landing until the whole note has fallen by 60 dB, extrapolated from the fall that was heard."""
    partials: tuple[DampedPartial, ...] = ()
    after_ring_hz: tuple[float, ...] = ()
    """Sounds that stay and are no partial of this note: other strings that were set going."""

    @property
    def leaking_partials(self) -> tuple[int, ...]:
        """Numbers of the partials that leak."""
        return tuple(partial.n for partial in self.partials if partial.leaks)

    def to_json(self) -> dict[str, Any]:
        """Return the damping as plain data."""
        return {
            "verdict": self.verdict.value,
            "lands_s": None if self.lands_s is None else self.lands_s.value,
            "lands_s_se": None if self.lands_s is None else self.lands_s.se,
            "t60_s": None if self.t60_s is None else self.t60_s.value,
            "t60_s_se": None if self.t60_s is None else self.t60_s.se,
            "leaking_partials": list(self.leaking_partials),
            "partials": [
                {
                    "n": partial.n,
                    "decay_db_per_s": None if partial.decay_db_per_s is None else partial.decay_db_per_s.value,
                    "decay_db_per_s_se": None if partial.decay_db_per_s is None else partial.decay_db_per_s.se,
                    "leaks": partial.leaks,
                }
                for partial in self.partials
            ],
            "after_ring_hz": list(self.after_ring_hz),
        }
