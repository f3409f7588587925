"""Gloss: from a table of a glossmeter's readings to classes, angles to measure at, and places compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from strikeline.domain.catalogue import the_catalogue
from strikeline.errors import InputError
from strikeline.physics.gloss import (
    ANGLES_DEG,
    GlossDifference,
    PlaceGloss,
    gloss_difference,
    mean_reading,
    place_gloss,
)
from strikeline.plain_data import plain_data
from strikeline.workshop.entry_table import Column, EntryError, read_rows
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.gloss/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class GlossReport:
    """What the readings say."""

    places: tuple[PlaceGloss, ...]
    """In the order of the table."""
    compared: tuple[GlossDifference, ...]
    """Each place against the reference."""
    cannot_tell: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.gloss/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


def _angle(cell: str) -> int:
    angle = read_quantity(cell, name="angle", unit="°").value
    if angle not in ANGLES_DEG:
        raise InputError.of("angle", cell, "20, 60 or 85 degrees")
    return int(angle)


def _gloss(cell: str) -> float:
    low, high = 0.0, 200.0  # at 20° and on metal readings above 100 are usual
    return read_quantity(cell, name="gloss", unit="GU", low=low, high=high, what="a gloss").value


_COLUMNS: Final = (
    Column(name="place", read=str, is_needed=True, also=("where",)),
    Column(name="angle", read=_angle, also=("geometry",)),
    Column(name="gloss", read=_gloss, is_needed=True, also=("value", "reading", "GU")),
)


def judge_gloss(text: str, *, reference: str | None = None) -> GlossReport:
    """Read a table of gloss readings and compare each place with a reference.

    Parameters
    ----------
    text : str
        Columns ``place``, ``angle`` (60 when left out) and ``gloss``; one reading to a line, several for a place.
    reference : str, optional
        Place that the others are compared with; the first one when left out.

    Returns
    -------
    GlossReport

    Raises
    ------
    InputError
        If something cannot be read, or there is no place of that name.
    """
    by_place = dict[str, dict[int, list[float]]]()
    for row in read_rows(text, _COLUMNS):
        by_angle = by_place.setdefault(row.values["place"], {})
        by_angle.setdefault(row.values.get("angle", 60), []).append(row.values["gloss"])
    if not by_place:
        raise EntryError(["the table holds no reading; five at each place are usual"])
    half_width = the_catalogue()["gloss_60"].half_width
    places = [
        place_gloss(
            name,
            {angle: mean_reading(values, single_half_width=half_width) for angle, values in sorted(by_angle.items())},
            n_readings={angle: len(values) for angle, values in sorted(by_angle.items())},
        )
        for name, by_angle in by_place.items()
    ]
    first = next((one for one in places if reference is None or one.place == reference), None)
    if first is None:
        raise InputError.of("reference", reference, f"one of {', '.join(by_place)}")
    compared, untold = list[GlossDifference](), list[str]()
    for one in places:
        if one is first:
            continue
        difference = gloss_difference(first, one)
        if difference is None:
            untold.append(f"{first.place} and {one.place} were not read at the same angle")
        else:
            compared.append(difference)
    untold += [
        f"{one.place}: read it at 60° first, that says which angle is right" for one in places if one.angle_deg is None
    ]
    return GlossReport(places=tuple(places), compared=tuple(compared), cannot_tell=tuple(untold))
