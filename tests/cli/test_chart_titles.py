"""Charts are headed in words, draw the keys of their table, and count in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from tests.cli.conftest import Answer

from strikeline.cli.main import cli
from strikeline.cli.results import _TITLES
from strikeline.physics.wrest_pins import Direction
from strikeline.reports.bench_charts import bearing_chart, pins_chart
from strikeline.workshop.bearing import BearingErrors, read_bearing
from strikeline.workshop.pins import read_pins

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


@pytest.mark.parametrize(
    ("command", "file"),
    [
        ("pins", "pins.csv"),
        ("bearing", "bearing.csv"),
        ("readings", "readings.csv"),
        ("hammers", "hammers.csv"),
        ("touch", "touch.csv"),
        ("centres", "centres.csv"),
        ("keys", "keys.csv"),
        ("scale", "upright-scale.csv"),
    ],
)
def test_a_page_of_charts_has_a_heading_in_words(
    strikeline: Callable[..., Answer], tmp_path: Path, command: str, file: str
) -> None:
    page = tmp_path / "c_pins.html"
    answer = strikeline(command, EXAMPLES / file, "--chart", page)
    assert answer.code == 0, answer.err
    [heading] = re.findall("<h1>(.*)</h1>", page.read_text("utf-8"))
    assert heading == _TITLES[command]


def test_every_command_with_charts_has_a_heading() -> None:
    assert isinstance(cli, click.Group)
    drawn = {
        name for name, one in cli.commands.items() if any(option.name == "chart_path" for option in one.params)
    }  # fmt: skip
    assert drawn - {"tune", "pitch"} <= set(_TITLES)


def test_charts_draw_the_keys_of_the_table_and_count_in_words() -> None:
    pins = "note,torque\n" + "\n".join(f"{note}{octave},8" for octave in (2, 3, 4) for note in "CDEFGA")
    drawn = pins_chart(read_pins(pins, direction=Direction.SHARP))
    assert drawn.keys == (16, 49)
    assert drawn.description.startswith("Torque of 18 wrest pins; none of them below")
    one = bearing_chart(read_bearing("note,angle\nC4,1\nD4,-2\n", errors=BearingErrors()))
    assert one.keys[1] - one.keys[0] + 1 == 24
    assert one.description.endswith("one of them negative.")
