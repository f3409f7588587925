"""What air does to pitch, as far as it was published: humidity through the soundboard, temperature through the strings.

The figures for humidity come from technicians' reports, not from laboratories, and pianos differ; each carries an error
wide enough for that. Temperature follows from the expansion of steel and iron.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.keyboard import A4_KEY
from strikeline.measured import Measured, carry
from strikeline.physics.ranges import finite
from strikeline.physics.strings import STEEL_YOUNG_MODULUS_PA
from strikeline.units import CENTS_PER_NEPER

CENTS_PER_RH_PCT_AT_A4: Final = Measured(0.8, 0.3)
"""Pitch of A4 for each % of relative humidity once settled, upwards for damper air: 4 cents for 5 %, not gathered
scientifically, as the author says (technicians' mailing-list archive, 2001-10, 2002-09 and 2005-03); 0.75 on another
piano of the same author (2000-06). The error is our reasoning: pianos differ, so 0.2 to 1.4 in 95 cases of 100."""
# The same author, alone, has it roughly double with each octave down to the bass break. Another measured 3.5 cents at
# F2 for 8 % in two days (a technicians' forum, 2014), a ninth of what this rule gives, with the air not settled. So
# only its upper octave is used as a figure here.
CALL_BACK_RH_PCT: Final = 5.0
"""Change of relative humidity from which a call-back after a tuning is climate before it is workmanship (the same
author's figures, our rule)."""
STEEL_EXPANSION_PER_K: Final = Measured(11.6e-6, 0.4e-6)
"""Linear expansion of hard-drawn steel wire: tables give 10.8 (carbon steel), 11 to 13 (steel) and 12.4 (tempered
steel; W. H. Dooley, "Applied Science for Metal Workers", table 109), in millionths per kelvin."""
IRON_EXPANSION_PER_K: Final = Measured(10.4e-6, 0.2e-6)
"""Linear expansion of grey cast iron: 10.0 (the same table of Dooley) and 10.8 (a metals supplier's table)."""


def rh_drift_cents(rh_change_pct: Measured | float, *, key: int) -> Measured | None:
    """Return the pitch drift that reports lead to expect from a change of humidity, once the piano has settled.

    ``0.8 cents·2^((49 - key)/12)`` for each %, from A4 an octave down; elsewhere nothing was published that agrees.

    Parameters
    ----------
    rh_change_pct : Measured or float
        Relative humidity after less before, in %.
    key : int
        Key number, 49 for A4.

    Returns
    -------
    Measured or None
        Cents, above 0 for sharper; ``None`` outside A3 to A4.

    Examples
    --------
    >>> drift = rh_drift_cents(5.0, key=49)
    >>> round(drift.value, 6), round(drift.se, 6), rh_drift_cents(5.0, key=88)
    (4.0, 1.5, None)
    """
    if not A4_KEY - 12 <= key <= A4_KEY:
        return None
    octaves = (A4_KEY - key) / 12.0
    return carry(
        lambda change, rate, growth: change * rate * growth**octaves,
        change=rh_change_pct,
        rate=CENTS_PER_RH_PCT_AT_A4,
        growth=Measured(2.0, 0.5),
    )


def cents_per_kelvin(
    stress_mpa: ArrayLike,
    *,
    wire_expansion_per_k: ArrayLike,
    frame_expansion_per_k: ArrayLike,
    young_modulus_pa: ArrayLike = STEEL_YOUNG_MODULUS_PA,
) -> NDArray[np.float64]:
    """Return the change of pitch for each kelvin by which wire and frame warm.

    The frame sets the length, so the wire's strain changes by the difference of the expansions; with ``σ = E·strain``
    and f0 as the root of the tension, ``Δf/f = -E·(α_wire - α_frame)·ΔT/(2·σ)``. With 0 for the frame it is what the
    strings do before the frame has followed.

    Parameters
    ----------
    stress_mpa : array_like of float
        Tension of the wire over its section, above 0; of a wound string that of the core.
    wire_expansion_per_k, frame_expansion_per_k : array_like of float
        Linear expansion of each.
    young_modulus_pa : array_like of float
        Of the wire.

    Returns
    -------
    ndarray of float
        Cents per kelvin, below 0 for flatter when warmer.

    Raises
    ------
    InputError
        If a value is not finite.

    References
    ----------
    .. [1] Derived here. One technician measured 0.56 and 0.92 cents flatter for each °F of warmer air, which is 1.0 and
       1.7 cents for each K, while frame and thermometer lagged (technicians' mailing-list archive, 2004-04); and
       pitch back "or nearly so" once all had settled (2005-02).

    Examples
    --------
    >>> float(cents_per_kelvin(900.0, wire_expansion_per_k=11.6e-6, frame_expansion_per_k=0.0).round(2))
    -2.25
    """
    difference = finite("wire_expansion_per_k", wire_expansion_per_k) - finite(
        "frame_expansion_per_k", frame_expansion_per_k
    )
    stress_pa = finite("stress_mpa", stress_mpa) * 1e6
    return np.asarray(-CENTS_PER_NEPER * finite("young_modulus_pa", young_modulus_pa) * difference / (2.0 * stress_pa))


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureDrift:
    """What a change of temperature does to the strings of one stress, humidity left alone."""

    at_once_cents: Measured
    """While the strings have followed and the frame has not: the most it can be."""
    settled_cents: Measured
    """Once strings and frame have followed."""


TYPICAL_STRESS_MPA: Final = Measured(900.0, 150.0)
"""Stress of plain strings in the middle of the compass (our reasoning: 700 to 800 N on 1.0 mm wire)."""


def temperature_drift(change_degc: Measured | float, *, stress_mpa: Measured = TYPICAL_STRESS_MPA) -> TemperatureDrift:
    """Return what a change of temperature does to plain strings.

    Parameters
    ----------
    change_degc : Measured or float
        Temperature after less before.
    stress_mpa : Measured
        Stress of the wire.

    Returns
    -------
    TemperatureDrift
    """

    def drift(change: float, stress: float, wire: float, frame: float) -> NDArray[np.float64]:
        return change * cents_per_kelvin(stress, wire_expansion_per_k=wire, frame_expansion_per_k=frame)

    steel, iron = STEEL_EXPANSION_PER_K, IRON_EXPANSION_PER_K
    return TemperatureDrift(
        at_once_cents=carry(drift, change=change_degc, stress=stress_mpa, wire=steel, frame=0.0),
        settled_cents=carry(drift, change=change_degc, stress=stress_mpa, wire=steel, frame=iron),
    )


class Band(StrEnum):
    """What a level of humidity is called: advice, not a limit."""

    USUAL = "usual"
    WATCH = "watch"
    HARMFUL = "harmful"


BANDS_SOURCE: Final = (
    "our reasoning; advice differs: makers 40 to 45 %, a consumer guide 45 %, a French site 55 to 60 %, museums 55 %, "
    "no more than 5 % to either side within a day; below 30 % wood fails, above 60 % steel rusts (technicians' "
    "mailing-list archive, 2001-08 and 2005-03)"
)
STEADY_FIRST: Final = "There is no single right humidity: steady matters more than the level."
DAILY_SWING_RH_PCT: Final = 10.0
"""A swing within a day that is worth a word (our reasoning)."""


def humidity_band(rh_pct: float) -> Band:
    """Return what a relative humidity is called: usual from 40 to 60 %, harmful below 30 and above 65 %.

    Examples
    --------
    >>> [humidity_band(rh).value for rh in (25, 35, 45, 63, 70)]
    ['harmful', 'watch', 'usual', 'watch', 'harmful']
    """
    if 40.0 <= rh_pct <= 60.0:
        return Band.USUAL
    return Band.WATCH if 30.0 <= rh_pct <= 65.0 else Band.HARMFUL
