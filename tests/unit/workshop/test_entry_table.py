"""Tables typed by people."""

from collections.abc import Callable

import pytest
from tests.closeness import assert_close

from strikeline.cli.options import read_note, read_notes
from strikeline.errors import InputError
from strikeline.keyboard import key_from_name
from strikeline.workshop.entry_table import Column, EntryError, read_rows
from strikeline.workshop.note_cells import clear_compass, note_column
from strikeline.written import read_quantity

NOT_H4 = (
    "line 2, note: 'H4' does not fit; expected a note such as A4, C#5 or Bb0; "
    "the German H is B here, the German B is Bb"
)
COLUMNS = (
    Column(name="note", read=key_from_name, is_needed=True),
    Column(
        name="length", read=lambda text: read_quantity(text, name="length", unit="mm").value, also=("speaking length",)
    ),
)


@pytest.mark.parametrize(
    "text",
    [
        "note,length\nA4,404.5\n",
        "Speaking Length;note\r\n404,5;A4\r\n",
        "\ufeffnote\tlength\n\n# a remark\nA4\t404,5 mm\n",
        'note,length\n"A4","404,5"\n',
    ],
)
def test_separators_decimals_headings_and_order_do_not_matter(text: str) -> None:
    assert [row.values for row in read_rows(text, COLUMNS)] == [{"note": 49, "length": 404.5}]


def test_every_mistake_is_named_with_line_and_column_and_nothing_is_taken() -> None:
    with pytest.raises(EntryError) as caught:
        read_rows("note,length\nH4,404\nA4,4 o 4\n,404\n", COLUMNS)
    first, second, third = caught.value.mistakes
    assert first.startswith("line 2, note: 'H4' does not fit; expected a note")
    assert second.startswith("line 3, length: ")
    assert third == "line 4, note: the cell is empty"


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "the table is empty; its first line needs headings, at least note"),
        ("note,lenght\n", "heading 'lenght' is not known; did you mean 'length'"),
        ("length\n3\n", "there is no column 'note'"),
        ("note,length,speaking length\n", "length stands there twice"),
        ("note,length\nA4,404,5\n", "3 cells for 2 headings"),
    ],
)
def test_headings_and_cells_that_do_not_fit_are_told(text: str, match: str) -> None:
    with pytest.raises(InputError, match=match):
        read_rows(text, COLUMNS)


def test_many_mistakes_are_counted() -> None:
    with pytest.raises(EntryError, match="and 8 more"):
        read_rows("note\n" + "X\n" * 20, COLUMNS)


@pytest.mark.parametrize("mark", ["-", "–", "n/a", "N/A"])
def test_a_dash_is_an_empty_cell(mark: str) -> None:
    assert read_rows(f"note,length\nA4,{mark}\n", COLUMNS)[0].values == {"note": 49}


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("note,length [in]\nA4,16\n", 406.4),
        ("note,speaking length (in)\nA4,15 1/2\n", 393.7),
        ("note,length [in]\nA4,404 mm\n", 404.0),
        ('note,length [mm]\nA4,"16"""\n', 406.4),
    ],
)
def test_a_unit_in_the_heading_counts_for_cells_without_one(text: str, length_mm: float) -> None:
    assert_close(read_rows(text, COLUMNS)[0].values["length"], length_mm, rtol=0, atol=1e-9, why="exact inches")


def test_what_is_known_is_read_beside_unknown_headings_and_the_headings_are_listed_once() -> None:
    with pytest.raises(EntryError) as caught:
        read_rows("note,lenght,foo\nH4,1,2\n", COLUMNS)
    assert caught.value.mistakes == (
        "line 1, column 2: heading 'lenght' is not known; did you mean 'length'?",
        "line 1, column 3: heading 'foo' is not known",
        "line 1: columns may be headed note, length",
        NOT_H4,
    )


def test_a_column_of_keys_takes_numbers_and_one_of_notes_does_not() -> None:
    columns = (note_column(),)
    assert [row.values["note"] for row in read_rows("key\n49\nC4\n", columns)] == [49, 40]
    with pytest.raises(EntryError, match="head the column 'key'"):
        read_rows("note\n49\n", columns)


def test_small_letters_that_could_be_german_are_refused_and_others_are_not() -> None:
    columns = (note_column(),)
    with pytest.raises(EntryError, match=r"line 2, note: 'a1' .* as A1 or, in German writing, as A4.*2 notes"):
        read_rows("note\na1\nc2\nD4\n", columns)
    assert [row.values["note"] for row in read_rows("note\na1\nc7\n", columns)] == [13, 76]


@pytest.mark.parametrize("read", [read_note, read_notes])
def test_options_read_notes_as_tables_do(read: Callable[[str], object]) -> None:
    with pytest.raises(InputError, match="'a4' can be read in two ways, as A4 or, in German writing, as A7"):
        read("a4")
    assert read_notes("a0-c1,C#1") == (1, 2, 3, 4, 5)
    assert read_note("A4") == 49


def test_the_ends_of_a_compass_are_read_as_notes_are() -> None:
    assert str(clear_compass("a0-c8")) == "A0-C8"
    with pytest.raises(InputError, match="'c1' can be read in two ways"):
        clear_compass("c1-a4")
