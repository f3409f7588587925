"""Where things go on a chart of the keyboard: axis domain and ticks, lanes for labels that never overlap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

WIDTH_PX: Final = 600
PLOT_HEIGHT_PX: Final = 86
LANE_PX: Final = 15
ROW_PX: Final = 17
"""Height of one row of a chart in rows."""
STRIP_GAP_PX: Final = 13
STRIP_PX: Final = 11
TITLE_X_PX: Final = -44
"""Where the title of the axis begins, pixels from the left of the plot."""
_AIR_PX: Final = 8.0
_CHARACTER_PX: Final = 5.9
"""Mean advance of the label face at 11 px, a little generous."""


class Scale(StrEnum):
    """How values are spread along the vertical axis."""

    LINEAR = "linear"
    LOG = "log"
    ROOT = "root"
    """By their square root: holds 0, and shows small values beside large ones. The axis begins at 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The vertical axis of one chart, in the printed unit."""

    low: float
    high: float
    scale: Scale
    ticks: tuple[float, ...]
    top_px: float
    """Where the highest value lies, below the lanes of the labels."""
    bottom_px: float
    title_px: float | None = None
    """Height of the title where labels take its usual place beside the lowest lane."""

    def y_px(self, value: float) -> float:
        """Return the height of a value on the chart, pixels from the top, values outside the axis at its end."""
        inside = min(max(value, self.low), self.high)
        if self.scale is Scale.LOG:
            share = math.log(inside / self.low) / math.log(self.high / self.low)
        elif self.scale is Scale.ROOT:
            share = math.sqrt(inside / self.high)
        else:
            share = (inside - self.low) / (self.high - self.low)
        return self.bottom_px + share * (self.top_px - self.bottom_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label above the plot with the stretch of keys it speaks of."""

    text: str
    first_key: int
    last_key: int
    centre_px: float
    half_px: float
    """Half the width of the words."""
    span_px: tuple[float, float]
    """Ends of the bracket over the keys."""
    lane: int
    """0 is next to the plot."""
    has_leader: bool
    """Whether a fine line runs from the bracket down to the note."""

    @property
    def words_px(self) -> tuple[float, float]:
        """Left and right end of the words."""
        return self.centre_px - self.half_px, self.centre_px + self.half_px

    def overlaps(self, other: Label) -> bool:
        """Return whether both lie in one lane and come closer than a little air."""
        left, right = min(self.words_px[0], self.span_px[0]), max(self.words_px[1], self.span_px[1])
        others = min(other.words_px[0], other.span_px[0]), max(other.words_px[1], other.span_px[1])
        return self.lane == other.lane and left < others[1] + _AIR_PX and others[0] < right + _AIR_PX

    def crosses(self, other: Label) -> bool:
        """Return whether this label's leader would run through the words of another below it."""
        foot = 0.5 * (self.span_px[0] + self.span_px[1])
        below = self.lane > other.lane
        return self.has_leader and below and other.words_px[0] - 2.0 < foot < other.words_px[1] + 2.0


def nice_axis(values: Sequence[float], *, scale: Scale, n_lanes: int) -> Axis:
    """Return an axis that holds all values with a little air, and three to five round ticks.

    Parameters
    ----------
    values : sequence of float
        What must fit, at least one value; above 0 on a logarithmic axis, 0 or more on one of roots.
    scale : Scale
        How values are spread.
    n_lanes : int
        Lanes kept free for labels above the plot.
    """
    low, high = float(min(values)), float(max(values))
    top = n_lanes * LANE_PX + 4.0
    if scale is Scale.LOG:
        room = max(math.log(high / low), math.log(1.6))
        middle, half = math.sqrt(low * high), 0.56 * room
        low, high = middle * math.exp(-half), middle * math.exp(half)
        ticks = _log_ticks(low, high)
    elif scale is Scale.ROOT:
        low, high = 0.0, 1.15 * max(high, 1e-9)
        ticks = (0.0, *_root_ticks(high))
    else:
        room = max(high - low, 1e-9 + 0.02 * abs(high))
        middle, half = 0.5 * (low + high), 0.56 * room
        low, high = middle - half, middle + half
        ticks = _linear_ticks(low, high)
    return Axis(low=low, high=high, scale=scale, ticks=ticks, top_px=top, bottom_px=top + PLOT_HEIGHT_PX)


def lane_axis(n: int, *, n_lanes: int) -> Axis:
    """Return an axis of `n` rows at 0, 1, …, each as high as a label, with `n_lanes` lanes for labels above them."""
    top = n_lanes * LANE_PX + 4.0
    bottom = top + n * ROW_PX
    ticks = tuple(float(i) for i in range(n))
    return Axis(low=-0.5, high=n - 0.5, scale=Scale.LINEAR, ticks=ticks, top_px=top, bottom_px=bottom)


def _linear_ticks(low: float, high: float) -> tuple[float, ...]:
    raw = (high - low) / 3.5
    power = 10.0 ** math.floor(math.log10(raw))
    step = min((factor * power for factor in (1.0, 2.0, 2.5, 5.0, 10.0)), key=lambda s: abs(math.log(s / raw)))
    first = math.ceil(low / step - 1e-9)
    return tuple(round(i * step, 10) for i in range(first, math.floor(high / step + 1e-9) + 1))


def _root_ticks(high: float) -> tuple[float, ...]:
    """Return three to four round values above 0, spread evenly by their roots."""
    decades = range(math.floor(math.log10(high)) - 2, math.floor(math.log10(high)) + 1)
    round_values = [m * 10.0**d for d in decades for m in (1.0, 2.0, 5.0)]
    wanted = [high * share**2 for share in (0.25, 0.5, 0.75, 0.95)]
    inside = [value for value in round_values if value <= high]
    return tuple(sorted({min(inside, key=lambda value: abs(math.sqrt(value) - math.sqrt(one))) for one in wanted}))


def _log_ticks(low: float, high: float) -> tuple[float, ...]:
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for marks in ((1.0,), (1.0, 3.0), (1.0, 2.0, 5.0), (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0)):
        ticks = tuple(m * 10.0**d for d in decades for m in marks if low <= m * 10.0**d <= high)
        if len(ticks) >= 3:
            return ticks
    return tuple(float(value) for value in np.geomspace(low, high, 5)[1:4].round(3))


def clear_of_title(axis: Axis, labels: Sequence[Label], title: str) -> Axis:
    """Return the axis with its title above all labels, where one in the lowest lane would run into it.

    Parameters
    ----------
    axis : Axis
        Of the chart.
    labels : sequence of Label
        As placed.
    title : str
        What is printed at the axis, from the left end of the chart on.
    """
    end_px = TITLE_X_PX + _CHARACTER_PX * len(title) + _AIR_PX
    if any(label.lane == 0 and label.words_px[0] < end_px for label in labels):
        return replace(axis, title_px=-_AIR_PX)
    return axis


def x_px(key: float, *, keys: tuple[int, int]) -> float:
    """Return where a key lies on the chart, pixels from the left of the plot."""
    return (key - keys[0] + 0.5) / (keys[1] - keys[0] + 1) * WIDTH_PX


def place_labels(wanted: Sequence[tuple[str, int, int]], *, keys: tuple[int, int]) -> tuple[Label, ...]:
    """Give every label a lane in which it overlaps no other, stays on the chart, and is crossed by no leader.

    Parameters
    ----------
    wanted : sequence of (text, first key, last key)
        In order of importance: the first come nearest to the plot.
    keys : tuple of int
        Lowest and highest key of the chart.
    """
    centred = _placed(wanted, keys=keys, as_flags=False)
    if all(label.has_leader or label.first_key != label.last_key for label in centred):
        return centred
    flags = _placed(wanted, keys=keys, as_flags=True)
    return max(centred, flags, key=lambda labels: sum(label.has_leader for label in labels))


def _placed(wanted: Sequence[tuple[str, int, int]], *, keys: tuple[int, int], as_flags: bool) -> tuple[Label, ...]:
    """Place labels one by one: centred over their keys, or single notes as flags to the right of their leaders.

    Flags are placed first and from the right, each in the lowest lane that is free: so no leader runs through another's
    words.
    """
    order = list(range(len(wanted)))
    if as_flags:
        order.sort(key=lambda i: (wanted[i][1] != wanted[i][2], -wanted[i][1]))
    placed: dict[int, Label] = {}
    for i in order:
        text, first, last = wanted[i]
        ends = x_px(first - 0.5, keys=keys), x_px(last + 0.5, keys=keys)
        half = 0.5 * len(text) * _CHARACTER_PX
        middle = 0.5 * (ends[0] + ends[1])
        beside = half + 3.0  # the leader then passes at the end of the words
        centres = (middle + beside, middle - beside) if as_flags and first == last else (middle,)
        tries = [
            Label(
                text=text,
                first_key=first,
                last_key=last,
                centre_px=min(max(centre, half), WIDTH_PX - half),
                half_px=half,
                span_px=ends,
                lane=lane,
                has_leader=first == last,
            )
            for lane in range(max((label.lane for label in placed.values()), default=-1) + 2)
            for centre in centres
        ]
        others = list(placed.values())
        apart = [label for label in tries if not any(label.overlaps(other) for other in others)]
        clear = [label for label in apart if not any(label.crosses(other) or other.crosses(label) for other in others)]
        placed[i] = (clear or apart)[0]
    # Where labels crowd so much that a leader would run through words, the tick over the key must do.
    labels = [placed[i] for i in range(len(wanted))]
    return tuple(
        replace(label, has_leader=label.has_leader and not any(label.crosses(other) for other in labels))
        for label in labels
    )
