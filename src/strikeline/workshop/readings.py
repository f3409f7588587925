"""Readings typed into a table, checked against the catalogue: within tolerance, outside, or cannot tell.

Two forms of table will do. Long: ``note, quantity, value`` and if wanted ``unit, condition, place``, one reading to a
line. Wide: ``note`` and one column for each quantity, headed by any of its names, with a unit in brackets if it is not
the catalogue's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from strikeline.domain.catalogue import Action, Catalogue, Evidence, Nominal, Per, Place, Quantity, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.plain_data import plain_data
from strikeline.workshop.entry_table import (
    Column,
    EntryError,
    Row,
    headings,
    in_plain_words,
    raise_mistakes,
    read_rows,
    with_unit,
    without_unit,
)
from strikeline.workshop.note_cells import note_column
from strikeline.workshop.read_again import ReadAgain, readings_to_read_again
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.readings/1"
_OF_THE_PIANO: Final = frozenset({Per.PIANO, Per.PEDAL, Per.PLACE})


def read_readings(text: str, *, catalogue: Catalogue) -> tuple[Reading, ...]:
    """Return the readings of a table, in its order.

    Parameters
    ----------
    text : str
        The table, in the long or the wide form.
    catalogue : Catalogue
        What may be measured.

    Returns
    -------
    tuple of Reading
        Every filled cell.

    Raises
    ------
    EntryError
        If anything cannot be read; each mistake with line and column, and nothing is taken.
    """
    is_long = any(without_unit(head)[0].casefold().strip() in {"quantity", "what"} for head in headings(text))
    mistakes, found = list[str](), list[Reading]()
    columns = _long(catalogue) if is_long else _wide(catalogue)
    rows = read_rows(text, columns, mistakes=mistakes)
    if not is_long and not mistakes:
        _refuse_without_quantity(text)
    for row in rows:
        for quantity, written in _long_cells(row) if is_long else _wide_cells(row, catalogue):
            try:
                found.append(_reading(row, quantity, written))
            except InputError as error:
                name = quantity.names["gb"]
                mistakes.append(f"line {row.line}, {row.heads.get(name, name)}: {in_plain_words(error)}")
    raise_mistakes([*mistakes, *_repeated(found)])
    return tuple(found)


_COMMON: Final = (
    note_column(),
    Column(name="place", read=str, also=("string", "pin", "where")),
    Column(name="condition", read=str, also=("load", "method", "remark")),
)


def _long(catalogue: Catalogue) -> tuple[Column, ...]:
    """Return the columns of the long form."""
    return (
        *_COMMON,
        Column(name="quantity", read=catalogue.find, is_needed=True, also=("what",)),
        Column(name="value", read=str, is_needed=True, also=("reading",)),
        Column(name="unit", read=str),
    )


def _wide(catalogue: Catalogue) -> tuple[Column, ...]:
    """Return the columns of the wide form, one for every quantity under all its names."""
    return (
        *_COMMON,
        *(
            Column(name=one.names["gb"], read=str, also=(one.id, one.names["us"], *one.also))
            for one in catalogue.quantities.values()
        ),
    )


def _refuse_without_quantity(text: str) -> None:
    common = {word for column in _COMMON for word in (column.name, *column.also)}
    heads = [without_unit(head)[0].casefold().strip() for head in headings(text)]
    if all(head in common for head in heads):
        advice = "head the columns note, quantity, value, or note and the names of quantities"
        raise EntryError([f"no column names a quantity; {advice}"])


def _long_cells(row: Row) -> Iterable[tuple[Quantity, str]]:
    if not {"quantity", "value", "unit"} & row.unread:
        yield row.values["quantity"], with_unit(row.values["value"], row.values.get("unit"))


def _wide_cells(row: Row, catalogue: Catalogue) -> Iterable[tuple[Quantity, str]]:
    common = {column.name for column in _COMMON}
    for name, written in row.values.items():
        if name not in common:
            yield catalogue.find(name), written


def _reading(row: Row, quantity: Quantity, written: str) -> Reading:
    key = row.values.get("note")
    value = value_of(quantity, written)
    if key is None and quantity.per not in _OF_THE_PIANO and "note" not in row.unread:
        raise InputError("the note is missing", name="note")
    return Reading(
        quantity=quantity.id,
        key=key,
        place=row.values.get("place", ""),
        value=value,
        condition=row.values.get("condition", ""),
        written=written,
        line=row.line,
    )


def value_of(quantity: Quantity, written: str, *, unit: str | None = None) -> Measured:
    """Return a reading as kept: in the quantity's unit, with what a careful hand repeats to where no ± was written.

    Parameters
    ----------
    quantity : Quantity
        What was measured.
    written : str
        The figure as people write it.
    unit : str, optional
        Unit that stands apart from the figure, such as in a column of its own.

    Raises
    ------
    InputError
        If it cannot be read, or is not possible; with the likely meaning.
    """
    low, high = quantity.possible
    read = read_quantity(
        with_unit(written, unit),
        name=quantity.names["gb"],
        unit=quantity.unit,
        low=low,
        high=high,
        what=f"the {quantity.names['gb']}",
    )
    return read if read.se > 0 else Measured(read.value, quantity.half_width / HALF_WIDTHS_PER_SE)


def _repeated(readings: Sequence[Reading]) -> list[str]:
    """Return a sentence for each reading that stands there twice with different figures."""
    first = dict[tuple[str, int | None, str, str], Reading]()
    mistakes = list[str]()
    for one in readings:
        same = first.setdefault((one.quantity, one.key, one.place, one.condition), one)
        if same is not one and same.value != one.value:
            mistakes.append(
                f"line {one.line}: {one.quantity.replace('_', ' ')} stands there again with {one.written}, "
                f"on line {same.line} it is {same.written}; keep one, or tell them apart under place or condition"
            )
    return mistakes


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A reading and where it lies."""

    reading: Reading
    place: Place | None
    """``None`` where no figure is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityCheck:
    """All readings of one quantity against its figure."""

    quantity: Quantity
    nominal: Nominal | None
    checked: tuple[Checked, ...]

    def count(self, place: Place) -> int:
        """Return how many readings lie there."""
        return sum(one.place is place for one in self.checked)

    def keys(self, place: Place) -> tuple[int, ...]:
        """Return the keys whose readings lie there, each once, from the bass up."""
        return tuple(
            sorted({one.reading.key for one in self.checked if one.place is place and one.reading.key is not None})
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsCheck:
    """A table of readings, checked."""

    action: Action
    quantities: tuple[QuantityCheck, ...]
    """In the order of the catalogue."""
    read_again: tuple[ReadAgain, ...]
    """Readings far from those of their neighbours."""

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.readings/1``."""
        return {
            "schema": SCHEMA,
            "action": self.action.value,
            "read_again": plain_data(self.read_again),
            "quantities": [
                {
                    "quantity": one.quantity.id,
                    "unit": one.quantity.unit,
                    "nominal": None if one.nominal is None else _nominal_json(one.nominal),
                    "cautions": list(one.quantity.cautions),
                    "readings": [
                        {**plain_data(each.reading), "place_in_tolerance": plain_data(each.place)}
                        for each in one.checked
                    ],
                }
                for one in self.quantities
            ],
        }


def _nominal_json(nominal: Nominal) -> dict[str, Any]:
    return {name: getattr(nominal, name) for name in ("value", "tolerance", "low", "high", "source")} | {
        "evidence": nominal.evidence.value
    }


def check_readings(readings: Sequence[Reading], *, catalogue: Catalogue, action: Action) -> ReadingsCheck:
    """Check readings against the figures of their quantities.

    Parameters
    ----------
    readings : sequence of Reading
        From `read_readings`.
    catalogue : Catalogue
        With the maker's figures already in it, if there are any.
    action : Action
        Which figures apply.
    """
    checks = list[QuantityCheck]()
    for quantity in catalogue.quantities.values():
        own = [one for one in readings if one.quantity == quantity.id]
        if own:
            nominal = quantity.nominal(action)
            checked = tuple(
                Checked(reading=one, place=None if nominal is None else nominal.place_of(one.value)) for one in own
            )
            checks.append(QuantityCheck(quantity=quantity, nominal=nominal, checked=checked))
    again = readings_to_read_again(readings, catalogue=catalogue)
    return ReadingsCheck(action=action, quantities=tuple(checks), read_again=again)


def check_table(text: str, *, action: str, figures: Sequence[str] = ()) -> ReadingsCheck:
    """Read a table and check it against the catalogue that ships with the program.

    Parameters
    ----------
    text : str
        The table, as for `read_readings`.
    action : str
        Kind of action, as in `Action`.
    figures : sequence of str
        This piano's own figures as people write them: ``"blow = 45 mm"``.

    Returns
    -------
    ReadingsCheck

    Raises
    ------
    InputError
        If the action or a figure cannot be read; `EntryError` for the table.
    """
    kind = Action(action)
    catalogue = the_catalogue()
    own = dict[str, float]()
    for written in figures:
        name, equals, figure = written.partition("=")
        if not equals:
            raise InputError.of("figure", written, "a name and a value, such as 'blow=45mm'")
        quantity = catalogue.find(name)
        own[quantity.id] = value_of(quantity, figure).value
    catalogue = catalogue.with_figures(own, action=kind, evidence=Evidence.MAKER, source="given for this piano")
    return check_readings(read_readings(text, catalogue=catalogue), catalogue=catalogue, action=kind)
