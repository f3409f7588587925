from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import NAMES, Answer

Command = Callable[..., Answer]
FILES = ("sheet.html", "sheet.pdf", "listening.json")


def test_a_sheet_is_a_page_a_print_and_the_numbers(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path
) -> None:
    out = tmp_path / "not" / "there yet"
    answer = strikeline("sheet", sounds["pass"], "--out", out, "--title", "Upright of <Mrs> & son")
    assert answer.code == 0, answer.err
    assert sorted(path.name for path in out.iterdir()) == sorted(FILES)
    assert all(str(out / name) in answer.out for name in FILES)
    assert answer.out.startswith("In short:\n- ")
    page = (out / "sheet.html").read_text()
    assert "Upright of &lt;Mrs&gt; &amp; son" in page
    assert not re.search(r"(?:src|href)=[\"']?https?:", page)
    text = subprocess.run(["pdftotext", out / "sheet.pdf", "-"], capture_output=True, text=True, check=True).stdout  # noqa: S607  (poppler's, wherever it is)
    assert "Upright of <Mrs> & son" in " ".join(text.split())
    numbers = json.loads((out / "listening.json").read_text())
    assert [note["note"] for note in numbers["notes"]] == NAMES
    heard = json.loads(strikeline("listen", sounds["pass"], "--json", "-").out)
    assert (heard["evenness"], heard["toning"]) == (numbers["evenness"], numbers["toning"])
    assert heard["toning"]["schema"] == "strikeline.toning/1"


def test_without_a_title_the_file_gives_its_name(strikeline: Command, sounds: dict[str, Path], tmp_path: Path) -> None:
    assert strikeline("sheet", sounds["note"], "--kind", "note", "--out", tmp_path).code == 0
    page = (tmp_path / "sheet.html").read_text()
    assert re.search(r"<h1[^>]*>\s*note\s*</h1>", page)
    assert "from one recorded note<" in page


def test_a_recording_without_notes_leaves_an_older_sheet_alone(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path
) -> None:
    for name in FILES:
        (tmp_path / name).write_text("older")
    assert strikeline("sheet", sounds["silence"], "--out", tmp_path).code == 1
    assert [(tmp_path / name).read_text() for name in FILES] == ["older"] * 3


def test_a_folder_that_cannot_be_made_is_told_before_the_listening(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "taken").write_text("a file")
    monkeypatch.setattr("strikeline.bootstrap.listen", lambda *_, **__: pytest.fail("listened in vain"))
    answer = strikeline("sheet", sounds["pass"], "--out", tmp_path / "taken")
    assert answer.code == 3
    assert "taken: it is a file, not a folder; name a folder" in answer.err
    assert (tmp_path / "taken").read_text() == "a file"


def test_a_missing_folder_option_is_a_wrong_use(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("sheet", sounds["pass"])
    assert answer.code == 2
    assert "--out" in answer.err
