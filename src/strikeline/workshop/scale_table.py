"""A table of a piano's scale, as typed on the bench, read into what each note was measured to have."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.scale_entry import (
    CORE,
    LENGTH,
    MICROMETER_ZERO,
    OUTSIDES,
    TAPE_ZERO,
    WRAPS,
    ReadingErrors,
    ScaleEntry,
    tied,
)
from strikeline.physics.string_dimensions import HEXAGON_CORNERS
from strikeline.physics.string_fixing import StringEnd, StringFixing
from strikeline.physics.winding import Winding, winding_from_outside
from strikeline.physics.wire import MATERIALS, WireMaterial
from strikeline.physics.wire_gauge import GaugeSystem, gauge_diameter_mm
from strikeline.workshop.entry_table import Column, EntryError, Row, in_plain_words, raise_mistakes, read_rows
from strikeline.workshop.note_cells import note_column
from strikeline.written import read_quantity

_HALVES: Final = {"½": ".5", " 1/2": ".5", "¼": ".25", "¾": ".75", ",": "."}
_NUMBER: Final = re.compile(r"(?:no\.?|nr\.?|#|m)?\s*(\d{1,2}(?:\.\d+)?)", re.IGNORECASE)
_LEAST_NUMBER: Final = 6.0
_MOST_STRINGS: Final = 4
_DEFAULT_WRAP: Final = "copper"
_OF_WOUND: Final = ("core", "wrap", "second wrap", "outside", "core shape", "bare top", "bare bottom")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleTable:
    """What a table says of a scale."""

    entries: tuple[ScaleEntry, ...]
    """Ascending by key."""
    fixings: Mapping[int, StringFixing]
    """By key, for the notes entered."""
    gauges: Mapping[int, float]
    """Wire numbers as written, by key."""
    notices: tuple[str, ...]
    """What was taken otherwise than written, in sentences."""


def read_gauge_number(text: str) -> float:
    """Return a wire number as people write it.

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> [read_gauge_number(one) for one in ("14½", "No. 15", "16 1/2", "13,5")]
    [14.5, 15.0, 16.5, 13.5]
    """
    plain = text.strip()
    for one, other in _HALVES.items():
        plain = plain.replace(one, other)
    match = _NUMBER.fullmatch(plain)
    if match is None or float(match[1]) < _LEAST_NUMBER:
        advice = "a diameter goes into the column diameter, with or without its unit"
        raise InputError.of("gauge", text, "a wire number such as 14½", advice=advice)
    return float(match[1])


def _diameter(name: str, low: float, high: float, what: str, advice: str) -> Callable[[str], Measured]:
    """Return a reader of diameters that tells a wire number from a slip of the decimal point."""

    def read(text: str) -> Measured:
        try:
            return read_quantity(text, name=name, unit="mm", low=low, high=high, what=what)
        except InputError:
            number = _number_or_none(text)
            if number is None:
                raise
            known = " or ".join(f"{gauge_diameter_mm(number, system=one):.3f} mm ({one})" for one in GaugeSystem)
            words = f"{text!r} is no diameter in mm, but may be the wire number of {known}; {advice}"
            raise InputError(words, name=name, value=text) from None

    return read


def _number_or_none(text: str) -> float | None:
    """Return the wire number that a text may be, ``None`` where it is in neither table."""
    try:
        number = read_gauge_number(text.removesuffix("mm").strip())
        for system in GaugeSystem:
            gauge_diameter_mm(number, system=system)
    except InputError:
        return None
    return number


def read_scale_table(text: str, *, system: GaugeSystem, errors: ReadingErrors) -> ScaleTable:
    """Return what a table says of a scale.

    Parameters
    ----------
    text : str
        CSV with a line of headings: ``note`` and any of ``section``, ``strings``, ``length``, ``diameter`` or
        ``gauge`` for plain wire, ``core`` with ``wrap`` (and ``second wrap``) or ``outside`` for wound, ``wrap
        material``, ``core material``, ``core shape``, ``bare top``, ``bare bottom``, ``dead top``, ``dead bottom``,
        ``end``, ``remark``. Lengths and diameters are in mm unless they say otherwise; an error may be written with ±.
    system : GaugeSystem
        What wire numbers mean.
    errors : ReadingErrors
        How well tools read where no ± was written.

    Raises
    ------
    EntryError
        If headings or cells cannot be read or contradict each other, with line and column of each.
    """
    mistakes, notices, seen = list[str](), list[str](), dict[int, int]()
    rows = read_rows(text, _COLUMNS, mistakes=mistakes)
    entries, fixings, gauges = dict[int, ScaleEntry](), dict[int, StringFixing](), dict[int, float]()
    for row in rows:
        if "note" not in row.values:
            continue
        key = row.values["note"]
        if key in seen:
            mistakes.append(f"line {row.line}, note: {key_name(key)} stands there twice, first in line {seen[key]}")
            continue
        seen[key] = row.line
        if row.unread:
            continue
        try:
            entries[key] = _Reader(row, system, errors, notices).entry()
        except InputError as error:
            mistakes.append(f"line {row.line}: {in_plain_words(error)}")
        values = row.values
        fixings[key] = StringFixing(
            dead_top_mm=values.get("dead top"),
            dead_bottom_mm=values.get("dead bottom"),
            end=values.get("end"),
            remark=values.get("remark", ""),
        )
        if "gauge" in values:
            gauges[key] = values["gauge"]
    raise_mistakes(mistakes)
    if not entries:
        raise EntryError(["the table has headings but no notes"])
    return ScaleTable(
        entries=tuple(entries[key] for key in sorted(entries)), fixings=fixings, gauges=gauges, notices=tuple(notices)
    )


def _millimetres(name: str, low: float, high: float, what: str) -> Any:
    return partial(read_quantity, name=name, unit="mm", low=low, high=high, what=what)


def _strings(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= _MOST_STRINGS:
        raise InputError.of("strings", text, f"1 to {_MOST_STRINGS} strings to the note")
    return int(text)


def _material(text: str) -> WireMaterial:
    found = MATERIALS.get(text.strip().casefold())
    if found is None:
        raise InputError.of("material", text, f"one of {', '.join(MATERIALS)}")
    return found


def _is_hexagonal(text: str) -> bool:
    word = text.strip().casefold()
    if word not in {"round", "hexagonal", "hex"}:
        raise InputError.of("core shape", text, "round or hexagonal")
    return word != "round"


def _end(text: str) -> StringEnd:
    try:
        return StringEnd(" ".join(text.casefold().split()))
    except ValueError:
        raise InputError.of("end", text, f"one of {', '.join(StringEnd)}") from None


_COLUMNS: Final = (
    note_column(also=("notes",), is_needed=True),
    Column(name="section", read=str, also=("bridge",)),
    Column(name="strings", read=_strings, also=("n strings", "strings per note", "unison")),
    Column(
        name="length",
        read=_millimetres("length", 25.0, 2500.0, "the speaking length of a string"),
        also=("speaking length", "length mm", "speaking length mm"),
    ),
    Column(
        name="diameter",
        read=_diameter("diameter", 0.3, 1.8, "the diameter of plain wire", "wire numbers go under the heading gauge"),
        also=("diameter mm", "wire"),
    ),
    Column(name="gauge", read=read_gauge_number, also=("wire number", "number")),
    Column(
        name="core",
        read=_diameter("core", 0.4, 2.0, "the core of a wound string", "give cores by their diameter"),
        also=("core mm",),
    ),
    Column(name="wrap", read=_millimetres("wrap", 0.05, 4.0, "the wire of a winding"), also=("wrap mm", "first wrap")),
    Column(
        name="second wrap",
        read=_millimetres("second wrap", 0.05, 4.0, "the wire of a winding"),
        also=("wrap 2", "second wrap mm"),
    ),
    Column(
        name="outside",
        read=_millimetres("outside", 0.6, 12.0, "the outside of a wound string"),
        also=("outside mm", "outside diameter", "overall"),
    ),
    Column(name="wrap material", read=_material, also=("wrap metal", "winding")),
    Column(name="core material", read=_material, also=("core metal", "wire material")),
    Column(name="core shape", read=_is_hexagonal),
    Column(name="bare top", read=_millimetres("bare top", 0.0, 300.0, "a bare end"), also=("bare agraffe",)),
    Column(name="bare bottom", read=_millimetres("bare bottom", 0.0, 300.0, "a bare end"), also=("bare bridge",)),
    Column(name="dead top", read=_millimetres("dead top", 0.0, 600.0, "a dead length"), also=("front length",)),
    Column(name="dead bottom", read=_millimetres("dead bottom", 0.0, 600.0, "a dead length"), also=("back length",)),
    Column(name="end", read=_end, also=("hitch",)),
    Column(name="remark", read=str, also=("remarks", "comment")),
)


@dataclass(frozen=True, slots=True)
class _Reader:
    """Makes an entry of one row whose cells were read."""

    row: Row
    system: GaugeSystem
    errors: ReadingErrors
    notices: list[str]

    def entry(self) -> ScaleEntry:
        values, ties = self.row.values, dict[str, Mapping[str, float]]()
        errors = self.errors
        tape_mm = errors.tape_zero_mm + errors.tape_ratio * (values["length"].value if "length" in values else 0.0)
        length = self._read("length", errors.length_mm, tape_mm, TAPE_ZERO, LENGTH, ties)
        core, windings = self._wire(ties)
        return ScaleEntry(
            key=values["note"],
            section=values.get("section"),
            n_strings=values.get("strings"),
            length_mm=length,
            core_diameter_mm=core,
            core=values.get("core material", MATERIALS["steel"]),
            windings=windings,
            bare_mm=self._bare(windings),
            is_hexagonal=values.get("core shape", False),
            ties=ties,
        )

    def _read(
        self, cell: str, own_mm: float, zero_mm: float, source: str, name: str, ties: dict[str, Mapping[str, float]]
    ) -> Measured | None:
        """Return a cell with the error of the tool, or with the ± that was written instead of one reading's."""
        written: Measured | None = self.row.values.get(cell)
        if written is None:
            return None
        half = written.se * HALF_WIDTHS_PER_SE if written.se > 0 else own_mm
        se, ties[name] = tied(half, zero_mm, source=source)
        return Measured(written.value, se)

    def _micrometer(self, cell: str, name: str, ties: dict[str, Mapping[str, float]]) -> Measured | None:
        errors = self.errors
        return self._read(cell, errors.diameter_mm, errors.micrometer_zero_mm, MICROMETER_ZERO, name, ties)

    def _wire(self, ties: dict[str, Mapping[str, float]]) -> tuple[Measured | None, tuple[Winding, ...] | None]:
        """Return the wire or core, and the windings, as far as the row tells them."""
        values = self.row.values
        is_plain = "diameter" in values or "gauge" in values
        wound = [name for name in _OF_WOUND if name in values]
        if is_plain and wound:
            raise InputError(f"diameter or gauge is of a plain string, {wound[0]} of a wound one; fill one of them")
        if is_plain:
            return self._plain(ties), ()
        core = self._micrometer("core", CORE, ties)
        windings = self._windings(core, ties)
        if windings is None and core is not None:
            raise InputError("core without wrap or outside; a plain string has its wire under diameter or gauge")
        return core, windings

    def _plain(self, ties: dict[str, Mapping[str, float]]) -> Measured:
        values = self.row.values
        read = self._micrometer("diameter", CORE, ties)
        if "gauge" not in values:
            if read is None:
                raise InputError("no diameter")
            return read
        nominal = gauge_diameter_mm(values["gauge"], system=self.system)
        if read is None:
            se = self.errors.gauge_mm / HALF_WIDTHS_PER_SE
            ties[CORE] = {f"wire of number {values['gauge']:g}": se}  # of one coil, as far as is known
            return Measured(nominal, se)
        if abs(read.value - nominal) > self.errors.gauge_mm + read.half_width:
            self.notices.append(
                f"{key_name(values['note'], typographic=True)}: number {values['gauge']:g} would be {nominal:.3f} mm "
                f"({self.system}), measured were {read.value:g} mm; the measured diameter is used"
            )
        return read

    def _windings(self, core: Measured | None, ties: dict[str, Mapping[str, float]]) -> tuple[Winding, ...] | None:
        """Return the layers from inside to outside; the outermost by the outside where its wire was not measured."""
        values = self.row.values
        metal = values.get("wrap material", MATERIALS[_DEFAULT_WRAP])
        wraps = [self._micrometer(cell, name, ties) for cell, name in zip(("wrap", "second wrap"), WRAPS, strict=True)]
        if wraps[0] is None and wraps[1] is not None:
            raise InputError("second wrap without wrap; give the wire of the first layer, too")
        layers = [Winding(wrap, metal) for wrap in wraps if wrap is not None]
        if "outside" not in values or len(layers) > 1:
            return tuple(layers) or None
        name = OUTSIDES[len(layers)]
        outside = self._micrometer("outside", name, ties)
        if core is None or outside is None:
            raise InputError("outside without core; the winding cannot be told from it alone")
        inner = _times(core, HEXAGON_CORNERS if values.get("core shape") else 1.0)
        for layer in layers:
            twice = _times(layer.wrap_diameter_mm, 2.0)
            inner = Measured(inner.value + twice.value, math.hypot(inner.se, twice.se))
        ring = outside.value - inner.value
        if layers and abs(ring) <= HALF_WIDTHS_PER_SE * math.hypot(outside.se, inner.se) + _PRESSED_MM:
            del ties[name]  # the outside of the one layer whose wire was measured
            return tuple(layers)
        return (*layers, winding_from_outside(outside, inner_mm=inner, material=metal))

    def _bare(self, windings: Sequence[Winding] | None) -> tuple[Measured, Measured] | None:
        ends = [self.row.values.get(name) for name in ("bare top", "bare bottom")]
        if not windings or ends == [None, None]:
            return None
        if None in ends:
            raise InputError("one bare end of two; measure both, or leave both cells empty")
        se = self.errors.bare_mm / HALF_WIDTHS_PER_SE
        top, bottom = (Measured(end.value, end.se or se) for end in ends if end is not None)
        return top, bottom


def _times(one: Measured, factor: float) -> Measured:
    return Measured(one.value * factor, one.se * factor)


_PRESSED_MM: Final = 0.06
"""By how much a winding may lie closer than its wire is thick: it beds into itself (our choice)."""
