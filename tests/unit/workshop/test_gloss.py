"""Tables of gloss readings."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.gloss import GlossClass, GlossSeen
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.gloss import judge_gloss

TABLE = (Path(__file__).parents[3] / "docs" / "examples" / "gloss.csv").read_text(encoding="utf-8")


def test_readings_of_a_place_are_gathered_by_angle() -> None:
    report = judge_gloss(TABLE)
    lid = report.places[0]
    assert lid.place == "lid under the desk"
    assert lid.n_readings == {20: 5, 60: 5}
    assert_close(lid.by_angle[60].value, 82.0, rtol=0, atol=1e-9, why="the mean of the table's figures")
    assert lid.gloss_class is GlossClass.HIGH
    assert lid.angle_deg == 20


def test_places_are_compared_with_the_first_or_the_one_named() -> None:
    report = judge_gloss(TABLE)
    assert [one.one for one in report.compared] == ["lid under the desk"] * len(report.compared)
    assert report.compared[0].seen is GlossSeen.SEEN
    other = judge_gloss(TABLE, reference="fall")
    assert [one.other for one in other.compared] == ["lid under the desk", "lid by the window"]
    turned, first = other.compared[0].difference, report.compared[1].difference
    assert_close(turned.value, -first.value, rtol=1e-12, atol=0, why="the same two places turned round")


def test_what_cannot_be_compared_is_told() -> None:
    report = judge_gloss("place;angle;gloss\na;60;50\nb;85;40")
    assert report.compared == ()
    assert "not read at the same angle" in report.cannot_tell[0]
    assert "60° first" in report.cannot_tell[1]


def test_mistakes_are_named_with_their_line() -> None:
    with pytest.raises(EntryError, match=r"line 2, angle: .*20, 60 or 85"):
        judge_gloss("place,angle,gloss\na,45,50")
    with pytest.raises(EntryError, match=r"line 2, gloss: .*0 to 200 GU"):
        judge_gloss("place,gloss\na,-3")
    with pytest.raises(EntryError, match="no reading"):
        judge_gloss("place,gloss\n")
    with pytest.raises(InputError, match="reference"):
        judge_gloss("place,gloss\na,50", reference="c")


def test_the_json_names_its_schema() -> None:
    assert judge_gloss(TABLE).to_json()["schema"] == "strikeline.gloss/1"
