"""From one compared quantity to its chart: the change of each note within the band of what repeats."""

from __future__ import annotations

from statistics import median
from typing import Final

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_result import Comparison, QuantityComparison
from strikeline.measured import HALF_WIDTHS_PER_SE
from strikeline.reports.chart_layout import Scale
from strikeline.reports.charts import render_svg
from strikeline.reports.comparison_words import change_word, quantity_sentence, signed
from strikeline.reports.content import SheetChart, Table
from strikeline.reports.figures import key_range, note_name, number, with_error
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark, Point

FEWEST_TO_DRAW: Final = 3
_MOST_LABELS: Final = 8
_NARROWEST: Final = 24
"""Keys of the narrowest chart: fewer would draw a keyboard of huge keys."""
_GAP_KEYS: Final = 6
"""The band is drawn over gaps between notes up to this wide."""
LEGEND: Final = (
    "Each dot is a note: how it changed from before to after, less what all notes share. The tinted band holds 95 of "
    "100 notes that did not change; a diamond is a note that changed, an open diamond a hint."
)


def change_chart(one: QuantityComparison, comparison: Comparison) -> SheetChart:
    """Return the chart of one quantity with its sentence, its table and its picture.

    Parameters
    ----------
    one : QuantityComparison
        Judged, or shown only.
    comparison : Comparison
        That it belongs to.
    """
    chart = _keyboard_chart(one, comparison)
    return SheetChart(
        name=chart.name,
        title=one.quantity.name,
        finding=quantity_sentence(one),
        alt=chart.description,
        svg=render_svg(chart) if len(one.notes) >= FEWEST_TO_DRAW and one.why_not is None else None,
        caption=_caption(one),
        table=_table(one),
    )


def _keyboard_chart(one: QuantityComparison, comparison: Comparison) -> KeyboardChart:
    marks = _marks(one)
    points = tuple(
        Point(
            key=note.key,
            value=note.change.value,
            low=note.change.value,
            high=note.change.value,
            mark=marks.get(note.key, Mark.EVEN),
        )
        for note in one.notes
    )
    told = {note.key for note in one.notes}
    low, high = _keys(comparison)
    heard = {note.key for other in comparison.quantities for note in other.notes}
    surest = sorted((*one.changes, *one.hints), key=lambda change: change.p_false)[:_MOST_LABELS]
    unit = one.quantity.change_unit
    return KeyboardChart(
        name=f"change-{one.quantity.name.replace(' ', '-')}",
        description=_description(one, points),
        axis_title=f"{one.quantity.name}, change in {'per cent' if unit == '%' else unit}",
        keys=(low, high),
        points=points,
        trend=_band(one),
        reference=None,
        zero=0.0,
        labels=tuple(
            ChartLabel(
                text=f"{key_range(c.first_key, c.last_key)} {change_word(c)}" + (" (a hint)" if c in one.hints else ""),
                first_key=c.first_key,
                last_key=c.last_key,
                is_hint=c in one.hints,
            )
            for c in surest
        ),
        untold=tuple(sorted(heard - told)),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=_usual_band(one),
    )


def _usual_band(one: QuantityComparison) -> tuple[float, ...]:
    """Return the ends of the band of what repeats, of the middle one of the notes."""
    if not one.notes:
        return ()
    half = HALF_WIDTHS_PER_SE * median(note.change.se for note in one.notes)
    return (-half, half)


def _keys(comparison: Comparison) -> tuple[int, int]:
    """Return the outermost keys of the axis that all charts share."""
    keys = [note.key for one in comparison.quantities for note in one.notes]
    keys += [*comparison.only_before, *comparison.only_after]
    for recording in (comparison.before, comparison.after):
        if recording.compass is not None:
            keys += [recording.compass.lowest, recording.compass.highest]
    low, high = min(keys, default=1), max(keys, default=88)
    missing = max(0, _NARROWEST - (high - low + 1))
    return low - missing // 2, high + missing - missing // 2


def _marks(one: QuantityComparison) -> dict[int, Mark]:
    marks = {}
    for changes, mark in ((one.hints, Mark.HINT), (one.changes, Mark.STANDS_OUT)):
        for change in changes:
            marks.update(dict.fromkeys(range(change.first_key, change.last_key + 1), mark))
    return marks


def _band(one: QuantityComparison) -> tuple[Line, ...]:
    """Return the band of what repeats about no change, in pieces where notes lie far apart."""
    pieces: list[list[int]] = []
    for i, note in enumerate(one.notes):
        if pieces and note.key - one.notes[i - 1].key <= _GAP_KEYS:
            pieces[-1].append(i)
        else:
            pieces.append([i])
    lines = []
    for piece in pieces:
        notes = [one.notes[i] for i in piece]
        if len(notes) < 2:
            continue
        half = [note.change.half_width for note in notes]
        lines.append(
            Line(
                keys=tuple(float(note.key) for note in notes),
                values=(0.0,) * len(notes),
                low=tuple(-h for h in half),
                high=tuple(half),
            )
        )
    return tuple(lines)


def _description(one: QuantityComparison, points: tuple[Point, ...]) -> str:
    """Return the picture in words."""
    name, unit = one.quantity.name, one.quantity.change_unit
    if not points:
        return f"Chart of the change of {name}: no value is known."
    values = [point.value for point in points]
    text = (
        f"Chart of the change of {name} in {unit} for {len(points)} notes from {note_name(points[0].key)} to "
        f"{note_name(points[-1].key)}: {number(min(values), places=1, plus=True)} to "
        f"{number(max(values), places=1, plus=True)}."
    )
    if one.changes:
        named = "; ".join(f"{key_range(c.first_key, c.last_key)} {change_word(c)}" for c in one.changes)
        text += f" Changed: {named}."
    return text


def _caption(one: QuantityComparison) -> str:
    """Return what all notes share of this quantity, and what repeats."""
    if one.why_not is not None or one.common is None:
        return ""
    parts = []
    if one.quantity is not compared.UNISON:
        parts.append(f"What all notes share, {signed(one.common, one)}, is taken off.")
    if one.repeatability is not None:
        places = max(1, one.quantity.decimals)
        size = number(one.repeatability, places=places)
        parts.append(f"Repeatability (one standard deviation): {size} {one.quantity.change_unit}, by {one.basis}.")
    if one.scatter_ratio is not None and one.scatter_ratio > 1.5:
        parts.append(f"The differences scatter {one.scatter_ratio:.1f} times as much as repeated playing.")
    return " ".join(parts)


def _table(one: QuantityComparison) -> Table:
    quantity = one.quantity
    marks = {key: {Mark.STANDS_OUT: "changed", Mark.HINT: "a hint"}[mark] for key, mark in _marks(one).items()}
    unit = "× 10 000" if quantity is compared.INHARMONICITY else quantity.unit
    rows = tuple(
        (
            note_name(note.key),
            number(quantity.factor * note.before, places=_places(quantity.decimals, quantity.is_log)),
            number(quantity.factor * note.after, places=_places(quantity.decimals, quantity.is_log)),
            with_error(note.change, plus=True, max_places=2),
            marks.get(note.key, ""),
        )
        for note in one.notes
    )
    return Table(
        head=("Note", f"Before ({unit})", f"After ({unit})", f"Change ({quantity.change_unit})", ""), rows=rows
    )


def _places(decimals: int, is_log: bool) -> int:
    return 2 if is_log else decimals
