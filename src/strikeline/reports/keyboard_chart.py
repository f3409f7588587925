"""What one chart over the keyboard shows: points, trend, labels, in printed units and without a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from strikeline.reports.chart_layout import Scale


class Mark(StrEnum):
    """How loudly a note speaks on the chart."""

    EVEN = "even"
    HINT = "hint"
    STANDS_OUT = "stands out"
    SECOND = "second"
    """A second value of the note, such as the aftersound beside the prompt sound."""
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One note on a chart, in the printed unit."""

    key: int
    value: float
    low: float
    high: float
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLabel:
    """Words over the plot for what leaves the trend."""

    text: str
    first_key: int
    last_key: int
    is_hint: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A smooth line on a chart, with the band about it where there is one."""

    keys: tuple[float, ...]
    values: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyboardChart:
    """All that one chart shows."""

    name: str
    """Short, for identifiers."""
    description: str
    """What the chart shows, for those who do not see it."""
    axis_title: str
    keys: tuple[int, int]
    """Lowest and highest key of the axis."""
    points: tuple[Point, ...]
    trend: tuple[Line, ...]
    """One line a section."""
    reference: Line | None
    """A second line, dashed: the natural stretch behind the pitch."""
    zero: float | None
    """A value drawn as a fine line across, such as equal temperament."""
    labels: tuple[ChartLabel, ...]
    """What stands out, the surest first."""
    untold: tuple[int, ...]
    """Keys without a value."""
    break_after: int | None
    scale: Scale
    tick_places: int | None
    """Decimals of the ticks; ``None`` for as many as needed."""
    lanes: tuple[str, ...] = ()
    """Names of rows, the lowest first: points then stand at 0, 1, … and no number is printed on the axis."""
    at_least: tuple[float, ...] = ()
    """Values that the axis holds whatever the notes are, so that small differences do not look large."""
