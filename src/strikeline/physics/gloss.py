"""Gloss readings: which angle to measure at, how two places compare, and whether an eye sees it.

ISO 2813 is for opaque, flat, plain coatings; on polished veneer its figures are indicative.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured

ANGLES_DEG: Final = (20, 60, 85)
"""Angles of ISO 2813 from the perpendicular, at which light falls in and is measured."""
HIGH_GU: Final = 70.0
"""At 60°, above which 20° tells more (gloss pages citing ISO 2813)."""
LOW_GU: Final = 10.0
"""At 60°, below which 85° tells more (gloss pages citing ISO 2813)."""
SEEN_GU: Final = 5.0
"""Difference that a trained eye just sees at the right angle (a gloss page of 2014)."""
SEEN_MATT_GU: Final = 3.0
"""The same on a matt surface of about 5 GU (the same page; at 60 GU that is hard to see)."""


class GlossClass(StrEnum):
    """How glossy a surface is, by its reading at 60°."""

    HIGH = "high gloss"
    MEDIUM = "medium gloss"
    LOW = "low gloss"
    CANNOT_TELL = "cannot tell"


class GlossSeen(StrEnum):
    """Whether an eye tells two places apart."""

    SEEN = "seen"
    NOT_SEEN = "not seen"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceGloss:
    """What was read at a place."""

    place: str
    by_angle: dict[int, Measured]
    """Mean in gloss units by angle in degrees."""
    n_readings: dict[int, int]
    gloss_class: GlossClass
    angle_deg: int | None
    """Angle to measure at, by the reading at 60°; ``None`` without one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GlossDifference:
    """Two places against each other."""

    one: str
    other: str
    angle_deg: int
    """At which they were compared."""
    is_right_angle: bool
    """Whether that is the angle the first place asks for."""
    difference: Measured
    """Other less one, in gloss units."""
    limit: float
    """What an eye just sees there, in gloss units."""
    seen: GlossSeen


def mean_reading(readings: Sequence[float], *, single_half_width: float) -> Measured:
    """Return the mean of readings at one place, with its error.

    Parameters
    ----------
    readings : sequence of float
        One or more, in gloss units.
    single_half_width : float
        Half-width of 95 cases of 100 of one reading, where the readings' own scatter does not tell it.

    Returns
    -------
    Measured
        From three readings on, the error is their scatter by Student's t; before, that of single readings.

    Raises
    ------
    InputError
        If there is no reading, or one is not finite or below 0.
    """
    if not readings or any(not math.isfinite(one) or one < 0.0 for one in readings):
        raise InputError.of("readings", list(readings), "one or more gloss readings, 0 GU or more")
    n = len(readings)
    mean = math.fsum(readings) / n
    if n < 3:
        return Measured(mean, single_half_width / HALF_WIDTHS_PER_SE / math.sqrt(n))
    scatter = math.sqrt(math.fsum((one - mean) ** 2 for one in readings) / (n - 1) / n)
    # A meter shows tenths at best: equal readings are not free of error.
    step = 0.1 / math.sqrt(12.0)
    return Measured(mean, math.hypot(scatter * float(stdtrit(n - 1, 0.975)) / HALF_WIDTHS_PER_SE, step))


def angle_for(gloss_60: Measured) -> int:
    """Return the angle to measure at, by the reading at 60°: 20° above 70 GU, 85° below 10 GU, else 60°."""
    return 20 if gloss_60.value > HIGH_GU else 85 if gloss_60.value < LOW_GU else 60


def gloss_class(gloss_60: Measured) -> GlossClass:
    """Return the class by the reading at 60°, ``cannot tell`` where its error reaches over a limit."""
    half = HALF_WIDTHS_PER_SE * gloss_60.se
    classes = {
        GlossClass.HIGH if value > HIGH_GU else GlossClass.LOW if value < LOW_GU else GlossClass.MEDIUM
        for value in (gloss_60.value - half, gloss_60.value + half)
    }
    return classes.pop() if len(classes) == 1 else GlossClass.CANNOT_TELL


def place_gloss(place: str, by_angle: dict[int, Measured], *, n_readings: dict[int, int]) -> PlaceGloss:
    """Return what was read at a place, with its class and the angle it asks for.

    Parameters
    ----------
    place : str
        Where.
    by_angle : dict
        Means in gloss units by angle in degrees.
    n_readings : dict
        How many readings each mean is of.

    Raises
    ------
    InputError
        If an angle is none of 20, 60 and 85 degrees.
    """
    wrong = [angle for angle in by_angle if angle not in ANGLES_DEG]
    if wrong:
        raise InputError.of("angle", wrong[0], "20, 60 or 85 degrees")
    middle = by_angle.get(60)
    return PlaceGloss(
        place=place,
        by_angle=by_angle,
        n_readings=n_readings,
        gloss_class=GlossClass.CANNOT_TELL if middle is None else gloss_class(middle),
        angle_deg=None if middle is None else angle_for(middle),
    )


def gloss_difference(one: PlaceGloss, other: PlaceGloss) -> GlossDifference | None:
    """Return how two places compare, at the angle the first asks for if both were read there.

    Parameters
    ----------
    one, other : PlaceGloss
        Two places.

    Returns
    -------
    GlossDifference or None
        ``None`` where no angle was read at both.
    """
    common = [angle for angle in ANGLES_DEG if angle in one.by_angle and angle in other.by_angle]
    if not common:
        return None
    angle = next((one_angle for one_angle in (one.angle_deg, 60) if one_angle in common), common[0])
    first, second = one.by_angle[angle], other.by_angle[angle]
    difference = Measured(second.value - first.value, math.hypot(first.se, second.se))
    is_matt = one.gloss_class is GlossClass.LOW and other.gloss_class is GlossClass.LOW
    limit = SEEN_MATT_GU if is_matt else SEEN_GU
    half, size = difference.half_width, abs(difference.value)
    seen = (
        GlossSeen.SEEN if size - half > limit else GlossSeen.NOT_SEEN if size + half < limit else GlossSeen.CANNOT_TELL
    )
    return GlossDifference(
        one=one.place,
        other=other.place,
        angle_deg=angle,
        is_right_angle=angle == one.angle_deg,
        difference=difference,
        limit=limit,
        seen=seen,
    )
