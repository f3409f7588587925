"""Charts of keys: level and dip over the keyboard, each key against what it is brought to."""

from __future__ import annotations

from typing import Final

from strikeline.domain.catalogue import Place, the_catalogue
from strikeline.reports.chart_layout import Scale
from strikeline.reports.figures import count, key_range
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Mark
from strikeline.reports.plain_chart import point, stretch_of
from strikeline.workshop.keys import KeyRun, KeysAdvice, KeyWork

_MOST_LABELS: Final = 6
_MARKS: Final = {
    Place.WITHIN: Mark.EVEN,
    Place.CANNOT_TELL: Mark.HINT,
    Place.LOW: Mark.STANDS_OUT,
    Place.HIGH: Mark.STANDS_OUT,
}


def key_charts(advice: KeysAdvice) -> tuple[KeyboardChart, ...]:
    """Return one chart for each quantity read, naturals and sharps apart: how far each key is from its goal."""
    return tuple(_chart(run) for run in advice.runs)


def _chart(run: KeyRun) -> KeyboardChart:
    name = the_catalogue()[run.quantity].names["gb"]
    kind = "naturals" if run.are_naturals else "sharps"
    out = [one for one in run.keys if _MARKS[one.place] is Mark.STANDS_OUT]
    keys = [one.key for one in run.keys]
    are_out = "none is" if not out else count(len(out), "is", "are")
    tolerance = run.nominal.tolerance
    return KeyboardChart(
        name=f"{run.quantity}-{kind}",
        description=(
            f"How far {len(run.keys)} {kind} are from what they are brought to, {name}; {are_out} surely out of "
            f"tolerance, {tolerance:g} millimetres."
        ),
        axis_title=f"{name}, {kind}: away, mm",
        keys=stretch_of(keys),
        points=tuple(point(one.key, one.away, _MARKS[one.place]) for one in run.keys),
        trend=(),
        reference=None,
        zero=0.0,
        labels=tuple(_label(one) for one in sorted(out, key=lambda one: -abs(one.away.value))[:_MOST_LABELS]),
        untold=(),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(-2.0 * tolerance, 2.0 * tolerance),
    )


def _label(one: KeyWork) -> ChartLabel:
    words = "high" if one.place is Place.HIGH else "low"
    return ChartLabel(text=f"{key_range(one.key, one.key)} {words}", first_key=one.key, last_key=one.key, is_hint=False)
