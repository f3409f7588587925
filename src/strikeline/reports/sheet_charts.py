"""From the evenness of one quantity to its chart, in printed units, with its table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from strikeline.acoustics.evenness import Evenness, QuantityEvenness, Sureness, in_deviation_unit, judged
from strikeline.acoustics.evenness_quantities import (
    BRIGHTNESS,
    INHARMONICITY,
    KNOCK,
    LEVEL,
    PITCH,
    SINGING,
    SUSTAIN,
    Quantity,
)
from strikeline.acoustics.listening import Listening
from strikeline.reports.chart_layout import Scale
from strikeline.reports.charts import band, render_svg
from strikeline.reports.content import SheetChart, Table
from strikeline.reports.figures import (
    ABSENT,
    key_range,
    key_ranges,
    note_name,
    number,
    with_error,
)
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark, Point
from strikeline.reports.untold import untold_keys
from strikeline.reports.words import a4_name, chart_sentence, standout_word

_CARRIED_KEYS: Final = 3
"""The trend is drawn no farther than this from a note that has a value."""


class Drawn(StrEnum):
    """When the chart of a quantity is worth its room."""

    ALWAYS = "always"
    MOSTLY_TOLD = "mostly told"
    """Half of the notes have a value: fewer make a chart of gaps, and the table has them all."""
    STANDS_OUT = "stands out"
    """Something stands out in it; another chart shows the like."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How one quantity is printed."""

    quantity: Quantity
    title: str
    axis_title: str
    factor: float
    """Printed number over the value itself."""
    tick_places: int | None
    plus: bool
    """Whether positive numbers carry a sign."""
    when: Drawn = Drawn.ALWAYS


LOOKS: Final = (
    Look(quantity=PITCH, title="Pitch", axis_title="cents", factor=1.0, tick_places=None, plus=True),
    Look(
        quantity=INHARMONICITY,
        title="Inharmonicity",
        axis_title="B × 10 000",
        factor=1e4,
        tick_places=None,
        plus=False,
    ),
    Look(quantity=BRIGHTNESS, title="Brightness", axis_title="semitones", factor=1.0, tick_places=None, plus=True),
    Look(quantity=SINGING, title="Singing", axis_title="seconds", factor=1.0, tick_places=None, plus=False),
    Look(
        quantity=SUSTAIN,
        title="Sustain",
        axis_title="dB per second",
        factor=1.0,
        tick_places=None,
        plus=False,
        when=Drawn.STANDS_OUT,
    ),
    Look(quantity=LEVEL, title="Level", axis_title="dB", factor=1.0, tick_places=None, plus=False),
    Look(
        quantity=KNOCK, title="Knock", axis_title="dB", factor=1.0, tick_places=None, plus=False, when=Drawn.MOSTLY_TOLD
    ),
)


def sheet_chart(listening: Listening, evenness: Evenness, look: Look) -> SheetChart:
    """Return the chart of one quantity with its sentence, its table and its picture.

    Parameters
    ----------
    listening : Listening
        The measured notes.
    evenness : Evenness
        What `judge_evenness` found in them.
    look : Look
        Which quantity, and how it is drawn.
    """
    one = next(q for q in evenness.quantities if q.quantity is look.quantity)
    chart = _keyboard_chart(listening, evenness, one, look)
    return SheetChart(
        name=look.quantity.field,
        title=look.title,
        finding=chart_sentence(one, evenness),
        alt=chart.description,
        svg=render_svg(chart) if chart.points else None,
        caption=_caption(listening, evenness, look),
        table=_table(listening, one, look),
    )


def is_worth_drawing(listening: Listening, evenness: Evenness, look: Look) -> bool:
    """Return whether the chart of a quantity is worth its room on this sheet.

    Parameters
    ----------
    listening : Listening
        The measured notes.
    evenness : Evenness
        What `judge_evenness` found in them.
    look : Look
        Which quantity, and when it is drawn.
    """
    if look.when is Drawn.STANDS_OUT:
        return bool(evenness.of(look.quantity).standouts)
    if look.when is Drawn.MOSTLY_TOLD:
        notes = listening.best_by_key().values()
        return 2 * sum(getattr(note, look.quantity.field) is not None for note in notes) >= len(notes)
    return True


def _printed(look: Look) -> Callable[[float], float]:
    """Return the map from the judged scale to the printed number."""
    if look.quantity.is_log:
        return lambda value: look.factor * float(np.exp(value))
    return lambda value: look.factor * value


def _keyboard_chart(listening: Listening, evenness: Evenness, one: QuantityEvenness, look: Look) -> KeyboardChart:
    printed = _printed(look)
    marks = note_marks(one)
    points = []
    for key, note in listening.best_by_key().items():
        value = judged(note, look.quantity)
        if value is not None:
            half = value.half_width
            points.append(
                Point(
                    key=key,
                    value=printed(value.value),
                    low=printed(value.value - half),
                    high=printed(value.value + half),
                    mark=marks.get(key, Mark.EVEN),
                )
            )
    keys = (int(evenness.stretch_keys[0]), int(evenness.stretch_keys[-1]))
    untold = tuple(key for key in untold_keys(listening, look.quantity.field) if keys[0] <= key <= keys[1])
    surest = sorted(one.standouts, key=lambda standout: standout.p_false)
    return KeyboardChart(
        name=look.quantity.field.replace("_", "-"),
        description=_description(listening, one, look, points, untold),
        axis_title=look.axis_title,
        keys=keys,
        points=tuple(points),
        trend=_trend(evenness, one, printed),
        reference=_stretch_line(evenness) if look.quantity is PITCH and points else None,
        zero=0.0 if look.quantity is PITCH else None,
        labels=tuple(
            ChartLabel(
                text=f"{key_range(s.first_key, s.last_key)} {standout_word(s)}"
                + (" (a hint)" if s.sureness is Sureness.HINT else ""),
                first_key=s.first_key,
                last_key=s.last_key,
                is_hint=s.sureness is Sureness.HINT,
            )
            for s in surest
        ),
        untold=untold,
        break_after=None if evenness.scale_break is None else evenness.scale_break.after_key,
        scale=Scale.LOG if look.quantity.is_log else Scale.LINEAR,
        tick_places=look.tick_places,
    )


def note_marks(one: QuantityEvenness) -> dict[int, Mark]:
    """Return the keys that leave the trend, with how loudly they speak."""
    marks = {}
    for standout in one.standouts:
        mark = Mark.HINT if standout.sureness is Sureness.HINT else Mark.STANDS_OUT
        marks.update(dict.fromkeys(range(standout.first_key, standout.last_key + 1), mark))
    return marks


def _trend(evenness: Evenness, one: QuantityEvenness, printed: Callable[[float], float]) -> tuple[Line, ...]:
    """Return the trend as one line a section, so that a step at the break is drawn as a step."""
    if not one.notes:
        return ()
    spread = np.hypot(one.quantity.scatter(one.trend_keys), one.trend_se)
    low, high = band(one.trend.tolist(), spread.tolist())
    keys = one.trend_keys.tolist()
    after = None if evenness.scale_break is None else evenness.scale_break.after_key
    return tuple(
        Line(
            keys=tuple(keys[i] for i in part),
            values=tuple(printed(float(one.trend[i])) for i in part),
            low=tuple(printed(low[i]) for i in part),
            high=tuple(printed(high[i]) for i in part),
        )
        for part in _stretches(keys, known=[row.key for row in one.notes], after=after)
    )


def _stretches(keys: list[float], *, known: list[int], after: int | None) -> list[list[int]]:
    """Return the indices of the trend in stretches that notes carry, parted at the break and at wide gaps."""
    carried = [any(abs(key - note) <= _CARRIED_KEYS for note in known) for key in keys]
    stretches: list[list[int]] = []
    for i, key in enumerate(keys):
        if not carried[i]:
            continue
        joins = bool(stretches) and stretches[-1][-1] == i - 1 and not (after is not None and key == after + 1)
        if joins:
            stretches[-1].append(i)
        else:
            stretches.append([i])
    return [stretch for stretch in stretches if len(stretch) > 1]


def _stretch_line(evenness: Evenness) -> Line:
    """Return the natural stretch at the level the piano stands at."""
    level = 0.0 if evenness.pitch_level is None else evenness.pitch_level.level_cents.value
    return Line(keys=tuple(evenness.stretch_keys.tolist()), values=tuple((evenness.stretch_cents + level).tolist()))


def _description(
    listening: Listening, one: QuantityEvenness, look: Look, points: list[Point], untold: tuple[int, ...]
) -> str:
    """Return the picture in words: what is drawn, over which notes, from what to what, and what leaves the trend."""
    if not points:
        return f"Chart of {look.title.lower()}: no value is known."
    values = [point.value for point in points]
    span = f"{_plain(min(values), look)} to {_plain(max(values), look)}"
    text = (
        f"Chart of {look.title.lower()} in {look.axis_title} for {len(points)} notes from {note_name(points[0].key)} "
        f"to {note_name(points[-1].key)}: {span}."
    )
    if one.standouts:
        named = "; ".join(f"{key_range(s.first_key, s.last_key)} {standout_word(s)}" for s in one.standouts)
        text += f" Standing out: {named}."
    if untold:
        text += f" Not told: {key_ranges(untold)}."
    if listening.recording.is_partial:
        text += " The recording broke off."
    return text


def _plain(value: float, look: Look) -> str:
    return number(value, places=1 if abs(value) < 100 else 0, plus=look.plus)


def legend(evenness: Evenness) -> str:
    """Return what the marks shared by all charts mean; only those that are there."""
    parts = ["each dot is a note with the bar that holds the truth in 95 cases of 100"]
    if any(one.notes for one in evenness.quantities):
        parts.append(
            "the fine line is the trend of the neighbours, the tinted band holds 95 of 100 notes of a well-kept piano"
        )
    if evenness.standouts:
        parts.append("a diamond is a note that stands out, an open diamond a hint")
    parts.append("a small square above the keyboard is a note that could not be told")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _caption(listening: Listening, evenness: Evenness, look: Look) -> str:
    """Return what only this chart shows."""
    if look.quantity is not PITCH:
        return ""
    whose = "this piano’s own inharmonicity" if evenness.stretch_is_own else "the inharmonicity of a typical piano"
    level = "" if evenness.pitch_level is None else ", at the level the piano stands at"
    return (
        f"Dashed: the natural stretch that follows from {whose}{level}. Full line: equal temperament at "
        f"{a4_name(listening.recording.reference_a4_hz)}."
    )


def _table(listening: Listening, one: QuantityEvenness, look: Look) -> Table:
    rows = []
    unit = look.quantity.deviation_unit
    printed = _printed(look)
    by_key = {row.key: row for row in one.notes}
    marks = {key: str(mark) for key, mark in note_marks(one).items()}
    for key, note in listening.best_by_key().items():
        value = with_error(getattr(note, look.quantity.field), factor=look.factor, plus=look.plus, max_places=3)
        row = by_key.get(key)
        if row is None:
            rows.append((note_name(key), value, ABSENT, ABSENT, ""))
            continue
        departure = in_deviation_unit(row.residual.value, look.quantity)
        rows.append(
            (
                note_name(key),
                value,
                number(printed(row.trend), places=2, plus=look.plus),
                number(departure, places=look.quantity.decimals, plus=True),
                marks.get(key, ""),
            )
        )
    return Table(
        head=("Note", f"{look.title} ({look.axis_title})", "Trend", f"Departure ({unit})", ""), rows=tuple(rows)
    )
