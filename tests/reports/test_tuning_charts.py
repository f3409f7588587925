"""The charts of a tuning mark no string louder than its test allows."""

from __future__ import annotations

import numpy as np
from tests.tuned_pianos import BREAK, TYPICAL_B, heard_piano_of

from strikeline.reports.keyboard_chart import Mark
from strikeline.reports.tuning_charts import tuning_charts
from strikeline.workshop.string_sections import StringSections
from strikeline.workshop.tuning import tune


def test_an_odd_string_is_a_hint_for_the_sheet_asks_more_of_it() -> None:
    b = TYPICAL_B * np.exp(0.03 * np.random.default_rng(5).normal(size=88))
    b[40] *= 1.4
    listening = heard_piano_of(np.full(88, -20.0), b=b)
    told = tune(
        listening, sections=StringSections(break_after=BREAK), temperament="equal", a4_hz=440.0, leaning="middle"
    )
    stiffness = next(chart for chart in tuning_charts(told) if chart.name == "stiffness")
    marks = {point.key: point.mark for point in stiffness.points}
    assert marks[41] is Mark.HINT
    assert Mark.STANDS_OUT not in marks.values()
    assert all(label.is_hint for label in stiffness.labels)
    assert "one sound string in a hundred" in stiffness.description
