"""What is entered of a scale, note by note: measured values with the part of their errors that notes share.

A micrometer whose zero is off by 4 µm is off on every string alike; that part of the error does not average out over a
piano. Each entered value therefore keeps, beside its whole standard error, the *ties*: how far it moves when a source
of error that it shares with other notes moves by one standard error.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.winding import Winding
from strikeline.physics.wire import MATERIALS, WireMaterial

LENGTH: Final = "length_mm"
CORE: Final = "core_diameter_mm"
WRAPS: Final = ("wrap_1_diameter_mm", "wrap_2_diameter_mm")
OUTSIDES: Final = ("wrap_1_outside_mm", "wrap_2_outside_mm")
"""Names of the inputs, as in `stringing.StringDimensions.inputs`."""

Ties = Mapping[str, Mapping[str, float]]
"""Input by name -> source by name -> how far the input moves with one standard error of the source."""

MICROMETER_ZERO: Final = "zero of the micrometer"
TAPE_ZERO: Final = "zero of the tape"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingErrors:
    """How well tools read; all as the half-width that holds the truth in 95 cases of 100, in mm."""

    diameter_mm: float = 0.01
    """One reading of a micrometer on old wire (common practice, no source); a calliper reads to ±0.05 mm at best."""
    micrometer_zero_mm: float = 0.004
    """What is common to all readings: error limit of a common micrometer (from memory)."""
    gauge_mm: float = 0.0102
    """Wire of a nominal gauge: ±0.0004 in from 0.028 to 0.063 in, ASTM A228 as printed by a wire dealer."""
    length_mm: float = 0.5
    """One reading of a rule or tape from agraffe to bridge pin (common practice, no source)."""
    tape_zero_mm: float = 0.3
    """What is common to all lengths, and with `tape_ratio` what grows with them: accuracy class II of the Measuring
    Instruments Directive 2014/32/EU, 0.3 mm and 0.2 mm per metre (from memory)."""
    tape_ratio: float = 2e-4
    bare_mm: float = 2.0
    """One bare end of a wound string (common practice, no source)."""

    def __post_init__(self) -> None:
        for name in (
            "diameter_mm",
            "micrometer_zero_mm",
            "gauge_mm",
            "length_mm",
            "tape_zero_mm",
            "tape_ratio",
            "bare_mm",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise InputError.of(name, value, "0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleEntry:
    """What was entered of one note; what was not is ``None``."""

    key: int
    section: str | None = None
    """Bridge or section of the frame, in the words of who measured."""
    n_strings: int | None = None
    length_mm: Measured | None = None
    core_diameter_mm: Measured | None = None
    """Wire of a plain string, core of a wound one."""
    core: WireMaterial = MATERIALS["steel"]
    windings: tuple[Winding, ...] | None = None
    """Empty for plain wire, ``None`` where nothing tells."""
    bare_mm: tuple[Measured, Measured] | None = None
    is_hexagonal: bool = False
    """Whether the core of a wound string is hexagonal; its diameter is then that across the flats."""
    ties: Ties = field(default_factory=dict)


def tied(own_half_mm: float, zero_half_mm: float, *, source: str) -> tuple[float, dict[str, float]]:
    """Return the whole standard error of a reading and its tie to the zero of the tool.

    Parameters
    ----------
    own_half_mm, zero_half_mm : float
        Half-widths that hold the truth in 95 cases of 100: of this reading, and of what all readings share.
    source : str
        Name of the tool's zero.

    Examples
    --------
    >>> se, ties = tied(1.96 * 3.0, 1.96 * 4.0, source="zero of the tape")
    >>> round(se, 6), ties
    (5.0, {'zero of the tape': 4.0})
    """
    zero = zero_half_mm / HALF_WIDTHS_PER_SE
    return math.hypot(own_half_mm / HALF_WIDTHS_PER_SE, zero), {source: zero} if zero > 0 else {}
