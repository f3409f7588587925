"""Shellac polish: strength of a cut, how much is needed, and how long it dries at a temperature.

How fast alcohol leaves goes with its vapour pressure, which physics tells; how long the film then takes to harden is
from memory and from what restorers write, always as a range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.ranges import above_zero, zero_or_more

_POUND_G: Final = 453.59237
_GALLON_L: Final = {"us": 3.785411784, "uk": 4.54609}
"""Both exact by definition (NIST SP 811, UK Weights and Measures Act 1985; from memory)."""
BRUSHED_M2_PER_L: Final = Measured(8.5, 1.5 / HALF_WIDTHS_PER_SE)
"""Area that a litre covers once with a brush: 300 to 400 sq ft a US gallon, 7 to 10 m²/L (from memory)."""
RUBBED_M2_PER_L: Final = Measured(40.0, 20.0 / HALF_WIDTHS_PER_SE)
"""The same with a rubber, which puts on far less: 20 to 60 m²/L (from memory, low confidence)."""
SHELLAC_DENSITY_G_PER_L: Final = 1150.0
"""Of the dry resin (from memory)."""
ETHANOL_VAPORISATION_J_PER_MOL: Final = 42_300.0
"""Heat that ethanol takes to evaporate near 25 °C (from memory)."""
_GAS_J_PER_MOL_K: Final = 8.314462618
_KELVIN: Final = 273.15
REFERENCE_DEGC: Final = 20.0
"""Times are given for that."""
COLDEST_DEGC, WARMEST_DEGC = 10.0, 32.0
"""Outside nobody polishes: below, the film stays soft and goes white; above, the rubber drags (from memory)."""
COLD_DEGC: Final = 16.0
"""Below 60 °F shellac dissolves and dries badly (a shellac mixing chart, 2013)."""
DAMP_PCT: Final = 65.0
"""Above that relative humidity a film may go white, for cold alcohol draws water (from memory)."""
WETTEST_PCT: Final = 75.0
"""Above that nobody polishes (from memory)."""
_DAMP_FACTOR: Final = 1.5
"""Longer drying at 75 % than at 50 % (from memory, low confidence)."""


class Gallon(StrEnum):
    """Whose gallon a pound cut is of."""

    US = "us"
    UK = "uk"


def shellac_g_per_l(cut_lb: float, *, gallon: Gallon) -> float:
    """Return grams of dry shellac to a litre of alcohol for a cut in pounds to the gallon.

    Parameters
    ----------
    cut_lb : float
        Pounds of flakes to one gallon of alcohol, above 0 and at most 6.
    gallon : Gallon
        The American or the imperial one.

    Raises
    ------
    InputError
        If the cut is none that is used.

    Examples
    --------
    >>> round(shellac_g_per_l(1.0, gallon=Gallon.US)), round(shellac_g_per_l(1.0, gallon=Gallon.UK))
    (120, 100)
    """
    if not 0.0 < cut_lb <= 6.0:
        raise InputError.of("cut", cut_lb, "above 0 and at most 6 lb to the gallon")
    return cut_lb * _POUND_G / _GALLON_L[gallon.value]


@dataclass(frozen=True, slots=True, kw_only=True)
class PolishNeeded:
    """What to mix."""

    polish_l: Measured
    """Mixed polish, waste included."""
    alcohol_l: Measured
    shellac_g: Measured
    """Dry, free of wax or not as the polish is to be."""


def polish_needed(
    area_m2: Measured, *, brushed_coats: Measured, rubbed_coats: Measured, g_per_l: float, waste_ratio: float
) -> PolishNeeded:
    """Return how much polish an area takes.

    Parameters
    ----------
    area_m2 : Measured
        Surface, above 0.
    brushed_coats, rubbed_coats : Measured
        How often it is covered with a brush and with a rubber, 0 or more, with their ranges as standard errors.
    g_per_l : float
        Grams of shellac to a litre of alcohol.
    waste_ratio : float
        Added for what stays in rubber, jar and cloth: 0.2 is a fifth.

    Returns
    -------
    PolishNeeded
        The volume is area × (coats ÷ coverage, brushed and rubbed) × (1 + waste). The resin takes room: a litre of
        alcohol with 240 g makes 1.2 litres.

    Raises
    ------
    InputError
        If a number is not in its range.
    """
    above_zero("area_m2", area_m2.value)
    above_zero("g_per_l", g_per_l)
    zero_or_more("coats", [brushed_coats.value, rubbed_coats.value])
    if not 0.0 <= waste_ratio <= 1.0:
        raise InputError.of("waste_ratio", waste_ratio, "0 to 1")
    polish = carry(
        # Coverages are carried as areas a litre takes; their inverse is what enters, moderately curved.
        lambda area, n_brushed, n_rubbed, brushed, rubbed: (
            area * (n_brushed / brushed + n_rubbed / rubbed) * (1.0 + waste_ratio)
        ),
        area=area_m2,
        n_brushed=brushed_coats,
        n_rubbed=rubbed_coats,
        brushed=BRUSHED_M2_PER_L,
        rubbed=RUBBED_M2_PER_L,
    )
    share = 1.0 / (1.0 + g_per_l / SHELLAC_DENSITY_G_PER_L)
    alcohol = Measured(polish.value * share, polish.se * share)
    return PolishNeeded(
        polish_l=polish, alcohol_l=alcohol, shellac_g=Measured(alcohol.value * g_per_l, alcohol.se * g_per_l)
    )


def drying_factor(temperature_degc: float, *, rh_pct: float) -> float:
    """Return how many times longer alcohol takes to leave than at 20 °C and 50 % relative humidity.

    Parameters
    ----------
    temperature_degc : float
        Of room and wood, 10 to 32 °C.
    rh_pct : float
        Relative humidity, 15 to 75 %.

    Returns
    -------
    float
        The ratio of the vapour pressures of ethanol by Clausius and Clapeyron, 1.8 at 10 °C and 0.6 at 30 °C, times a
        factor that grows to 1.5 at 75 % humidity (from memory). That evaporation alone sets the pace is our reasoning.

    Raises
    ------
    InputError
        If nobody polishes in such air.

    Examples
    --------
    >>> [round(drying_factor(degc, rh_pct=50.0), 2) for degc in (10.0, 20.0, 30.0)]
    [1.85, 1.0, 0.56]
    """
    if not COLDEST_DEGC <= temperature_degc <= WARMEST_DEGC:
        raise InputError.of(
            "temperature", temperature_degc, f"{COLDEST_DEGC:g} to {WARMEST_DEGC:g} °C", advice="wait, or heat the room"
        )
    if not 15.0 <= rh_pct <= WETTEST_PCT:
        raise InputError.of("rh", rh_pct, f"15 to {WETTEST_PCT:g} %", advice="wait for drier air: polish goes white")
    kelvin = temperature_degc + _KELVIN
    falls = ETHANOL_VAPORISATION_J_PER_MOL / _GAS_J_PER_MOL_K * (1.0 / kelvin - 1.0 / (REFERENCE_DEGC + _KELVIN))
    damp = 1.0 + (_DAMP_FACTOR - 1.0) * max(0.0, rh_pct - 50.0) / (WETTEST_PCT - 50.0)
    return math.exp(falls) * damp
