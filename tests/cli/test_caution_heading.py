"""One heading for cautions, whatever the command."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


@pytest.mark.parametrize(
    "arguments",
    [
        ("bearing", EXAMPLES / "bearing.csv"),
        ("pins", EXAMPLES / "pins.csv"),
        ("hammers", EXAMPLES / "hammers.csv"),
        ("touch", EXAMPLES / "touch.csv", "--action", "grand", "--balance", "38"),
        ("keys", EXAMPLES / "keys.csv"),
        ("look", EXAMPLES / "look.csv"),
        ("scale", EXAMPLES / "upright-scale.csv"),
        ("string", "--length", "400mm", "--diameter", "1mm", "--note", "A4"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_cautions_have_one_heading(strikeline: Callable[..., Answer], arguments: tuple[object, ...]) -> None:
    answer = strikeline(*arguments)
    assert answer.code == 0, answer.err
    assert answer.out.count("\nCautions:\n- ") == 1
    assert "\nCaution:" not in answer.out
