"""Crown of a soundboard from a thread stretched under it and a feeler between thread and board."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carry

_RADIUS_FROM_SE: Final = 5.0


class CrownSign(StrEnum):
    """Which way a board is bent along one rib, as far as the reading can tell."""

    CROWNED = "crowned"
    HOLLOW = "hollow"
    """Bent the other way: reversed crown."""
    FLAT_WITHIN_READING = "flat within the reading"


@dataclass(frozen=True, slots=True, kw_only=True)
class RibCrown:
    """Crown along one rib."""

    crown_mm: Measured
    """Height of the middle over the line between the ends of the thread, above 0 towards the strings."""
    curvature_per_m: Measured
    """Of the circle through ends and middle, 1/m; above 0 for a crown."""
    radius_m: Measured | None
    """Radius of that circle; ``None`` where the crown is not 5 of its standard errors or more: towards a flat board the
    radius runs to infinity, and no ± can be put to it."""
    sign: CrownSign


def rib_crown(middle_mm: Measured, *, span_mm: Measured | float, ends_mm: Measured | float = 0.0) -> RibCrown:
    """Return the crown along a rib: a circle through two ends and the middle, ``κ = 8·s/(c² + 4·s²)``, ``R = 1/κ``.

    Parameters
    ----------
    middle_mm : Measured
        Gap between thread and board at the middle.
    span_mm : Measured or float
        Length of the thread between its rests, above 0; more than four times the crown.
    ends_mm : Measured or float
        Gap at the ends, where the thread runs over blocks; 0 where it touches the board.

    Returns
    -------
    RibCrown

    Raises
    ------
    InputError
        If the span is not above 0, or the crown is too high for it.

    Examples
    --------
    >>> crown = rib_crown(Measured(5.0, 0.1), span_mm=900.0)
    >>> crown.sign.value, round(crown.radius_m.value, 2), round(crown.radius_m.se, 2)
    ('crowned', 20.25, 0.4)
    """
    span = span_mm if isinstance(span_mm, Measured) else Measured(float(span_mm), 0.0)
    crown = carry(lambda middle, ends: middle - ends, middle=middle_mm, ends=ends_mm)
    if not span.value > 0:
        raise InputError.of("span_mm", span.value, "above 0 mm")
    if abs(crown.value) * 4.0 >= span.value:
        raise InputError.of("middle_mm", middle_mm.value, f"less than a quarter of the span of {span.value:g} mm")

    def curvature(crown: float, span: float) -> NDArray[np.float64]:
        return np.asarray(8.0 * crown / (span**2 + 4.0 * crown**2) * 1e3)

    bent = carry(curvature, crown=crown, span=span)
    radius = None
    if crown.differs_from(0.0, by_se=_RADIUS_FROM_SE):
        radius = Measured(1.0 / bent.value, bent.se / bent.value**2)
    sign = CrownSign.FLAT_WITHIN_READING
    if crown.differs_from(0.0):
        sign = CrownSign.CROWNED if crown.value > 0 else CrownSign.HOLLOW
    return RibCrown(crown_mm=crown, curvature_per_m=bent, radius_m=radius, sign=sign)
