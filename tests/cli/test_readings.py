"""``strikeline readings`` on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer

from strikeline.domain.catalogue import Action

TABLE = "note;blow;set-off;key dip\nA4;46,5;3;10,2\nC5;52;2,5;10,0\nF5;46;9;10,3\n"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "readings.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def test_what_lies_outside_is_named_with_its_meaning(strikeline: Callable[..., Answer], table: Path) -> None:
    answer = strikeline("readings", table)
    assert answer.code == 0
    assert "blow distance is high in one place (C5). Hammers worn or refaced" in answer.out
    assert "set-off is high in one place (F5)." in answer.out
    assert "key dip is" not in answer.out
    assert "load on the key in grams" in answer.out
    assert "let-off is high" in strikeline("readings", table, "--american").out


def test_the_numbers_come_as_json_with_their_sources(strikeline: Callable[..., Answer], table: Path) -> None:
    result = json.loads(strikeline("readings", table, "--json", "-").out)
    assert result["schema"] == "strikeline.readings/1"
    blow = next(one for one in result["quantities"] if one["quantity"] == "blow")
    assert [one["place_in_tolerance"] for one in blow["readings"]] == ["within", "high", "within"]
    assert blow["nominal"]["source"]
    out = table.with_name("out.json")
    assert strikeline("readings", table, "--json", out).code == 0
    assert json.loads(out.read_text(encoding="utf-8")) == result


def test_mistakes_are_told_and_nothing_is_written(strikeline: Callable[..., Answer], table: Path) -> None:
    table.write_text("note;blow\nA4;46\nH5;47\nC5;4,7 m\n", encoding="utf-8")
    out = table.with_name("out.json")
    answer = strikeline("readings", table, "--json", out)
    assert answer.code == 2
    assert "line 3, note: " in answer.err
    assert "the German H is B here" in answer.err
    assert not out.exists()
    assert strikeline("readings", table, "--json", table).code == 2
    assert "H5" in table.read_text(encoding="utf-8")


def test_a_figure_of_the_maker_can_be_given(strikeline: Callable[..., Answer], table: Path) -> None:
    answer = strikeline("readings", table, "--figure", "blow=52mm")
    assert "blow distance is high" not in answer.out
    assert "blow distance is low in two places (A4, F5)" in answer.out
    assert "this piano's own" in answer.out


def test_the_choices_are_the_catalogues() -> None:
    from strikeline.cli.bench_options import ACTIONS

    assert set(ACTIONS) == {one.value for one in Action}
