"""One measured value at the bench, as it was written and as it is kept."""

from __future__ import annotations

from dataclasses import dataclass

from strikeline.measured import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A reading of one quantity in one place."""

    quantity: str
    """Id in the catalogue."""
    key: int | None
    """Key number, 49 for A4; ``None`` for what belongs to the whole piano."""
    place: str = ""
    """Which string, pin, bridge, pedal or rib, in the words of whoever measured."""
    value: Measured
    """In the quantity's unit. Without a written ± its error is what a careful hand repeats to."""
    condition: str = ""
    """Load or state it was taken under, as written."""
    written: str
    """The figure as it was typed."""
    line: int | None = None
    """Where it stood in a table."""
