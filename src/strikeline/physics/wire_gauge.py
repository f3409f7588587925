"""Music wire numbers and what they are in millimetres.

Two systems number the same wire: by thousandths of an inch (2N + 5) and by steps of 0.025 mm. The same number is up to
0.02 mm apart in the two, 3 % in tension: strikeline calculates with millimetres and only names the number. Wire that
was measured off any step stays as it was measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero
from strikeline.units import UNITS

_MM_PER_THOU: Final = UNITS["thou"].factor / UNITS["mm"].factor


class GaugeSystem(StrEnum):
    """Which table a wire number belongs to."""

    THOU = "thou"
    """Diameter 2N + 5 thousandths of an inch: No. 13 is 0.031 in."""
    METRIC = "metric"
    """Steps of 0.025 mm for half a number: No. 13 is 0.775 mm."""


@dataclass(frozen=True, slots=True)
class StockSize:
    """A size in which wire is sold."""

    number: float
    diameter_mm: float


_THOU_NUMBERS: Final = (*np.arange(12.0, 20.25, 0.5).tolist(), 21.0, 22.0, 23.0)
_METRIC_TOP: Final = ((23.0, 1.300), (24.0, 1.400), (25.0, 1.500))
_METRIC_NUMBERS: Final = np.arange(12.0, 22.25, 0.5).tolist()
_STOCK: Final = {
    GaugeSystem.THOU: tuple(StockSize(n, round((2.0 * n + 5.0) * _MM_PER_THOU, 4)) for n in _THOU_NUMBERS),
    GaugeSystem.METRIC: (
        *(StockSize(n, round(0.775 + 0.05 * (n - 13.0), 4)) for n in _METRIC_NUMBERS),
        *(StockSize(*one) for one in _METRIC_TOP),
    ),
}
"""Inches: Nos. 12 to 20 by halves, 21 to 23 whole (rule and sizes from an encyclopaedia's table of piano wire and a
technicians' mailing-list archive, 2004-11). Millimetres: Nos. 13 to 25 from a technicians' mailing-list archive,
2003-06; 12 and 12½ by the same step (our reasoning)."""


def stock_sizes(*, system: GaugeSystem) -> tuple[StockSize, ...]:
    """Return the sizes of a system in which piano wire is sold, thinnest first."""
    return _STOCK[system]


def gauge_diameter_mm(number: float, *, system: GaugeSystem) -> float:
    """Return the diameter of a wire number, halves and quarters included.

    Parameters
    ----------
    number : float
        Music wire number: 14.5 for 14½.
    system : GaugeSystem
        The table it belongs to: ``thou`` from 12 to 23, ``metric`` from 12 to 25.

    Returns
    -------
    float
        Millimetres; between the sizes of the table by a straight line.

    Raises
    ------
    InputError
        If the table does not reach to that number.

    Examples
    --------
    >>> [round(gauge_diameter_mm(14.5, system=system), 3) for system in GaugeSystem]
    [0.864, 0.85]
    """
    numbers, diameters = _columns(system)
    if not (math.isfinite(number) and numbers[0] <= number <= numbers[-1]):
        limits = " and ".join(
            f"from {_range(one)[0]:g} to {_range(one)[1]:g} in the {one} table" for one in GaugeSystem
        )
        raise InputError(
            f"wire number {number:g} is not in the {system} table: numbers go {limits}; give a diameter with its "
            "unit for any other wire, such as 0.65mm",
            name="wire number",
            value=number,
            expected=f"a number from {numbers[0]:g} to {numbers[-1]:g}",
        )
    return float(np.interp(number, numbers, diameters))


def gauge_number(diameter_mm: float, *, system: GaugeSystem) -> float:
    """Return the wire number of a diameter, with whatever fraction it has: nothing is rounded to a size.

    Parameters
    ----------
    diameter_mm : float
        Diameter in millimetres, within the table.
    system : GaugeSystem
        The table asked for.

    Returns
    -------
    float
        Music wire number, such as 14.37; between the sizes of the table by a straight line.

    Raises
    ------
    InputError
        If the table does not reach to that diameter.

    Examples
    --------
    >>> [round(gauge_number(0.85, system=system), 2) for system in GaugeSystem]
    [14.23, 14.5]
    """
    diameter = float(above_zero("diameter_mm", diameter_mm))
    numbers, diameters = _columns(system)
    if not diameters[0] <= diameter <= diameters[-1]:
        limits = f"{diameters[0]:.3f} to {diameters[-1]:.3f} mm, as far as the {system} table goes"
        raise InputError(
            f"wire of {diameter:g} mm has no number, only that from {limits}",
            name="diameter_mm",
            value=diameter,
            expected=limits,
        )
    return float(np.interp(diameter, diameters, numbers))


def nearest_stock(diameter_mm: float, *, system: GaugeSystem) -> StockSize:
    """Return the size of a system nearest to a diameter; the ends of the table are the nearest to all beyond.

    Parameters
    ----------
    diameter_mm : float
        Diameter in millimetres, above 0.
    system : GaugeSystem
        The table asked for.

    Returns
    -------
    StockSize
        Number and diameter. At the same pitch and length, tension and B of plain wire both go as the square of the
        diameter.

    Raises
    ------
    InputError
        If the diameter is not above 0.

    Examples
    --------
    >>> [nearest_stock(0.86, system=system).number for system in GaugeSystem]
    [14.5, 14.5]
    """
    diameter = float(above_zero("diameter_mm", diameter_mm))
    return min(_STOCK[system], key=lambda size: abs(size.diameter_mm - diameter))


def _range(system: GaugeSystem) -> tuple[float, float]:
    return _STOCK[system][0].number, _STOCK[system][-1].number


def _columns(system: GaugeSystem) -> tuple[list[float], list[float]]:
    sizes = _STOCK[system]
    return [size.number for size in sizes], [size.diameter_mm for size in sizes]
