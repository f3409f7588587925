"""How much wire bears before it breaks: tables of modern wire by diameter, and wire of former times by the year.

A table gives the least and the greatest strength that a standard allows, so that the wire in hand lies somewhere
between: the middle is stated with the standard deviation of a rectangular distribution, ``(high - low)/√12``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.ranges import above_zero
from strikeline.physics.wire import within
from strikeline.units import UNITS

_MM_PER_IN: Final = UNITS["in"].factor / UNITS["mm"].factor
_MPA_PER_KSI: Final = UNITS["ksi"].factor / UNITS["MPa"].factor
_NUMBER_13_MM: Final = 0.031 * _MM_PER_IN
"""Number 13 by the rule 2N + 5 thousandths of an inch; what the old gauges were is not known to 0.03 mm."""

ELASTIC_LIMIT_WORDS: Final = (
    "a wire maker put the elastic limit near 60 % of the ultimate strength and advised against more than 55 % for bass "
    "strings; 70 % is named as the ceiling of design (technicians' mailing-list archive, 2008-02 and 2011-04)"
)
"""What is said of how far wire may be loaded; guidance, not a limit that strikeline enforces."""


class WireGrade(StrEnum):
    """What wire is taken to be, for its strength."""

    ASTM_A228 = "ASTM A228"
    EN_10270_1_SM = "EN 10270-1 SM"
    EN_10270_1_SH = "EN 10270-1 SH"
    BEFORE_1855 = "before 1855"
    FROM_1855 = "1855 to 1870"
    FROM_1871 = "1871 to 1885"
    FROM_1886 = "1886 to 1930"


@dataclass(frozen=True, slots=True)
class WireStrength:
    """The ultimate tensile strength of wire of one diameter."""

    stress_mpa: Measured
    """The middle of the range; its standard error is the range divided by √12."""
    low_mpa: float
    high_mpa: float
    grade: WireGrade
    source: str
    """Whose figures they are and how they were read."""


@dataclass(frozen=True, slots=True)
class _Table:
    diameter_mm: tuple[float, ...]
    low_mpa: tuple[float, ...]
    high_mpa: tuple[float, ...]
    source: str


def _table(rows: tuple[tuple[float, float, float], ...], source: str, *, mm: float = 1.0, mpa: float = 1.0) -> _Table:
    diameter, low, high = zip(*rows, strict=True)
    return _Table(
        tuple(mm * one for one in diameter), tuple(mpa * one for one in low), tuple(mpa * one for one in high), source
    )


_A228: Final = _table(
    (
        (0.024, 341, 377), (0.026, 337, 373), (0.028, 333, 368), (0.030, 330, 365), (0.032, 327, 361),
        (0.034, 324, 358), (0.036, 321, 355), (0.038, 318, 352), (0.040, 315, 349), (0.042, 313, 346),
        (0.045, 309, 342), (0.048, 306, 339), (0.051, 303, 335), (0.055, 300, 331), (0.059, 296, 327),
        (0.063, 293, 324), (0.067, 290, 321), (0.072, 287, 317),
    ),
    "ASTM A228 as printed by a wire dealer (diameter in inches, ksi); at 0.036 in the page prints 255 for 355",
    mm=_MM_PER_IN,
    mpa=_MPA_PER_KSI,
)  # fmt: skip
_SM: Final = _table(
    (
        (0.7, 2090, 2350), (0.8, 2050, 2300), (0.9, 2010, 2260), (1.0, 1980, 2220), (1.1, 1950, 2190),
        (1.2, 1920, 2160), (1.3, 1900, 2130), (1.4, 1870, 2100), (1.5, 1850, 2080), (1.6, 1830, 2050),
    ),
    "EN 10270-1 grade SM as printed by a spring maker; at 1.0 mm the page prints 2250, which breaks its row, for 2220; "
    "a spring wire, not sold as piano wire",
)  # fmt: skip
_SH: Final = _table(
    ((0.8, 2310, 2560), (0.9, 2270, 2510), (1.0, 2230, 2470), (1.1, 2200, 2430), (1.2, 2170, 2400)),
    "EN 10270-1 grade SH (from memory, not checked)",
)
_MODERN: Final[Mapping[WireGrade, _Table]] = MappingProxyType(
    {WireGrade.ASTM_A228: _A228, WireGrade.EN_10270_1_SM: _SM, WireGrade.EN_10270_1_SH: _SH}
)


def _number_13_mpa(breaking_lbf: float) -> float:
    """Return the strength of a No. 13 wire that broke at a load."""
    newton = breaking_lbf * UNITS["lbf"].factor
    return float(newton / (np.pi * _NUMBER_13_MM**2 / 4.0))


_BEST_1867, _BEST_1876, _BEST_1893 = (_number_13_mpa(load) for load in (226.0, 265.0, 335.0))
_IRON_MPA: Final = (700.0, 1200.0)
"""Drawn iron wire (from memory)."""


def _after(before: tuple[float, float], best_mpa: float) -> tuple[float, float]:
    """Return the range of a period: from the middle of the one before to the best wire shown in it (our reasoning)."""
    return (before[0] + before[1]) / 2.0, best_mpa


_TO_1870: Final = _after(_IRON_MPA, _BEST_1867)
_TO_1885: Final = _after(_TO_1870, _BEST_1876)
_TO_1930: Final = _after(_TO_1885, _BEST_1893)
_SHOWN: Final = (
    "a No. 13 wire shown in {year} broke at {load} lb (after Dolge 1911, as read in a technicians' mailing-list "
    "archive, 1997-04), {mpa:.0f} MPa if No. 13 was 0.79 mm: the best of its time. Ordinary wire is taken to reach "
    "down to the middle of the period before (our reasoning), other diameters to follow the shape of ASTM A228 (our "
    "reasoning)"
)
_HISTORICAL: Final[Mapping[WireGrade, tuple[float, float, str]]] = MappingProxyType({
    WireGrade.BEFORE_1855: (
        _IRON_MPA[0],
        _BEST_1867,
        "iron wire (700 to 1200 MPa, from memory) or early steel up to the best of 1867: find out which",
    ),
    WireGrade.FROM_1855: (*_TO_1870, _SHOWN.format(year=1867, load=226, mpa=_BEST_1867)),
    WireGrade.FROM_1871: (*_TO_1885, _SHOWN.format(year=1876, load=265, mpa=_BEST_1876)),
    WireGrade.FROM_1886: (*_TO_1930, _SHOWN.format(year=1893, load=335, mpa=_BEST_1893)),
})  # fmt: skip
"""Strength at 0.79 mm, least and greatest."""

_LAST_YEARS: Final = (
    (1854, WireGrade.BEFORE_1855),
    (1870, WireGrade.FROM_1855),
    (1885, WireGrade.FROM_1871),
    (1930, WireGrade.FROM_1886),
)
"""The periods end where the shown wires change; 1854 and 1930 are our reasoning."""
_FIRST_YEAR: Final = 1700
_LAST_YEAR: Final = 2100


def grade_for_year(year: int | None) -> WireGrade:
    """Return what the original wire of a piano is taken to be; modern music wire (ASTM A228) where no year is known.

    Raises
    ------
    InputError
        If the year is none in which a piano can have been built.

    Examples
    --------
    >>> [str(grade_for_year(year)) for year in (1840, 1905, 1975, None)]
    ['before 1855', '1886 to 1930', 'ASTM A228', 'ASTM A228']
    """
    if year is None:
        return WireGrade.ASTM_A228
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise InputError.of("year", year, f"a year from {_FIRST_YEAR} to {_LAST_YEAR}")
    return next((grade for last, grade in _LAST_YEARS if year <= last), WireGrade.ASTM_A228)


def wire_strength(diameter_mm: float, *, grade: WireGrade) -> WireStrength:
    """Return the ultimate tensile strength of wire of a diameter, interpolated between the rows of its table.

    Parameters
    ----------
    diameter_mm : float
        Diameter of the wire (of the core, for a wound string), within the table: 0.61 to 1.83 mm for ASTM A228 and for
        historical wire, 0.7 to 1.6 mm for SM, 0.8 to 1.2 mm for SH.
    grade : WireGrade
        Table, or period of historical wire.

    Returns
    -------
    WireStrength
        Strength of *sound* wire. Rust and pitting take section away: that is an input of the string, not of the table.

    Raises
    ------
    InputError
        If the diameter lies outside the table: nothing is extrapolated.

    Examples
    --------
    >>> strength = wire_strength(0.925, grade=WireGrade.ASTM_A228)
    >>> round(strength.low_mpa), round(strength.high_mpa), round(strength.stress_mpa.se)
    (2209, 2443, 68)
    """
    diameter = float(above_zero("diameter_mm", diameter_mm))
    table = _MODERN.get(grade, _A228)
    first, last = table.diameter_mm[0], table.diameter_mm[-1]
    if not first <= diameter <= last:
        raise InputError.of(
            "diameter_mm", diameter, f"{first:.2f} to {last:.2f} mm, where the table of {grade} begins and ends"
        )
    low = float(np.interp(diameter, table.diameter_mm, table.low_mpa))
    high = float(np.interp(diameter, table.diameter_mm, table.high_mpa))
    source = table.source
    if grade in _HISTORICAL:
        least, greatest, source = _HISTORICAL[grade]
        shape = (low + high) / float(np.interp(_NUMBER_13_MM, table.diameter_mm, np.add(table.low_mpa, table.high_mpa)))
        low, high = least * shape, greatest * shape
    return WireStrength(within(low, high), low, high, grade, source)
