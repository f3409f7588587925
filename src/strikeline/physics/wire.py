"""What strings are made of: Young's modulus and density, each with what is not known about it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.strings import (
    COPPER_DENSITY_KG_PER_M3,
    STEEL_DENSITY_KG_PER_M3,
    STEEL_YOUNG_MODULUS_PA,
)


@dataclass(frozen=True, slots=True)
class WireMaterial:
    """A metal that wire is drawn from."""

    name: str
    young_modulus_pa: Measured
    """Young's modulus of drawn wire; only a core uses it."""
    density_kg_per_m3: Measured
    source: str
    """Where the figures and their ranges come from."""

    def __post_init__(self) -> None:
        for name, one in (
            ("young_modulus_pa", self.young_modulus_pa),
            ("density_kg_per_m3", self.density_kg_per_m3),
        ):
            if one.value <= 0:
                raise InputError.of(name, one.value, "above 0")


def within(low: float, high: float, *, value: float | None = None) -> Measured:
    """Return what is known to lie anywhere between two limits: the middle, or `value`, with its standard error.

    That is the root mean square distance of a rectangular distribution from what is stated, (high - low)/√12 for the
    middle: a figure that stands off the middle is wrong by that, too.

    Parameters
    ----------
    low, high : float
        The limits, in the unit of the result; `high` above `low`.
    value : float, optional
        The figure to state, where it is not the middle.

    Returns
    -------
    Measured
        The figure with its standard error.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), section 4.3.7 (from memory); the distance from the middle added in quadrature: our own.

    Examples
    --------
    >>> within(0.0, 12.0)
    Measured(value=6.0, se=3.464101615137755)
    """
    if not high > low:
        raise InputError.of("high", high, f"above low = {low!r}")
    middle = (low + high) / 2.0
    stated = middle if value is None else value
    if not low <= stated <= high:
        raise InputError.of("value", stated, f"{low!r} to {high!r}")
    return Measured(stated, math.hypot((high - low) / math.sqrt(12.0), stated - middle))


_STEEL: Final = WireMaterial(
    "steel",
    within(1.97e11, 2.07e11, value=STEEL_YOUNG_MODULUS_PA),
    within(7800.0, 7870.0, value=STEEL_DENSITY_KG_PER_M3),
    "Chabassier & Duruflé (2012), INRIA RT-0425, as read in a secondary survey: 202 GPa, 7850 kg/m³; published values "
    "for piano wire run from 200 to 207 GPa, a data card of ASTM A228 wire has 190 GPa and 7800 kg/m³; the ranges 197 "
    "to 207 GPa and 7800 to 7870 kg/m³ are our reasoning",
)
_IRON: Final = WireMaterial(
    "iron",
    within(1.80e11, 2.05e11, value=1.95e11),
    within(7650.0, 7870.0, value=7780.0),
    "drawn iron wire of the nineteenth century: 180 to 205 GPa, 7650 (with slag) to 7870 kg/m³ (pure), from memory",
)
_COPPER: Final = WireMaterial(
    "copper",
    within(1.10e11, 1.30e11),
    within(8900.0, 8960.0, value=COPPER_DENSITY_KG_PER_M3),
    "tables of copper wire give 8900 to 8960 kg/m³ and 110 to 130 GPa (from memory)",
)
_BRASS: Final = WireMaterial(
    "brass",
    within(0.97e11, 1.10e11),
    within(8400.0, 8650.0),
    "brasses of 60 to 80 % copper: 97 to 110 GPa, 8400 to 8650 kg/m³ (from memory)",
)

MATERIALS: Final[Mapping[str, WireMaterial]] = MappingProxyType(
    {one.name: one for one in (_STEEL, _IRON, _COPPER, _BRASS)}
)
"""Wire by name: "steel", "iron", "copper", "brass"."""
