"""From a table of hammer readings to what they ask for."""

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.hammer_wear import Remedy
from strikeline.workshop.hammers import judge_hammers

TABLE = """note;groove length;crown radius;felt over the moulding;hammer length;condition
C3;9;10,5;7;51;
F3;10;10;6,5;51;
C4;9;9,5;6;50;
F4;9;;5,5;50;
C6;7;6;5;48;moth in the felt
"""
SECTIONS = ("A0-B4", "C5-C8")


def test_each_hammer_and_each_section_is_judged() -> None:
    advice = judge_hammers(TABLE, sections=SECTIONS)
    assert [one.remedy for one in advice.hammers] == [Remedy.REFACE] * 4 + [Remedy.REPLACE]
    assert [one.remedy for one in advice.sections] == [Remedy.REFACE, Remedy.CANNOT_TELL]
    assert advice.hammers[4].reasons == ("moth in the felt",)
    assert all(one.mass_g is None and one.strike_point_mm is None for one in advice.moved)


def test_a_radius_not_read_is_that_of_the_others_with_their_scatter() -> None:
    advice = judge_hammers(TABLE, sections=SECTIONS)
    assert advice.usual_radius_mm is not None
    assert_close(advice.usual_radius_mm.value, 9.75, rtol=1e-12, atol=0, why="median of 10.5, 10, 9.5 and 6")
    read, borrowed = advice.hammers[2].depth_mm, advice.hammers[3].depth_mm
    assert read is not None
    assert borrowed is not None
    assert borrowed.se > 1.5 * read.se


def test_of_several_marks_on_a_hammer_the_worst_decides() -> None:
    twice = "note,place,groove length,crown radius,felt over the moulding\nC4,left,7,9.5,6\nC4,right,9,9.5,5.8\n"
    one, alone = (judge_hammers(text, sections=SECTIONS).hammers[0] for text in (twice, TABLE.replace("C3", "C2")))
    assert one.depth_mm is not None
    assert one.felt_after_mm is not None
    assert_close(one.felt_after_mm.value, 5.7, rtol=1e-9, atol=0, why="5.8 less the skim of 0.1")
    assert alone.depth_mm is not None


def test_weight_and_strike_point_come_with_their_errors_when_asked_for() -> None:
    moved = judge_hammers(TABLE, sections=SECTIONS, width="11 mm", shank_length="130mm").moved
    assert [one.key for one in moved] == [28, 33, 40, 45]
    for one in moved:
        assert one.mass_g is not None
        assert one.strike_point_mm is not None
        assert 0.1 < one.mass_g.value < 0.5
        assert one.strike_point_mm.value < 0 < one.strike_point_mm.se


@pytest.mark.parametrize(
    ("text", "sections", "match"),
    [
        ("note,blow\nC4,46\n", SECTIONS, "no reading of a hammer; measure length of the string cut"),
        (TABLE, ("A0-C4", "C4-C8"), "do not overlap"),
        (TABLE, ("A0 and up",), "compass"),
        (TABLE.replace("10,5", "105"), SECTIONS, "line 2, crown radius.*2 to 30 mm"),
    ],
)
def test_what_cannot_be_meant_is_told(text: str, sections: tuple[str, ...], match: str) -> None:
    with pytest.raises(InputError, match=match):
        judge_hammers(text, sections=sections)


def test_a_mark_a_tenth_as_long_as_its_neighbours_is_to_be_read_again() -> None:
    marks = (11, 12, 11.5, 1.2, 12, 11, 10.5, 11)
    rows = "\n".join(f"C{octave},{mark}" for octave, mark in enumerate(marks, start=1))
    [one] = judge_hammers(f"note,groove length\n{rows}\n", sections=SECTIONS).read_again
    assert (one.note, one.value, one.unit) == ("C4", 1.2, "mm")


def test_what_was_looked_for_and_not_found_condemns_nothing() -> None:
    table = (
        "note,groove length,crown radius,felt over the moulding,condition\n"
        "C4,8,10,8,no moth\nF4,8,10,8,not brittle; open glue\nA4,8,10,8,free of moth\n"
    )
    advice = judge_hammers(table, sections=[])
    assert [one.remedy for one in advice.hammers] == [Remedy.REFACE, Remedy.REPLACE, Remedy.REFACE]


def test_a_bass_mark_is_held_against_the_winding_not_against_the_core() -> None:
    table = "note,groove length,crown radius,felt over the moulding,string diameter,outside of the winding\n"
    (hammer,) = judge_hammers(f"{table}C2,11,12,10,1.1,4.0\n", sections=[]).hammers
    assert hammer.remedy is Remedy.REFACE
