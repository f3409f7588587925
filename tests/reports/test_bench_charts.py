from __future__ import annotations

from pathlib import Path

from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.drift_shape import fit_shape
from strikeline.physics.wrest_pins import WEAK_BELOW_NM, Direction
from strikeline.reports.bench_charts import bearing_chart, drift_chart, pins_chart
from strikeline.reports.charts import render_svg
from strikeline.reports.keyboard_chart import Mark
from strikeline.workshop.bearing import BearingErrors, read_bearing
from strikeline.workshop.pins import read_pins

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def test_bearing_shows_each_bridge_by_a_line_of_its_own_and_names_what_is_negative() -> None:
    chart = bearing_chart(read_bearing((EXAMPLES / "bearing.csv").read_text(), errors=BearingErrors()))
    assert [line.keys[0] for line in chart.trend] == [1.0, 28.0]
    assert [label.text for label in chart.labels] == ["C6 negative"]
    assert max(chart.at_least) >= max(point.high for point in chart.points), "every bar is on the axis"
    assert "one of them negative" in chart.description


def test_bearing_of_a_few_notes_is_drawn_without_a_line() -> None:
    chart = bearing_chart(read_bearing("note,angle\nC4,1\nE4,0.8\n", errors=BearingErrors()))
    assert chart.trend == ()
    assert render_svg(chart).startswith("<svg")


def test_pins_show_the_limit_dashed_and_runs_by_name() -> None:
    chart = pins_chart(read_pins((EXAMPLES / "pins.csv").read_text(), direction=Direction.SHARP))
    assert chart.reference is not None
    assert_close(chart.reference.values, [WEAK_BELOW_NM] * 2, rtol=0, atol=0, why="the limit itself")
    assert chart.labels[0].text.endswith("weak, row 1")
    weak = [point for point in chart.points if point.mark is Mark.STANDS_OUT]
    assert all(point.value < WEAK_BELOW_NM for point in weak)
    assert len(weak) == 14


def test_no_line_of_a_drift_crosses_the_break() -> None:
    changes = {key: Measured(5.0 if key <= 30 else 9.0 - 0.1 * (key - 30), 0.1) for key in range(1, 89)}
    changes[60] = Measured(-10.0, 0.1)
    shape = fit_shape(changes, break_after=30, repeats_cents=0.5)
    chart = drift_chart(changes, shape, break_after=30)
    assert [(line.keys[0], line.keys[-1]) for line in chart.trend] == [(1.0, 30.0), (31.0, 88.0)]
    assert [label.text for label in chart.labels] == ["G♯5 by itself"]
    whole = drift_chart(changes, fit_shape(changes, break_after=None, repeats_cents=0.5), break_after=None)
    assert len(whole.trend) == 1
