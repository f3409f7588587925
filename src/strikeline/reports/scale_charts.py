"""Charts of a scale over the keyboard: tension, share of the breaking load, B, pull of a note, the proposal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from strikeline.measured import Measured
from strikeline.physics.scale import ScaleNote
from strikeline.physics.scale_weak import WeakKind
from strikeline.reports.chart_layout import Scale
from strikeline.reports.figures import key_range, key_ranges, note_name
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark, Point
from strikeline.reports.plain_chart import point, run_labels, stretch_of
from strikeline.reports.scale_words import gauge_number_words, load_sentence
from strikeline.workshop.scale import ScaleReport

_B_FACTOR: Final = 1e4
_MOST_LABELS: Final = 8


def scale_charts(report: ScaleReport) -> tuple[KeyboardChart, ...]:
    """Return the charts of a scale; one of B against the sound, and one of the proposal, where there are any."""
    charts = [
        _tension(report),
        _share(report),
        _inharmonicity(report),
        _hearing(report),
        _impedance(report),
        _load(report),
        _proposal(report) if report.proposal.changes else None,
    ]
    return tuple(chart for chart in charts if chart is not None)


def _chart(
    report: ScaleReport,
    *,
    name: str,
    axis_title: str,
    description: str,
    points: Sequence[Point],
    scale: Scale = Scale.LINEAR,
    zero: float | None = None,
    labels: Sequence[ChartLabel] = (),
    trend: Sequence[Line] = (),
    at_least: Sequence[float] = (),
) -> KeyboardChart:
    keys = [note.key for note in report.state.notes]
    untold = tuple(key for key, _ in report.cannot_tell)
    told = f" Not told: {key_ranges(untold)}." if untold else ""
    return KeyboardChart(
        name=name,
        description=description + told,
        axis_title=axis_title,
        keys=stretch_of([*keys, *untold]),
        points=tuple(points),
        trend=tuple(trend),
        reference=None,
        zero=zero,
        labels=tuple(labels)[:_MOST_LABELS],
        untold=untold,
        break_after=report.break_after,
        scale=scale,
        tick_places=None,
        at_least=tuple(at_least),
    )


def _mark(note: ScaleNote, dark: set[int]) -> Mark:
    return Mark.STANDS_OUT if note.key in dark else Mark.CANNOT_TELL if note.row.filled else Mark.EVEN


def _points(
    report: ScaleReport, read: Callable[[ScaleNote], Measured | None], *, factor: float = 1.0, dark: set[int]
) -> list[Point]:
    """Return a point a note, filled ones as open squares."""
    points = []
    for note in report.state.notes:
        value = read(note)
        if value is not None:
            points.append(point(note.key, Measured(value.value * factor, value.se * factor), _mark(note, dark)))
    return points


def _odd(report: ScaleReport, kind: WeakKind) -> set[int]:
    return {one.key for one in report.weak if one.kind is kind}


_FILLED: Final = "Open squares were filled from their section."


def _tension(report: ScaleReport) -> KeyboardChart:
    wire, length = _odd(report, WeakKind.ODD_WIRE), _odd(report, WeakKind.ODD_LENGTH)
    labels = run_labels(dict.fromkeys(sorted(wire), "odd wire") | dict.fromkeys(sorted(length), "odd length"))
    return _chart(
        report,
        name="scale-tension",
        axis_title="tension of one string, N",
        description=f"Tension of one string of each note. {_FILLED}",
        points=_points(report, lambda note: note.state.tension_n, dark=wire | length),
        labels=labels,
    )


def _share(report: ScaleReport) -> KeyboardChart | None:
    over, slack = _odd(report, WeakKind.NEAR_BREAKING), _odd(report, WeakKind.SLACK)
    misread = dict.fromkeys(sorted(_odd(report, WeakKind.CANNOT_BE_MEANT)), "cannot be meant")
    points = _points(report, lambda note: note.state.breaking_share, factor=100.0, dark=over | slack | set(misread))
    if not points:
        return None
    words = dict.fromkeys(sorted(over), "near breaking") | dict.fromkeys(sorted(slack), "slack")
    labels = run_labels(words | misread)
    limits = [
        _limit_line(run, 100.0 * limit)
        for is_wound, limit in ((True, report.choices.wound_limit), (False, report.choices.plain_limit))
        for run in _key_runs([note.key for note in report.state.notes if note.row.is_wound is is_wound])
    ]
    return _chart(
        report,
        name="scale-share",
        axis_title="breaking share, %; lines: limits",
        description=f"Tension of each string over its breaking load, with the limits as lines. {_FILLED}",
        points=points,
        labels=labels,
        trend=limits,
    )


def _key_runs(keys: Sequence[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for key in keys:
        if runs and key == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], key)
        else:
            runs.append((key, key))
    return runs


def _limit_line(run: tuple[int, int], limit: float) -> Line:
    values = (limit, limit)
    return Line(keys=(run[0] - 0.5, run[1] + 0.5), values=values, low=values, high=values)


def _inharmonicity(report: ScaleReport) -> KeyboardChart:
    points = _points(report, lambda note: note.state.inharmonicity_b, factor=_B_FACTOR, dark=set())
    words, title = "B of each note from its dimensions", "inharmonicity B, ten-thousandths"
    if report.hearing is not None:
        words, title = f"{words}, and as heard, as circles", f"{title}; circles: as heard"
        points += [
            point(note.key, Measured(note.heard_b.value * _B_FACTOR, note.heard_b.se * _B_FACTOR), Mark.SECOND)
            for note in report.hearing.notes
        ]
    lowest = min(one.value for one in points) / 2.0
    return _chart(
        report,
        name="scale-inharmonicity",
        axis_title=title,
        description=f"{words}. {_FILLED}",
        points=[_above(one, lowest) for one in points],
        scale=Scale.LOG,
    )


def _hearing(report: ScaleReport) -> KeyboardChart | None:
    """Return how far B heard lies from B computed, with the band of what the formula is good for."""
    if report.hearing is None or not report.hearing.notes:
        return None
    notes = report.hearing.notes
    beyond = [note.key for note in notes if note.is_beyond]
    return _chart(
        report,
        name="scale-hearing",
        axis_title="B heard against computed, %",
        description=(
            "How far B heard lies from B computed, in per cent; bars hold the errors of both and of the formula; dark "
            "where they disagree."
        ),
        points=[
            point(note.key, note.difference_pct, Mark.STANDS_OUT if note.is_beyond else Mark.EVEN) for note in notes
        ],
        zero=0.0,
        labels=_place_labels(report, beyond),
        at_least=(-30.0, 30.0),
    )


def _place_labels(report: ScaleReport, beyond: Sequence[int]) -> tuple[ChartLabel, ...]:
    """Return a label over each disagreement; a note within one that was not heard does not part it."""
    disagreements = () if report.hearing is None else report.hearing.disagreements
    labels = [
        ChartLabel(
            text=f"{key_range(one.keys[0], one.keys[-1])} {'above' if one.difference_pct.value > 0 else 'below'}",
            first_key=one.keys[0],
            last_key=one.keys[-1],
            is_hint=False,
        )
        for one in disagreements
        if set(one.keys) <= set(beyond)
    ]
    return tuple(labels)


def _above(one: Point, lowest: float) -> Point:
    """Return a point whose bar stays above 0, as a logarithmic axis needs."""
    return Point(key=one.key, value=one.value, low=max(one.low, lowest), high=one.high, mark=one.mark)


def _impedance(report: ScaleReport) -> KeyboardChart:
    return _chart(
        report,
        name="scale-impedance",
        axis_title="impedance of one string, kg/s",
        description=f"Wave impedance of one string of each note. {_FILLED}",
        points=_points(report, lambda note: note.state.impedance_kg_per_s, dark=set()),
        scale=Scale.LOG,
    )


def _load(report: ScaleReport) -> KeyboardChart:
    return _chart(
        report,
        name="scale-load",
        axis_title="pull of all strings of a note, N",
        description=f"Pull of all strings of each note on the frame. {load_sentence(report.state.load)} {_FILLED}",
        points=_points(report, lambda note: note.tension_of_note_n, dark=set()),
        at_least=(0.0,),
    )


def _proposal(report: ScaleReport) -> KeyboardChart:
    """Return tension of plain strings before and after; only changed notes have two points."""
    changes = {change.key: change for change in report.proposal.changes}
    after = report.after.by_key()
    points = []
    for note in report.state.notes:
        if note.row.is_wound:
            continue
        if note.key in changes:
            pair = [
                point(note.key, note.state.tension_n, Mark.SECOND),
                point(note.key, after[note.key].state.tension_n, Mark.STANDS_OUT),
            ]
            points += sorted(pair, key=lambda one: one.value)  # the leader of the label ends at the upper one
        else:
            points.append(point(note.key, note.state.tension_n, _mark(note, set())))
    numbers = {key: f"to No. {gauge_number_words(change.to.number)}" for key, change in changes.items()}
    names = ", ".join(f"{note_name(key)} {words}" for key, words in numbers.items())
    return _chart(
        report,
        name="scale-proposal",
        axis_title="proposal: tension of plain strings, N; circles: before",
        description=f"Tension of plain strings if the proposal is followed ({names}), and as it is now as circles.",
        points=points,
        labels=run_labels(numbers),
    )
