"""``strikeline regulate`` on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Answer
from tests.unit.workshop.test_regulation import WORN


def test_the_advice_is_a_line_of_work_for_each_note(strikeline: Callable[..., Answer], tmp_path: Path) -> None:
    table = tmp_path / "readings.csv"
    table.write_text(WORN, encoding="utf-8")
    answer = strikeline("regulate", table, "--capstan-pitch", "0.8mm", "--set-off-per-turn", "2mm")
    assert answer.code == 0, answer.err
    assert "First move the rest rail towards the strings by 1.3" in answer.out
    assert [line.split()[0] for line in answer.out.splitlines() if line[:2] in {"C2", "F2", "C3", "F3", "C4"}] == [
        "C2", "F2", "C3", "F3", "C4",
    ]  # fmt: skip
    assert "regulated for long" in answer.out
    assert "strikeline readings FILE --figure 'blow=46.7" in answer.out
    without = strikeline("regulate", table, "--capstan-pitch", "0.8mm").out
    assert "give --set-off-per-turn" in without
    assert "set-off turns" not in without
    out = tmp_path / "advice.json"
    assert strikeline("regulate", table, "--capstan-pitch", "0.8mm", "--json", out).code == 0
    result = json.loads(out.read_text(encoding="utf-8"))
    assert result["schema"] == "strikeline.regulation/1"
    assert result["wear"] == "unserviced"
    assert len(result["plan"]["corrections"]) == 5


def test_what_is_missing_is_said(strikeline: Callable[..., Answer], tmp_path: Path) -> None:
    table = tmp_path / "readings.csv"
    table.write_text("note,blow\nC4,46\n", encoding="utf-8")
    assert "--capstan-pitch" in strikeline("regulate", table).err
    answer = strikeline("regulate", table, "--capstan-pitch", "0.8")
    assert answer.code == 2
    assert "nothing tells the ratio" in answer.err
