"""Small charts of one quantity over the keyboard: one Vega-Lite definition each, one SVG for page and print.

Every chart has the same width and the keyboard beneath it, so that a stack of them reads from left to right as the
piano does. What is even is quiet; what stands out is dark, of another shape, and named in words above the plot.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, Final, Literal

import altair as alt
import vl_convert

from strikeline.keyboard import is_white
from strikeline.measured import HALF_WIDTHS_PER_SE
from strikeline.reports import chart_layout as layout
from strikeline.reports.chart_layout import Axis, Label, Scale
from strikeline.reports.figures import note_name, number
from strikeline.reports.ink import (
    ACCENT,
    BAND,
    EBONY,
    HAIRLINE,
    INK,
    IVORY,
    PAPER,
    QUIET,
    SHADE,
    SYMBOL_FONT,
    TEXT_FONT,
)
from strikeline.reports.keyboard_chart import KeyboardChart, Line, Mark

VEGA_LITE_VERSION: Final = "6.4"
"""The version the definitions are written for; vl-convert carries several."""
_LABEL_PX: Final = 11
_SMALL_PX: Final = 10
_FONT: Final = f"{TEXT_FONT}, {SYMBOL_FONT}"


def vega_lite(chart: KeyboardChart) -> dict[str, Any]:
    """Return the Vega-Lite definition of a chart.

    Parameters
    ----------
    chart : KeyboardChart
        At least one point.

    Returns
    -------
    dict
        A definition for `VEGA_LITE_VERSION` that needs no data from elsewhere.
    """
    labels = layout.place_labels([(one.text, one.first_key, one.last_key) for one in chart.labels], keys=chart.keys)
    n_lanes = max((label.lane + 1 for label in labels), default=0)
    shown = [*chart.at_least, *(point.value for point in chart.points)]
    shown += [value for line in (*chart.trend, *_present(chart.reference)) for value in line.values]
    axis = (
        layout.lane_axis(len(chart.lanes), n_lanes=n_lanes)
        if chart.lanes
        else layout.nice_axis(shown, scale=chart.scale, n_lanes=n_lanes)
    )
    axis = layout.clear_of_title(axis, labels, chart.axis_title)
    layers = [
        *_sections(chart, axis),
        *_lines(chart, axis),
        *_points(chart, axis),
        *_labels(labels, chart, axis, n_lanes),
        *_untold(chart, axis),
        *_keyboard(chart, axis),
    ]
    whole = alt.layer(*layers).properties(
        width=layout.WIDTH_PX, height=axis.bottom_px, description=chart.description, padding=4
    )
    # Altair checks the definition in the tests; checking it here again would take as long as drawing it.
    definition: dict[str, Any] = (
        whole.configure(aria=False, background="transparent", font=_FONT)
        .configure_view(stroke=None)
        .to_dict(validate=False)
    )
    return definition


def render_svg(chart: KeyboardChart) -> str:
    """Return a chart as SVG text, to be set into a page or a document as it is.

    The root element is an image with the description as its name; identifiers carry the name of the chart, so that
    several can share a page.
    """
    _register_fonts()
    svg = vl_convert.vegalite_to_svg(vega_lite(chart), vl_version=VEGA_LITE_VERSION)
    svg = re.sub(r'\b(id="|url\(#)', rf"\1{chart.name}-", svg)
    svg = re.sub(r' (?:role="graphics-\w+"|aria-roledescription="[^"]*")', "", svg)  # one image with one name
    return svg.replace("<svg ", f'<svg role="img" aria-label="{_attribute(chart.description)}" ', 1)


@cache
def _register_fonts() -> None:
    vl_convert.register_font_directory(str(files("strikeline.reports") / "fonts"))


def _attribute(text: str) -> str:
    escapes = {"&": "&amp;", '"': "&quot;", "<": "&lt;", ">": "&gt;"}
    return "".join(escapes.get(character, character) for character in text)


@lru_cache(maxsize=64)
def _x(keys: tuple[int, int], field: str = "key") -> alt.X:
    """Return the keyboard as horizontal axis; the same object for every layer, which Altair is quick with."""
    scale = alt.Scale(domain=[keys[0] - 0.5, keys[1] + 0.5], nice=False, zero=False)
    return alt.X(f"{field}:Q", scale=scale, axis=None)


_SCALE_TYPES: Final[dict[Scale, Literal["linear", "log", "sqrt"]]] = {
    Scale.LINEAR: "linear",
    Scale.LOG: "log",
    Scale.ROOT: "sqrt",
}


def _y(chart: KeyboardChart, axis: Axis, field: str) -> alt.Y:
    return _y_of(axis, chart.axis_title, chart.tick_places, chart.lanes, field)


@lru_cache(maxsize=64)
def _y_of(axis: Axis, title: str, tick_places: int | None, lanes: tuple[str, ...], field: str) -> alt.Y:
    scale = alt.Scale(
        type=_SCALE_TYPES[axis.scale],
        domain=[axis.low, axis.high],
        range=[axis.bottom_px, axis.top_px],
        nice=False,
        zero=False,
        clamp=True,
    )
    expression = {
        tick: lanes[round(tick)]
        if lanes
        else _shortest(tick)
        if tick_places is None
        else number(tick, places=tick_places)
        for tick in axis.ticks
    }
    label_expr = "".join(
        f"abs(datum.value - {tick!r}) < {1e-6 * abs(tick) + 1e-12!r} ? '{text}' : " for tick, text in expression.items()
    )
    return alt.Y(
        f"{field}:Q",
        scale=scale,
        axis=alt.Axis(
            values=list(axis.ticks),
            labelExpr=f"{label_expr}''",
            title=title,
            titleAngle=0,
            titleAlign="left",
            titleAnchor="end",
            titleX=layout.TITLE_X_PX,
            titleY=axis.top_px - 9 if axis.title_px is None else axis.title_px,
            titleFontSize=_SMALL_PX,
            titleFontWeight="normal",
            titleFontStyle="italic",
            titleColor=QUIET,
            labelFontSize=_SMALL_PX,
            labelColor=QUIET,
            labelPadding=5,
            minExtent=44,
            maxExtent=44,
            domain=False,
            ticks=False,
            grid=True,
            gridColor=HAIRLINE,
            gridWidth=0.5,
        ),
    )


def _shortest(value: float) -> str:
    return number(value, places=next((p for p in range(6) if abs(round(value, p) - value) < 1e-9), 6))


def _x_px(pixels: float) -> alt.XValue:
    return alt.XValue(pixels)  # type: ignore[no-untyped-call]  # Altair's generated class has no annotations


def _y_px(pixels: float) -> alt.YValue:
    return alt.YValue(pixels)  # type: ignore[no-untyped-call]  # the same


def _y2_px(pixels: float) -> alt.Y2Value:
    return alt.Y2Value(pixels)  # type: ignore[no-untyped-call]  # the same


def _data(rows: Sequence[dict[str, Any]]) -> alt.InlineData:
    return alt.InlineData(values=list(rows))


def _sections(chart: KeyboardChart, axis: Axis) -> list[alt.Chart]:
    """Return the shaded section below the break, the line of the break, and its name at the foot of the line."""
    if chart.break_after is None or not chart.keys[0] < chart.break_after < chart.keys[1]:
        return []
    edge = chart.break_after + 0.5
    base = alt.Chart(_data([{"key": chart.keys[0] - 0.5, "end": edge, "name": "break"}]))
    top, foot = _y_px(axis.top_px - 2), axis.bottom_px + layout.STRIP_GAP_PX
    # The name stands to the right of the line, or to the left where marks of what was not told are in its way.
    is_free = not any(edge < key < edge + 5 for key in chart.untold)
    name = base.mark_text(
        color=QUIET,
        fontSize=_SMALL_PX,
        fontStyle="italic",
        align="left" if is_free else "right",
        dx=3 if is_free else -3,
        baseline="middle",
    )
    return [
        base.mark_rect(color=SHADE).encode(x=_x(chart.keys), x2=alt.X2("end:Q"), y=top, y2=_y2_px(axis.bottom_px + 2)),
        base.mark_rule(color=QUIET, strokeWidth=0.8, strokeDash=[1, 2]).encode(
            x=_x(chart.keys, "end"), y=top, y2=_y2_px(foot + layout.STRIP_PX)
        ),
        name.encode(
            x=_x(chart.keys, "end"), y=_y_px(axis.bottom_px + 0.5 * layout.STRIP_GAP_PX), text=alt.Text("name:N")
        ),
    ]


def _lines(chart: KeyboardChart, axis: Axis) -> list[alt.Chart]:
    layers: list[alt.Chart] = []
    for line in chart.trend:
        rows = [
            {"key": key, "value": value, "low": low, "high": high}
            for key, value, low, high in zip(line.keys, line.values, line.low, line.high, strict=True)
        ]
        base = alt.Chart(_data(rows))
        layers += [
            base.mark_area(color=BAND, opacity=0.75).encode(
                x=_x(chart.keys), y=_y(chart, axis, "low"), y2=alt.Y2("high:Q")
            ),
            base.mark_line(color=QUIET, strokeWidth=0.8).encode(x=_x(chart.keys), y=_y(chart, axis, "value")),
        ]
    if chart.zero is not None and axis.low < chart.zero < axis.high:
        zero = alt.Chart(_data([{"value": chart.zero}]))
        layers.append(zero.mark_rule(color=INK, strokeWidth=0.6).encode(y=_y(chart, axis, "value")))
    if chart.reference is not None:
        rows = [{"key": k, "value": v} for k, v in zip(chart.reference.keys, chart.reference.values, strict=True)]
        layers.append(
            alt.Chart(_data(rows))
            .mark_line(color=INK, strokeWidth=0.9, strokeDash=[5, 3])
            .encode(x=_x(chart.keys), y=_y(chart, axis, "value"))
        )
    return layers


def _points(chart: KeyboardChart, axis: Axis) -> list[alt.Chart]:
    """Return the notes with their bars, each kind of mark of its own shape."""
    layers: list[alt.Chart] = []
    for mark, look in _MARKS.items():
        rows = [
            {"key": p.key, "value": p.value, "low": max(p.low, axis.low), "high": min(p.high, axis.high)}
            for p in chart.points
            if p.mark is mark
        ]
        if not rows:
            continue
        base = alt.Chart(_data(rows))
        bars = base.mark_rule(color=look.colour, strokeWidth=0.8)
        marks = base.mark_point(
            fill=look.colour if look.is_full else PAPER,
            stroke=look.colour,
            strokeWidth=0.9,
            opacity=1,
            shape=look.shape,
            size=look.size,
        )
        layers += [
            bars.encode(x=_x(chart.keys), y=_y(chart, axis, "low"), y2=alt.Y2("high:Q")),
            marks.encode(x=_x(chart.keys), y=_y(chart, axis, "value")),
        ]
    return layers


@dataclass(frozen=True, slots=True)
class _MarkLook:
    shape: str
    size: int
    is_full: bool
    colour: str = INK


_MARKS: Final = {
    Mark.CANNOT_TELL: _MarkLook("square", 14, is_full=False),
    Mark.SECOND: _MarkLook("circle", 12, is_full=False),
    Mark.EVEN: _MarkLook("circle", 5, is_full=True),
    Mark.HINT: _MarkLook("diamond", 26, is_full=False),
    Mark.STANDS_OUT: _MarkLook("diamond", 26, is_full=True, colour=ACCENT),
}
"""How each kind of mark is drawn, what is quiet first, so that what stands out lies on top."""


def _labels(labels: Sequence[Label], chart: KeyboardChart, axis: Axis, n_lanes: int) -> list[alt.Chart]:
    """Return the words above the plot, a bracket over the keys they speak of, and a fine leader for a single note."""
    layers: list[alt.Chart] = []
    tops = {point.key: axis.y_px(point.value) for point in chart.points}
    for label, wanted in zip(labels, chart.labels, strict=True):
        base_px = (n_lanes - label.lane) * layout.LANE_PX - 2.0
        colour = QUIET if wanted.is_hint else ACCENT
        row = {"key": label.first_key - 0.5, "end": label.last_key + 0.5, "middle": label.first_key, "text": label.text}
        base = alt.Chart(_data([row]))
        words = base.mark_text(
            color=colour,
            fontSize=_LABEL_PX,
            fontWeight="normal" if wanted.is_hint else 600,
            fontStyle="italic" if wanted.is_hint else "normal",
            baseline="bottom",
            align="center",
        )
        layers += [
            words.encode(x=_x_px(label.centre_px), y=_y_px(base_px - 0.5), text=alt.Text("text:N")),
            base.mark_rule(color=colour, strokeWidth=1).encode(x=_x(chart.keys), x2=alt.X2("end:Q"), y=_y_px(base_px)),
        ]
        if label.has_leader:
            foot = _y2_px(max(base_px, tops.get(wanted.first_key, base_px) - 5.0))
            leader = base.mark_rule(color=colour, strokeWidth=0.5)
            layers.append(leader.encode(x=_x(chart.keys, "middle"), y=_y_px(base_px), y2=foot))
    return layers


def _untold(chart: KeyboardChart, axis: Axis) -> list[alt.Chart]:
    """Return a small open mark at the foot of the plot for every key without a value, named once per run."""
    if not chart.untold:
        return []
    y = _y_px(axis.bottom_px + 0.5 * layout.STRIP_GAP_PX)
    marks = alt.Chart(_data([{"key": key} for key in chart.untold]))
    return [
        marks.mark_point(shape="square", size=16, color=INK, strokeWidth=0.8, filled=False, opacity=1).encode(
            x=_x(chart.keys), y=y
        )
    ]


def _keyboard(chart: KeyboardChart, axis: Axis) -> list[alt.Chart]:
    """Return the keyboard beneath the plot with the names of the Cs and of the outermost keys."""
    low, high = chart.keys
    top = axis.bottom_px + layout.STRIP_GAP_PX
    bottom = top + layout.STRIP_PX
    white_edges = [{"key": key + 0.5} for key in range(low, high) if is_white(key) and is_white(key + 1)]
    black = [{"key": key - 0.42, "end": key + 0.42, "middle": key} for key in range(low, high + 1) if not is_white(key)]
    frame = [{"key": low - 0.5, "end": high + 0.5}]
    names = [{"key": key, "text": note_name(key)} for key in _named_keys(low, high)]
    return [
        alt.Chart(_data(frame))
        .mark_rect(fill=IVORY, stroke=INK, strokeWidth=0.6)
        .encode(x=_x(chart.keys), x2=alt.X2("end:Q"), y=_y_px(top), y2=_y2_px(bottom)),
        alt.Chart(_data(white_edges))
        .mark_rule(color=EBONY, strokeWidth=0.5)
        .encode(x=_x(chart.keys), y=_y_px(top), y2=_y2_px(bottom)),
        alt.Chart(_data(black))
        .mark_rule(color=EBONY, strokeWidth=0.5)
        .encode(x=_x(chart.keys, "middle"), y=_y_px(top), y2=_y2_px(bottom)),
        alt.Chart(_data(black))
        .mark_rect(color=EBONY)
        .encode(x=_x(chart.keys), x2=alt.X2("end:Q"), y=_y_px(top), y2=_y2_px(top + 0.62 * layout.STRIP_PX)),
        alt.Chart(_data(names))
        .mark_text(color=QUIET, fontSize=_SMALL_PX, baseline="top")
        .encode(x=_x(chart.keys), y=_y_px(bottom + 3), text=alt.Text("text:N")),
    ]


def _named_keys(low: int, high: int) -> list[int]:
    """Return the outermost keys and every C that is not next to them."""
    cs = [key for key in range(low, high + 1) if key % 12 == 4 and key - low >= 3 and high - key >= 3]
    return [low, *cs, high]


def _present(line: Line | None) -> tuple[Line, ...]:
    return () if line is None else (line,)


def band(values: Sequence[float], spread: Sequence[float]) -> tuple[list[float], list[float]]:
    """Return the lower and upper edge that hold 95 of 100 values of a normal scatter about `values`."""
    low = [value - HALF_WIDTHS_PER_SE * s for value, s in zip(values, spread, strict=True)]
    high = [value + HALF_WIDTHS_PER_SE * s for value, s in zip(values, spread, strict=True)]
    return low, high
