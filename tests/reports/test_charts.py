"""The charts: valid definitions, labels that never overlap, pictures that a page and a print can both hold."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from importlib.resources import files
from typing import Any

import altair
import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st
from tests.reports.fake_listening import fake_listening

from strikeline.acoustics.evenness import judge_evenness
from strikeline.reports import chart_layout as layout
from strikeline.reports.chart_layout import Scale
from strikeline.reports.charts import render_svg, vega_lite
from strikeline.reports.ink import ACCENT, DARK, INK, PAPER, QUIET, TEXT_FONT
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Mark, Point
from strikeline.reports.sheet_charts import LOOKS, Look, sheet_chart


def small_chart(**changed: Any) -> KeyboardChart:
    whole: dict[str, Any] = {
        "name": "pitch-cents",
        "description": 'A "small" chart & more <than> nothing.',
        "axis_title": "cents",
        "keys": (40, 52),
        "points": tuple(
            Point(key=key, value=float(key - 46), low=key - 47.0, high=key - 45.0, mark=Mark.EVEN)
            for key in range(40, 53)
            if key != 45
        ),
        "trend": (),
        "reference": None,
        "zero": 0.0,
        "labels": (ChartLabel(text="A4 sharper", first_key=49, last_key=49, is_hint=False),),
        "untold": (45,),
        "break_after": None,
        "scale": Scale.LINEAR,
        "tick_places": None,
    }
    return KeyboardChart(**{**whole, **changed})


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.quantity.field)
def test_every_chart_is_a_valid_vega_lite_definition(look: Look) -> None:
    listening = fake_listening()
    evenness = judge_evenness(listening)
    from strikeline.reports.sheet_charts import _keyboard_chart

    one = next(q for q in evenness.quantities if q.quantity is look.quantity)
    definition = vega_lite(_keyboard_chart(listening, evenness, one, look))
    altair.LayerChart.from_dict(definition, validate=True)
    assert "url" not in str(definition)


def test_a_picture_is_well_formed_named_and_free_of_links() -> None:
    svg = render_svg(small_chart())
    root = ET.fromstring(svg)  # noqa: S314  (our own SVG)
    assert root.get("role") == "img"
    assert root.get("aria-label") == 'A "small" chart & more <than> nothing.'
    assert not re.search(r"(?:href|src)=", svg)
    assert "A4 sharper" in svg


def test_identifiers_of_two_charts_on_one_page_do_not_clash() -> None:
    first, second = (render_svg(small_chart(name=name)) for name in ("one", "two"))
    identifiers = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (first, second)]
    assert not identifiers[0] & identifiers[1]


def test_what_was_not_told_is_marked_on_the_axis() -> None:
    told, untold = render_svg(small_chart(untold=())), render_svg(small_chart())
    assert untold.count("mark-symbol") == told.count("mark-symbol") + 1


def test_what_stands_out_differs_by_shape_not_only_by_colour() -> None:
    points = (
        Point(key=45, value=1.0, low=0.5, high=1.5, mark=Mark.EVEN),
        Point(key=46, value=5.0, low=4.5, high=5.5, mark=Mark.STANDS_OUT),
        Point(key=47, value=3.0, low=2.5, high=3.5, mark=Mark.HINT),
    )
    definition = vega_lite(small_chart(points=points))
    marks = [layer["mark"] for layer in definition["layer"] if layer["mark"].get("shape") in {"circle", "diamond"}]
    assert [mark["shape"] for mark in marks] == ["circle", "diamond", "diamond"]
    assert len({mark["fill"] for mark in marks[1:]}) == 2


@given(
    wanted=st.lists(
        st.tuples(st.text("abcdefgh ", min_size=1, max_size=30), st.integers(1, 85), st.sampled_from([0, 0, 3, 25])),
        max_size=12,
    )
)
def test_labels_never_overlap_stay_on_the_chart_and_are_crossed_by_no_leader(
    wanted: list[tuple[str, int, int]],
) -> None:
    runs = [(text, first, min(85, first + length)) for text, first, length in wanted]
    labels = layout.place_labels(runs, keys=(1, 85))
    boxes = []
    for label in labels:
        half = 0.5 * len(label.text) * layout._CHARACTER_PX
        assert half - 1e-9 <= label.centre_px <= layout.WIDTH_PX - half + 1e-9
        boxes.append((label.lane, label.centre_px - half, label.centre_px + half))
    for i, (lane, left, right) in enumerate(boxes):
        assert all(lane != b[0] or right <= b[1] or left >= b[2] for b in boxes[i + 1 :])
    for label in labels:
        foot = layout.x_px(label.first_key, keys=(1, 85))
        if label.has_leader:
            assert not any(lane < label.lane and left < foot < right for lane, left, right in boxes)


def test_two_notes_side_by_side_both_keep_their_leaders() -> None:
    labels = layout.place_labels([("A6 brighter", 73, 73), ("F6 brighter", 69, 69)], keys=(1, 88))
    assert all(label.has_leader for label in labels)


def test_the_text_face_has_the_sharp_of_note_names() -> None:
    # A sharp from another face would pull its whole label there when the print draws the picture.
    folder = files("strikeline.reports") / "fonts"
    assert 0x266F in {point for line in (folder / "coverage.txt").read_text().split() for point in code_points(line)}
    pdf = typst.compile(
        f'#set text(font: "{TEXT_FONT}", fallback: false)\nC♯4–F♯4'.encode(),
        font_paths=typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)]),
        format="pdf",
        pdf_standards=["a-2b"],  # refuses a character it cannot draw
    )
    assert pdf.startswith(b"%PDF")


def code_points(line: str) -> range:
    first, last = line.split("-")
    return range(int(first, 16), int(last, 16) + 1)


@given(
    values=st.lists(st.floats(-500, 500), min_size=1, max_size=90),
    scale=st.sampled_from(Scale),
)
def test_an_axis_holds_every_value_and_has_ticks(values: list[float], scale: Scale) -> None:
    shown = {
        Scale.LINEAR: values,
        Scale.LOG: [2.0 ** (value / 100.0) for value in values],
        Scale.ROOT: [abs(value) / 100.0 for value in values],
    }[scale]
    axis = layout.nice_axis(shown, scale=scale, n_lanes=1)
    assert axis.low <= min(shown)
    assert max(shown) <= axis.high
    assert 2 <= len(axis.ticks) <= 12
    assert all(axis.low <= tick <= axis.high for tick in axis.ticks)


def test_an_axis_holds_what_a_chart_asks_for_so_that_small_differences_do_not_look_large() -> None:
    points = tuple(Point(key=key, value=0.1, low=0.1, high=0.1, mark=Mark.EVEN) for key in range(40, 53))
    narrow = _value_domain(small_chart(points=points, untold=()))
    wide = _value_domain(small_chart(points=points, untold=(), at_least=(-20.0, 20.0)))
    assert narrow[1] - narrow[0] < 20.0
    assert wide[0] <= -20.0
    assert wide[1] >= 20.0


def _value_domain(chart: KeyboardChart) -> tuple[float, float]:
    (low, high), *others = {
        tuple(layer["encoding"]["y"]["scale"]["domain"])
        for layer in vega_lite(chart)["layer"]
        if "scale" in layer.get("encoding", {}).get("y", {})
    }
    assert not others
    return low, high


def test_a_chart_in_rows_names_its_rows_and_prints_no_number() -> None:
    points = (
        Point(key=45, value=0.0, low=0.0, high=0.0, mark=Mark.EVEN),
        Point(key=46, value=1.0, low=1.0, high=1.0, mark=Mark.STANDS_OUT),
        Point(key=46, value=2.0, low=2.0, high=2.0, mark=Mark.CANNOT_TELL),
    )
    chart = small_chart(points=points, lanes=("right", "middle", "left"), zero=None, labels=(), untold=())
    altair.LayerChart.from_dict(vega_lite(chart), validate=True)
    svg = render_svg(chart)
    assert [svg.count(f">{name}<") for name in ("right", "middle", "left")] == [1, 1, 1]


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2 ("relative luminance", from IEC 61966-2-1)."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("colour", [INK, QUIET, ACCENT])
def test_text_reaches_the_contrast_of_wcag_aa_on_paper_and_in_the_dark(colour: str) -> None:
    for text, ground in ((colour, PAPER), (DARK[colour], DARK[PAPER])):
        lighter, darker = sorted((luminance(text), luminance(ground)), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 4.5


def test_the_table_beside_a_chart_holds_its_numbers() -> None:
    listening = fake_listening()
    chart = sheet_chart(listening, judge_evenness(listening), LOOKS[0])
    assert len(chart.table.rows) == 84
    assert {len(row) for row in chart.table.rows} == {len(chart.table.head)}
    assert any(row[0] == "F5" and row[-1] == "stands out" for row in chart.table.rows)
