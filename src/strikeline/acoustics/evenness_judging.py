"""One quantity judged along the keyboard: its trend, each note against it, and what stands out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_fit import MIN_NOTES, TrendFit, fit_trend, with_own_scatter
from strikeline.acoustics.evenness_model import Floats, Series
from strikeline.acoustics.evenness_quantities import INHARMONICITY, Quantity
from strikeline.acoustics.evenness_result import WHOLE_RANGE_NOTES, NoteEvenness, QuantityEvenness, Standout
from strikeline.acoustics.evenness_shifts import Shift
from strikeline.acoustics.evenness_steps import Judged, in_plain_unit
from strikeline.acoustics.listening import Note
from strikeline.measured import Measured

_WORN_NOTES: Final = 5
"""Notes that must depart together to be told from drift, which reaches over three to five."""
_WORN_CHANCE: Final = 0.001
"""Runs that are less sure are left in: taking out what chance has raised makes steps look surer than they are."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judging:
    """One quantity, with what later steps need of it."""

    evenness: QuantityEvenness
    judged: Judged


def judged(note: Note, quantity: Quantity) -> Measured | None:
    """Return a quantity of a note on the scale it is judged on, ``None`` if it has no value there."""
    measured: Measured | None = getattr(note, quantity.field)
    if measured is None or not quantity.is_log:
        return measured
    if measured.value <= 0.0:
        return None
    return Measured(float(np.log(measured.value)), measured.se / measured.value)


def count_values(notes: Mapping[int, Note], quantity: Quantity) -> int:
    """Return how many notes have a value."""
    return sum(judged(note, quantity) is not None for note in notes.values())


def in_deviation_unit(departure: float, quantity: Quantity) -> float:
    """Return a departure on the judged scale in ``quantity.deviation_unit``: per cent of the trend for logarithms."""
    return 100.0 * float(np.expm1(departure)) if quantity.is_log else departure


def series_of(notes: Mapping[int, Note], quantity: Quantity, *, base: Mapping[int, float] | None) -> Series | None:
    """Return the values of a quantity along the keyboard, ``None`` if there are too few.

    Parameters
    ----------
    notes : mapping of int to Note
        By key.
    quantity : Quantity
        Which.
    base : mapping of int to float, or None
        By key, on the judged scale: a trend known beforehand, which is taken off.
    """
    known = {key: value for key, note in sorted(notes.items()) if (value := judged(note, quantity)) is not None}
    if len(known) < MIN_NOTES:
        return None
    keys = np.array(list(known), dtype=np.float64)
    under = np.zeros(keys.size) if base is None else np.array([base[key] for key in known])
    return Series(
        keys=keys,
        values=np.array([value.value for value in known.values()]) - under,
        se=np.array([value.se for value in known.values()]),
        scatter=quantity.scatter(keys),
        wander_ratio=quantity.wander_ratio,
        wander_keys=quantity.wander_keys,
        max_degree=quantity.max_degree,
    )


def judge_quantity(
    notes: Mapping[int, Note],
    quantity: Quantity,
    *,
    break_after: float | None,
    steps_after: Sequence[float],
    n_looks: int,
    base: Mapping[int, float] | None = None,
) -> Judging:
    """Judge one quantity.

    Parameters
    ----------
    notes : mapping of int to Note
        By key.
    quantity : Quantity
        Which.
    break_after : float or None
        Key after which the trend may step and bend.
    steps_after : sequence of float
        Keys after which it may step besides.
    n_looks : int
        Number of quantities looked at on the same sheet.
    base : mapping of int to float, optional
        Trend known beforehand, by key; it is taken off before the trend is sought and put back on it.
    """
    series = series_of(notes, quantity, base=base)
    if series is None:
        return Judging(
            evenness=QuantityEvenness(
                quantity=quantity,
                notes=(),
                n_values=count_values(notes, quantity),
                trend_keys=np.empty(0),
                trend=np.empty(0),
                trend_se=np.empty(0),
                scatter_ratio=None,
                standouts=(),
                step=None,
            ),
            judged=Judged(quantity=quantity, series=None),
        )
    seen = (
        series if quantity is not INHARMONICITY or break_after is None else with_own_scatter(series, after=break_after)
    )
    fit = fit_trend(seen, break_after=break_after, n_looks=n_looks, steps_after=steps_after)
    under = np.array([0.0 if base is None else base[int(key)] for key in fit.grid_keys])
    trend = fit.trend + under
    values = replace(series, values=series.values + under[(series.keys - fit.grid_keys[0]).astype(int)])
    rows = _rows(values, fit, trend, quantity)
    standouts = tuple(_standout(quantity, rows, shift) for shift in fit.shifts)
    return Judging(
        evenness=QuantityEvenness(
            quantity=quantity,
            notes=rows,
            n_values=len(rows),
            trend_keys=fit.grid_keys,
            trend=trend,
            trend_se=fit.trend_se,
            scatter_ratio=fit.scale,
            standouts=standouts,
            step=None,
        ),
        judged=Judged(
            quantity=quantity,
            series=series,
            shifted=tuple(
                (float(run.first_key), float(run.last_key))
                for run in standouts
                if run.n_notes >= _WORN_NOTES and run.p_false <= _WORN_CHANCE
            ),
        ),
    )


def _rows(series: Series, fit: TrendFit, trend: Floats, quantity: Quantity) -> tuple[NoteEvenness, ...]:
    at = (series.keys - fit.grid_keys[0]).astype(int)
    combined = np.sqrt(series.se**2 + fit.trend_se[at] ** 2 + series.scatter**2)
    shifted = {i for shift in fit.shifts for i in range(shift.first, shift.last + 1)}
    residuals = [
        Measured(float(value), float(se)) for value, se in zip(series.values - trend[at], combined, strict=True)
    ]
    return tuple(
        NoteEvenness(
            key=int(series.keys[i]),
            value=float(series.values[i]),
            se=float(series.se[i]),
            trend=float(trend[at[i]]),
            residual=residual,
            departure=in_plain_unit(residual, quantity),
            stands_out=i in shifted,
        )
        for i, residual in enumerate(residuals)
    )


def _standout(quantity: Quantity, rows: Sequence[NoteEvenness], shift: Shift) -> Standout:
    part = rows[shift.first : shift.last + 1]
    residuals = np.array([row.residual.value for row in part])
    low, high = (
        (residuals.min(), residuals.max()) if len(part) <= WHOLE_RANGE_NOTES else np.quantile(residuals, [0.1, 0.9])
    )
    low_shown, high_shown = in_deviation_unit(float(low), quantity), in_deviation_unit(float(high), quantity)
    return Standout(
        quantity=quantity,
        first_key=part[0].key,
        last_key=part[-1].key,
        n_notes=len(part),
        departure=in_plain_unit(Measured(shift.effect, shift.se), quantity),
        low=min(low_shown, high_shown, key=abs),
        high=max(low_shown, high_shown, key=abs),
        p_false=shift.p_false,
    )
