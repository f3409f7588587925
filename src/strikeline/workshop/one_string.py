"""One string from what people write of it: its state, and the diameters that would give what is wanted."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.string_choice import Part, diameter_for_inharmonicity, diameter_for_tension, with_diameter
from strikeline.physics.stringing import StringDimensions, StringState, carried_string, state_of, string_state
from strikeline.physics.winding import CLOSE_PACKING, Winding, winding_from_outside
from strikeline.physics.wire import MATERIALS
from strikeline.physics.wire_gauge import GaugeSystem, nearest_stock
from strikeline.physics.wire_strength import WireGrade, WireStrength, grade_for_year, wire_strength
from strikeline.plain_data import plain_data
from strikeline.workshop.note_cells import clear_keys
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.string_sense import cannot_be_meant, string_notices
from strikeline.workshop.wire import FAR_OFF, read_diameter
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.string/1"
TAPE_MM: Final = 1.0
"""What a tape along a string is good for when no ± is written: a 95 % half-width (our reasoning)."""
_SHORTEST_MM, _LONGEST_MM = 30.0, 3000.0
_LOWEST_HZ, _HIGHEST_HZ = 10.0, 6000.0
_LEAST_N, _MOST_N = 20.0, 5000.0
_LEAST_B, _MOST_B = 1e-6, 0.2
_WIRE_MM: Final = (0.15, 2.5)
_OUTSIDE_MM: Final = (0.4, 12.0)
"""What wire and finished strings of pianos measure, with room on either side (our choice)."""
_WHOLE_PCT: Final = 100.0
_IS_PERCENT: Final = re.compile(r"%|pct|percent", re.IGNORECASE)
_BETWEEN_DIGITS: Final = re.compile(r"\d\s*,\s*\d")


@dataclass(frozen=True, slots=True, kw_only=True)
class StringAsked:
    """A string as people write it; every text may have a unit and a ±."""

    length: str
    diameter: str
    """Wire, or core of a wound string: a diameter, or a wire number if `gauge` says of which table."""
    material: str = "steel"
    wrap: str | None = None
    wrap_material: str = "copper"
    outside: str | None = None
    """Diameter over the finished winding, in place of `wrap`."""
    second_wrap: str | None = None
    second_outside: str | None = None
    second_wrap_material: str = "copper"
    is_hexagonal: bool = False
    packing: str | None = None
    bare: str | None = None
    """Bare length at the agraffe and at the bridge, such as ``12mm;10mm``; one length stands for both."""
    second_inset: str | None = None
    """How much farther in than the first the second winding begins, in the same form."""
    gauge: GaugeSystem | None = None
    note: str | None = None
    hz: str | None = None
    a4_hz: float = 440.0
    tension: str | None = None
    year: int | None = None
    grade: WireGrade | None = None
    section_lost: str | None = None
    want_tension: str | None = None
    want_b: str | None = None
    change: Part | None = None
    """Which diameter may change for what is wanted."""
    n_partials: int = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class StockEffect:
    """A size in which wire is sold, and what the string would do with it at the same pitch."""

    system: GaugeSystem
    number: float
    diameter_mm: float
    tension_n: float
    tension_change_ratio: float
    """Against the string as it is: 0.02 for 2 % more."""
    inharmonicity_b: float
    b_change_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedDiameter:
    """The diameter that gives a wanted tension or B, and the sizes nearest to it."""

    quantity: str
    """``tension_n`` or ``inharmonicity_b``."""
    wanted: Measured
    part: Part
    diameter_mm: Measured
    stock: tuple[StockEffect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneString:
    """All that is to be said of one string."""

    dimensions: StringDimensions
    state: StringState
    strength: WireStrength | None
    breaking_share_range: tuple[float, float] | None
    """Tension over the greatest and over the least strength that the wire may have."""
    stock: tuple[StockEffect, ...]
    """The nearest sizes for its wire or core."""
    wanted: tuple[WantedDiameter, ...]
    assumptions: tuple[str, ...]
    """What was taken where nothing was written."""
    cannot_be_meant: str | None
    """Why something must have been misread, and what would fit; ``None`` where the string may well be as written."""
    notices: tuple[str, ...]
    cannot_tell: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the whole result as plain data in schema ``strikeline.string/1``."""
        return {"schema": SCHEMA, **{one.name: plain_data(getattr(self, one.name)) for one in fields(self)}}


def calculate_string(asked: StringAsked) -> OneString:
    """Return what a string does, and which wire would make it do what is wanted.

    Parameters
    ----------
    asked : StringAsked
        What was written of it.

    Returns
    -------
    OneString
        Every number with its standard error.

    Raises
    ------
    InputError
        If something cannot be read or cannot be meant, or neither or both of pitch and tension are given.
    """
    reader = _Reader(asked)
    dimensions = reader.dimensions()
    strength, untold = _strength(asked, dimensions.core_diameter_mm.value, reader.assumptions)
    state = _state(asked, reader, dimensions, strength)
    if untold:
        state = replace(state, breaking_reason=untold)
    wanted = tuple(_wanted(asked, reader, dimensions, state))
    share_range = None
    if strength is not None and state.breaking_share is not None:
        of_middle = state.breaking_share.value * strength.stress_mpa.value
        share_range = (of_middle / strength.high_mpa, of_middle / strength.low_mpa)
    return OneString(
        dimensions=dimensions,
        state=state,
        strength=strength,
        breaking_share_range=share_range,
        stock=_stock(dimensions, Part.CORE, dimensions.core_diameter_mm.value, state, asked.n_partials),
        wanted=wanted,
        assumptions=tuple(reader.assumptions),
        cannot_be_meant=cannot_be_meant(asked, _sound_share(asked, state), share_of=_share_of),
        notices=tuple(string_notices(dimensions, state, share_range)),
        cannot_tell=(f"breaking share: {untold}",) if untold else (),
    )


def _state(
    asked: StringAsked, reader: _Reader, dimensions: StringDimensions, strength: WireStrength | None
) -> StringState:
    carried_one = carried_string(
        dimensions,
        f0_hz=reader.f0_hz(),
        tension_n=reader.tension_n(asked.tension, "tension"),
        strength_mpa=None if strength is None else strength.stress_mpa,
        section_lost_ratio=0.0 if asked.section_lost is None else read_share(asked.section_lost, "section lost"),
        n_partials=asked.n_partials,
    )
    return state_of(carried_one, n_partials=asked.n_partials)


def _sound_share(asked: StringAsked, state: StringState) -> Measured | None:
    """Return the breaking share without what rust has taken."""
    share = state.breaking_share
    if share is None or asked.section_lost is None:
        return share
    left = 1.0 - read_share(asked.section_lost, "section lost").value
    return Measured(share.value * left, share.se * left)


def _share_of(asked: StringAsked) -> float | None:
    """Return the breaking share of another string, ``None`` where none is known."""
    reader = _Reader(asked)
    dimensions = reader.dimensions()
    strength, _ = _strength(asked, dimensions.core_diameter_mm.value, [])
    share = _sound_share(asked, _state(asked, reader, dimensions, strength))
    return None if share is None else share.value


class _Reader:
    """Reads the texts, and notes what is taken where nothing is written."""

    def __init__(self, asked: StringAsked) -> None:
        self.asked = asked
        self.assumptions: list[str] = []

    def dimensions(self) -> StringDimensions:
        asked = self.asked
        length = self.tape(asked.length, "length", low=_SHORTEST_MM, high=_LONGEST_MM, what="a speaking length")
        is_wound = asked.wrap is not None or asked.outside is not None
        core = self.wire(asked.diameter, "core" if is_wound else "diameter")
        windings, beneath = [], core
        if asked.is_hexagonal:
            corners = 2.0 / math.sqrt(3.0)
            beneath = Measured(corners * core.value, corners * core.se)
        if is_wound:
            windings.append(self.winding((asked.wrap, asked.outside), asked.wrap_material, None, "wrap", beneath))
        if asked.second_wrap is not None or asked.second_outside is not None:
            if not windings:
                raise InputError("a second winding needs a first one; give --wrap too", name="second_wrap")
            first = windings[0]
            over = carry(lambda d, w: d + 2.0 * w, d=beneath, w=first.wrap_diameter_mm)
            second = (asked.second_wrap, asked.second_outside)
            windings.append(
                self.winding(
                    second, asked.second_wrap_material, asked.second_inset, "second wrap", first.outside_mm or over
                )
            )
        elif asked.second_inset is not None:
            raise InputError("--second-inset needs --second-wrap", name="second_inset")
        bare = None if asked.bare is None else self.pair(asked.bare, "bare")
        return StringDimensions(
            length, core, MATERIALS[asked.material], tuple(windings), bare, is_hexagonal=asked.is_hexagonal
        )

    def winding(
        self, texts: tuple[str | None, str | None], material: str, inset: str | None, name: str, beneath: Measured
    ) -> Winding:
        """Return a layer from its wire, or from the diameter over it."""
        by_wire, over = texts
        packing = CLOSE_PACKING if self.asked.packing is None else read_share(self.asked.packing, "packing")
        inset_mm = None if inset is None else self.pair(inset, "inset")
        if by_wire is not None and over is not None:
            raise InputError(f"give the wire of the {name} or the diameter over it, one of the two", name="wrap")
        if over is not None:
            outside = self.wire(over, f"diameter over the {name}")
            return winding_from_outside(
                outside, inner_mm=beneath, material=MATERIALS[material], packing=packing, inset_mm=inset_mm
            )
        return Winding(self.wire(by_wire or "", name), MATERIALS[material], packing, inset_mm)

    def wire(self, text: str, name: str) -> Measured:
        limits = _OUTSIDE_MM if name.startswith("diameter over") else _WIRE_MM
        diameter, note = read_diameter(text, name=name, system=self.asked.gauge, limits_mm=limits)
        if note:
            self.assumptions.append(note)
        return diameter

    def tape(self, text: str, name: str, *, low: float, high: float, what: str) -> Measured:
        read = read_quantity(text, name=name, unit="mm", low=low, high=high, what=what)
        if read.se > 0:
            return read
        self.assumptions.append(f"{name} {text}: no ± written, so ± {TAPE_MM:g} mm as a tape is read (our reasoning)")
        return Measured(read.value, TAPE_MM / HALF_WIDTHS_PER_SE)

    def pair(self, text: str, name: str) -> tuple[Measured, Measured]:
        if _BETWEEN_DIGITS.search(text) and ";" not in text:
            raise InputError.of(
                name, text, "agraffe end and bridge end, such as 12mm,10mm", advice="write the unit behind each"
            )
        parts = [part for part in re.split(r"\s*;\s*" if ";" in text else r"\s*,\s*", text) if part]
        if len(parts) not in {1, 2}:
            raise InputError.of(name, text, "one length for both ends, or two, such as 12mm,10mm")
        ends = [self.tape(part, name, low=0.0, high=500.0, what="the bare end of a string") for part in parts]
        return ends[0], ends[-1]

    def f0_hz(self) -> Measured | None:
        asked = self.asked
        if sum(one is not None for one in (asked.note, asked.hz, asked.tension)) != 1:
            raise InputError("give one of --note, --hz and --tension", name="hz")
        if asked.note is not None:
            check_a4_hz(asked.a4_hz)
            hz = equal_tempered_hz(clear_keys(asked.note)[0], a4_hz=asked.a4_hz)
            return Measured(float(hz), 0.0)
        if asked.hz is None:
            return None
        return read_quantity(asked.hz, name="hz", unit="Hz", low=_LOWEST_HZ, high=_HIGHEST_HZ, what="a piano string")

    def tension_n(self, text: str | None, name: str) -> Measured | None:
        if text is None:
            return None
        return read_quantity(text, name=name, unit="N", low=_LEAST_N, high=_MOST_N, what="the tension of a string")


def read_share(text: str, name: str) -> Measured:
    """Return a share of one from ``0.8``, ``80 %`` or ``0.80 ± 0.02``; refuse what is not between 0 and 1."""
    read = read_quantity(text, name=name, unit="%")
    if _IS_PERCENT.search(text):
        read = Measured(read.value / 100.0, read.se / 100.0)
    if not 0.0 <= read.value < 1.0:
        raise InputError.of(
            name,
            text,
            "a share from 0 to 1",
            advice=f"did you mean {text.strip()} %?" if 1.0 < read.value < _WHOLE_PCT else "",
        )
    return read


def read_b(text: str, name: str) -> float:
    """Return an inharmonicity coefficient from ``4e-4`` or ``0,0004``."""
    try:
        b = float(text.replace(",", "."))
    except ValueError:
        b = 0.0
    if not _LEAST_B <= b <= _MOST_B:
        raise InputError.of(name, text, f"a number from {_LEAST_B:g} to {_MOST_B:g}, such as 4e-4")
    return b


def _strength(asked: StringAsked, diameter_mm: float, assumptions: list[str]) -> tuple[WireStrength | None, str]:
    """Return the strength of the wire or core, or why there is none."""
    grade = asked.grade or grade_for_year(asked.year)
    if asked.material != "steel" and grade is not WireGrade.BEFORE_1855:
        return None, f"no strength is known of {asked.material} wire; --year before 1855 covers iron"
    if asked.material not in {"steel", "iron"}:
        return None, f"no strength is known of {asked.material} wire"
    if asked.grade is not None and asked.year is not None:
        assumptions.append(f"strength: {grade}, as --grade says; the year {asked.year} was not used")
    if asked.grade is None:
        of_year = f"a piano of {asked.year}" if asked.year else "no --year given, so modern wire"
        assumptions.append(f"strength: {of_year}: {grade}")
    try:
        return wire_strength(diameter_mm, grade=grade), ""
    except InputError as error:
        return None, str(error)


def _wanted(
    asked: StringAsked, reader: _Reader, dimensions: StringDimensions, state: StringState
) -> list[WantedDiameter]:
    """Return the diameters for what is wanted; where the tension was given, its pitch counts as exact."""
    f0_hz = reader.f0_hz() or Measured(state.f0_hz.value, 0.0)
    found = list[tuple[str, Measured, Part, Measured]]()
    if (tension := reader.tension_n(asked.want_tension, "want-tension")) is not None:
        part = asked.change or (Part.WRAP if dimensions.windings else Part.CORE)
        diameter = diameter_for_tension(
            dimensions, tension_n=tension, f0_hz=f0_hz, part=part, n_partials=asked.n_partials
        )
        found.append(("tension_n", tension, part, diameter))
    if asked.want_b is not None:
        b, part = Measured(read_b(asked.want_b, "want-b"), 0.0), asked.change or Part.CORE
        diameter = diameter_for_inharmonicity(
            dimensions, inharmonicity_b=b, f0_hz=f0_hz, part=part, n_partials=asked.n_partials
        )
        found.append(("inharmonicity_b", b, part, diameter))
    return [
        WantedDiameter(
            quantity=quantity,
            wanted=wanted,
            part=part,
            diameter_mm=diameter,
            stock=_stock(dimensions, part, diameter.value, state, asked.n_partials),
        )
        for quantity, wanted, part, diameter in found
    ]


def _stock(
    dimensions: StringDimensions, part: Part, near_mm: float, state: StringState, n_partials: int
) -> tuple[StockEffect, ...]:
    """Return the sizes nearest to a diameter, and what the string would do with each at its pitch.

    Wire for windings is drawn in sizes of its own: there are none for it. A size too far away is none either.
    """
    if part is Part.WRAP:
        return ()
    effects = []
    for system in GaugeSystem:
        size = nearest_stock(near_mm, system=system)
        if abs(size.diameter_mm / near_mm - 1.0) > FAR_OFF:
            continue
        changed = with_diameter(dimensions, part, Measured(size.diameter_mm, 0.0))
        then = string_state(changed, f0_hz=state.f0_hz.value, strength=None, n_partials=n_partials)
        effects.append(
            StockEffect(
                system=system,
                number=size.number,
                diameter_mm=size.diameter_mm,
                tension_n=then.tension_n.value,
                tension_change_ratio=then.tension_n.value / state.tension_n.value - 1.0,
                inharmonicity_b=then.inharmonicity_b.value,
                b_change_ratio=then.inharmonicity_b.value / state.inharmonicity_b.value - 1.0,
            )
        )
    return tuple(effects)
