"""``strikeline touch`` and ``strikeline centres`` on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Answer
from tests.unit.workshop.test_touch import TOUCH


def test_what_to_mend_comes_in_order_and_lead_with_its_caution(
    strikeline: Callable[..., Answer], tmp_path: Path
) -> None:
    table = tmp_path / "touch.csv"
    table.write_text(TOUCH, encoding="utf-8")
    upright = strikeline("touch", table).out
    assert upright.index("The key itself is tight") < upright.index("Friction is high")
    assert "no lead is calculated" in upright
    assert "lead at front" not in upright
    grand = strikeline("touch", table, "--action", "grand", "--balance", "38").out
    assert "lead at front g" in grand
    assert "No dry sanding" in grand
    result = json.loads(strikeline("touch", table, "--json", "-").out)
    assert result["schema"] == "strikeline.touch/1"
    assert len(result["keys"]) == 7


def test_the_sample_says_how_many_to_repin(strikeline: Callable[..., Answer], tmp_path: Path) -> None:
    table = tmp_path / "centres.csv"
    table.write_text("note;friction of a centre\nC2;85\nF2;10\nC3;80\n", encoding="utf-8")
    answer = strikeline("centres", table, "--of", "85")
    assert answer.code == 0, answer.err
    assert "Too few to say how many of the set of 85: read 8 or more" in answer.out
    assert json.loads(strikeline("centres", table, "--json", "-").out)["schema"] == "strikeline.centres/1"
