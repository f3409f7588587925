"""Which readings of a table are far from their neighbours, so that they are read again before anything is done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from strikeline.domain.catalogue import Catalogue
from strikeline.domain.reading import Reading
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.far_reading import far_readings


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadAgain:
    """A reading that is far from those of its neighbours."""

    key: int
    note: str
    what: str
    """Name of what was read."""
    value: float
    about: float
    """What its neighbours lead to expect."""
    unit: str


def read_again(
    what: str, readings: Iterable[tuple[int, Measured]], *, unit: str, half_width: float
) -> tuple[ReadAgain, ...]:
    """Return the readings of one kind that are far from the others.

    Parameters
    ----------
    what : str
        What was read, for people.
    readings : iterable of tuple of int and Measured
        Key number and value.
    unit : str
        Of the values.
    half_width : float
        What a careful hand repeats to.
    """
    pairs = list(readings)
    found = far_readings([key for key, _ in pairs], [value for _, value in pairs], half_width=half_width)
    return tuple(
        ReadAgain(key=one.key, note=key_name(one.key), what=what, value=one.value.value, about=one.expected, unit=unit)
        for one in sorted(found, key=lambda one: one.key)
    )


def readings_to_read_again(readings: Sequence[Reading], *, catalogue: Catalogue) -> tuple[ReadAgain, ...]:
    """Return which readings of a table are far from their neighbours, each quantity and place by itself.

    Parameters
    ----------
    readings : sequence of Reading
        Of a table.
    catalogue : Catalogue
        Has the units and how finely each is read.
    """
    by_kind = dict[tuple[str, str], list[tuple[int, Measured]]]()
    for one in readings:
        if one.key is not None:
            by_kind.setdefault((one.quantity, one.place), []).append((one.key, one.value))
    found = list[ReadAgain]()
    for (quantity_id, _place), pairs in by_kind.items():
        quantity = catalogue[quantity_id]
        found += read_again(quantity.names["gb"], pairs, unit=quantity.unit, half_width=quantity.half_width)
    return tuple(found)
