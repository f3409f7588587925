"""Tables typed by people."""

import pytest

from strikeline.errors import InputError
from strikeline.keyboard import key_from_name
from strikeline.workshop.entry_table import Column, EntryError, read_rows
from strikeline.written import read_quantity

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
    assert first.startswith("line 2, note: note = 'H4', expected a note")
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
