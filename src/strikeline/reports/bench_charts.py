"""Charts of what was measured on the bench: bearing, torque of the wrest pins, drift of pitch between two visits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from strikeline.measured import Measured
from strikeline.physics.bearing import Sign
from strikeline.physics.drift_shape import DriftShape
from strikeline.physics.wrest_pins import WEAK_BELOW_NM, GripClass
from strikeline.reports.chart_layout import Scale
from strikeline.reports.figures import count, key_range, number
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark
from strikeline.reports.plain_chart import point, stretch_of
from strikeline.workshop.bearing import BearingReport
from strikeline.workshop.pins import PinsReport

_MOST_LABELS: Final = 6


def bearing_chart(report: BearingReport) -> KeyboardChart:
    """Return the bend of every measured note, with the line through each bridge and the band of its error."""
    points = tuple(
        point(
            note.key, note.bearing.total_deg, Mark.STANDS_OUT if note.bearing.total_sign is Sign.NEGATIVE else Mark.EVEN
        )
        for note in report.notes
    )
    negative = [one.key for one in points if one.mark is Mark.STANDS_OUT]
    n = len(negative)
    return KeyboardChart(
        name="bearing",
        description=(
            f"Bend of the strings over the bridge on {len(points)} measured notes; {_none_or(n)} of them negative."
        ),
        axis_title="bend over the bridge, degrees",
        keys=stretch_of([one.key for one in points]),
        points=points,
        trend=tuple(
            _line({bend.key: bend.bend_deg for bend in bridge.bends}) for bridge in report.bridges if bridge.bends
        ),
        reference=None,
        zero=0.0,
        labels=tuple(_label(key, key, "negative") for key in negative[:_MOST_LABELS]),
        untold=(),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(0.0, report.set_by_rebuilders_deg[1], *_ends(report)),
    )


def _ends(report: BearingReport) -> tuple[float, ...]:
    """Return how low and how high the bars of the notes reach."""
    bars = [(one.total_deg.value, one.total_deg.half_width) for one in (n.bearing for n in report.notes)]
    return min(value - half for value, half in bars), max(value + half for value, half in bars)


def pins_chart(report: PinsReport) -> KeyboardChart:
    """Return the torque of every pin read; weak pins stand out, the limit of what counts as weak is dashed."""
    weak = {GripClass.FAILING, GripClass.MARGINAL}
    points = tuple(
        point(one.pin.key, one.pin.torque_nm, Mark.STANDS_OUT if one.grip in weak else Mark.EVEN) for one in report.pins
    )
    keys = stretch_of([one.key for one in points])
    runs, n_weak = report.pattern.runs[:_MOST_LABELS], report.field.shares[1].n_below
    return KeyboardChart(
        name="pins",
        description=(
            f"Torque of {count(len(points), 'wrest pin')}; {_none_or(n_weak)} of them below the dashed line at "
            f"{WEAK_BELOW_NM:.1f} newton metres. The weak ones lie: {report.pattern.pattern.value}."
        ),
        axis_title="torque, N·m",
        keys=keys,
        points=points,
        trend=(),
        reference=Line(keys=(keys[0] - 0.5, keys[1] + 0.5), values=(WEAK_BELOW_NM, WEAK_BELOW_NM)),
        zero=None,
        labels=tuple(_label(run.first_key, run.last_key, f"{run.n} weak, {run.row}") for run in runs),
        untold=(),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(0.0, WEAK_BELOW_NM),
    )


def drift_chart(changes_cents: Mapping[int, Measured], shape: DriftShape, *, break_after: int | None) -> KeyboardChart:
    """Return how far each note moved between two visits, with the curve through them.

    Parameters
    ----------
    changes_cents : mapping of int to Measured
        Pitch after less before, by key number.
    shape : DriftShape
        The curve.
    break_after : int or None
        Last key on the bass bridge.
    """
    off = set(shape.off_the_curve)
    points = tuple(
        point(key, change, Mark.STANDS_OUT if key in off else Mark.EVEN)
        for key, change in sorted(changes_cents.items())
    )
    return KeyboardChart(
        name="drift",
        description=(
            f"Change of pitch of {shape.n} notes between two visits, on average "
            f"{number(shape.mean_cents.value, places=1, plus=True)} cents; {_by_themselves(len(off))}."
        ),
        axis_title="change of pitch, cents",
        keys=stretch_of([one.key for one in points]),
        points=points,
        trend=tuple(_line(part) for part in _parts(shape.curve_cents, break_after) if len(part) > 1),
        reference=None,
        zero=0.0,
        labels=tuple(_label(key, key, "by itself") for key in shape.off_the_curve[:_MOST_LABELS]),
        untold=(),
        break_after=break_after,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(-2.0, 2.0),
    )


def _none_or(n: int) -> str:
    """Return a small count in words, with none for no."""
    return "none" if n == 0 else count(n, "", "").strip()


def _by_themselves(n: int) -> str:
    return "no note moved by itself" if n == 0 else count(n, "note moved by itself", "notes moved by themselves")


def _parts(curve: Mapping[int, Measured], break_after: int | None) -> tuple[dict[int, Measured], ...]:
    """Return a curve in its pieces on either side of the break, which no line joins."""
    edge = min(curve) - 1 if break_after is None else break_after
    below = {key: value for key, value in curve.items() if key <= edge}
    return below, {key: value for key, value in curve.items() if key > edge}


def _line(values: Mapping[int, Measured]) -> Line:
    half = {key: value.half_width for key, value in values.items()}
    return Line(
        keys=tuple(float(key) for key in values),
        values=tuple(value.value for value in values.values()),
        low=tuple(value.value - half[key] for key, value in values.items()),
        high=tuple(value.value + half[key] for key, value in values.items()),
    )


def _label(first: int, last: int, words: str) -> ChartLabel:
    return ChartLabel(text=f"{key_range(first, last)} {words}", first_key=first, last_key=last, is_hint=False)
