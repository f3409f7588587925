"""How even a piano is over its keyboard, and what stands out: evidence in numbers, with what it rests on.

A note *stands out* when it departs from the trend of its neighbours by more than the error of measurement, the error of
the trend and the scatter of a well-kept piano explain together (`evenness_fit` finds notes and runs, with the number
of looks accounted for). Nothing here names a cause.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.evenness_fit import MIN_NOTES, Series, Shift, TrendFit, find_break, fit_trend
from strikeline.acoustics.evenness_quantities import INHARMONICITY, PITCH, QUANTITIES, Quantity
from strikeline.acoustics.listening import Listening, Note
from strikeline.keyboard import A4_KEY, HIGHEST_KEY, LOWEST_KEY
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

Floats = NDArray[np.float64]

BREAK_CANDIDATES: Final = range(9, 36)
"""Last keys below the break that are tried, F1 to G3 (common practice, no source: C♯2 to E3 hold most pianos)."""
_MIDDLE: Final = (28, 61)
"""C3 to A5, where the pitch level is read: the natural stretch stays within a few cents there."""
_SMALLEST_RELATIVE_SE: Final = 1e-6


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


WHOLE_RANGE_NOTES: Final = 4
"""Runs up to this length give the range of all their notes, longer ones leave out the outer tenths."""


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
class NoteEvenness:
    """One note against the trend of its neighbours, on the judged scale (natural logarithm where `Quantity.is_log`)."""

    key: int
    value: float
    se: float
    """Standard error of measurement."""
    trend: float
    residual: Measured
    """Value less trend; the error combines measurement, trend, and the scatter of a well-kept piano."""
    stands_out: bool


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
    """Jump of the trend across the break, in ``quantity.deviation_unit``."""


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

    @property
    def standouts(self) -> tuple[Standout, ...]:
        """All that stands out, the surest first."""
        found = [standout for one in self.quantities for standout in one.standouts]
        return tuple(sorted(found, key=lambda standout: (standout.p_false, standout.first_key)))


def judge_evenness(listening: Listening) -> Evenness:
    """Judge how even a piano is, from one listening.

    Parameters
    ----------
    listening : Listening
        Any number of notes; a quantity with fewer than 12 values is left unjudged.

    Returns
    -------
    Evenness
        Trend, residuals and standouts of each quantity, the break, the pitch level and the natural stretch.
    """
    notes = listening.best_by_key()
    n_looks = max(1, sum(_count(notes.values(), quantity) >= MIN_NOTES for quantity in QUANTITIES))
    typical_log_b = {key: float(np.log(typical_inharmonicity_b(key))) for key in range(LOWEST_KEY, HIGHEST_KEY + 1)}
    scale_break = _scale_break(notes, typical_log_b)
    b_evenness = _judge(notes, INHARMONICITY, scale_break, n_looks, base=typical_log_b)
    compass = listening.recording.compass
    low, high = (
        (min(notes, default=1), max(notes, default=88)) if compass is None else (compass.lowest, compass.highest)
    )
    keys = np.arange(min([low, *notes]), max([high, *notes]) + 1.0)
    cents, is_own = _stretch(keys, b_evenness)
    stretch = dict(zip(keys.astype(int).tolist(), cents.tolist(), strict=True))
    return Evenness(
        quantities=tuple(
            b_evenness
            if quantity is INHARMONICITY
            else _judge(notes, quantity, scale_break, n_looks, base=stretch if quantity is PITCH else None)
            for quantity in QUANTITIES
        ),
        scale_break=scale_break,
        pitch_level=_pitch_level(notes, stretch),
        stretch_keys=keys,
        stretch_cents=cents,
        stretch_is_own=is_own,
    )


def judged(note: Note, quantity: Quantity) -> Measured | None:
    """Return a quantity of a note on the scale it is judged on, ``None`` if it has no value there."""
    measured: Measured | None = getattr(note, quantity.field)
    if measured is None or not quantity.is_log:
        return measured
    if measured.value <= 0.0:
        return None
    return Measured(float(np.log(measured.value)), measured.se / measured.value)


def in_deviation_unit(departure: float, quantity: Quantity) -> float:
    """Return a departure on the judged scale in ``quantity.deviation_unit``: per cent of the trend for logarithms."""
    return 100.0 * float(np.expm1(departure)) if quantity.is_log else departure


def _count(notes: Iterable[Note], quantity: Quantity) -> int:
    return sum(judged(note, quantity) is not None for note in notes)


def _series(notes: dict[int, Note], quantity: Quantity) -> Series | None:
    """Return the values of a quantity along the keyboard, ``None`` if there are too few."""
    known = {key: value for key, note in notes.items() if (value := judged(note, quantity)) is not None}
    if len(known) < MIN_NOTES:
        return None
    keys = np.array(list(known), dtype=np.float64)
    return Series(
        keys=keys,
        values=np.array([value.value for value in known.values()]),
        se=np.array([value.se for value in known.values()]),
        scatter=quantity.scatter(keys),
        wander_ratio=quantity.wander_ratio,
        wander_keys=quantity.wander_keys,
        max_degree=quantity.max_degree,
    )


def _scale_break(notes: dict[int, Note], typical_log_b: dict[int, float]) -> Break | None:
    """Find the break in ln B less that of a typical piano, whose bend in the tenor would else look like a step."""
    series = _series(notes, INHARMONICITY)
    if series is None:
        return None
    typical = np.array([typical_log_b[int(key)] for key in series.keys])
    found = find_break(replace(series, values=series.values - typical), candidates=BREAK_CANDIDATES)
    return None if found is None else Break(after_key=found[0], p_false=found[1])


def _judge(
    notes: dict[int, Note],
    quantity: Quantity,
    scale_break: Break | None,
    n_looks: int,
    *,
    base: dict[int, float] | None = None,
) -> QuantityEvenness:
    """Judge one quantity; `base` by key is taken off before the trend is sought and put back on it."""
    series = _series(notes, quantity)
    if series is None:
        return QuantityEvenness(
            quantity=quantity,
            notes=(),
            n_values=_count(notes.values(), quantity),
            trend_keys=np.empty(0),
            trend=np.empty(0),
            trend_se=np.empty(0),
            scatter_ratio=None,
            standouts=(),
            step=None,
        )
    under = np.array([0.0 if base is None else base[int(key)] for key in series.keys])
    after = None if scale_break is None else float(scale_break.after_key)
    fit = fit_trend(replace(series, values=series.values - under), break_after=after, n_looks=n_looks)
    trend = fit.trend + np.array([0.0 if base is None else base[int(key)] for key in fit.grid_keys])
    rows = _rows(series, fit, trend)
    return QuantityEvenness(
        quantity=quantity,
        notes=rows,
        n_values=len(rows),
        trend_keys=fit.grid_keys,
        trend=trend,
        trend_se=fit.trend_se,
        scatter_ratio=fit.scale,
        standouts=tuple(_standout(quantity, rows, shift) for shift in fit.shifts),
        step=_step(quantity, fit),
    )


def _rows(series: Series, fit: TrendFit, trend: Floats) -> tuple[NoteEvenness, ...]:
    at = (series.keys - fit.grid_keys[0]).astype(int)
    combined = np.sqrt(series.se**2 + fit.trend_se[at] ** 2 + series.scatter**2)
    shifted = {i for shift in fit.shifts for i in range(shift.first, shift.last + 1)}
    return tuple(
        NoteEvenness(
            key=int(series.keys[i]),
            value=float(series.values[i]),
            se=float(series.se[i]),
            trend=float(trend[at[i]]),
            residual=Measured(float(series.values[i] - trend[at[i]]), float(combined[i])),
            stands_out=i in shifted,
        )
        for i in range(len(series.keys))
    )


def _standout(quantity: Quantity, rows: Sequence[NoteEvenness], shift: Shift) -> Standout:
    part = rows[shift.first : shift.last + 1]
    residuals = np.array([row.residual.value for row in part])
    low, high = (
        (residuals.min(), residuals.max()) if len(part) <= WHOLE_RANGE_NOTES else np.quantile(residuals, [0.1, 0.9])
    )
    low_shown, high_shown = in_deviation_unit(float(low), quantity), in_deviation_unit(float(high), quantity)
    shown = in_deviation_unit(shift.effect, quantity)
    slope = 100.0 * float(np.exp(shift.effect)) if quantity.is_log else 1.0
    return Standout(
        quantity=quantity,
        first_key=part[0].key,
        last_key=part[-1].key,
        n_notes=len(part),
        departure=Measured(shown, shift.se * slope),
        low=min(low_shown, high_shown, key=abs),
        high=max(low_shown, high_shown, key=abs),
        p_false=shift.p_false,
    )


def _step(quantity: Quantity, fit: TrendFit) -> Measured | None:
    if fit.step is None or fit.step_se is None:
        return None
    slope = 100.0 * float(np.exp(fit.step)) if quantity.is_log else 1.0
    return Measured(in_deviation_unit(fit.step, quantity), fit.step_se * slope)


def _stretch(keys: Floats, b_fit: QuantityEvenness) -> tuple[Floats, bool]:
    """Return the natural stretch on `keys`, shape (k,), from the trend of the piano's own B where there is one.

    Beyond the outermost notes with a B the typical piano's curve continues the piano's own at the level of its end.
    """
    typical = np.log(typical_inharmonicity_b(keys))
    a4 = float(A4_KEY)
    is_own = len(b_fit.trend_keys) > 0 and b_fit.trend_keys[0] <= a4 <= b_fit.trend_keys[-1]
    if not is_own:
        a4_b = float(typical_inharmonicity_b([a4])[0])
        stretch = natural_stretch(keys, inharmonicity_b=np.exp(typical), a4_inharmonicity_b=a4_b)
        return stretch.first_partial_cents, False
    own_keys, own = b_fit.trend_keys, b_fit.trend
    excess = own - np.log(typical_inharmonicity_b(own_keys))
    log_b = typical + np.interp(keys, own_keys, excess)
    a4_b = float(np.exp(np.interp(a4, own_keys, own)))
    stretch = natural_stretch(keys, inharmonicity_b=np.exp(log_b), a4_inharmonicity_b=a4_b)
    return stretch.first_partial_cents, True


def _pitch_level(notes: dict[int, Note], stretch: dict[int, float]) -> PitchLevel | None:
    """Return the median of pitch less natural stretch over the middle of the keyboard.

    The standard error of a median of n normal values is √(π/2)·sd/√n; the sd is 1.4826 times the median deviation, and
    at least the error of measurement.
    """
    middle = {
        key: note.pitch_cents
        for key, note in notes.items()
        if note.pitch_cents is not None and _MIDDLE[0] <= key <= _MIDDLE[1]
    }
    if not middle:
        return None
    own = np.array([value.value - stretch[key] for key, value in middle.items()])
    level = float(np.median(own))
    spread = 1.4826 * float(np.median(np.abs(own - level)))
    measurement = float(np.median([value.se for value in middle.values()]))
    n = len(own)
    # One or two notes show no spread: they stand for the level only within the scatter of a well-kept piano.
    if n < 5:
        spread = max(spread, float(PITCH.scatter(np.array([float(A4_KEY)]))[0]))
    se = float(np.sqrt(np.pi / 2.0)) * max(spread, measurement, _SMALLEST_RELATIVE_SE) / float(np.sqrt(n))
    a4 = notes.get(A4_KEY)
    return PitchLevel(a4_cents=None if a4 is None else a4.pitch_cents, level_cents=Measured(level, se), n_notes=n)
