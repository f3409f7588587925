"""The scale of a piano: a typed table in, what its strings do, where it is weak and what would smooth it out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.keyboard import Compass, equal_tempered_hz, key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.gauge_search import SmoothnessWeights
from strikeline.physics.scale import ScaleRow, ScaleState, scale_state, strength_or_none
from strikeline.physics.scale_against_hearing import ScaleAgainstHearing, against_hearing
from strikeline.physics.scale_entry import ReadingErrors
from strikeline.physics.scale_fill import FilledNote, fill_scale
from strikeline.physics.scale_jumps import ScaleJump, scale_jumps
from strikeline.physics.scale_proposal import ScaleProposal, propose_scale
from strikeline.physics.scale_weak import (
    PLAIN_LIMIT,
    WOUND_LIMIT,
    WeakKind,
    WeakPoint,
    fitting_length_units,
    weak_points,
)
from strikeline.physics.stringing import StringDimensions
from strikeline.physics.strings import plain_inharmonicity_b, plain_linear_density_kg_per_m, tension_for_pitch_n
from strikeline.physics.wire_gauge import GaugeSystem, StockSize, nearest_stock, stock_sizes
from strikeline.physics.wire_strength import WireGrade
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio, ratio_from_cents
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.scale_json import scale_json
from strikeline.workshop.scale_table import ScaleTable, read_scale_table

_ODD: Final = (WeakKind.ODD_WIRE, WeakKind.ODD_LENGTH)
_LEAST_LEVEL_SE_CENTS: Final = 2.0
_MAD_TO_SD: Final = 1.4826
_FEWEST_FOR_SYSTEM: Final = 12
_LEAST_SHARE_OF_PITCH: Final = 1e-3
"""Least (f0 over first partial) squared that is calculated with: below, stiffness alone makes the pitch."""
_MOST_NAMED: Final = 6
_CLEARLY_BETTER: Final = 0.7
"""Mean distance from the nearest size over that of the other system, from which it is worth a word (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleChoices:
    """What a scale is judged with."""

    a4_hz: float = 440.0
    """Pitch of A4; every first partial is taken in equal temperament from it where nothing was heard."""
    grade: WireGrade = WireGrade.ASTM_A228
    """What the wire is taken to be, for its strength."""
    new_grade: WireGrade = WireGrade.ASTM_A228
    """What new wire is taken to be, in a proposal."""
    system: GaugeSystem = GaugeSystem.THOU
    """What wire numbers mean, and which sizes can be bought."""
    errors: ReadingErrors = field(default_factory=ReadingErrors)
    compass: Compass | None = None
    break_after: int | None = None
    """Highest key below the break, where it is known."""
    plain_limit: float = PLAIN_LIMIT
    wound_limit: float = WOUND_LIMIT
    """Shares of the breaking load that count as near breaking."""
    weights: SmoothnessWeights = field(default_factory=SmoothnessWeights)
    most_changes: int | None = None
    """Most notes that a proposal may give another wire."""

    def __post_init__(self) -> None:
        check_a4_hz(self.a4_hz)
        for name in ("plain_limit", "wound_limit"):
            value = getattr(self, name)
            if not 0.0 < value < 1.0:
                raise InputError.of(name, value, "a share between 0 and 1, such as 0.6 for 60 %")
        if self.most_changes is not None and self.most_changes < 0:
            raise InputError.of("most_changes", self.most_changes, "0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleReport:
    """What a scale is, and what may be made of it."""

    choices: ScaleChoices
    table: ScaleTable
    break_after: int | None
    is_break_found: bool
    """Whether the break was found from the lengths rather than told."""
    is_pitch_heard: bool
    state: ScaleState
    jumps: tuple[ScaleJump, ...]
    weak: tuple[WeakPoint, ...]
    proposal: ScaleProposal
    after: ScaleState
    """The scale with the proposal's wire."""
    hearing: ScaleAgainstHearing | None
    """``None`` where no listening was given."""
    notices: tuple[str, ...]
    cannot_tell: tuple[tuple[int, str], ...]
    """Notes without a string, and why."""

    def to_json(self) -> dict[str, Any]:
        """Return the whole result as plain data in schema ``strikeline.scale/1``."""
        return scale_json(self)


def assess_scale(text: str, *, choices: ScaleChoices, listening: Listening | None = None) -> ScaleReport:
    """Return what a typed scale is, where it is weak, what would smooth it, and how it compares with the sound.

    Parameters
    ----------
    text : str
        The table; see `scale_table.read_scale_table`.
    choices : ScaleChoices
        Pitch, wire, tools and limits.
    listening : Listening, optional
        A pass of the same piano: its f0 is then the pitch of each note, and its B is compared.

    Raises
    ------
    EntryError
        If the table has mistakes.
    InputError
        If no note can be told, or the compass does not hold the notes.
    """
    table = read_scale_table(text, system=choices.system, errors=choices.errors)
    compass = choices.compass
    if compass is None and listening is not None:
        compass = _holding(listening.recording.compass, table)
    if all(entry.n_strings is None for entry in table.entries):
        raise InputError(
            "no note of the scale can be told: how many strings each has is not written; add a column "
            "strings with 1, 2 or 3",
            name="table",
        )
    filled = fill_scale(table.entries, compass=compass, break_after=choices.break_after)
    if not filled.notes:
        entered = {entry.key for entry in table.entries}
        reasons = [(key, reason) for key, reason in filled.cannot_tell if key in entered] or filled.cannot_tell
        why = "; ".join(dict.fromkeys(reason for _, reason in reasons))
        raise InputError(f"no note of the scale can be told: {why}", name="table")
    _refuse_too_stiff(filled.notes, choices)
    heard_f0 = {} if listening is None else _heard(listening, "f0_hz")
    pitch = _pitches(filled.notes, heard_f0, a4_hz=choices.a4_hz)
    rows = [_row(note, pitch[note.entry.key], choices.grade) for note in filled.notes]
    state = scale_state(rows)
    weak = weak_points(state.notes, plain_limit=choices.plain_limit, wound_limit=choices.wound_limit)
    odd = {point.key for point in weak if point.kind in _ODD}
    break_after = filled.sections.break_after
    proposal = propose_scale(
        state.notes,
        sizes=stock_sizes(system=choices.system),
        strength_mpa=lambda diameter_mm: _strength_mpa(diameter_mm, choices.new_grade),
        plain_limit=choices.plain_limit,
        weights=choices.weights,
        most_changes=choices.most_changes,
        odd=odd,
    )
    return ScaleReport(
        choices=choices,
        table=table,
        break_after=break_after,
        is_break_found=filled.sections.is_break_found,
        is_pitch_heard=bool(heard_f0),
        state=state,
        jumps=scale_jumps(state.notes, break_after=break_after, without=odd),
        weak=weak,
        proposal=proposal,
        after=scale_state(_rewired(rows, {one.key: one.to for one in proposal.changes}, choices)),
        hearing=None if listening is None else against_hearing(state.notes, _heard(listening, "inharmonicity_b")),
        notices=(*table.notices, *_notices(rows, heard_f0, listening, choices)),
        cannot_tell=filled.cannot_tell,
    )


def _holding(heard: Compass | None, table: ScaleTable) -> Compass | None:
    """Return the compass heard, widened to hold what was entered."""
    if heard is None:
        return None
    keys = [entry.key for entry in table.entries]
    return Compass(min(heard.lowest, *keys), max(heard.highest, *keys))


def _heard(listening: Listening, field: str) -> dict[int, Measured]:
    values = {key: getattr(note, field) for key, note in listening.best_by_key().items()}
    return {key: value for key, value in values.items() if value is not None}


def _strength_mpa(diameter_mm: float, grade: WireGrade) -> float | None:
    strength = strength_or_none(diameter_mm, grade=grade)
    return None if strength is None else strength.stress_mpa.value


def _pitches(notes: Sequence[FilledNote], heard: Mapping[int, Measured], *, a4_hz: float) -> dict[int, Measured]:
    """Return f0 of each note: as heard; else on the level of what was heard; else of equal temperament."""
    tempered = {note.entry.key: _tempered_f0_hz(note, a4_hz=a4_hz) for note in notes}
    away = [float(cents_from_ratio(heard[key].value / f0)) for key, f0 in tempered.items() if key in heard]
    level = float(np.median(away)) if away else 0.0
    spread = _MAD_TO_SD * float(np.median(np.abs(np.array(away) - level))) if away else 0.0
    se_cents = max(spread, _LEAST_LEVEL_SE_CENTS) if away else 0.0
    pitches = {}
    for key, f0 in tempered.items():
        here = f0 * float(ratio_from_cents(level))
        pitches[key] = heard.get(key, Measured(here, here * se_cents / CENTS_PER_NEPER))
    return pitches


def _tempered_f0_hz(note: FilledNote, *, a4_hz: float) -> float:
    """Return f0 of a string whose first partial is in equal temperament: lower by √(1 + B), as tells in the treble."""
    first_hz = float(equal_tempered_hz(note.entry.key, a4_hz=a4_hz))
    plain = _at_pitch(note, first_hz)
    if plain is None:
        return first_hz  # B of wound strings is below 1e-3: less than half a cent
    return first_hz * math.sqrt(max(1.0 - plain[1], _LEAST_SHARE_OF_PITCH))  # B goes with 1/f0²: this is f0 exactly


def _at_pitch(note: FilledNote, f0_hz: float) -> tuple[float, float] | None:
    """Return tension in newtons and B of a plain string at a pitch, ``None`` of a wound one."""
    entry = note.entry
    length, diameter = entry.length_mm, entry.core_diameter_mm
    if entry.windings or length is None or diameter is None:
        return None
    density = plain_linear_density_kg_per_m(
        diameter_mm=diameter.value, density_kg_per_m3=entry.core.density_kg_per_m3.value
    )
    tension = tension_for_pitch_n(length_mm=length.value, f0_hz=f0_hz, linear_density_kg_per_m=density)
    b = plain_inharmonicity_b(
        diameter_mm=diameter.value,
        length_mm=length.value,
        tension_n=tension,
        young_modulus_pa=entry.core.young_modulus_pa.value,
    )
    return float(tension), float(b)


def _refuse_too_stiff(notes: Sequence[FilledNote], choices: ScaleChoices) -> None:
    """Refuse plain strings so short that their stiffness alone would sound above their note.

    Raises
    ------
    InputError
        If there are any, with the unit of length under which they would fit.
    """
    keys, shares = list[int](), list[float]()
    for note in notes:
        at_pitch = _at_pitch(note, float(equal_tempered_hz(note.entry.key, a4_hz=choices.a4_hz)))
        diameter = note.entry.core_diameter_mm
        if at_pitch is None or diameter is None or at_pitch[1] < 1.0 - _LEAST_SHARE_OF_PITCH:
            continue
        keys.append(note.entry.key)
        strength = _strength_mpa(diameter.value, choices.grade)
        if strength is not None:
            shares.append(at_pitch[0] / (strength * math.pi * diameter.value**2 / 4.0))
    if keys:
        units = " or ".join(fitting_length_units(shares))
        advice = f"lengths in {units} would fit: head the column 'length [{units}]'" if units else "read them again"
        names = ", ".join(key_name(key) for key in keys[:_MOST_NAMED])
        more = f" and {len(keys) - _MOST_NAMED} more" if len(keys) > _MOST_NAMED else ""
        raise InputError(
            f"the lengths of {names}{more} cannot be meant: wire so short is stiff enough to sound above its note "
            f"without any tension; {advice}",
            name="table",
        )


def _row(note: FilledNote, f0_hz: Measured, grade: WireGrade) -> ScaleRow:
    entry = note.entry
    if entry.length_mm is None or entry.core_diameter_mm is None or entry.n_strings is None:
        raise RuntimeError(f"{key_name(entry.key)} was filled, but not wholly")
    return ScaleRow(
        key=entry.key,
        n_strings=entry.n_strings,
        dimensions=StringDimensions(
            entry.length_mm, entry.core_diameter_mm, entry.core, entry.windings or (), entry.bare_mm, entry.is_hexagonal
        ),
        f0_hz=f0_hz,
        strength=strength_or_none(entry.core_diameter_mm.value, grade=grade) if entry.core.name == "steel" else None,
        section=note.section,
        filled=note.filled,
        ties=entry.ties,
    )


def _rewired(rows: Sequence[ScaleRow], sizes: Mapping[int, StockSize], choices: ScaleChoices) -> list[ScaleRow]:
    """Return the scale with new wire on some notes."""
    se = choices.errors.gauge_mm / HALF_WIDTHS_PER_SE
    return [
        row
        if row.key not in sizes
        else replace(
            row,
            dimensions=replace(row.dimensions, core_diameter_mm=Measured(sizes[row.key].diameter_mm, se)),
            strength=strength_or_none(sizes[row.key].diameter_mm, grade=choices.new_grade),
            ties={name: ties for name, ties in row.ties.items() if name != "core_diameter_mm"},
        )
        for row in rows
    ]


def _notices(
    rows: Sequence[ScaleRow], heard: Mapping[int, Measured], listening: Listening | None, choices: ScaleChoices
) -> list[str]:
    """Return what a reader should know of the whole, in sentences."""
    notices = []
    silent = [row.key for row in rows if heard and row.key not in heard]
    if silent:
        names = ", ".join(key_name(key, typographic=True) for key in silent)
        notices.append(f"not heard, so taken on the pitch level of the notes that were: {names}")
    if listening is not None and not heard:
        notices.append(
            f"no note of the listening has an f0; the pitch is equal temperament at {choices.a4_hz:g} Hz instead"
        )
    notices += _other_system(rows, choices.system)
    bare = [row.key for row in rows if row.is_wound and row.dimensions.bare_mm is None]
    if bare:
        names = ", ".join(key_name(key, typographic=True) for key in bare)
        notices.append(f"wound strings without measured bare ends; their B comes out too low: {names}")
    return notices


def _other_system(rows: Sequence[ScaleRow], system: GaugeSystem) -> list[str]:
    """Return a sentence where the measured plain wire fits the sizes of the other system clearly better."""
    wires = [row.dimensions.core_diameter_mm.value for row in rows if not row.is_wound and "diameter" not in row.filled]
    if len(wires) < _FEWEST_FOR_SYSTEM:
        return []
    off_mm = {
        one: float(np.mean([abs(nearest_stock(wire, system=one).diameter_mm - wire) for wire in wires]))
        for one in GaugeSystem
    }
    best = min(off_mm, key=lambda one: off_mm[one])
    if best is system or off_mm[best] > _CLEARLY_BETTER * off_mm[system]:
        return []
    words = f"{1e3 * off_mm[best]:.0f} against {1e3 * off_mm[system]:.0f} µm off"
    better = f"the plain wire fits the {best.value} sizes better than the {system.value} ones, on average {words}"
    return [f"{better}; choose the {best.value} gauge system"]
