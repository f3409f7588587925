"""A whole scale: what every string does at its pitch, and the load of all of them on the frame."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.scale_entry import Ties
from strikeline.physics.scale_sections import Section
from strikeline.physics.scale_strings import carried_in_scale
from strikeline.physics.stringing import CarriedString, StringDimensions, StringState, state_of
from strikeline.physics.wire_strength import WireGrade, WireStrength, wire_strength

_STANDARD_GRAVITY_M_PER_S2: Final = 9.80665
_KG_PER_TONNE: Final = 1000.0
_SHARED_BY_ALL: Final = (
    "young_modulus_pa of ",
    "density_kg_per_m3 of ",
    "strength_mpa",
    "winding_spring_ratio",
    "hexagon_lay_ratio",
)
_PACKING: Final = "_packing"
_MOST_STRINGS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleRow:
    """One note of a scale: its strings, all alike, and the pitch they are at."""

    key: int
    n_strings: int
    dimensions: StringDimensions
    f0_hz: Measured
    strength: WireStrength | None
    """``None`` where none is known for this wire."""
    section: Section
    filled: tuple[str, ...] = ()
    """What was not measured on this note but filled from its section."""
    ties: Ties = field(default_factory=dict)
    """How far inputs move with errors that notes share; see `scale_entry`."""

    def __post_init__(self) -> None:
        if not 1 <= self.n_strings <= _MOST_STRINGS:
            raise InputError.of("n_strings", self.n_strings, f"1 to {_MOST_STRINGS} strings")

    @property
    def is_wound(self) -> bool:
        """Whether the strings carry a winding."""
        return bool(self.dimensions.windings)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleNote:
    """One note of a scale and what one of its strings does."""

    row: ScaleRow
    state: StringState
    tension_of_note_n: Measured
    """Of all strings of the note: they are taken as alike, so their errors add up in full."""

    @property
    def key(self) -> int:
        """Key number."""
        return self.row.key


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameLoad:
    """What strings pull with altogether."""

    tension_n: Measured
    shared_se_n: float
    """Part of the standard error that all notes share: zero of the tools, density of the metals, fitted curves."""
    own_se_n: float
    """Part that is each note's own, and averages out."""
    n_strings: int
    n_notes: int

    @property
    def tonnes_force(self) -> Measured:
        """The same in tonnes-force (1000 kgf)."""
        factor = 1.0 / (_STANDARD_GRAVITY_M_PER_S2 * _KG_PER_TONNE)
        return Measured(self.tension_n.value * factor, self.tension_n.se * factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleState:
    """What the strings of a piano do at their pitch."""

    notes: tuple[ScaleNote, ...]
    """Ascending by key."""
    load: FrameLoad
    """Of the notes here; more where some could not be told."""
    load_by_section: Mapping[str, FrameLoad]

    def by_key(self) -> dict[int, ScaleNote]:
        """Return the notes by key."""
        return {note.key: note for note in self.notes}


def strength_or_none(diameter_mm: float, *, grade: WireGrade | None) -> WireStrength | None:
    """Return the strength of a wire, ``None`` where no grade is given or its table does not reach to the diameter."""
    if grade is None:
        return None
    try:
        return wire_strength(diameter_mm, grade=grade)
    except InputError:
        return None


def scale_state(rows: Sequence[ScaleRow]) -> ScaleState:
    """Return what every string of a scale does, and the load of all.

    Each note is calculated by itself (`scale_strings.carried_in_scale`). In the sum, errors that notes share (the zero
    of the micrometer and of the tape, density of the metals, packing of the windings, curves that several notes were
    filled from) are added up note by note before they are squared; the rest is each note's own.

    Parameters
    ----------
    rows : sequence of ScaleRow
        At least one note, each key once.

    Returns
    -------
    ScaleState
        Notes in ascending order.

    Raises
    ------
    InputError
        If there is no note, or one stands there twice.
    """
    ordered = sorted(rows, key=lambda row: row.key)
    keys = [row.key for row in ordered]
    if not keys:
        raise InputError("no note of the scale could be told", name="rows")
    if len(set(keys)) < len(keys):
        raise InputError.of("rows", keys, "each note once")
    carried = [_carried(row) for row in ordered]
    pulls = [_Pull.of(row, one) for row, one in zip(ordered, carried, strict=True)]
    names = dict.fromkeys(str(row.section) for row in ordered)
    return ScaleState(
        notes=tuple(
            ScaleNote(row=row, state=state_of(one), tension_of_note_n=_times(one.measured("tension_n"), row.n_strings))
            for row, one in zip(ordered, carried, strict=True)
        ),
        load=_load(pulls),
        load_by_section={name: _load([pull for pull in pulls if str(pull.row.section) == name]) for name in names},
    )


def _carried(row: ScaleRow) -> CarriedString:
    strength = None if row.strength is None else row.strength.stress_mpa
    try:
        return carried_in_scale(row.dimensions, f0_hz=row.f0_hz, strength_mpa=strength)
    except InputError as error:
        raise InputError(f"{key_name(row.key)}: {error}", name=error.name, value=error.value) from error


def _times(one: Measured, factor: float) -> Measured:
    return Measured(one.value * factor, one.se * factor)


@dataclass(frozen=True, slots=True)
class _Pull:
    """The pull of one note: value, what of its error is shared, by source, and what is its own."""

    row: ScaleRow
    tension_n: float
    shared: Mapping[str, float]
    own_n: float

    @classmethod
    def of(cls, row: ScaleRow, one: CarriedString) -> _Pull:
        column = one.shares[:, one.fields.index("tension_n")] * row.n_strings
        inputs, shared, own = row.dimensions.inputs(), dict[str, float](), 0.0
        for name, share in zip(one.inputs, column, strict=True):
            if name.startswith(_SHARED_BY_ALL) or name.endswith(_PACKING):
                source = name if not name.endswith(_PACKING) else "packing of the windings"
                shared[source] = shared.get(source, 0.0) + float(share)
                continue
            se = inputs[name].se if name in inputs else 0.0
            sources = row.ties.get(name, {}) if se > 0 else {}
            for source, move in sources.items():
                shared[source] = shared.get(source, 0.0) + float(share) * move / se
            left = 1.0 - sum((move / se) ** 2 for move in sources.values())
            own += float(share) ** 2 * max(left, 0.0)
        value = float(one.value[one.fields.index("tension_n")]) * row.n_strings
        return cls(row, value, shared, math.sqrt(own))


def _load(pulls: Sequence[_Pull]) -> FrameLoad:
    """Add up pulls: errors of one source in full, different ones by their squares."""
    sources = Counter(source for pull in pulls for source in pull.shared)
    together = {source: sum(pull.shared.get(source, 0.0) for pull in pulls) for source in sources}
    shared = float(np.linalg.norm([move for source, move in together.items() if sources[source] > 1]))
    alone = [move for source, move in together.items() if sources[source] == 1]
    own = float(np.linalg.norm([*alone, *(pull.own_n for pull in pulls)]))
    return FrameLoad(
        tension_n=Measured(sum(pull.tension_n for pull in pulls), math.hypot(shared, own)),
        shared_se_n=shared,
        own_se_n=own,
        n_strings=sum(pull.row.n_strings for pull in pulls),
        n_notes=len(pulls),
    )
