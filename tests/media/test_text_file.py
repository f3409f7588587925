"""Tables as spreadsheets save them are read whatever their coding; what is no text is refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from strikeline.errors import NotFoundError, StoreError
from strikeline.media.text_file import read_text

TEXT = "note;length\nA4;404 ± 1 mm\nC5;14½ in\n"


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_coding_of_a_spreadsheet_gives_the_same_text(tmp_path: Path, coding: str) -> None:
    path = tmp_path / "scale.csv"
    path.write_bytes(TEXT.encode(coding))
    assert read_text(path) == TEXT


def test_what_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_bytes(b"PK\x03\x04\0\0")
    with pytest.raises(StoreError, match="save the table as CSV"):
        read_text(path)


def test_a_missing_file_and_a_folder_are_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no such file"):
        read_text(tmp_path / "none.csv")
    with pytest.raises(StoreError, match="it is a folder"):
        read_text(tmp_path)
