"""Take in a table of bearing and one of crown, as measured on the bench; give back bends, forces and loads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carried, carry, measured_from
from strikeline.physics.bearing import (
    SET_BY_REBUILDERS_DEG,
    TONE_FIRST,
    BridgeLoad,
    StringBearing,
    bridge_load,
    slope_deg,
    string_bearing,
)
from strikeline.physics.between_notes import FEWEST_NOTES, between_notes
from strikeline.physics.crown import RibCrown, rib_crown
from strikeline.plain_data import plain_data
from strikeline.workshop.bench_cells import count_cell, quantity_cell
from strikeline.workshop.entry_table import Column, EntryError, Row, in_plain_words, raise_mistakes, read_rows
from strikeline.workshop.note_cells import note_column
from strikeline.workshop.read_again import ReadAgain, read_again

SCHEMA: Final = "strikeline.bearing/1"
ONE_BRIDGE: Final = "bridge"
"""Name of the bridge where the table names none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingErrors:
    """Errors of readings that were written without ±, as half-widths for 95 cases of 100.

    Our reasoning: a rule and a feeler on a string do no better than this; write ± behind a reading to say otherwise.
    """

    height_mm: float = 0.2
    """Of heights, gaps and steps."""
    length_mm: float = 2.0
    angle_deg: float = 0.1
    tension_ratio: float = 0.1
    """Of tensions, as a share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteBearing:
    """What was found on one note."""

    key: int
    note: str
    bridge: str
    n_strings: int | None
    bearing: StringBearing


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteBend:
    """The whole bend of one note, measured or told from its neighbours."""

    key: int
    note: str
    bend_deg: Measured
    is_measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeBearing:
    """One bridge: its load, and the bend from its lowest to its highest measured note."""

    name: str
    load: BridgeLoad
    bends: tuple[NoteBend, ...]
    """Empty where too few notes were measured to tell those between."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RibReading:
    """Crown along one rib, by the name the table gave it."""

    rib: str
    crown: RibCrown


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingReport:
    """All that the tables say."""

    notes: tuple[NoteBearing, ...]
    bridges: tuple[BridgeBearing, ...]
    ribs: tuple[RibReading, ...]
    tension_n: Measured | None
    """One figure for all strings, where that was given."""
    errors: BearingErrors
    left_out: tuple[str, ...]
    """Rows of either table that lack what their measure needs, each with its line and why."""
    read_again: tuple[ReadAgain, ...]
    """Readings far from those of their neighbours on the same bridge."""
    tone_first: str = TONE_FIRST
    set_by_rebuilders_deg: tuple[float, float] = SET_BY_REBUILDERS_DEG

    def to_json(self) -> dict[str, Any]:
        """Return the report as plain data in schema ``strikeline.bearing/1``."""
        fields = (
            "notes", "bridges", "ribs", "tension_n", "errors", "left_out", "read_again", "tone_first",
            "set_by_rebuilders_deg",
        )  # fmt: skip
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in fields}}


def read_bearing(
    text: str,
    *,
    crown_text: str | None = None,
    tension_n: Measured | None = None,
    gauge_span_mm: Measured | None = None,
    errors: BearingErrors,
) -> BearingReport:
    """Return what a table of bearing says, and one of crown.

    Parameters
    ----------
    text : str
        One note to a row. Each row has one of: angles (``front angle`` and ``back angle``, or ``angle`` alone); steps
        (``front drop`` and ``back drop``: how much lower the string is at agraffe and back rest than at the bridge) or
        heights (``front height``, ``bridge height``, ``back height`` over one level) with ``speaking length`` and
        ``back length``; or the ``gap`` of a rocking gauge. Also ``bridge``, ``strings``, ``tension``, ``stagger`` and
        ``pin spacing``.
    crown_text : str, optional
        One rib to a row: ``rib``, ``span``, ``middle`` and, where the thread runs over blocks, ``ends``.
    tension_n : Measured, optional
        Tension of one string, the same for all; a column ``tension`` comes first.
    gauge_span_mm : Measured, optional
        From the foot of the rocking gauge on the bridge to where its gap is read.
    errors : BearingErrors
        Errors of readings without ±.

    Returns
    -------
    BearingReport

    Raises
    ------
    EntryError
        If cells cannot be read, a row does not say how its string is bent, or a note stands there twice.
    """
    mistakes, left_out = list[str](), list[str]()
    every = read_rows(text, _columns(errors), mistakes=mistakes)
    notes, rows = list[NoteBearing](), list[Row]()
    for row in every:
        if row.unread:
            continue
        try:
            notes.append(_note(row, tension_n, gauge_span_mm))
            rows.append(row)
        except _NotMeasuredError as error:
            left_out.append(f"line {row.line}, {key_name(row.values['note'])}: {error}")
        except InputError as error:
            mistakes.append(f"line {row.line}: {in_plain_words(error)}")
    counts = Counter((note.bridge, note.note) for note in notes)
    mistakes += [f"{note} stands there {n} times" for (_, note), n in counts.items() if n > 1]
    raise_mistakes(mistakes)
    if not rows:
        raise EntryError(left_out or ["the table has headings and no rows; measure a few notes on each bridge"])
    tensions = {
        (note.bridge, note.key): row.values["tension"]
        for row, note in zip(rows, notes, strict=True)
        if "tension" in row.values
    }
    ribs, ribs_left_out = ((), ()) if crown_text is None else _ribs(crown_text, errors)
    ordered = sorted(notes, key=lambda note: note.key)
    names = list(dict.fromkeys(note.bridge for note in ordered))
    return BearingReport(
        notes=tuple(ordered),
        bridges=tuple(_bridge(name, ordered, tensions, tension_n) for name in names),
        ribs=ribs,
        tension_n=tension_n,
        errors=errors,
        left_out=(*left_out, *ribs_left_out),
        read_again=_read_again(rows, errors),
    )


class _NotMeasuredError(InputError):
    """A row lacks a reading that its measure needs."""


def _read_again(rows: Sequence[Row], errors: BearingErrors) -> tuple[ReadAgain, ...]:
    """Return the readings that are far from those of the same column on the same bridge."""
    kinds = {"length": ("mm", errors.length_mm), "angle": ("°", errors.angle_deg)}
    found = list[ReadAgain]()
    for bridge in dict.fromkeys(row.values.get("bridge", ONE_BRIDGE) for row in rows):
        own = [row.values for row in rows if row.values.get("bridge", ONE_BRIDGE) == bridge]
        for name in _READ_OVER_THE_COMPASS:
            unit, half_width = kinds.get(name.split()[-1], ("mm", errors.height_mm))
            if name == "tension":
                unit, half_width = "N", 1.0
            pairs = [(cells["note"], cells[name]) for cells in own if name in cells]
            found += read_again(name, pairs, unit=unit, half_width=half_width)
    return tuple(found)


_READ_OVER_THE_COMPASS: Final = (
    "speaking length", "back length", "front drop", "back drop", "gap", "front angle", "back angle", "angle", "tension",
    "stagger", "pin spacing",
)  # fmt: skip


def _columns(errors: BearingErrors) -> list[Column]:
    """Return what a table of bearing may hold; a reading without ± has the error of its kind."""
    half = 1.0 / HALF_WIDTHS_PER_SE
    of = {"height": errors.height_mm * half, "length": errors.length_mm * half, "angle": errors.angle_deg * half}

    def step(name: str) -> Column:
        what = "a step between string heights"
        return Column(name=name, read=quantity_cell(name, unit="mm", low=-50.0, high=50.0, what=what, se=of["height"]))

    def height(name: str, also: str) -> Column:
        read = quantity_cell(name, unit="mm", low=-1e3, high=1e3, what="the height of a string", se=of["height"])
        return Column(name=name, also=(also,), read=read)

    def length(name: str, low: float, high: float, what: str) -> Column:
        return Column(name=name, read=quantity_cell(name, unit="mm", low=low, high=high, what=what, se=of["length"]))

    def angle(name: str) -> Column:
        what = "the bend of a string"
        return Column(name=name, read=quantity_cell(name, unit="°", low=-10.0, high=10.0, what=what, se=of["angle"]))

    return [
        note_column(is_needed=True),
        Column(name="bridge", read=str),
        Column(name="strings", read=count_cell("strings", low=1, high=4)),
        length("speaking length", 30.0, 2500.0, "a speaking length"),
        length("back length", 5.0, 1000.0, "a length behind the bridge"),
        length("pin spacing", 3.0, 80.0, "the distance of two bridge pins"),
        *(step(name) for name in ("front drop", "back drop", "gap", "stagger")),
        height("front height", "height at agraffe"),
        height("bridge height", "height at bridge"),
        height("back height", "height at hitch"),
        *(angle(name) for name in ("front angle", "back angle", "angle")),
        Column(name="tension", read=tension_cell(errors)),
        Column(name="remark", read=str, also=("remarks",)),
    ]


def tension_cell(errors: BearingErrors) -> Callable[[str], Measured]:
    """Return a reader of the tension of one string."""
    ratio = errors.tension_ratio / HALF_WIDTHS_PER_SE
    what = "the tension of one string"
    return quantity_cell("tension", unit="N", low=50.0, high=3000.0, what=what, se_ratio=ratio)


def _note(row: Row, tension_n: Measured | None, gauge_span_mm: Measured | None) -> NoteBearing:
    """Return what one row says."""
    cells = row.values
    front, back, total = _angles(cells, gauge_span_mm)
    side = None
    if "stagger" in cells or "pin spacing" in cells:
        side = _slope(cells, "stagger", "pin spacing")
    key = cells["note"]
    return NoteBearing(
        key=key,
        note=key_name(key),
        bridge=cells.get("bridge", ONE_BRIDGE),
        n_strings=cells.get("strings"),
        bearing=string_bearing(
            front_deg=front,
            back_deg=back,
            total_deg=total,
            tension_n=cells.get("tension", tension_n),
            side_deg=side,
        ),
    )


def _angles(
    cells: Mapping[str, Any], gauge_span_mm: Measured | None
) -> tuple[Measured | None, Measured | None, Measured | None]:
    """Return front, back and whole bend, as far as a row has them; one way of measuring to a row."""
    ways = [way for way, names in _WAYS.items() if any(name in cells for name in names)]
    if not ways:
        raise _NotMeasuredError("nothing says how the string is bent", name="angle")
    if len(ways) > 1:
        told = " and ".join(ways)
        raise InputError(
            f"{told} says how the string is bent; give one of {', '.join(_WAYS)}", name="angle", value=tuple(ways)
        )
    if ways == ["the angle"]:
        return None, None, cells["angle"]
    if ways == ["the gap of a rocking gauge"]:
        if gauge_span_mm is None:
            raise InputError("a gap needs the span of the rocking gauge; give --gauge-span 25mm", name="gauge_span_mm")
        return None, None, carry(lambda gap, span: slope_deg(gap, length_mm=span), gap=cells["gap"], span=gauge_span_mm)
    if ways == ["front and back angle"]:
        return _cell(cells, "front angle"), _cell(cells, "back angle"), None
    if ways == ["front and back drop"]:
        return _slope(cells, "front drop", "speaking length"), _slope(cells, "back drop", "back length"), None
    return _falls(cells)


_WAYS: Final = {
    "the angle": ("angle",),
    "front and back angle": ("front angle", "back angle"),
    "front and back drop": ("front drop", "back drop"),
    "three heights": ("front height", "bridge height", "back height"),
    "the gap of a rocking gauge": ("gap",),
}


def _falls(cells: Mapping[str, Any]) -> tuple[Measured, Measured, Measured]:
    """Return front, back and whole bend from three heights; the height at the bridge is in both sides."""
    inputs = {
        "bridge": _cell(cells, "bridge height"),
        "front": _cell(cells, "front height"),
        "back": _cell(cells, "back height"),
        "speaking": _cell(cells, "speaking length"),
        "behind": _cell(cells, "back length"),
    }

    def bends(bridge: float, front: float, back: float, speaking: float, behind: float) -> NDArray[np.float64]:
        sides = [slope_deg(bridge - front, length_mm=speaking), slope_deg(bridge - back, length_mm=behind)]
        return np.array([*sides, np.sum(sides)])

    value, shares = carried(bends, inputs)
    front, back, total = (measured_from(value[i], shares[:, i]) for i in range(3))
    return front, back, total


def _cell(cells: Mapping[str, Any], name: str) -> Measured:
    found = cells.get(name)
    if found is None:
        raise _NotMeasuredError(f"the cell {name!r} is empty, which the others in its row need", name=name)
    return found  # type: ignore[no-any-return]  # its column reads a Measured


def _slope(cells: Mapping[str, Any], step: str, length: str) -> Measured:
    return carry(
        lambda height, length: slope_deg(height, length_mm=length),
        height=_cell(cells, step),
        length=_cell(cells, length),
    )


def _bridge(
    name: str, notes: Sequence[NoteBearing], tensions: Mapping[tuple[str, int], Measured], tension_n: Measured | None
) -> BridgeBearing:
    """Return load and bends of one bridge."""
    own = [note for note in notes if note.bridge == name]
    bends = {note.key: note.bearing.total_deg for note in own}
    pulls = {key: tension for (bridge, key), tension in tensions.items() if bridge == name}
    strings = _strings(own)
    if not (pulls or tension_n):
        load = _untold(own, "no tension was given: add a column tension, or --tension for all strings")
    elif strings is None:
        load = _untold(own, "the table does not say how many strings each note has: add a column strings")
    else:
        whole = {**dict.fromkeys(bends, tension_n), **pulls} if tension_n is not None and pulls else pulls
        load = bridge_load(bends, tensions_n=whole or tension_n, strings=strings)  # type: ignore[arg-type]  # one is there
    told = between_notes(bends) if len(bends) >= FEWEST_NOTES else None
    return BridgeBearing(
        name=name,
        load=load,
        bends=()
        if told is None
        else tuple(
            NoteBend(key=key, note=key_name(key), bend_deg=told.at(key), is_measured=key in bends)
            for key in told.keys.tolist()
        ),
    )


def _strings(notes: Sequence[NoteBearing]) -> dict[int, int] | None:
    """Return the strings of each key; a note between two has those of the nearer one, the lower of two as near."""
    counts = {note.key: note.n_strings for note in notes if note.n_strings is not None}
    if len(counts) < len(notes):
        return None
    return {
        key: counts[min(counts, key=lambda other: (abs(other - key), other))]
        for key in range(min(counts), max(counts) + 1)
    }


def _untold(notes: Sequence[NoteBearing], why: str) -> BridgeLoad:
    first, last = notes[0].key, notes[-1].key
    return BridgeLoad(
        first_key=first,
        last_key=last,
        n_measured=len(notes),
        n_between=last - first + 1 - len(notes),
        n_strings=sum(note.n_strings or 0 for note in notes),
        force_n=None,
        cannot_tell=why,
    )


def _rib_columns(errors: BearingErrors) -> list[Column]:
    """Return what a table of crown may hold."""
    height, length = errors.height_mm / HALF_WIDTHS_PER_SE, errors.length_mm / HALF_WIDTHS_PER_SE

    def gap(name: str) -> Callable[[str], Measured]:
        return quantity_cell(name, unit="mm", low=-50.0, high=100.0, what="a gap under a thread", se=height)

    span = quantity_cell("span", unit="mm", low=100.0, high=3000.0, what="a thread under a rib", se=length)
    return [
        Column(name="rib", read=str, is_needed=True),
        Column(name="span", read=span, is_needed=True, may_be_empty=True),
        Column(name="middle", read=gap("middle"), also=("crown",), is_needed=True, may_be_empty=True),
        Column(name="ends", read=gap("ends")),
        Column(name="remark", read=str, also=("remarks",)),
    ]


def _ribs(text: str, errors: BearingErrors) -> tuple[tuple[RibReading, ...], tuple[str, ...]]:
    """Return the crown along each rib of a table, and the rows that lack a reading."""
    found, mistakes, left_out = list[RibReading](), list[str](), list[str]()
    for row in read_rows(text, _rib_columns(errors), mistakes=mistakes):
        cells = row.values
        missing = [name for name in ("span", "middle") if name not in cells]
        if row.unread:
            continue
        if missing:
            left_out.append(f"line {row.line}, rib {cells['rib']}: the cell {missing[0]!r} is empty")
            continue
        try:
            crown = rib_crown(cells["middle"], span_mm=cells["span"], ends_mm=cells.get("ends", 0.0))
            found.append(RibReading(rib=cells["rib"], crown=crown))
        except InputError as error:
            mistakes.append(f"line {row.line}: {in_plain_words(error)}")
    raise_mistakes(mistakes)
    return tuple(found), tuple(left_out)
