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
    """Fall after the damper has landed, of the slowest part that is this note's own; ``None`` where none was heard."""
    leaks: bool | None
    """Whether it rings on while the others are stopped; ``None`` if too faint to tell."""
    confidence: float = 0.5
    """Probability of `leaks`, 0.5 to 1; 0.5 where it cannot be told."""
    free_db_per_s: Measured | None = None
    """Fall before the damper has landed."""
    lasts_s: float | None = None
    """How long it rings on until it reaches the noise, seconds after the landing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Damping:
    """One note after a short blow."""

    verdict: DamperVerdict
    lands_s: Measured | None = None
    """When the damper lands, seconds after the onset of the blow."""
    t60_s: Measured | None = None
    """Time from the landing until the whole note has fallen by 60 dB, extrapolated from the fall that was heard. Where
    nothing lands, from a quarter of a second after the blow."""
    partials: tuple[DampedPartial, ...] = ()
    after_ring_hz: tuple[float, ...] = ()
    """Sounds that stay and are no partial of this note: other strings that were set going."""
    is_landing_sure: bool = True
    """Whether no free string falls like what was heard at `lands_s`; where it is not, the neighbours decide."""
    cannot_tell: tuple[str, ...] = ()
    """What could not be told, with the reason."""

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
                    "confidence": partial.confidence,
                    "free_db_per_s": None if partial.free_db_per_s is None else partial.free_db_per_s.value,
                    "free_db_per_s_se": None if partial.free_db_per_s is None else partial.free_db_per_s.se,
                }
                for partial in self.partials
            ],
            "after_ring_hz": list(self.after_ring_hz),
        }
