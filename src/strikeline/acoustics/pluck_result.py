"""What is told of one string plucked while the hammer is held against its note."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class StringPlace(StrEnum):
    """Which string of a note, as one stands in front of the strings."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"
    ONLY = "only"
    """The note has one string."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pluck:
    """One string against the hammer."""

    string: StringPlace
    at_s: float | None
    """When it was plucked; ``None`` if no pluck was heard for it."""
    is_touched: bool | None
    """Whether the felt touches it: short and dull if so, ringing on if not; ``None`` if it cannot be told."""
    confidence: float
    """Probability of `is_touched`, 0.5 to 1; 0.5 where it cannot be told."""

    def to_json(self) -> dict[str, Any]:
        """Return the pluck as plain data."""
        return {
            "string": self.string.value,
            "at_s": self.at_s,
            "touched": self.is_touched,
            "confidence": self.confidence,
        }
