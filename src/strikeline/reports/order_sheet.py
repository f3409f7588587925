"""An order sheet for strings as plain text and as CSV, one line a note."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Callable, Sequence
from typing import Final

from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.string_fixing import StringEnd
from strikeline.physics.string_order import CuttingAllowance, OrderLine, WireSum
from strikeline.reports.figures import count, number
from strikeline.reports.scale_words import CAUTION, gauge_number_words
from strikeline.workshop.order_sheet import OrderSheet

_WIDTH: Final = 100
_END_WORDS: Final = {
    StringEnd.LOOP: "twisted loop",
    StringEnd.EYE: "eye",
    StringEnd.PLAIN_HITCH: "round the hitch pin",
}
_COLUMNS: Final = (
    "note", "strings", "kind", "wire mm", "core shape", "wire number", "material", "wrap 1 mm", "wrap 1 material",
    "wrap 2 mm", "wrap 2 material", "outside mm", "speaking length mm", "bare top mm", "bare bottom mm",
    "wound length mm", "dead top mm", "dead bottom mm", "end", "cut mm", "check before ordering", "remark",
)  # fmt: skip


Rows = Sequence[tuple[str, ...]]
"""Cells, those of the headings first."""


def order_text(sheet: OrderSheet, *, width: int = _WIDTH, table: Callable[[Rows], list[str]] | None = None) -> str:
    """Return an order sheet as plain text.

    Parameters
    ----------
    sheet : OrderSheet
        The order.
    width : int
        Columns that sentences are broken to.
    table : callable, optional
        Makes lines of rows; left out, every column is kept, however wide.
    """
    order, table = sheet.order, table or _table

    def paragraph(text: str) -> str:
        return textwrap.fill(text, width=width, break_on_hyphens=False)

    def items(found: Sequence[tuple[int, str]]) -> list[str]:
        lines = [f"  {key_name(key)}: {text}" for key, text in found]
        return [textwrap.fill(line, width=width, subsequent_indent="    ", break_on_hyphens=False) for line in lines]

    plain = [line for line in order.lines if not line.is_wound]
    wound = [line for line in order.lines if line.is_wound]
    lines = ["STRINGS TO ORDER", ""]
    if sheet.is_rescaled:
        lines += [paragraph("Some plain strings get another wire than their old one: the proposal's, marked *."), ""]
    if plain:
        lines += [f"Plain wire, numbers in the {sheet.system.value} table", *table([_PLAIN_HEAD, *map(_plain, plain)])]
        lines += ["", "Wire by size, cutting allowance included", *table([_SUM_HEAD, *map(_sum, order.sums)]), ""]
    if wound:
        lines += [f"Wound strings, {count(order.n_wound, 'string')}", *table([_WOUND_HEAD, *map(_wound, wound)]), ""]
    lines += [paragraph(_allowance(order.allowance)), ""]
    checks = [(line.key, "; ".join(line.to_check)) for line in order.lines if line.to_check]
    if checks:
        lines += ["Check before ordering", *items(checks), ""]
    remarks = [(line.key, line.remark) for line in order.lines if line.remark]
    if remarks:
        lines += ["Remarks of who measured", *items(remarks), ""]
    lines += [paragraph(_LAST_WORDS), "", paragraph(CAUTION)]
    return "\n".join(lines) + "\n"


_LAST_WORDS: Final = (
    "Lengths in mm, as measured on the old strings, which are stretched by their tension; send an old string along "
    "where one is left. Check the first new string before the rest is made."
)


_PLAIN_HEAD: Final = ("note", "str.", "number", "wire", "speaking", "dead top", "dead bottom", "end", "cut each")
_WOUND_HEAD: Final = (
    "note", "str.", "core", "winding", "outside", "speaking", "bare top", "bare bottom", "wound", "dead top",
    "dead bottom", "end",
)  # fmt: skip
_SUM_HEAD: Final = ("number", "wire", "strings", "length m", "mass g", "")


def _table(rows: Rows) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        ("  " + "  ".join(cell.ljust(size) for cell, size in zip(row, widths, strict=True))).rstrip() for row in rows
    ]


def _plain(line: OrderLine) -> tuple[str, ...]:
    return (
        key_name(line.key),
        str(line.n_strings),
        ("" if line.size is None else gauge_number_words(line.size.number)) + ("*" if _is_new(line) else ""),
        _mm(line.wire_mm, 3) + _metal(line.material),
        _mm(line.speaking_mm, 1),
        _mm(line.dead_top_mm, 0),
        _mm(line.dead_bottom_mm, 0),
        "?" if line.end is None else _END_WORDS[line.end],
        "?" if line.cut_mm is None else number(line.cut_mm, places=0),
    )


def _is_new(line: OrderLine) -> bool:
    """Whether the wire is a nominal one that was asked for, not the measured one."""
    return line.wire_mm.se == 0.0


def _wound(line: OrderLine) -> tuple[str, ...]:
    top, bottom = (None, None) if line.bare_mm is None else line.bare_mm
    winding = " + ".join(f"{_mm(layer.wire_mm, 2)} {layer.material}" for layer in line.layers)
    return (
        key_name(line.key),
        str(line.n_strings),
        _mm(line.wire_mm, 2) + (" hexagonal" if line.is_hexagonal else "") + _metal(line.material),
        winding,
        _mm(line.outside_mm, 2),
        _mm(line.speaking_mm, 0),
        _mm(top, 0),
        _mm(bottom, 0),
        _mm(line.wound_mm, 0),
        _mm(line.dead_top_mm, 0),
        _mm(line.dead_bottom_mm, 0),
        "?" if line.end is None else _END_WORDS[line.end],
    )


def _metal(material: str) -> str:
    return "" if material == "steel" else f" {material}"


def _mm(one: Measured | None, places: int) -> str:
    return "?" if one is None else number(one.value, places=places)


def _sum(wire: WireSum) -> tuple[str, ...]:
    rest = f"+ {wire.n_unknown} of unknown length" if wire.n_unknown else ""
    return (
        "" if wire.size is None else gauge_number_words(wire.size.number),
        number(wire.wire_mm, places=3) + _metal(wire.material),
        str(wire.n_strings),
        number(wire.length_m, places=1),
        number(wire.mass_g, places=0),
        rest,
    )


def _allowance(one: CuttingAllowance) -> str:
    return (
        f"Cutting allowance for each string: {one.pin_mm:g} mm at the wrest pin, and {one.loop_mm:g} mm for a loop, "
        f"{one.eye_mm:g} mm for an eye, {one.hitch_mm:g} mm round the hitch pin (common practice, no source). Where "
        "one wire makes two strings, cut both together."
    )


def order_csv(sheet: OrderSheet) -> str:
    """Return an order sheet as CSV, one line a note; what was not measured is empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for line in sheet.order.lines:
        layers = [(_plain_mm(layer.wire_mm), layer.material) for layer in line.layers]
        layers += [("", "")] * (2 - len(layers))
        top, bottom = (None, None) if line.bare_mm is None else line.bare_mm
        writer.writerow([
            key_name(line.key), line.n_strings, "wound" if line.is_wound else "plain", _plain_mm(line.wire_mm),
            "" if not line.is_wound else "hexagonal" if line.is_hexagonal else "round",
            "" if line.size is None else f"{line.size.number:g}", line.material, *layers[0], *layers[1],
            _plain_mm(line.outside_mm), _plain_mm(line.speaking_mm), _plain_mm(top), _plain_mm(bottom),
            _plain_mm(line.wound_mm), _plain_mm(line.dead_top_mm), _plain_mm(line.dead_bottom_mm),
            "" if line.end is None else line.end.value, "" if line.cut_mm is None else f"{line.cut_mm:.0f}",
            "; ".join(line.to_check), line.remark,
        ])  # fmt: skip
    return out.getvalue()


def _plain_mm(one: Measured | None) -> str:
    return "" if one is None else f"{one.value:.4g}" if one.value < 10 else f"{one.value:.1f}"
