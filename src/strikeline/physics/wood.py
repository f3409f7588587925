"""Wood and the air about it: the moisture it settles at, and how a spruce panel moves across the grain.

Moisture follows the sorption equation of Hailwood and Horrobin with the coefficients of the US Forest Products
Laboratory; movement follows the shrinkage formula of its Wood Handbook. Both describe free wood that has had time to
settle: a soundboard is glued to ribs and to its rim, is finished, and takes days to weeks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.ranges import finite

EMC_SE_PCT: Final = 0.5
"""Standard error of the settled moisture of one piece of wood, % of its dry mass: species differ, and wood that dries
holds more than wood that takes up water. Forest Products Laboratory, Technical Note F-13 (undated, as read in a scanned
copy): "a variation of about 1 per cent or less may be expected in the same species"; read as a 95 % half-width."""
EMC_CHANGE_SE_RATIO: Final = 0.1
"""Standard error of a change of moisture as a share of it: the same piece follows a sorption curve of its own, and the
branches for drying and for wetting differ in slope (our reasoning)."""
_PER_CENT: Final = 100.0
FIBRE_SATURATION_PCT: Final = 30.0
"""Moisture above which wood no longer swells; the Handbook's round figure."""
_LOWEST_DEGC, _HIGHEST_DEGC = -10.0, 60.0
"""Where a piano may stand; the equation itself was fitted from about -1 °C upwards (30 °F, from memory)."""


def equilibrium_moisture_pct(rh_pct: ArrayLike, *, temperature_degc: ArrayLike) -> NDArray[np.float64]:
    """Return the moisture at which wood settles in air of a relative humidity and temperature.

    ``M = 1800/W·[K·h/(1 - K·h) + (K1·K·h + 2·K1·K2·K²·h²)/(1 + K1·K·h + K1·K2·K²·h²)]`` with h the relative humidity as
    a fraction and W, K, K1, K2 polynomials of the temperature. Good within 0.13 % on average and 0.9 % at worst of the
    table it was fitted to; the laboratory itself calls the table sound for practice, not for science [3]_.

    Parameters
    ----------
    rh_pct : array_like of float
        Relative humidity, 0 to 100 %.
    temperature_degc : array_like of float
        Temperature, -10 to 60 °C.

    Returns
    -------
    ndarray of float
        Moisture in % of the dry mass, of the shape both inputs broadcast to.

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] A. J. Hailwood and S. Horrobin, Trans. Faraday Soc. 42, B084-B092 (1946), as cited by [2]_.
    .. [2] W. T. Simpson, "Equilibrium moisture content of wood in outdoor locations in the United States and
       worldwide", USDA Forest Products Laboratory, FPL-RN-0268 (1998); coefficients as read in the open source of a
       conservation-science package that quotes it.
    .. [3] S. V. Glass, S. L. Zelinka and J. A. Johnson, "Investigation of historic equilibrium moisture content data
       from the Forest Products Laboratory", FPL-GTR-229 (2014); abstract.

    Examples
    --------
    >>> equilibrium_moisture_pct([30, 45, 60], temperature_degc=20.0).round(1)
    array([ 6.2,  8.5, 11. ])
    """
    h = _inside("rh_pct", rh_pct, 0.0, 100.0, "%") / _PER_CENT
    t = _inside("temperature_degc", temperature_degc, _LOWEST_DEGC, _HIGHEST_DEGC, "°C")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return np.asarray(1800.0 / w * (kh / (1.0 - kh) + bound))


def settled_moisture_pct(rh_pct: Measured | float, *, temperature_degc: Measured | float) -> Measured:
    """Return the moisture at which one piece of wood settles, with the errors of the air and of the wood itself.

    Parameters
    ----------
    rh_pct : Measured or float
        Relative humidity, 0 to 100 %.
    temperature_degc : Measured or float
        Temperature, -10 to 60 °C.

    Returns
    -------
    Measured
        % of the dry mass; `EMC_SE_PCT` is part of the error.

    Raises
    ------
    InputError
        If a value leaves its range.
    """
    return carry(
        lambda rh, t, own: _moisture(rh, t) + own, rh=rh_pct, t=temperature_degc, own=Measured(0.0, EMC_SE_PCT)
    )


def _moisture(rh: float, t: float) -> NDArray[np.float64]:
    """Return the settled moisture; a humidity moved by its error may not leave the scale."""
    return equilibrium_moisture_pct(np.clip(rh, 0.0, _PER_CENT), temperature_degc=t)


def humidity_for_moisture_pct(moisture_pct: ArrayLike, *, temperature_degc: ArrayLike) -> NDArray[np.float64]:
    """Return the relative humidity in which wood settles at a moisture: `equilibrium_moisture_pct` turned round.

    Parameters
    ----------
    moisture_pct : array_like of float
        Moisture in % of the dry mass, from 0 to what the wood has in saturated air.
    temperature_degc : array_like of float
        Temperature, -10 to 60 °C.

    Returns
    -------
    ndarray of float
        Relative humidity in %, of the shape both inputs broadcast to.

    Raises
    ------
    InputError
        If a value leaves its range.

    Examples
    --------
    >>> float(humidity_for_moisture_pct(8.0, temperature_degc=20.0).round(1))
    41.8
    """
    wanted, t = np.broadcast_arrays(finite("moisture_pct", moisture_pct), finite("temperature_degc", temperature_degc))
    most = equilibrium_moisture_pct(100.0, temperature_degc=t)
    if not ((wanted >= 0.0) & (wanted <= most)).all():
        raise InputError.of("moisture_pct", moisture_pct, f"0 to {float(most.min()):.1f} % at this temperature")
    low, high = np.zeros(wanted.shape), np.full(wanted.shape, _PER_CENT)
    for _ in range(60):  # halving 100 % sixty times ends below the last digit of a float
        middle = 0.5 * (low + high)
        is_below = equilibrium_moisture_pct(middle, temperature_degc=t) < wanted
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return np.asarray(0.5 * (low + high))


def _inside(name: str, value: ArrayLike, low: float, high: float, unit: str) -> NDArray[np.float64]:
    """Return a value as float array, or refuse what leaves the range."""
    array = finite(name, value)
    if not ((array >= low) & (array <= high)).all():
        raise InputError.of(name, value, f"{low:g} to {high:g} {unit}")
    return array


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """A wood, as far as its movement across the grain goes."""

    name: str
    radial_shrinkage_pct: float
    """Shrinkage from green to oven-dry along the radius of the tree, % of the green size: quarter-sawn boards, as in
    soundboards, move by this in their width."""
    tangential_shrinkage_pct: float
    """The same along the growth rings: flat-sawn boards move by this in their width."""
    source: str


# The hardwood half of Table 4-3 was read, the row of Sitka spruce was cut off in the copy. Its two figures are from
# memory; they give the coefficients 0.00148 and 0.00263 by the formula below, those of Table 13-5 (from memory, too).
SPECIES: Final[Mapping[str, Species]] = MappingProxyType(
    {
        one.name: one
        for one in (
            Species(
                name="Sitka spruce",
                radial_shrinkage_pct=4.3,
                tangential_shrinkage_pct=7.5,
                source="Wood Handbook, FPL-GTR-190 (2010), Table 4-3 (figures of this row from memory)",
            ),
            Species(
                name="beech, American",
                radial_shrinkage_pct=5.5,
                tangential_shrinkage_pct=11.9,
                source="Wood Handbook, FPL-GTR-190 (2010), Table 4-3, as read in a copy",
            ),
            Species(
                name="maple, sugar",
                radial_shrinkage_pct=4.8,
                tangential_shrinkage_pct=9.9,
                source="Wood Handbook, FPL-GTR-190 (2010), Table 4-3 (figures of this row from memory)",
            ),
        )
    }
)
"""Woods of a piano: soundboard, bridges, wrest plank."""
SHRINKAGE_SE_RATIO: Final = 0.15
"""Standard error of the shrinkage of one board as a share of the table's mean: the Handbook gives a coefficient of
variation of about 15 % (from memory)."""


def movement_per_pct(shrinkage_pct: ArrayLike, *, moisture_pct: ArrayLike = 10.0) -> NDArray[np.float64]:
    """Return the change of size for each % of moisture, as a share of the size at a moisture.

    ``C = 1/(30·100/S - 30 + M)``: shrinkage S runs evenly from the fibre saturation point, 30 %, to oven-dry. With M =
    10 % these are the dimensional change coefficients that the Handbook lists for 6 to 14 %.

    Parameters
    ----------
    shrinkage_pct : array_like of float
        Shrinkage from green to oven-dry in the direction meant, above 0 and below 30 %.
    moisture_pct : array_like of float
        Moisture at which the size was taken, 0 to 30 %.

    Returns
    -------
    ndarray of float
        Share of the size per % of moisture, of the shape both inputs broadcast to.

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] Wood Handbook, USDA FPL-GTR-190 (2010), chapter 13 (formula from memory; it gives the printed coefficients of
       Table 13-5 from the printed shrinkage of Table 4-3, which the tests check).

    Examples
    --------
    >>> movement_per_pct([4.3, 7.5]).round(5)
    array([0.00148, 0.00263])
    """
    shrinkage = _inside("shrinkage_pct", shrinkage_pct, 1e-6, 30.0, "%")
    moisture = _inside("moisture_pct", moisture_pct, 0.0, FIBRE_SATURATION_PCT, "%")
    return np.asarray(1.0 / (FIBRE_SATURATION_PCT * _PER_CENT / shrinkage - FIBRE_SATURATION_PCT + moisture))


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelMovement:
    """How a panel moves between two climates, if nothing held it."""

    before_pct: Measured
    """Moisture at which the wood settles before."""
    after_pct: Measured
    change_pct: Measured
    """Change of moisture; surer than the two it lies between, for they are of the same wood."""
    movement_mm: Measured
    """Change of width across the grain, above 0 for swelling. A panel glued to ribs and rim moves less, and crowns."""
    is_beyond_formula: bool
    """Whether a moisture lies outside 6 to 14 %, for which the Handbook gives its coefficients."""


def panel_movement(
    width_mm: Measured | float,
    *,
    rh_before_pct: Measured | float,
    rh_after_pct: Measured | float,
    temperature_before_degc: Measured | float,
    temperature_after_degc: Measured | float,
    shrinkage_pct: Measured | float,
) -> PanelMovement:
    """Return how a free panel moves across the grain from one climate to another, once it has settled.

    Parameters
    ----------
    width_mm : Measured or float
        Width across the grain, before, above 0.
    rh_before_pct, rh_after_pct : Measured or float
        Relative humidity, 0 to 100 %, with the error of the hygrometer.
    temperature_before_degc, temperature_after_degc : Measured or float
        Temperature, -10 to 60 °C.
    shrinkage_pct : Measured or float
        Shrinkage from green to oven-dry in the direction of the width; see `SPECIES`.

    Returns
    -------
    PanelMovement
        Errors hold those of the inputs, `EMC_SE_PCT` for each moisture and `EMC_CHANGE_SE_RATIO` for its change.

    Raises
    ------
    InputError
        If a value leaves its range.
    """
    climates = {
        "rh_0": rh_before_pct,
        "t_0": temperature_before_degc,
        "rh_1": rh_after_pct,
        "t_1": temperature_after_degc,
    }

    def change(rh_0: float, t_0: float, rh_1: float, t_1: float, slope: float) -> NDArray[np.float64]:
        return slope * (_moisture(rh_1, t_1) - _moisture(rh_0, t_0))

    def movement(width: float, shrinkage: float, **others: float) -> NDArray[np.float64]:
        start = min(float(_moisture(others["rh_0"], others["t_0"])), FIBRE_SATURATION_PCT)
        return width * movement_per_pct(shrinkage, moisture_pct=start) * change(**others)

    slope = Measured(1.0, EMC_CHANGE_SE_RATIO)
    ends = [
        settled_moisture_pct(rh, temperature_degc=t)
        for rh, t in ((rh_before_pct, temperature_before_degc), (rh_after_pct, temperature_after_degc))
    ]
    return PanelMovement(
        before_pct=ends[0],
        after_pct=ends[1],
        change_pct=carry(change, slope=slope, **climates),
        movement_mm=carry(movement, width=width_mm, shrinkage=shrinkage_pct, slope=slope, **climates),
        is_beyond_formula=not all(6.0 <= one.value <= 14.0 for one in ends),
    )


def ribbed_panel_curvature_per_m(
    strain: ArrayLike, *, panel_thickness_mm: ArrayLike, rib_height_mm: ArrayLike, stiffness_ratio: ArrayLike
) -> NDArray[np.float64]:
    """Return the curvature that a panel takes on when it swells on ribs that do not.

    The two-layer strip of Timoshenko: ``κ = 6·ε·(1 + m)²/(h·(3·(1 + m)² + (1 + m·n)·(m² + 1/(m·n))))`` with m the
    panel's thickness over the rib's height, n the stiffness of the panel over that of the rib layer and h both heights
    together.

    Parameters
    ----------
    strain : array_like of float
        Free swelling of the panel across the grain, as a ratio; below 0 for shrinking.
    panel_thickness_mm, rib_height_mm : array_like of float
        Above 0.
    stiffness_ratio : array_like of float
        Young's modulus of the panel across the grain over that of the rib along the grain times the share of the panel
        that ribs cover; above 0.

    Returns
    -------
    ndarray of float
        Curvature in 1/m, above 0 where the panel side bulges.

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] S. Timoshenko, "Analysis of bi-metal thermostats", J. Opt. Soc. Am. 11, 233-255 (1925) (from memory). It is
       the upper end of what a soundboard can do: rim, bridges and strings hold it, and a panel pressed between its
       ribs gives way for good. So no command prints a crown from it (our reasoning).

    Examples
    --------
    >>> float(ribbed_panel_curvature_per_m(1e-3, panel_thickness_mm=1.0, rib_height_mm=1.0, stiffness_ratio=1.0))
    0.75
    """
    sizes = [finite("strain", strain)]
    for name, value in (
        ("panel_thickness_mm", panel_thickness_mm),
        ("rib_height_mm", rib_height_mm),
        ("stiffness_ratio", stiffness_ratio),
    ):
        sizes.append(_inside(name, value, 1e-9, 1e9, ""))
    epsilon, panel, rib, n = sizes
    m = panel / rib
    height_m = (panel + rib) * 1e-3
    return np.asarray(
        6.0 * epsilon * (1.0 + m) ** 2 / (height_m * (3.0 * (1.0 + m) ** 2 + (1.0 + m * n) * (m**2 + 1.0 / (m * n))))
    )
