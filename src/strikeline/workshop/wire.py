"""Look up wire: a number or a diameter in, what it is in both systems, and how strong it is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.wire_gauge import (
    GaugeSystem,
    StockSize,
    gauge_diameter_mm,
    gauge_number,
    nearest_stock,
    stock_sizes,
)
from strikeline.physics.wire_strength import WireGrade, WireStrength, wire_strength
from strikeline.plain_data import plain_data
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.wire/1"
MICROMETER_MM: Final = Measured(0.0, 0.01 / HALF_WIDTHS_PER_SE)
"""What a micrometer on an old wire is good for when no ± is written: 0.01 mm as a 95 % half-width (our reasoning)."""
_LEAST_NUMBER: Final = 6.0
_THINNEST_MM: Final = 0.1
_THICKEST_MM: Final = 8.0
FAR_OFF: Final = 0.05
"""The widest step between sizes sold is 8 % (1.300 to 1.400 mm): what is farther from any lies beyond the table."""
_SLIP: Final = 10.0
_LEAST_SLIP_MM: Final = 0.4
_HAS_UNIT: Final = re.compile(r"[A-Za-zµμ\"″”]")


@dataclass(frozen=True, slots=True, kw_only=True)
class WireRow:
    """One diameter, seen in one system of numbers."""

    system: GaugeSystem
    diameter_mm: Measured
    diameter_in: Measured
    number: float | None
    """Wire number with whatever fraction it has; ``None`` beyond the table."""
    nearest: StockSize | None
    """Nearest size in which wire is sold; ``None`` where the nearest is of quite another wire."""
    tension_change_ratio: float | None
    """Change of tension, and of B, if plain wire of the nearest size took this one's place at the same pitch:
    0.02 for 2 % more."""
    strength: WireStrength | None
    breaking_load_n: Measured | None
    cannot_tell: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WireFound:
    """What a wire number or a diameter is."""

    written: str
    is_number: bool
    """Whether it was read as a wire number; otherwise as a diameter."""
    rows: tuple[WireRow, ...]
    assumptions: tuple[str, ...]
    notices: tuple[str, ...] = ()
    """What to mind: that no wire is sold in this size."""

    def to_json(self) -> dict[str, Any]:
        """Return the whole result as plain data in schema ``strikeline.wire/1``."""
        fields = {name: getattr(self, name) for name in ("written", "is_number", "rows", "assumptions", "notices")}
        return {"schema": SCHEMA, **plain_data(fields)}


def find_wire(text: str, *, grade: WireGrade) -> WireFound:
    """Return what a wire is, from a number such as ``14½`` or a diameter such as ``0.875mm`` or ``0.036 in``.

    Parameters
    ----------
    text : str
        A number without unit from 6 up is a wire number and is looked up in both systems; below 6 it is a diameter in
        millimetres.
    grade : WireGrade
        Whose strength is looked up.

    Returns
    -------
    WireFound
        One row for each system.

    Raises
    ------
    InputError
        If it is neither, or no system has such a number.
    """
    if (number := wire_number(text)) is None:
        diameter, note = read_diameter(text, name="diameter", system=None)
        rows = tuple(_row(system, diameter, grade) for system in GaugeSystem)
        return WireFound(
            written=text,
            is_number=False,
            rows=rows,
            assumptions=(note,) if note else (),
            notices=_notices(diameter.value) if all(row.nearest is None for row in rows) else (),
        )
    found = []
    for system in GaugeSystem:
        try:
            found.append(_row(system, Measured(gauge_diameter_mm(number, system=system), MICROMETER_MM.se), grade))
        except InputError as error:
            refusal = error
    if not found:
        raise refusal
    return WireFound(
        written=text, is_number=True, rows=tuple(found), assumptions=("a new wire is within 0.01 mm of its size",)
    )


def _notices(diameter_mm: float) -> tuple[str, ...]:
    """Return that no wire is sold in a size, and the one that a slip of the decimal point may have been meant for."""
    sold = [size.diameter_mm for system in GaugeSystem for size in stock_sizes(system=system)]
    words = f"no music wire of {diameter_mm:g} mm is sold; sizes go from {min(sold):.3f} to {max(sold):.3f} mm"
    slip = diameter_mm / _SLIP
    return (f"{words}. Did you mean {slip:g} mm?" if _LEAST_SLIP_MM <= slip <= max(sold) else words,)


def wire_number(text: str) -> float | None:
    """Return a wire number, or ``None`` where the text has a unit or is too small to be one."""
    if _HAS_UNIT.search(text):
        return None
    number = read_quantity(text.lstrip("#№ "), name="wire", unit="mm").value
    return number if number >= _LEAST_NUMBER else None


def read_diameter(
    text: str,
    *,
    name: str,
    system: GaugeSystem | None,
    limits_mm: tuple[float, float] = (_THINNEST_MM, _THICKEST_MM),
) -> tuple[Measured, str | None]:
    """Return the diameter of a wire from a diameter or a wire number.

    Parameters
    ----------
    text : str
        As for `find_wire`.
    name : str
        What it is, for the message.
    system : GaugeSystem or None
        The system of wire numbers; without it a number is refused, with what it would be in each.
    limits_mm : tuple of float
        The thinnest and the thickest that can be meant.

    Returns
    -------
    tuple
        Millimetres, and a sentence on the error taken for it where none was written.

    Raises
    ------
    InputError
        If it is no diameter that wire has, or a number without its system.
    """
    if (number := wire_number(text)) is not None:
        if system is None:
            known = [f"{gauge_diameter_mm(number, system=one):.3f} mm ({one})" for one in GaugeSystem]
            raise InputError.of(
                name, text, f"a diameter, or a wire number with --gauge: {' or '.join(known)}", advice="measure it"
            )
        diameter_mm = gauge_diameter_mm(number, system=system)
        return Measured(
            diameter_mm, MICROMETER_MM.se
        ), f"{name} {text}: No. {number:g} of the {system} table, ± 0.01 mm"
    read = read_quantity(
        text, name=name, unit="mm", low=limits_mm[0], high=limits_mm[1], what="the diameter of a string's wire"
    )
    if read.se > 0:
        return read, None
    return (
        Measured(read.value, MICROMETER_MM.se),
        f"{name} {text}: no ± written, so ± 0.01 mm as a careful micrometer on old wire (our reasoning)",
    )


def _row(system: GaugeSystem, diameter: Measured, grade: WireGrade) -> WireRow:
    nearest: StockSize | None = nearest_stock(diameter.value, system=system)
    if nearest is not None and abs(nearest.diameter_mm / diameter.value - 1.0) > FAR_OFF:
        nearest = None
    untold = []
    number, strength = None, None
    try:
        number = gauge_number(diameter.value, system=system)
    except InputError as error:
        untold.append(str(error))
    try:
        strength = wire_strength(diameter.value, grade=grade)
    except InputError as error:
        untold.append(str(error))
    breaks = None
    if strength is not None:
        breaks = carry(lambda d, stress: math.pi * d**2 / 4.0 * stress, d=diameter, stress=strength.stress_mpa)
    return WireRow(
        system=system,
        diameter_mm=diameter,
        diameter_in=Measured(diameter.value / 25.4, diameter.se / 25.4),
        number=number,
        nearest=nearest,
        tension_change_ratio=None if nearest is None else (nearest.diameter_mm / diameter.value) ** 2 - 1.0,
        strength=strength,
        breaking_load_n=breaks,
        cannot_tell=tuple(untold),
    )
