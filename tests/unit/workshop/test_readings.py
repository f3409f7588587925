"""Readings in tables, checked against the catalogue."""

import pytest
from tests.closeness import assert_close

from strikeline.domain.catalogue import Place, the_catalogue
from strikeline.errors import InputError
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.readings import check_table, read_readings

LONG = "note,quantity,value,unit,condition\nA4,blow,46.5,,\nC5,let-off,1/8,in,\n,relative humidity,45%,,\n"
WIDE = "note;blow;set-off [in];condition\nA4;46,5;;\nC5;;1/8;\n"


def test_the_long_and_the_wide_form_say_the_same() -> None:
    long, wide = (read_readings(text, catalogue=the_catalogue()) for text in (LONG, WIDE))
    assert [(one.quantity, one.key) for one in wide] == [(one.quantity, one.key) for one in long[:2]]
    assert [one.value for one in wide] == [one.value for one in long[:2]]
    assert_close(long[1].value.value, 3.175, rtol=1e-9, atol=0, why="an inch is exact")


def test_a_reading_without_an_error_is_as_good_as_a_careful_hand() -> None:
    bare, own = read_readings("note,blow\nA4,46.5\nB4,46.5 ± 0.98\n", catalogue=the_catalogue())
    assert_close(bare.value.se, 0.5 / 1.96, rtol=1e-9, atol=0, why="the catalogue's half-width")
    assert_close(own.value.se, 0.5, rtol=1e-9, atol=0, why="as written")


def test_each_reading_is_placed_and_the_counts_add_up() -> None:
    check = check_table("note,blow\nA4,46\nB4,49\nC5,42\nD5,47.2\n", action="upright_under_damper").quantities[0]
    assert [one.place for one in check.checked] == [Place.WITHIN, Place.HIGH, Place.LOW, Place.CANNOT_TELL]
    assert check.keys(Place.HIGH) == (51,)


def test_a_figure_of_the_pianos_own_moves_the_limits() -> None:
    text = "note,blow\nA4,44\n"
    assert check_table(text, action="upright_under_damper").quantities[0].count(Place.LOW) == 1
    own = check_table(text, action="upright_under_damper", figures=["hammer blow = 1 3/4 in"]).quantities[0]
    assert own.count(Place.WITHIN) == 1
    for wrong in ("blow", "blow=4.5m", "blew=45"):
        with pytest.raises(InputError):
            check_table(text, action="upright_under_damper", figures=[wrong])


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("note,blow\nA4,460\n", r"line 2, blow: .*expected 20 to 70 mm for the blow distance"),
        ("note,quantity,value\nA4,blov,46\n", r"line 2, blov: .*did you mean blow"),
        ("note,blov\nA4,46\n", r"heading 'blov': .*did you mean blow"),
        ("note\nA4\n", "no column names a quantity"),
        ("note,blow\n,46\n", "line 2, blow: the note is missing"),
        ("note,blow\nA4,46\nA4,47\n", "line 3: blow stands there again with 47, on line 2 it is 46"),
        ("note,quantity,value,unit\nA4,blow,46,lbf\n", "a length in mm"),
    ],
)
def test_every_mistake_is_told_with_its_line_and_nothing_is_taken(text: str, match: str) -> None:
    with pytest.raises(EntryError, match=match):
        check_table(text, action="grand")


def test_the_same_reading_twice_is_no_mistake() -> None:
    assert len(read_readings("note,blow\nA4,46\nA4,46\n", catalogue=the_catalogue())) == 2
