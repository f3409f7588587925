"""Charts that show verdicts and single values of the notes over the keyboard, without a trend."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.acoustics.listening import Listening
from strikeline.measured import Measured
from strikeline.reports.chart_layout import Scale
from strikeline.reports.charts import render_svg
from strikeline.reports.content import SheetChart, Table
from strikeline.reports.figures import key_range, key_ranges
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Mark, Point

FEWEST_TO_DRAW: Final = 3
"""Notes from which a chart is worth its room."""
_NARROWEST_KEYS: Final = 24
"""A chart shows two octaves or more, so that its keys stay keys."""
_MOST_LABELS: Final = 6


def keyboard_of(listening: Listening) -> tuple[int, int]:
    """Return the lowest and highest key of the charts: of the compass if known, else of what was heard."""
    heard = listening.best_by_key()
    compass = listening.recording.compass
    ends = [*heard, *(() if compass is None else (compass.lowest, compass.highest))]
    return min(ends, default=1), max(ends, default=88)


def stretch_of(keys: Sequence[int]) -> tuple[int, int]:
    """Return the part of the keyboard about some keys, two octaves or more."""
    low, high = min(keys), max(keys)
    missing = max(0, _NARROWEST_KEYS - (high - low + 1))
    return low - missing // 2, high + missing - missing // 2


def point(key: int, value: Measured, mark: Mark, *, lowest: float | None = None) -> Point:
    """Return a note on a chart with the bar that holds the truth in 95 cases of 100.

    Parameters
    ----------
    key : int
        Where.
    value : Measured
        In the printed unit.
    mark : Mark
        How loudly it speaks.
    lowest : float or None
        Where the bar is cut off, for axes that do not go below.
    """
    half = value.half_width
    low = value.value - half
    return Point(
        key=key,
        value=value.value if lowest is None else max(lowest, value.value),
        low=low if lowest is None else max(lowest, low),
        high=value.value + half,
        mark=mark,
    )


def mark_only(key: int, value: float, mark: Mark) -> Point:
    """Return a note on a chart without a bar.

    Parameters
    ----------
    key : int
        Where.
    value : float
        In the printed unit, or the number of a row.
    mark : Mark
        How loudly it speaks.
    """
    return Point(key=key, value=value, low=value, high=value, mark=mark)


def run_labels(words: dict[int, str], *, plural: dict[str, str] | None = None) -> tuple[ChartLabel, ...]:
    """Return labels for keys in order of importance, neighbours with the same word gathered, no more than a few.

    Words that change when they speak of several notes have their other form in `plural`.
    """
    many = plural or {}
    runs: list[tuple[int, int, str]] = []
    done: set[int] = set()
    for key, word in words.items():
        if key in done:
            continue
        first = last = key
        while words.get(first - 1) == word:
            first -= 1
        while words.get(last + 1) == word:
            last += 1
        done.update(range(first, last + 1))
        runs.append((first, last, word))
    return tuple(
        ChartLabel(
            text=f"{key_range(first, last)} {word if first == last else many.get(word, word)}",
            first_key=first,
            last_key=last,
            is_hint=False,
        )
        for first, last, word in runs[:_MOST_LABELS]
    )


def plain_chart(
    *,
    name: str,
    title: str,
    finding: str,
    shows: str,
    axis_title: str,
    keys: tuple[int, int],
    points: Sequence[Point],
    scale: Scale,
    table: Table,
    labels: tuple[ChartLabel, ...] = (),
    untold: Sequence[int] = (),
    lanes: tuple[str, ...] = (),
    caption: str = "",
    break_after: int | None = None,
) -> SheetChart:
    """Return a chart of values without a trend.

    Parameters
    ----------
    name : str
        Short, for identifiers; used once on a sheet.
    title, finding, caption : str
        What it is about, the sentence that heads it, and what only this chart shows.
    shows : str
        The picture in words, as a sentence, for those who do not see it; keys that were not told are added.
    axis_title : str
        What is printed at the axis.
    keys : tuple of int
        Lowest and highest key drawn.
    points : sequence of Point
        Without any there is no picture.
    scale : Scale
        How values are spread along the axis.
    table : Table
        The numbers of the chart.
    labels : tuple of ChartLabel
        Words above the plot, the most important first.
    untold : sequence of int
        Keys marked as not told.
    lanes : tuple of str
        Names of rows, the lowest first, for a chart in rows.
    break_after : int or None
        Last key below the break, where it is known.
    """
    described = f"{shows} Not told: {key_ranges(untold)}." if untold else shows
    chart = KeyboardChart(
        name=name,
        description=described,
        axis_title=axis_title,
        keys=keys,
        points=tuple(points),
        trend=(),
        reference=None,
        zero=None,
        labels=labels,
        untold=tuple(untold),
        break_after=break_after,
        scale=scale,
        tick_places=None,
        lanes=lanes,
    )
    return SheetChart(
        name=name,
        title=title,
        finding=finding,
        alt=described,
        svg=render_svg(chart) if points else None,
        caption=caption,
        table=table,
    )
