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
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.ranges import above_zero
from strikeline.physics.wire import within
from strikeline.units import UNITS

_MM_PER_IN: Final = UNITS["in"].factor / UNITS["mm"].factor
_MPA_PER_KSI: Final = UNITS["ksi"].factor / UNITS["MPa"].factor
_MPA_PER_TON_PER_IN2: Final = 2.24 * _MPA_PER_KSI
"""The British ton has 2240 lb."""

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
    PIANO_WIRE = "piano wire as tested"
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


@dataclass(frozen=True, slots=True)
class _Period:
    """Wire known from tests: strength by wire number, least and greatest."""

    rows: tuple[tuple[float, float, float], ...]
    source: str


def _broke_mpa(number: float, load_lbf: float) -> float:
    """Return the stress at which wire of an old number broke, the number taken as 2N + 5 thousandths of an inch."""
    diameter_mm = (2.0 * number + 5.0) * 1e-3 * _MM_PER_IN
    return float(load_lbf * UNITS["lbf"].factor / (np.pi * diameter_mm**2 / 4.0))


_BROKE_LBF: Final[Mapping[int, Mapping[float, float]]] = MappingProxyType({
    1867: {13.0: 226.0, 17.0: 312.0, 18.0: 348.0},
    1876: {13.0: 265.0, 14.0: 287.0, 15.0: 320.0, 16.0: 331.0, 17.0: 342.0, 18.0: 386.0},
    1893: {13.0: 335.0, 17.0: 415.0},
})  # fmt: skip
"""The strongest wire of three exhibitions by number; A. Dolge, "Pianos and their makers" (1911), as read in a
technicians' mailing-list archive, 1997-04 and 2006-08, and for 1876 on a web page that reprints the test."""
_WEAKEST_1876_MPA: Final = _broke_mpa(14.0, 198.0)
"""The weakest wire in the test of 1876, in any size."""
_POLE_MPA: Final = tuple(tons * _MPA_PER_TON_PER_IN2 for tons in (100.0, 120.0))
"""Tension that piano wire stood in 1862: W. Pole, Minutes of Proceedings Inst. C. E. 21, 242, as read on that page."""
_IRON_MPA: Final = 700.0
"""Weak drawn iron wire (from memory)."""


def _middle_1876_mpa(number: float) -> float:
    """Return the middle of the range of 1876 at a wire number."""
    broke = _BROKE_LBF[1876]
    return (_WEAKEST_1876_MPA + _broke_mpa(number, broke[number])) / 2.0


_TESTED_LBF: Final[Mapping[float, float]] = MappingProxyType({
    13.0: 290.0, 13.5: 303.0, 14.0: 355.0, 16.0: 398.0, 18.0: 487.0,
})  # fmt: skip
"""Modern piano wire by number, as technicians broke it (technicians' mailing-list archive, 1997-04)."""
_TESTED_MPA: Final = tuple(_broke_mpa(number, load) for number, load in _TESTED_LBF.items())

_BY_NUMBER: Final[Mapping[WireGrade, _Period]] = MappingProxyType({
    WireGrade.PIANO_WIRE: _Period(
        tuple((number, min(_TESTED_MPA), max(_TESTED_MPA)) for number in (min(_TESTED_LBF), max(_TESTED_LBF))),
        "from the weakest to the strongest of five sizes of modern piano wire broken by technicians (mailing-list "
        "archive, 1997-04); stronger than ASTM A228 asks, and nothing that a maker warrants",
    ),
    WireGrade.BEFORE_1855: _Period(
        ((13.0, _IRON_MPA, _POLE_MPA[1]),),
        "iron wire from 700 MPa (from memory) or early steel up to what stood in 1862 (Pole, as read in a reprint): "
        "find out which it is",
    ),
    WireGrade.FROM_1855: _Period(
        tuple((number, _POLE_MPA[0], _broke_mpa(number, load)) for number, load in _BROKE_LBF[1867].items()),
        "from the least that stood in 1862 (Pole, as read in a reprint) to the strongest of 1867 (after Dolge, as read "
        "in a technicians' mailing-list archive, 1997-04 and 2006-08)",
    ),
    WireGrade.FROM_1871: _Period(
        tuple((number, _WEAKEST_1876_MPA, _broke_mpa(number, load)) for number, load in _BROKE_LBF[1876].items()),
        "from the weakest to the strongest wire in the test of 1876 (after Dolge, as read in a reprint)",
    ),
    WireGrade.FROM_1886: _Period(
        tuple((number, _middle_1876_mpa(number), _broke_mpa(number, one)) for number, one in _BROKE_LBF[1893].items()),
        "from the middle of the test of 1876 (our reasoning) to the strongest of 1893 (after Dolge, as read in a "
        "technicians' mailing-list archive, 1997-04 and 2006-08)",
    ),
})  # fmt: skip
_GAUGE_DOUBT: Final = (
    "; wire numbers are taken as 2N + 5 thousandths of an inch, sizes between and beyond run as in ASTM A228"
)

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
        wire known from tests, 0.7 to 1.6 mm for SM, 0.8 to 1.2 mm for SH.
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
        limits = f"{first:.2f} to {last:.2f} mm, where the table of {grade} begins and ends"
        raise InputError(
            f"no strength is known of wire of {diameter:g} mm, only from {limits}",
            name="diameter_mm",
            value=diameter,
            expected=limits,
        )
    low = float(np.interp(diameter, table.diameter_mm, table.low_mpa))
    high = float(np.interp(diameter, table.diameter_mm, table.high_mpa))
    source = table.source
    if grade in _BY_NUMBER:
        period = _BY_NUMBER[grade]
        low, high = _period_mpa(period, diameter)
        source = period.source + _GAUGE_DOUBT
    return WireStrength(within(low, high), low, high, grade, source)


def _period_mpa(period: _Period, diameter_mm: float) -> tuple[float, float]:
    """Return least and greatest strength of historical wire: its ratio to ASTM A228, interpolated over its rows."""

    def a228(at_mm: float | NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.interp(at_mm, _A228.diameter_mm, np.add(_A228.low_mpa, _A228.high_mpa) / 2.0))

    number, low, high = (np.array(column) for column in zip(*period.rows, strict=True))
    rows_mm = (2.0 * number + 5.0) * 1e-3 * _MM_PER_IN
    here = float(a228(diameter_mm))
    least, greatest = (here * np.interp(diameter_mm, rows_mm, column / a228(rows_mm)) for column in (low, high))
    return float(least), float(greatest)
