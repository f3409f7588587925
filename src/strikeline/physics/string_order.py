"""What to order for strings that are to be replaced: each string from the measurements of the old, and sums by wire.

Nothing is added to a measurement in silence: the cutting allowance and the wire for a loop or eye are arguments with a
stated default, and what was not measured is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.scale import ScaleNote
from strikeline.physics.string_dimensions import HEXAGON_CORNERS, StringDimensions
from strikeline.physics.string_fixing import StringEnd, StringFixing
from strikeline.physics.wire import MATERIALS
from strikeline.physics.wire_gauge import StockSize

_MM_PER_M: Final = 1000.0
_M_PER_MM: Final = 1e-3
_SAME_MM: Final = 0.0127
"""Half a step of half a number: farther than this from every stock size, wire is of none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingAllowance:
    """Wire beyond what is measured; common practice, no source: ask your stringer for theirs."""

    pin_mm: float = 100.0
    """For the coils on the wrest pin and the becket, and to cut to length: 3½ coils on a pin of 7 mm take 77 mm."""
    loop_mm: float = 60.0
    """For a twisted loop."""
    eye_mm: float = 80.0
    """For an eye bent and coiled on the wire."""
    hitch_mm: float = 10.0
    """Round the hitch pin, for each of the two strings that a wire without end makes."""

    def __post_init__(self) -> None:
        for name in ("pin_mm", "loop_mm", "eye_mm", "hitch_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise InputError.of(name, value, "0 mm or more")

    def end_mm(self, end: StringEnd | None) -> float:
        """Return the wire that an end takes; where it is not known, that of a loop."""
        by_end = {StringEnd.EYE: self.eye_mm, StringEnd.PLAIN_HITCH: self.hitch_mm}
        return self.loop_mm if end is None else by_end.get(end, self.loop_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedLayer:
    """One layer of a winding."""

    material: str
    wire_mm: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """The strings of one note, all alike."""

    key: int
    n_strings: int
    wire_mm: Measured
    """Wire of a plain string, core of a wound one: as measured, or the stock size asked for."""
    is_hexagonal: bool
    """Whether that is across the flats of a hexagonal core."""
    size: StockSize | None
    """Stock size of the wire; ``None`` where it is of none."""
    material: str
    layers: tuple[OrderedLayer, ...]
    """From inside out; none for plain wire."""
    outside_mm: Measured | None
    """Core and layers together; ``None`` for plain wire."""
    speaking_mm: Measured
    bare_mm: tuple[Measured, Measured] | None
    """Agraffe end, bridge end."""
    wound_mm: Measured | None
    """Length of the winding: speaking length less the bare ends; ``None`` for plain wire or where they are unknown."""
    dead_top_mm: Measured | None
    """Wrest pin to agraffe."""
    dead_bottom_mm: Measured | None
    """Bridge pin to hitch pin."""
    end: StringEnd | None
    cut_mm: float | None
    """Wire to cut for one string, allowance included; ``None`` where a dead length was not measured."""
    remark: str
    to_check: tuple[str, ...]
    """What was not measured on this note: measure before ordering."""

    @property
    def is_wound(self) -> bool:
        """Whether the string is wound, and so made to order."""
        return bool(self.layers)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSum:
    """Plain wire of one size."""

    size: StockSize | None
    wire_mm: float
    material: str
    n_strings: int
    length_m: float
    """Of the strings whose cut length is known."""
    mass_g: float
    n_unknown: int
    """Strings whose cut length is not known: their wire comes on top."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringOrder:
    """An order of strings."""

    lines: tuple[OrderLine, ...]
    """Ascending by key."""
    sums: tuple[WireSum, ...]
    """Plain wire by size, thickest first."""
    n_wound: int
    allowance: CuttingAllowance


def order_line(
    note: ScaleNote,
    fixing: StringFixing | None,
    *,
    n_strings: int | None,
    sizes: Sequence[StockSize],
    new_size: StockSize | None,
    allowance: CuttingAllowance,
) -> OrderLine:
    """Return what to order for one note, from the measurements of its old strings.

    Parameters
    ----------
    note : ScaleNote
        The note, measured or filled.
    fixing : StringFixing or None
        Dead lengths and end, where they were measured.
    n_strings : int or None
        How many of its strings; all when ``None``.
    sizes : sequence of StockSize
        What plain wire and cores can be bought in.
    new_size : StockSize or None
        Another wire than the old, as a proposal has it; only for plain strings.
    allowance : CuttingAllowance
        What is added for cutting.

    Raises
    ------
    InputError
        If more strings are asked for than the note has, or another core for a wound string.
    """
    row, dimensions = note.row, note.row.dimensions
    count = row.n_strings if n_strings is None else n_strings
    if not 1 <= count <= row.n_strings:
        raise InputError.of("n_strings", count, f"1 to {row.n_strings}, as many as the note has")
    if new_size is not None and row.is_wound:
        raise InputError("another wire was asked for a wound string; its core belongs to its winding", name="new_size")
    fixing = fixing or StringFixing()
    wire = dimensions.core_diameter_mm if new_size is None else Measured(new_size.diameter_mm, 0.0)
    nearest = min(sizes, key=lambda size: abs(size.diameter_mm - wire.value))
    ends = (fixing.dead_top_mm, fixing.dead_bottom_mm)
    dead = None if None in ends else sum(end.value for end in ends if end is not None)
    layers = tuple(
        OrderedLayer(material=one.material.name, wire_mm=one.wrap_diameter_mm) for one in dimensions.windings
    )
    filled = [] if new_size is None else ["diameter"]
    to_check = [f"{what} not measured but filled" for what in row.filled if what not in filled]
    to_check += [] if dead is not None else ["dead lengths were not measured"]
    to_check += ["the end at the hitch pin was not told"] if fixing.end is None else []
    to_check += ["bare ends were not measured"] if layers and dimensions.bare_mm is None else []
    return OrderLine(
        key=row.key,
        n_strings=count,
        wire_mm=wire,
        is_hexagonal=dimensions.is_hexagonal,
        size=nearest if abs(nearest.diameter_mm - wire.value) <= _SAME_MM else None,
        material=dimensions.core.name,
        layers=layers,
        outside_mm=_outside(dimensions) if layers else None,
        speaking_mm=dimensions.length_mm,
        bare_mm=dimensions.bare_mm,
        wound_mm=None
        if not layers or dimensions.bare_mm is None
        else _between(dimensions.length_mm, dimensions.bare_mm),
        dead_top_mm=fixing.dead_top_mm,
        dead_bottom_mm=fixing.dead_bottom_mm,
        end=fixing.end,
        cut_mm=None
        if dead is None
        else dimensions.length_mm.value + dead + allowance.pin_mm + allowance.end_mm(fixing.end),
        remark=fixing.remark,
        to_check=tuple(to_check),
    )


def _outside(dimensions: StringDimensions) -> Measured:
    """Return the outside of a wound string: as measured, or core and twice each wire of the winding."""
    measured = dimensions.windings[-1].outside_mm
    if measured is not None:
        return measured
    core = dimensions.core_diameter_mm
    corners = HEXAGON_CORNERS if dimensions.is_hexagonal else 1.0
    wires = [layer.wrap_diameter_mm for layer in dimensions.windings]
    return Measured(
        corners * core.value + 2.0 * sum(one.value for one in wires),
        math.hypot(corners * core.se, *(2.0 * one.se for one in wires)),
    )


def _between(length: Measured, bare: tuple[Measured, Measured]) -> Measured:
    return Measured(length.value - bare[0].value - bare[1].value, math.hypot(length.se, *(end.se for end in bare)))


def string_order(lines: Iterable[OrderLine], *, allowance: CuttingAllowance) -> StringOrder:
    """Return an order with its sums of plain wire by size.

    Parameters
    ----------
    lines : iterable of OrderLine
        Each note once.
    allowance : CuttingAllowance
        What the lines were made with.

    Raises
    ------
    InputError
        If nothing is ordered, or a note stands there twice.
    """
    ordered = sorted(lines, key=lambda line: line.key)
    keys = [line.key for line in ordered]
    if not keys:
        raise InputError("no string is ordered", name="lines")
    if len(set(keys)) < len(keys):
        raise InputError.of("lines", keys, "each note once")
    sums: dict[tuple[str, float], list[OrderLine]] = {}
    for line in ordered:
        if not line.is_wound:
            diameter = line.wire_mm.value if line.size is None else line.size.diameter_mm
            sums.setdefault((line.material, round(diameter, 4)), []).append(line)
    return StringOrder(
        lines=tuple(ordered),
        sums=tuple(_sum(*wire, sums[wire]) for wire in sorted(sums, key=lambda wire: -wire[1])),
        n_wound=sum(line.n_strings for line in ordered if line.is_wound),
        allowance=allowance,
    )


def _sum(material: str, wire_mm: float, lines: Sequence[OrderLine]) -> WireSum:
    length_m = sum(line.n_strings * line.cut_mm for line in lines if line.cut_mm is not None) / _MM_PER_M
    section_m2 = math.pi * (wire_mm * _M_PER_MM) ** 2 / 4.0
    return WireSum(
        size=lines[0].size,
        wire_mm=wire_mm,
        material=material,
        n_strings=sum(line.n_strings for line in lines),
        length_m=length_m,
        mass_g=1e3 * MATERIALS[material].density_kg_per_m3.value * section_m2 * length_m,
        n_unknown=sum(line.n_strings for line in lines if line.cut_mm is None),
    )
