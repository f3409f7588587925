"""What is said of the evenness of a piano: typed, frozen, each number with its error."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.evenness_quantities import Quantity
from strikeline.acoustics.evenness_scale import ChangePoint, Section
from strikeline.keyboard import key_name
from strikeline.measured import Measured

Floats = NDArray[np.float64]

WHOLE_RANGE_NOTES: Final = 4
"""Runs up to this length give the range of all their notes, longer ones leave out the outer tenths."""


class Sureness(StrEnum):
    """How sure it is that something stands out: by the chance that an even piano shows the like on its sheet."""

    VERY_SURE = "very sure"
    """Chance below 1 in 1000."""
    SURE = "sure"
    """Below 1 in 100."""
    FAIRLY_SURE = "fairly sure"
    """Below 1 in 20."""
    HINT = "a hint"
    """Below 1 in 5: worth a second listening, no more."""

    @classmethod
    def of(cls, p_false: float) -> Sureness:
        """Return the word for a chance of a false alarm."""
        if p_false < 0.001:
            return cls.VERY_SURE
        if p_false < 0.01:
            return cls.SURE
        return cls.FAIRLY_SURE if p_false < 0.05 else cls.HINT


@dataclass(frozen=True, slots=True, kw_only=True)
class Standout:
    """One note, or a run of neighbouring notes, that leaves the trend of its neighbours."""

    quantity: Quantity
    first_key: int
    last_key: int
    n_notes: int
    """Notes heard from the first to the last, both included."""
    departure: Measured
    """Mean departure from the trend, in ``quantity.deviation_unit``."""
    low: float
    """Smallest departure among the notes (of more than four: all but the outer tenths), in the same unit."""
    high: float
    """Largest departure."""
    p_false: float
    """Bound on the chance that an even piano shows the like anywhere on its sheet."""

    @property
    def sureness(self) -> Sureness:
        """How sure, as a word."""
        return Sureness.of(self.p_false)


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Neighbouring notes that leave the trend together, with the few between them that do not stand out alone."""

    quantity: Quantity
    first_key: int
    last_key: int
    n_notes: int
    """Notes heard from the first to the last."""
    n_departing: int
    """Those that stand out."""
    departure: Measured
    """Mean departure of those, in ``quantity.deviation_unit``."""
    p_false: float

    @property
    def sureness(self) -> Sureness:
        """How sure, as a word."""
        return Sureness.of(self.p_false)

    @property
    def word(self) -> str:
        """What the notes are called together: *brash* or *dull* for brightness, else the quantity's comparative."""
        if self.quantity.field == "brightness":
            return "brash" if self.departure.value > 0.0 else "dull"
        return self.quantity.more if self.departure.value > 0.0 else self.quantity.less


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteEvenness:
    """One note against the trend of its neighbours, on the judged scale (natural logarithm where `Quantity.is_log`)."""

    key: int
    value: float
    se: float
    """Standard error of measurement."""
    trend: float
    residual: Measured
    """Value less trend; the error combines measurement, trend, and the scatter of a well-kept piano."""
    departure: Measured
    """The same in plain units, those of ``Quantity.deviation_unit``."""
    stands_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTrend:
    """How one quantity runs through one section: a straight line through its notes, faulty ones counting less."""

    section: Section
    n_notes: int
    middle: Measured
    """Value in the middle of the section, in ``Quantity.unit``."""
    slope_per_octave: Measured
    """Change per octave upwards, in ``Quantity.deviation_unit``."""
    scatter: float
    """Standard deviation of a note about the line, in ``Quantity.deviation_unit``."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuantityEvenness:
    """One quantity along the keyboard."""

    quantity: Quantity
    notes: tuple[NoteEvenness, ...]
    """Notes with a value, ascending; empty if there are too few to compare."""
    n_values: int
    """Notes that have a value, whether or not they could be compared."""
    trend_keys: Floats  # shape (m,)
    trend: Floats  # shape (m,), judged scale
    trend_se: Floats  # shape (m,)
    scatter_ratio: float | None
    """Scatter of this piano from note to note over that of a well-kept one, 0.6 or more."""
    standouts: tuple[Standout, ...]
    step: Measured | None
    """Jump across the break, in ``quantity.deviation_unit``; the same as in `Evenness.steps`."""
    sections: tuple[SectionTrend, ...] = ()
    """Sections with enough notes, ascending."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where the scale changes from one bridge to the next, as far as the inharmonicity shows it."""

    after_key: int
    """Last key below the break."""
    p_false: float

    @property
    def sureness(self) -> Sureness:
        """How sure, as a word."""
        return Sureness.of(self.p_false)


class StepVerdict(StrEnum):
    """Whether a listener hears a step where the scale changes."""

    HEARD = "step heard"
    """Beyond what scatter explains, and large enough to be heard."""
    TOO_SMALL = "a step, too small to be heard"
    """Beyond what scatter explains, but smaller than what is heard."""
    MEASURED = "a step, whether it is heard is not known"
    """Beyond what scatter explains, in a quantity of which no figure says from how far on it is heard."""
    NONE = "no step beyond scatter"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleStep:
    """One quantity at one change of the scale."""

    change: ChangePoint
    quantity: Quantity
    step: Measured | None
    """From just below to just above the change, in ``quantity.deviation_unit``."""
    scatter: float | None
    """Standard deviation from note to note in this piano, in the same unit."""
    p_value: float | None
    """Chance of a step as large, up or down, where there is none; of this quantity at this change alone."""
    p_sheet: float | None
    """The same for all steps looked at on the sheet together (Holm 1979, from memory)."""
    verdict: StepVerdict
    reason: str | None = None
    """Why it cannot be told."""

    @property
    def is_audible(self) -> bool | None:
        """Whether the step is as large as one that is heard; ``None`` where no figure or no step is known."""
        if self.step is None or self.quantity.audible is None:
            return None
        return self.quantity.audible.reached_by(self.step.value)

    def to_json(self) -> dict[str, Any]:
        """Return plain data."""
        audible = self.quantity.audible
        return {
            "after": key_name(self.change.after_key),
            "change": self.change.kind.value,
            "quantity": self.quantity.field,
            "unit": self.quantity.deviation_unit,
            "step": None if self.step is None else {"value": self.step.value, "se": self.step.se},
            "scatter": self.scatter,
            "p_value": self.p_value,
            "p_sheet": self.p_sheet,
            "audible": self.is_audible,
            "audible_from": None
            if audible is None
            else {"up": audible.up, "down": audible.down, "source": audible.source},
            "verdict": self.verdict.value,
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeVerdict:
    """Whether a listener hears the scale change at all, over all measures that are heard."""

    change: ChangePoint
    verdict: StepVerdict
    p_value: float | None
    """Chance of such steps where there are none, over all measures, as far as they go their own ways."""
    heard_in: tuple[Quantity, ...]
    """Measures in which the step is heard; may be empty where only all together tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PitchLevel:
    """Where the whole piano stands."""

    a4_cents: Measured | None
    """A4 as measured, against the reference."""
    level_cents: Measured
    """Middle of C3 to A5 against the natural stretch from the reference A4; the error is that of a median."""
    n_notes: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evenness:
    """What one listening says about the evenness of a piano."""

    quantities: tuple[QuantityEvenness, ...]
    """In the order of `QUANTITIES`, all of them."""
    scale_break: Break | None
    pitch_level: PitchLevel | None
    stretch_keys: Floats  # shape (k,), keys of the compass
    stretch_cents: Floats  # shape (k,), natural stretch of this piano from its own B, from the reference A4
    stretch_is_own: bool
    """Whether the stretch follows from B measured on this piano (else from that of a typical piano)."""
    change_points: tuple[ChangePoint, ...] = ()
    """The break and all other changes of the strings, ascending."""
    steps: tuple[ScaleStep, ...] = ()
    """Each quantity at each change point."""
    change_verdicts: tuple[ChangeVerdict, ...] = ()
    """For each change point, whether a listener hears it at all."""
    areas: tuple[Area, ...] = ()
    """Stretches of the keyboard that depart together, the surest first."""

    @property
    def standouts(self) -> tuple[Standout, ...]:
        """All that stands out, the surest first."""
        found = [standout for one in self.quantities for standout in one.standouts]
        return tuple(sorted(found, key=lambda standout: (standout.p_false, standout.first_key)))

    def of(self, quantity: Quantity) -> QuantityEvenness:
        """Return what is said of one quantity."""
        return next(one for one in self.quantities if one.quantity is quantity)
