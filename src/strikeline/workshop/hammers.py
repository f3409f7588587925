"""Hammers: from a table of readings to felt to take, felt left, and reface or replace by section."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from strikeline.domain.catalogue import the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.hammer_shape import felt_mass_g, strike_point_shift_mm
from strikeline.physics.hammer_wear import (
    HammerVerdict,
    Remedy,
    SectionVerdict,
    WornHammer,
    judge_hammer,
    judge_section,
)
from strikeline.plain_data import plain_data
from strikeline.workshop.note_cells import clear_compass
from strikeline.workshop.read_again import ReadAgain, readings_to_read_again
from strikeline.workshop.readings import read_readings
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.hammers/1"
FELT_DENSITY_G_PER_CM3: Final = Measured(0.7, 0.1)
"""Hammer felt, between soft and pressed hard (from memory, low confidence)."""
FACED_ARC_DEG: Final = Measured(180.0, 20.0)
"""Angle from shoulder to shoulder over which refacing takes a layer (our reasoning)."""
_READ: Final = {
    "groove_length": "groove_length_mm",
    "groove_depth": "groove_depth_mm",
    "crown_radius": "crown_radius_mm",
    "felt_over_moulding": "felt_mm",
    "winding_outer_diameter": "winding_mm",
}
_CONDEMNED: Final = ("moth", "brittle", "loose felt", "open glue", "wood visible")
"""Words under condition that condemn a hammer whatever its measures are (technicians' mailing list 2002-05 and common
practice)."""
_DENIED: Final = re.compile(r"\b(no|not|none|without|never|free)\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What refacing moves on one hammer."""

    key: int
    mass_g: Measured | None
    """Felt that comes off; ``None`` without the width of the hammer."""
    strike_point_mm: Measured | None
    """Along the string, minus towards the centre pin; ``None`` without hammer and shank length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HammersAdvice:
    """What the hammers of a piano ask for."""

    hammers: tuple[HammerVerdict, ...]
    sections: tuple[SectionVerdict, ...]
    moved: tuple[Moved, ...]
    """For the hammers to be refaced."""
    usual_radius_mm: Measured | None
    """Of the crowns that were read, with their scatter: taken for those that were not."""
    read_again: tuple[ReadAgain, ...]
    """Readings far from those of the hammers beside them."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return the cautions that go with filing and cutting at the hammers."""
        return ("sharp_tools", "dust")

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.hammers/1``."""
        fields = {name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}
        return {"schema": SCHEMA, **fields, "cautions": list(self.cautions)}


def judge_hammers(
    text: str, *, sections: Sequence[str], width: str | None = None, shank_length: str | None = None
) -> HammersAdvice:
    """Read a table of hammer readings and say what each hammer and each section asks for.

    Parameters
    ----------
    text : str
        The table, as for `readings.read_readings`, with any of length and depth of the string cut, radius of the
        crown, felt over the moulding, hammer length and the outside of a wound string; under condition what condemns
        a hammer.
    sections : sequence of str
        Sections as written, such as ``"A0-E2"``.
    width : str or None
        Width of the hammers along the keyboard, as written.
    shank_length : str or None
        Centre pin to the middle of the hammer, as written.

    Returns
    -------
    HammersAdvice

    Raises
    ------
    InputError
        If something cannot be read, sections overlap, or no hammer was read.
    """
    readings = read_readings(text, catalogue=the_catalogue())
    worn = _worn(readings)
    if not worn:
        names = [the_catalogue()[name].names["gb"] for name in ("groove_length", "crown_radius", "felt_over_moulding")]
        raise InputError(f"the table holds no reading of a hammer; measure {', '.join(names)}", name="table")
    usual = _usual_radius(worn)
    verdicts = tuple(judge_hammer(one, usual_radius_mm=usual) for one in worn)
    asked = None if width is None else read_quantity(width, name="width", unit="mm", low=5.0, high=20.0)
    shank = None
    if shank_length is not None:
        shank = read_quantity(shank_length, name="shank", unit="mm", low=60.0, high=200.0)
    lengths = {one.key: one.value for one in readings if one.quantity == "hammer_length" and one.key is not None}
    radii = {one.key: one.crown_radius_mm or usual for one in worn}
    return HammersAdvice(
        hammers=verdicts,
        sections=tuple(judge_section(first, last, verdicts) for first, last in _sections(sections)),
        moved=tuple(
            _moved(one, radii[one.key], asked, lengths.get(one.key), shank)
            for one in verdicts
            if one.remedy is Remedy.REFACE
        ),
        usual_radius_mm=usual,
        read_again=readings_to_read_again(readings, catalogue=the_catalogue()),
    )


def _worn(readings: Sequence[Reading]) -> list[WornHammer]:
    """Return the readings gathered hammer by hammer; of several of one quantity the worst, for one mark decides."""
    by_key = dict[int, dict[str, Any]]()
    for one in readings:
        if one.key is None or one.quantity not in _READ:
            continue
        own = by_key.setdefault(one.key, {})
        name = _READ[one.quantity]
        before = own.get(name)
        worse = min if one.quantity == "felt_over_moulding" else max
        own[name] = one.value if before is None else worse(before, one.value, key=lambda value: value.value)
        if is_condemned(one.condition):
            own["is_condemned"] = one.condition
    return [WornHammer(key=key, **own) for key, own in sorted(by_key.items())]


def is_condemned(condition: str) -> bool:
    """Return whether a remark says that a hammer cannot be kept; what was looked for and not found does not.

    Examples
    --------
    >>> is_condemned("eaten by moth"), is_condemned("no moth, felt soft"), is_condemned("no moth, open glue")
    (True, False, True)
    """
    parts = re.split(r"[,;+.]| but ", condition.casefold())
    return any(word in part and not _DENIED.search(part) for part in parts for word in _CONDEMNED)


def _usual_radius(worn: Sequence[WornHammer]) -> Measured | None:
    """Return the median radius and how much a single hammer may differ from it; ``None`` below three."""
    read = [one.crown_radius_mm for one in worn if one.crown_radius_mm is not None]
    if len(read) < 3:
        return None
    values = np.array([one.value for one in read])
    own = math.sqrt(sum(one.se**2 for one in read) / len(read))
    return Measured(float(np.median(values)), max(own, float(np.std(values, ddof=1)) * math.sqrt(1 + 1 / len(read))))


def _sections(written: Sequence[str]) -> list[tuple[int, int]]:
    found = sorted((compass.lowest, compass.highest) for compass in map(clear_compass, written))
    for (_low, end), (start, _high) in itertools.pairwise(found):
        if start <= end:
            raise InputError.of("sections", ", ".join(written), "sections that do not overlap")
    return found


def _moved(
    hammer: HammerVerdict,
    radius: Measured | None,
    width: Measured | None,
    length: Measured | None,
    shank: Measured | None,
) -> Moved:
    """Return what refacing one hammer moves; the crown loses as much as the marks are deep."""
    mass = shift = None
    depth = hammer.depth_mm
    if depth is not None and radius is not None and width is not None:
        mass = carry(
            lambda depth_mm, radius_mm, width_mm, arc, density: felt_mass_g(
                depth_mm=max(0.0, depth_mm),
                crown_radius_mm=radius_mm,
                width_mm=width_mm,
                arc_deg=arc,
                density_g_per_cm3=density,
            ),
            depth_mm=depth,
            radius_mm=radius,
            width_mm=width,
            arc=FACED_ARC_DEG,
            density=FELT_DENSITY_G_PER_CM3,
        )
    if depth is not None and length is not None and shank is not None:
        shift = carry(
            lambda lost, hammer_mm, shank_mm: strike_point_shift_mm(
                shortened_mm=max(0.0, lost), hammer_length_mm=hammer_mm, shank_length_mm=shank_mm
            ),
            lost=depth,
            hammer_mm=length,
            shank_mm=shank,
        )
    return Moved(key=hammer.key, mass_g=mass, strike_point_mm=shift)
