"""Charts of dampers at the bench: start by key, and by pedal against the others."""

from __future__ import annotations

from typing import Final

from strikeline.measured import Measured
from strikeline.reports.chart_layout import Scale
from strikeline.reports.figures import key_range
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Mark
from strikeline.reports.plain_chart import point
from strikeline.workshop.dampers import DampersAdvice, Timing

_MOST_LABELS: Final = 6
_FULL_KEYS: Final = (1, 88)
_MARKS: Final = {
    Timing.WITHIN: Mark.EVEN,
    Timing.CANNOT_TELL: Mark.HINT,
    Timing.EARLY: Mark.STANDS_OUT,
    Timing.LATE: Mark.STANDS_OUT,
}


def damper_charts(advice: DampersAdvice) -> tuple[KeyboardChart, ...]:
    """Return a chart of the start by key and one of the start by pedal, of what was read of them."""
    charts = list[KeyboardChart]()
    if advice.by_key:
        by_key = [(one.key, one.start_pct, one.timing) for one in advice.by_key]
        charts.append(_chart("start-by-key", "damper starts at, % of the hammer's travel", by_key, 50.0, (30.0, 70.0)))
    if advice.pedal is not None:
        by_pedal = [(one.key, one.after_others_mm, one.timing) for one in advice.pedal.dampers]
        charts.append(_chart("start-by-pedal", "after the others by pedal, mm", by_pedal, 0.0, (-3.0, 3.0)))
    return tuple(charts)


def _chart(
    name: str, title: str, found: list[tuple[int, Measured, Timing]], zero: float, at_least: tuple[float, ...]
) -> KeyboardChart:
    keys = [key for key, _value, _timing in found]
    out = [(key, timing) for key, _value, timing in found if _MARKS[timing] is Mark.STANDS_OUT]
    return KeyboardChart(
        name=name,
        description=f"{title[0].upper()}{title[1:]}, of {len(found)} dampers; {len(out)} are surely early or late.",
        axis_title=title,
        keys=(min(_FULL_KEYS[0], *keys), max(_FULL_KEYS[1], *keys)),
        points=tuple(point(key, value, _MARKS[timing]) for key, value, timing in found),
        trend=(),
        reference=None,
        zero=zero,
        labels=tuple(_label(key, timing) for key, timing in out[:_MOST_LABELS]),
        untold=(),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=at_least,
    )


def _label(key: int, timing: Timing) -> ChartLabel:
    return ChartLabel(text=f"{key_range(key, key)} {timing.value}", first_key=key, last_key=key, is_hint=False)
