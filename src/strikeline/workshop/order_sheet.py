"""An order sheet for strings, from a scale and what is asked for of it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.keyboard import key_from_name, key_name
from strikeline.physics.scale_weak import WeakKind
from strikeline.physics.string_order import CuttingAllowance, OrderLine, StringOrder, order_line, string_order
from strikeline.physics.wire_gauge import GaugeSystem, stock_sizes
from strikeline.plain_data import plain_data
from strikeline.workshop.scale import ScaleReport

SCHEMA: Final = "strikeline.string-order/1"
ALL, WOUND, CHANGED = "all", "wound", "changed"
_RUN: Final = re.compile(r"(?<=\d)\s*[-–]\s*(?=[A-Ga-g])")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSheet:
    """An order with what its wire numbers mean."""

    order: StringOrder
    system: GaugeSystem
    is_rescaled: bool
    """Whether plain strings get the wire of a proposal instead of their own."""

    def to_json(self) -> dict[str, Any]:
        """Return the order as plain data in schema ``strikeline.string-order/1``."""
        return {
            "schema": SCHEMA,
            "gauge_system": self.system.value,
            "is_rescaled": self.is_rescaled,
            "lines": [_line(line) for line in self.order.lines],
            "sums": plain_data(self.order.sums),
            "n_wound": self.order.n_wound,
            "allowance": plain_data(self.order.allowance),
        }


def _line(line: OrderLine) -> dict[str, Any]:
    data: dict[str, Any] = plain_data(line)
    return {"note": key_name(line.key), **data}


def read_order(text: str, report: ScaleReport) -> dict[int, int | None]:
    """Return the notes asked for, each with how many of its strings; ``None`` for all of them.

    Parameters
    ----------
    text : str
        ``all``, ``wound``, ``changed`` (what the proposal changes), or notes and runs with commas, a note followed by
        ``:1`` for one of its strings.
    report : ScaleReport
        The scale.

    Raises
    ------
    InputError
        If a part is no note, a note stands there twice, or nothing is asked for.
    """
    word = text.strip().casefold()
    notes = report.state.notes
    if word == ALL:
        return dict.fromkeys(note.key for note in notes)
    if word == WOUND:
        return _some(dict.fromkeys(note.key for note in notes if note.row.is_wound), "the scale has no wound string")
    if word == CHANGED:
        return _some(dict.fromkeys(one.key for one in report.proposal.changes), "the proposal changes no string")
    asked: dict[int, int | None] = {}
    for part in re.split(r"[,;]", text):
        name, _, count = part.partition(":")
        if name.strip().casefold() in {ALL, WOUND, CHANGED}:
            raise InputError.of("order", text, f"{name.strip()!r} by itself, or notes and runs of notes")
        ends = [key_from_name(end) for end in _RUN.split(name.strip(), maxsplit=1)]
        if count and not count.strip().isdigit():
            raise InputError.of("order", part.strip(), "a note with its number of strings, such as C5:1")
        for key in range(min(ends), max(ends) + 1):
            if key in asked:
                raise InputError(f"order = {text!r} has {key_name(key)} twice; write each note once", name="order")
            asked[key] = int(count) if count else None
    return asked


def _some(asked: dict[int, int | None], why_not: str) -> dict[int, int | None]:
    if not asked:
        raise InputError(f"nothing to order: {why_not}", name="order")
    return asked


def make_order_sheet(
    report: ScaleReport, asked: Mapping[int, int | None], *, is_rescaled: bool, allowance: CuttingAllowance
) -> OrderSheet:
    """Return an order sheet for notes of a scale.

    Parameters
    ----------
    report : ScaleReport
        The scale, with the dead lengths of its table.
    asked : mapping of int to int or None
        Keys, each with how many of its strings; ``None`` for all.
    is_rescaled : bool
        Whether notes that the proposal changes get its wire.
    allowance : CuttingAllowance
        What is added for cutting.

    Raises
    ------
    InputError
        If a note is not in the scale, or has fewer strings than asked for.
    """
    notes = report.state.by_key()
    missing = [key_name(key) for key in asked if key not in notes]
    if missing:
        raise InputError(
            f"no string is known for {', '.join(missing)}; measure it and add it to the table", name="order"
        )
    for key, n_strings in asked.items():
        has = notes[key].row.n_strings
        if n_strings is not None and not 1 <= n_strings <= has:
            raise InputError(
                f"{key_name(key)} has {has} strings, not {n_strings}; order 1 to {has} of them", name="order"
            )
    new = {change.key: change.to for change in report.proposal.changes} if is_rescaled else {}
    sizes = stock_sizes(system=report.choices.system)
    odd = _odd(report, rewired=frozenset(new))
    lines = [
        order_line(
            notes[key],
            report.table.fixings.get(key),
            n_strings=n_strings,
            sizes=sizes,
            new_size=new.get(key),
            allowance=allowance,
        )
        for key, n_strings in asked.items()
    ]
    lines = [replace(line, to_check=(*odd.get(line.key, ()), *line.to_check)) for line in lines]
    return OrderSheet(
        order=string_order(lines, allowance=allowance), system=report.choices.system, is_rescaled=bool(new)
    )


def _odd(report: ScaleReport, *, rewired: Collection[int]) -> dict[int, tuple[str, ...]]:
    """Return what does not fit the neighbours of a note or cannot be, so that nobody orders a slip of the pen again."""
    found: dict[int, tuple[str, ...]] = {}
    for point in report.weak:
        if point.kind is WeakKind.ODD_WIRE and point.key not in rewired:
            words = (
                f"its wire does not fit its neighbours, which have {point.beside:.3f} mm: was it replaced, or misread?"
            )
        elif point.kind is WeakKind.ODD_LENGTH:
            words = f"its length does not fit its neighbours, which lead to {point.beside:.1f} mm: measure it again"
        elif point.kind is WeakKind.NEAR_BREAKING and point.value.value > 1.0 and point.key not in rewired:
            words = "no wire bears what it would carry: a length, its wire or the note is misread"
        else:
            continue
        found[point.key] = (*found.get(point.key, ()), words)
    return found
