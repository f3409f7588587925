"""Results never go over what they were made from."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]


@pytest.fixture
def recording(sounds: dict[str, Path], tmp_path: Path) -> Path:
    copy = tmp_path / "a4.wav"
    shutil.copy(sounds["note"], copy)
    return copy


@pytest.mark.parametrize(
    "command",
    [
        ("listen", "{}", "--kind", "note"),
        ("compare", "{}", "other.wav", "--kind", "note"),
        ("compare", "other.wav", "{}", "--kind", "note"),
        ("unison", "{}", "--left", "other.wav"),
        ("unison", "other.wav", "--right", "{}"),
    ],
)
def test_a_recording_is_never_written_over(strikeline: Command, recording: Path, command: tuple[str, ...]) -> None:
    kept = recording.read_bytes()
    answer = strikeline(*(part.format(recording) for part in command), "--json", recording)
    assert answer.code == 2
    assert "give the result another name" in answer.err
    assert recording.read_bytes() == kept


def test_another_file_that_is_no_json_is_left_as_it_is(strikeline: Command, recording: Path, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear owner,")
    answer = strikeline("listen", recording, "--kind", "note", "--json", letter)
    assert answer.code == 2
    assert letter.read_text() == "Dear owner,"


def test_an_older_result_is_replaced(strikeline: Command, recording: Path, tmp_path: Path) -> None:
    older = tmp_path / "a4.json"
    older.write_text('{"schema": "older"}')
    assert strikeline("listen", recording, "--kind", "note", "--json", older).code == 0
    assert "strikeline.listening/1" in older.read_text()


def test_a_chart_goes_over_an_older_chart_but_never_over_a_table(strikeline: Command, tmp_path: Path) -> None:
    table = tmp_path / "touch.html"
    table.write_text("note,down weight,up weight\n" + "".join(f"C{i},52,28\n" for i in range(2, 6)), encoding="utf-8")
    kept, chart = table.read_bytes(), tmp_path / "touch.svg"
    for _again in range(2):
        assert strikeline("touch", table, "--chart", chart).code == 0
    assert chart.read_text(encoding="utf-8").startswith("<svg")
    answer = strikeline("touch", table, "--chart", table)
    assert answer.code == 2
    assert "--chart" in answer.err
    assert "is itself what is read" in answer.err
    assert table.read_bytes() == kept
