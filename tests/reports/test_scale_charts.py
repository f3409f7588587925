"""Charts of a scale: valid, complete, and no title under a label."""

from __future__ import annotations

import altair
import pytest
from tests.scales import EXAMPLE, heard_scale

from strikeline.keyboard import SHORT_COMPASS
from strikeline.reports import chart_layout as layout
from strikeline.reports.chart_layout import Scale
from strikeline.reports.charts import vega_lite
from strikeline.reports.keyboard_chart import KeyboardChart, Mark
from strikeline.reports.scale_charts import scale_charts
from strikeline.workshop.scale import ScaleChoices, assess_scale


@pytest.fixture(scope="module")
def charts() -> dict[str, KeyboardChart]:
    report = assess_scale(EXAMPLE.read_text(), choices=ScaleChoices(compass=SHORT_COMPASS))
    return {chart.name: chart for chart in scale_charts(report)}


def test_every_quantity_of_a_scale_has_a_valid_chart(charts: dict[str, KeyboardChart]) -> None:
    assert list(charts) == [
        "scale-tension", "scale-share", "scale-inharmonicity", "scale-impedance", "scale-load", "scale-proposal"
    ]  # fmt: skip
    for chart in charts.values():
        altair.LayerChart.from_dict(vega_lite(chart), validate=True)
    assert {point.key for point in charts["scale-tension"].points} == set(range(1, 86))


def test_filled_notes_and_odd_wires_look_unlike_measured_ones(charts: dict[str, KeyboardChart]) -> None:
    marks = {point.key: point.mark for point in charts["scale-tension"].points}
    assert marks[52] is Mark.STANDS_OUT
    assert marks[37] is Mark.CANNOT_TELL  # A3 was filled
    assert marks[49] is Mark.EVEN


def test_a_proposal_shows_before_and_after_of_changed_notes_only(charts: dict[str, KeyboardChart]) -> None:
    points = charts["scale-proposal"].points
    twice = {point.key for point in points if point.mark is Mark.SECOND}
    assert twice == {point.key for point in points if point.mark is Mark.STANDS_OUT}
    assert all(sum(point.key == key for point in points) == 2 for key in twice)


def test_a_pass_adds_b_heard_against_computed_dark_where_they_disagree() -> None:
    choices = ScaleChoices(compass=SHORT_COMPASS)
    silent = assess_scale(EXAMPLE.read_text(), choices=choices)
    listening = heard_scale(silent, cents=0.0, b_factor={54: 1.4})
    charts = {c.name: c for c in scale_charts(assess_scale(EXAMPLE.read_text(), choices=choices, listening=listening))}
    hearing = charts["scale-hearing"]
    assert [point.key for point in hearing.points if point.mark is Mark.STANDS_OUT] == [54]
    assert [label.text for label in hearing.labels] == ["D5 above"]
    altair.LayerChart.from_dict(vega_lite(hearing), validate=True)
    heard = [point for point in charts["scale-inharmonicity"].points if point.mark is Mark.SECOND]
    assert len(heard) == len(listening.notes)


def test_the_title_of_the_axis_stands_above_a_label_that_would_cover_it() -> None:
    axis = layout.nice_axis([0.0, 1.0], scale=Scale.LINEAR, n_lanes=1)
    left = layout.place_labels([("C1 odd wire", 4, 4)], keys=(1, 85))
    right = layout.place_labels([("C7 odd wire", 76, 76)], keys=(1, 85))
    title = "tension of one string, N"
    assert layout.clear_of_title(axis, right, title) == axis
    moved = layout.clear_of_title(axis, left, title)
    assert moved.title_px is not None
    assert moved.title_px < 0
