"""Charts of readings at the action, of the example tables."""

from __future__ import annotations

from pathlib import Path

import pytest

from strikeline.errors import InputError
from strikeline.reports.action_charts import centres_chart, hammers_chart, readings_charts, touch_charts
from strikeline.reports.charts import render_svg
from strikeline.reports.keyboard_chart import KeyboardChart, Mark
from strikeline.workshop.centres import judge_centres
from strikeline.workshop.hammers import judge_hammers
from strikeline.workshop.readings import check_table
from strikeline.workshop.touch import judge_touch

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def example(name: str) -> str:
    return (EXAMPLES / f"{name}.csv").read_text(encoding="utf-8")


def loud(chart: KeyboardChart) -> list[int]:
    return [point.key for point in chart.points if point.mark is Mark.STANDS_OUT]


def test_each_quantity_on_keys_has_a_chart_with_its_band() -> None:
    check = check_table(example("readings"), action="upright_under_damper")
    charts = {chart.name: chart for chart in readings_charts(check, usage="us")}
    assert charts["set_off"].axis_title == "let-off, mm"
    assert set(charts) == {one.quantity.id for one in check.quantities}
    (band,) = charts["key_dip"].trend
    assert (band.low[0], band.values[0], band.high[0]) == (10.0, 10.25, 10.5)
    assert loud(charts["key_dip"]) == [16, 21, 28, 33, 40]


def test_every_reading_lies_on_the_axis() -> None:
    check = check_table(example("readings"), action="upright_under_damper")
    for chart in readings_charts(check, usage="gb"):
        for point in chart.points:
            assert min(chart.at_least) <= point.low <= point.high <= max(chart.at_least)
        assert "<svg" in render_svg(chart)


def test_hammers_touch_and_centres_show_what_stands_out() -> None:
    hammers = hammers_chart(judge_hammers(example("hammers"), sections=["A0-C8"]))
    assert loud(hammers) == [64, 69, 76]
    assert hammers.reference is not None
    balance, friction = touch_charts(judge_touch(example("touch"), action="grand"))
    assert loud(balance) == []
    assert 33 in loud(friction)
    action = "upright_under_damper"
    centres = centres_chart(judge_centres(example("centres"), action=action, n_all=88), action=action)
    assert loud(centres) == [21, 28, 33, 52]
    for chart in (hammers, balance, friction, centres):
        assert "<svg" in render_svg(chart)


def test_nothing_to_draw_is_said_so() -> None:
    action = "upright_under_damper"
    pins_only = judge_centres("note,centre pin diameter\nC4,1.27\n", action=action, n_all=88)
    with pytest.raises(InputError, match="no friction of centres was read"):
        centres_chart(pins_only, action=action)
