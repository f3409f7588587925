"""What is said of bringing a piano to pitch: typed, frozen, and published as ``strikeline.pitch/1``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from strikeline.measured import Measured
from strikeline.physics.pitch_change import BreakingRisk, Offset
from strikeline.plain_data import plain_data
from strikeline.workshop.pitch_scale import ScaleFit

SCHEMA: Final = "strikeline.pitch/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionOffset:
    """How far one section has to move to the pitch that was asked for."""

    section: str
    first: str
    last: str
    offset: Offset | None
    """``None`` where no note of it was heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One choice of pitch and what it costs."""

    name: str
    a4_hz: float
    move: Offset
    """Of all notes."""
    largest_section_cents: float
    tension_change_pct: Measured
    """Load on the frame, in per cent of now."""
    load_change_n: Measured | None
    """The same in newton, where the scale is known."""
    n_passes: int | None
    """Passes of pitch raising and one of fine tuning; ``None`` if six are not enough by the model."""
    risk: BreakingRisk


@dataclass(frozen=True, slots=True, kw_only=True)
class NotePlan:
    """One note in the next pass."""

    note: str
    key: int
    section: str
    now_cents: Measured | None
    """First partial against its target; ``None`` where it was not heard and stands with its section."""
    overpull_cents: float
    """Where to put it, above its target."""
    is_capped: bool
    set_first_partial_hz: float
    expected_cents: Measured
    """Where it will stand against its target when the pass is done."""
    tension_change_pct: float
    """From now to its target."""
    breaking_share_now: Measured | None
    breaking_share_at_most: Measured | None
    """At the overpull; ``None`` where the scale is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassAhead:
    """One pass of several, as it is expected to go."""

    number: int
    why: str
    middle_start_cents: float
    """Median of all notes against their targets, before."""
    middle_overpull_cents: float
    middle_end_cents: float
    largest_end_cents: float
    """Of nine notes in ten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Give:
    """How strings answer to the pull of others."""

    rests_on: str
    n_notes: int
    lost_share: Measured
    """Share of its pull that a note has lost, on the average, when all are raised alike and the pass is done."""
    settling: tuple[float, float, float]
    """Likely value and the ends that hold it in 95 cases of 100: share of its own pull that a note loses."""
    shared: tuple[float, float, float]
    """Share lost to each cent that all other notes are raised."""
    local: Mapping[str, tuple[float, float, float]]
    """The same from neighbours on the same bridge, by bridge."""
    scatter_cents: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPass:
    """What the first pass did."""

    n_notes: int
    before: Offset
    after: Offset
    expected_middle_cents: float
    """What common practice would have expected the middle note to have left."""
    is_shown: bool
    """Whether notes that were to move moved that way at all; if not, nothing is learned of how the piano gives."""
    is_hard_to_believe: bool
    """Whether hardly any piano gives so that this pass ends there: another plan was followed, or another pass heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pitch:
    """What it takes to bring a piano to pitch."""

    a4_hz: float
    a4_now_hz: Measured
    """What A4 would be if the whole piano were tuned to where its middle stands."""
    level_cents: Measured
    """The same against `a4_hz`."""
    level_over: str
    """Which notes the level is read from, such as "C3-A5"."""
    year: int | None
    rust_grade: int | None
    n_broken: int | None
    is_old_wire: bool
    scale_table: str | None
    """Text of the typed scale, where one was given."""
    scale_fit: ScaleFit | None
    """Whether it is that of this piano; ``None`` without a scale."""
    break_after: str | None
    last_wound: str | None
    order: str
    sections: tuple[SectionOffset, ...]
    first_pass: FirstPass | None
    decisions: tuple[Decision, ...]
    passes: tuple[PassAhead, ...]
    notes: tuple[NotePlan, ...]
    give: Give
    strained: tuple[str, ...]
    """Notes that come nearest to breaking, where the scale is known."""
    load_now_n: Measured | None
    look_first: str | None
    """What is to be looked at before this piano is raised at all; ``None`` where the risk is not high."""
    advice: tuple[str, ...]
    """What belongs to the decision and to the time after it."""
    cautions: tuple[str, ...]
    """Ids in the catalogue of cautions."""
    warnings: tuple[str, ...]
    cannot_tell: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain data in schema ``strikeline.pitch/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__slots__}}
