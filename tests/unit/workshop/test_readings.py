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
        ("note,quantity,value\nA4,blov,46\n", r"line 2, quantity: 'blov' does not fit; .*did you mean blow"),
        ("note,blov\nA4,46\n", r"heading 'blov' is not known; did you mean 'blow'"),
        ("note\nA4\n", "no column names a quantity"),
        ("note,blow\n,46\n", "line 2, blow: the note is missing"),
        ("note,blow\nA4,46\nA4,47\n", "line 3: blow stands there again with 47, on line 2 it is 46"),
        ("note,quantity,value,unit\nA4,blow,46,lbf\n", "a length in mm"),
    ],
)
def test_every_mistake_is_told_with_its_line_and_nothing_is_taken(text: str, match: str) -> None:
    with pytest.raises(EntryError, match=match):
        check_table(text, action="grand")


def test_wrong_values_are_told_beside_wrong_notes() -> None:
    text = "note,blow,key dip\nH4,460,10\nA4,4o,102\nB4,46,10\n"
    with pytest.raises(EntryError) as caught:
        read_readings(text, catalogue=the_catalogue())
    starts = ["line 2, note: 'H4'", "line 2, blow: '460'", "line 3, blow: '4o'", "line 3, key dip: '102'"]
    assert [one.startswith(start) for one, start in zip(caught.value.mistakes, starts, strict=True)] == [True] * 4
    assert "A4" not in caught.value.mistakes[1]


@pytest.mark.parametrize(
    ("head", "written", "quantity", "value"),
    [
        ("set-off (in)", "1/8", "set_off", 3.175),
        ("let-off [in]", "0.125", "set_off", 3.175),
        ("down [g]", "52", "down_weight", 52.0),
        ("up", "24", "up_weight", 24.0),
        ("felt", "4.5", "felt_over_moulding", 4.5),
        ("radius", "10", "crown_radius", 10.0),
        ("keydip", "10", "key_dip", 10.0),
        ("hammer travel", "46", "blow", 46.0),
    ],
)
def test_headings_are_taken_as_restorers_write_them(head: str, written: str, quantity: str, value: float) -> None:
    [one] = read_readings(f"note,{head}\nA4,{written}\n", catalogue=the_catalogue())
    assert (one.quantity, one.value.value) == (quantity, value)


def test_a_cell_with_a_unit_of_its_own_keeps_it() -> None:
    [one] = read_readings("note,set-off (in)\nA4,3 mm\n", catalogue=the_catalogue())
    assert one.value.value == 3.0


def test_a_table_for_another_command_is_sent_there() -> None:
    text = "note,string,torque,row,place\nA4,left,8,1,frame\n"
    with pytest.raises(EntryError, match="looks like a table for `strikeline pins`"):
        read_readings(text, catalogue=the_catalogue())


def test_the_same_reading_twice_is_no_mistake() -> None:
    assert len(read_readings("note,blow\nA4,46\nA4,46\n", catalogue=the_catalogue())) == 2


def test_a_reading_far_from_its_neighbours_is_told_and_kept() -> None:
    rows = "\n".join(f"{note}4,{blow}" for note, blow in zip("CDEFGAB", (46, 46, 47, 28, 46, 45, 46), strict=True))
    check = check_table(f"note,blow\n{rows}\n", action="upright_under_damper")
    assert [(one.note, one.value) for one in check.read_again] == [("F4", 28.0)]
    assert len(check.quantities[0].checked) == 7
    assert check.to_json()["read_again"][0]["note"] == "F4"
