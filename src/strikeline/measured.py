"""A value with its standard error: the only form in which strikeline states what it measured."""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeline.errors import InputError


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured value with one standard error, both in the same unit.

    The unit is in the name of the field that holds it (``f0_hz: Measured``). The truth lies within 1.96 ``se`` of
    ``value`` in 95 cases of 100; a number that cannot be told is absent (``None``), never a `Measured` with a guess.

    Raises
    ------
    InputError
        If ``value`` or ``se`` is not finite, or ``se`` is negative.
    """

    value: float
    se: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise InputError.of("value", self.value, "a finite number")
        if not (math.isfinite(self.se) and self.se >= 0.0):
            raise InputError.of("se", self.se, "a finite number, 0 or more")

    def differs_from(self, other: Measured | float, *, by_se: float = 1.96) -> bool:
        """Return whether two values differ by more than ``by_se`` standard errors of their difference."""
        if isinstance(other, Measured):
            return abs(self.value - other.value) > by_se * math.hypot(self.se, other.se)
        return abs(self.value - other) > by_se * self.se
