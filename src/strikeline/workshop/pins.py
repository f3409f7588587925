"""Take in a survey of wrest pins, or two of the same pins; give back how the field stands and what it may need."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.pin_care import (
    LADDER,
    Advice,
    LargerPin,
    PinComparison,
    Remedy,
    advise,
    compare_surveys,
    larger_pins,
    meaning_of_place,
)
from strikeline.physics.pin_pattern import LonelyPin, PinPattern, find_pattern, weaker_than_neighbours
from strikeline.physics.wrest_pins import (
    CLASS_LIMITS,
    IF_IT_STAYS,
    ClassLimit,
    Direction,
    Field,
    GripClass,
    Pin,
    StringSide,
    describe_field,
    grip_class,
    grip_of_both,
    grip_of_flat,
)
from strikeline.plain_data import plain_data
from strikeline.workshop.bench_cells import count_cell, quantity_cell, word_cell
from strikeline.workshop.entry_table import Column, EntryError, Row, raise_mistakes, read_rows
from strikeline.workshop.note_cells import note_column

SCHEMA: Final = "strikeline.pins/1"
TORQUE_ERROR_NM: Final = 0.6
"""Half-width, for 95 cases of 100, of a reading without ±: a wrench read to the nearest 5 in-lb by a hand that must
catch the moment the pin creeps (our reasoning)."""
_HIGHEST_NM: Final = 50.0
_SIDES: Final = {
    "left": StringSide.LEFT, "l": StringSide.LEFT, "1": StringSide.LEFT, "single": StringSide.LEFT,
    "middle": StringSide.MIDDLE, "m": StringSide.MIDDLE, "2": StringSide.MIDDLE, "centre": StringSide.MIDDLE,
    "right": StringSide.RIGHT, "r": StringSide.RIGHT, "3": StringSide.RIGHT,
}  # fmt: skip
_LARGER: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class PinReading:
    """One pin with what its torque is called."""

    pin: Pin
    note: str
    grip: GripClass
    is_on_limit: bool
    """Whether the reading error reaches into the next class."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinsReport:
    """All that a survey says, and what a second one changed."""

    direction: Direction
    pins: tuple[PinReading, ...]
    field: Field
    pattern: PinPattern
    meaning: str | None
    """What weak pins in line may mean by where their row runs; ``None`` where none are in line."""
    weaker_than_neighbours: tuple[LonelyPin, ...]
    advice: Advice
    ladder: tuple[Remedy, ...]
    class_limits: tuple[ClassLimit, ...]
    larger_pins: tuple[LargerPin, ...]
    """Next larger stock pins for the commonest diameter measured; empty where none was."""
    rh_pct: float | None
    comparison: PinComparison | None
    n_empty: int
    """Rows without a torque, which were left out; of both surveys together."""
    other_view: str = IF_IT_STAYS

    def to_json(self) -> dict[str, Any]:
        """Return the report as plain data in schema ``strikeline.pins/1``."""
        limits = [
            {
                "grip": one.grip.value,
                "below_nm": None if one.grip is GripClass.TOO_TIGHT else one.below_nm,
                "source": one.source,
            }
            for one in self.class_limits
        ]
        names = (
            "direction", "pins", "field", "pattern", "meaning", "weaker_than_neighbours", "advice", "ladder",
            "larger_pins", "rh_pct", "comparison", "n_empty", "other_view",
        )  # fmt: skip
        return {
            "schema": SCHEMA,
            **{name: plain_data(getattr(self, name)) for name in names},
            "class_limits": limits,
        }


def read_pins(
    text: str,
    *,
    after_text: str | None = None,
    direction: Direction,
    n_in_piano: int | None = None,
    rh_pct: float | None = None,
    rh_after_pct: float | None = None,
    torque_error_nm: float = TORQUE_ERROR_NM,
) -> PinsReport:
    """Return what a survey of wrest pins says.

    Parameters
    ----------
    text : str
        One pin to a row: ``note``, ``string`` (left, middle, right; left when empty), ``torque`` in N·m or with its
        unit, and where they were noted ``torque flat`` (turned anticlockwise), ``row``, ``place`` (frame or field) and
        ``diameter``.
    after_text : str, optional
        A second survey of the same pins, after treatment.
    direction : Direction
        Which way ``torque`` was read, where ``torque flat`` is not given.
    n_in_piano : int, optional
        Pins the piano has in all.
    rh_pct, rh_after_pct : float, optional
        Relative humidity at each survey.
    torque_error_nm : float
        Half-width, for 95 cases of 100, of a reading without ±.

    Returns
    -------
    PinsReport

    Raises
    ------
    EntryError
        If cells cannot be read, a pin stands there twice, or only some pins were turned both ways.
    InputError
        If there are more pins in the table than in the piano.
    """
    survey = _survey(text, direction, torque_error_nm)
    pins, way, n_empty = survey.pins, survey.direction, survey.n_empty
    if n_in_piano is not None and n_in_piano < len(pins):
        raise InputError(
            f"--pins {n_in_piano} is fewer than the {len(pins)} that were read; give all pins the piano has",
            name="pins",
        )
    field, pattern = describe_field(pins, n_in_piano=n_in_piano), find_pattern(pins)
    comparison = None
    if after_text is not None:
        second = _survey(after_text, direction, torque_error_nm)
        n_empty += second.n_empty
        if second.direction is not way:
            raise EntryError(
                [f"before was read {way.value} and after {second.direction.value}; the two do not compare"]
            )
        comparison = compare_surveys(survey.as_read, second.as_read, rh_before_pct=rh_pct, rh_after_pct=rh_after_pct)
    in_line = pattern.runs or pattern.weak_row
    at_frame = pattern.runs[0].is_at_frame if pattern.runs else pattern.weak_row_is_at_frame
    sizes = [pin.diameter_mm for pin in pins if pin.diameter_mm is not None]
    return PinsReport(
        direction=way,
        pins=tuple(_reading(pin) for pin in pins),
        field=field,
        pattern=pattern,
        meaning=meaning_of_place(at_frame) if in_line else None,
        weaker_than_neighbours=weaker_than_neighbours(survey.as_read),
        advice=advise(field, pattern),
        ladder=LADDER,
        class_limits=CLASS_LIMITS,
        larger_pins=larger_pins(_commonest(sizes), n=_LARGER) if sizes else (),
        rh_pct=rh_pct,
        comparison=comparison,
        n_empty=n_empty,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Survey:
    """What one table holds."""

    pins: list[Pin]
    """In the order of the keyboard; of those turned flat, the grip with the error of not knowing the string's pull."""
    as_read: list[Pin]
    """The same with the error of reading alone, for pins that are compared with each other."""
    direction: Direction
    n_empty: int


def _survey(text: str, direction: Direction, torque_error_nm: float) -> _Survey:
    """Return the pins of a table."""
    mistakes = list[str]()
    every = read_rows(text, _columns(torque_error_nm), mistakes=mistakes)
    read = [row for row in every if "torque" in row.values and not {"note", "string"} & row.unread]
    places = Counter(map(_place_of, read))
    mistakes += [
        f"{key_name(key)} {side.value} stands there twice ({_lines_of(every, key)})"
        for (key, side), n in places.items()
        if n > 1
    ]
    raise_mistakes(mistakes)
    rows = [row for row in every if "torque" in row.values]
    if not rows:
        what = "no row has a torque" if every else "the table has headings and no rows"
        raise EntryError([f"{what}; read some pins in every part of the compass"])
    both = [row for row in rows if "torque flat" in row.values]
    if both and len(both) < len(rows):
        lines = ", ".join(str(row.line) for row in rows if "torque flat" not in row.values)
        raise EntryError(
            [f"line {lines}: no torque flat, which the other pins have; one direction does not compare with two"]
        )
    way = Direction.BOTH if both else direction
    as_read = sorted(map(_pin, (row.values for row in rows)), key=lambda pin: (pin.key, _ORDER[pin.string]))
    pins = as_read
    if way is Direction.FLAT:
        pins = [replace(pin, torque_nm=grip_of_flat(pin.torque_nm)) for pin in as_read]
        as_read = [
            replace(pin, torque_nm=replace(pin.torque_nm, se=one.torque_nm.se))
            for pin, one in zip(pins, as_read, strict=True)
        ]
    return _Survey(pins=pins, as_read=as_read, direction=way, n_empty=len(every) - len(rows))


_ORDER: Final = {side: place for place, side in enumerate(StringSide)}


def _place_of(row: Row) -> tuple[int, StringSide]:
    return row.values["note"], row.values.get("string", StringSide.LEFT)


def _lines_of(rows: list[Row], key: int) -> str:
    return "lines " + ", ".join(str(row.line) for row in rows if row.values.get("note") == key)


def _columns(torque_error_nm: float) -> list[Column]:
    se = torque_error_nm / HALF_WIDTHS_PER_SE
    what = "the torque of a wrest pin"
    torque = quantity_cell("torque", unit="N·m", low=0.0, high=_HIGHEST_NM, what=what, se=se)
    pin = quantity_cell("diameter", unit="mm", low=5.0, high=9.0, what="the diameter of a wrest pin", se=0.01)
    return [
        note_column(is_needed=True),
        Column(name="string", read=word_cell("string", _SIDES)),
        Column(name="torque", read=torque, also=("torque sharp",), is_needed=True, may_be_empty=True),
        Column(name="torque flat", read=torque),
        Column(name="row", read=count_cell("row", low=1, high=12)),
        Column(
            name="place",
            read=word_cell("place", {"frame": _Place.FRAME, "flange": _Place.FRAME, "field": _Place.FIELD}),
        ),
        Column(name="diameter", read=pin),
        Column(name="remark", read=str, also=("remarks",)),
    ]


class _Place(StrEnum):
    FRAME = "frame"
    FIELD = "field"


def _pin(cells: Mapping[str, Any]) -> Pin:
    torque, flat, place = cells["torque"], cells.get("torque flat"), cells.get("place")
    return Pin(
        key=cells["note"],
        string=cells.get("string", StringSide.LEFT),
        torque_nm=torque if flat is None else grip_of_both(torque, flat),
        row=cells.get("row"),
        is_at_frame=None if place is None else place is _Place.FRAME,
        diameter_mm=cells.get("diameter"),
    )


def _reading(pin: Pin) -> PinReading:
    torque = pin.torque_nm
    half = torque.half_width
    grip = grip_class(torque.value)
    is_on_limit = grip_class(max(torque.value - half, 0.0)) is not grip or grip_class(torque.value + half) is not grip
    return PinReading(pin=pin, note=key_name(pin.key), grip=grip, is_on_limit=is_on_limit)


def _commonest(sizes: list[Measured]) -> Measured:
    """Return the middle one of the diameters measured."""
    return sorted(sizes, key=lambda size: size.value)[len(sizes) // 2]
