"""Conversions and constants, the only place that converts.

Cents and decibels are defined here once. ISO 16:1975 sets the standard tuning frequency A4 = 440 Hz (number from memory
of the standard; it is also what every tuning fork sold as "A 440" carries).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

A4_STANDARD_HZ: Final = 440.0
"""Standard tuning frequency of ISO 16:1975."""

CENTS_PER_OCTAVE: Final = 1200.0

CENTS_PER_NEPER: Final = CENTS_PER_OCTAVE / float(np.log(2.0))
"""Cents in a frequency ratio of e, and so cents per unit of relative change: 1731.234…"""

DB_PER_NEPER: Final = 20.0 / float(np.log(10.0))
"""Decibels in one neper: 8.685889…"""


def cents_from_ratio(ratio: ArrayLike) -> NDArray[np.float64]:
    """Return frequency ratios (above 0) as cents, 1200 to the octave.

    Examples
    --------
    >>> float(cents_from_ratio(2.0))
    1200.0
    """
    return np.asarray(CENTS_PER_OCTAVE * np.log2(np.asarray(ratio, dtype=np.float64)))


def ratio_from_cents(cents: ArrayLike) -> NDArray[np.float64]:
    """Return cents as frequency ratios.

    Examples
    --------
    >>> float(ratio_from_cents(1200.0))
    2.0
    """
    return np.asarray(np.exp2(np.asarray(cents, dtype=np.float64) / CENTS_PER_OCTAVE))


def cents_se(value_hz: float, se_hz: float) -> float:
    """Return the standard error in cents of a frequency in hertz (first order, 1 cent = ln 2 / 1200)."""
    return CENTS_PER_NEPER * se_hz / value_hz


def db_from_amplitude(amplitude: ArrayLike) -> NDArray[np.float64]:
    """Return amplitudes (above 0) in decibels relative to 1."""
    return np.asarray(20.0 * np.log10(np.asarray(amplitude, dtype=np.float64)))


def amplitude_from_db(level_db: ArrayLike) -> NDArray[np.float64]:
    """Return decibels relative to 1 as amplitudes."""
    return np.asarray(10.0 ** (np.asarray(level_db, dtype=np.float64) / 20.0))


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that people write, and how its figures become the SI unit of its kind: ``figure·factor + offset``."""

    name: str
    kind: str
    """What it measures, to follow the word "expected"."""
    factor: float
    spellings: frozenset[str]
    """All the ways to write it, in small letters."""
    offset: float = 0.0
    example: str = ""
    """A figure in this unit, for messages."""


# The pound, standard gravity and the inch are exact by definition: NIST SP 811 (2008), appendix B.8 (from memory).
_POUND_KG: Final = 0.45359237
_GRAVITY_M_PER_S2: Final = 9.80665
_INCH_M: Final = 0.0254
_LBF_N: Final = _POUND_KG * _GRAVITY_M_PER_S2
_KELVIN_AT_0_DEGC: Final = 273.15
_KELVIN_AT_0_DEGF: Final = _KELVIN_AT_0_DEGC - 32.0 * 5.0 / 9.0


def _unit(
    name: str, kind: str, factor: float, also: str = "", *, offset: float = 0.0, example: str = ""
) -> tuple[str, Unit]:
    spellings = frozenset(one.casefold() for one in [name, *also.split()])
    return name, Unit(name, kind, factor, spellings, offset, example or f"10 {name}")


UNITS: Final[Mapping[str, Unit]] = MappingProxyType(
    dict([
        _unit("mm", "a length", 1e-3, "millimetre millimetres millimeter millimeters", example="925 mm or 36 5/8 in"),
        _unit("cm", "a length", 1e-2, "centimetre centimetres centimeter centimeters"),
        _unit("in", "a length", _INCH_M, '" inch inches ins'),
        _unit("ft", "a length", 12.0 * _INCH_M, "' foot feet"),
        _unit("m", "a length", 1.0, "metre metres meter meters"),
        _unit("thou", "a length", 1e-3 * _INCH_M, "mil mils"),
        _unit("µm", "a length", 1e-6, "um μm micron microns"),
        _unit("m²", "an area", 1.0, "m2 sqm"),
        _unit("ft²", "an area", (12.0 * _INCH_M) ** 2, "ft2 sqft"),
        _unit("N", "a force", 1.0, "newton newtons", example="700 N or 160 lbf"),
        _unit("kN", "a force", 1e3),
        _unit("lbf", "a force", _LBF_N, "lb lbs pound pounds"),
        _unit("kgf", "a force", _GRAVITY_M_PER_S2, "kg kp"),
        _unit("gf", "a force", 1e-3 * _GRAVITY_M_PER_S2, "g gram grams"),
        _unit("MPa", "a stress", 1e6, "n/mm² n/mm2", example="2200 MPa or 320 ksi"),
        _unit("GPa", "a stress", 1e9),
        _unit("ksi", "a stress", 1e3 * _LBF_N / _INCH_M**2),
        _unit("psi", "a stress", _LBF_N / _INCH_M**2),
        _unit("N·m", "a torque", 1.0, "nm n.m n*m", example="9 N·m or 80 in-lb"),
        _unit("in-lb", "a torque", _INCH_M * _LBF_N, "in·lb in.lb inlb in-lbf in·lbf in-lbs lb-in lbf·in lbf-in"),
        _unit("kgf·cm", "a torque", 1e-2 * _GRAVITY_M_PER_S2, "kgf-cm kg·cm kg-cm kgcm kg.cm"),
        _unit("gf·mm", "a torque", 1e-6 * _GRAVITY_M_PER_S2, "g·mm g-mm gmm gf-mm g.mm"),
        _unit("g", "a mass", 1e-3, "gram grams gramme grammes", example="52 g or 1.8 oz"),
        _unit("kg", "a mass", 1.0),
        _unit("oz", "a mass", _POUND_KG / 16.0, "ounce ounces"),
        _unit("lb", "a mass", _POUND_KG, "lbs pound pounds"),
        _unit("Hz", "a frequency", 1.0, example="440 Hz"),
        _unit("kHz", "a frequency", 1e3),
        _unit("°C", "a temperature", 1.0, "c degc", offset=_KELVIN_AT_0_DEGC, example="20 °C or 68 °F"),
        _unit("°F", "a temperature", 5.0 / 9.0, "f degf", offset=_KELVIN_AT_0_DEGF),
        _unit("K", "a temperature", 1.0),
        _unit("%", "a share", 1e-2, "pct percent", example="45 %"),
        _unit("°", "an angle", float(np.pi) / 180.0, "deg degree degrees", example="1.5°"),
        _unit("rad", "an angle", 1.0),
        _unit("swings", "a count of swings", 1.0, "swing x", example="5 swings"),
        _unit("GU", "a gloss", 1.0, example="85 GU"),
        _unit("cents", "an interval", 1.0, "cent c ¢", example="-12 cents"),
        _unit("s", "a time", 1.0, "sec second seconds", example="20 s"),
        _unit("min", "a time", 60.0, "minute minutes"),
        _unit("h", "a time", 3600.0, "hour hours"),
    ])
)  # fmt: skip
"""Units accepted on entry, by name. Inside, strikeline knows one unit for each quantity; this is where others end."""
