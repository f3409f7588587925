"""``strikeline hammers`` on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Answer
from tests.unit.workshop.test_hammers import TABLE


def test_sections_come_first_then_each_hammer_and_the_cautions(
    strikeline: Callable[..., Answer], tmp_path: Path
) -> None:
    table = tmp_path / "hammers.csv"
    table.write_text(TABLE, encoding="utf-8")
    answer = strikeline("hammers", table, "--sections", "A0-B4,C5-C8")
    assert answer.code == 0, answer.err
    assert answer.out.startswith("A0-B4: reface, but read more hammers to be sure")
    assert "C5-C8: cannot tell (hammers that can be judged: 1, needed: 3)" in answer.out
    assert "strike point mm" not in answer.out
    assert "from memory with low confidence" in answer.out
    assert "Eye protection" in answer.out
    out = tmp_path / "hammers.json"
    assert strikeline("hammers", table, "--json", out, "--width", "11mm").code == 0
    result = json.loads(out.read_text(encoding="utf-8"))
    assert result["schema"] == "strikeline.hammers/1"
    assert [one["remedy"] for one in result["hammers"]] == ["reface"] * 4 + ["replace"]
