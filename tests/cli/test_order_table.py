"""An order sheet as ``strikeline scale --order`` prints it and writes it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Answer
from tests.scales import EXAMPLE

from strikeline.cli.order_table import order_table
from strikeline.physics.string_order import CuttingAllowance
from strikeline.workshop.order_sheet import make_order_sheet, read_order
from strikeline.workshop.scale import ScaleChoices, assess_scale

Command = Callable[..., Answer]


def test_an_order_fits_a_narrow_terminal_and_says_where_the_rest_is() -> None:
    report = assess_scale(EXAMPLE.read_text(), choices=ScaleChoices())
    sheet = make_order_sheet(report, read_order("all", report), is_rescaled=False, allowance=CuttingAllowance())
    for width in (60, 70, 100):
        lines = order_table(sheet, width=width).splitlines()
        assert max(map(len, lines)) <= width
    narrow, whole = order_table(sheet, width=70), order_table(sheet, width=None)
    assert "--order-to has them" in " ".join(narrow.split())
    assert "Left out" not in whole
    assert "dead bottom" in whole


def test_an_order_writes_its_notes_as_they_are_typed_and_doubts_what_does_not_fit(strikeline: Command) -> None:
    printed = strikeline("scale", EXAMPLE, "--order", "C5,F#1").out
    assert "♯" not in printed
    assert "F#1" in printed
    checks = printed.partition("Check before ordering")[2].partition("Remarks")[0]
    assert "C5: its wire does not fit its neighbours" in " ".join(checks.split())


def test_with_an_order_only_the_order_is_printed_whether_it_is_written_or_not(
    strikeline: Command, tmp_path: Path
) -> None:
    out = tmp_path / "order.txt"
    printed = strikeline("scale", EXAMPLE, "--order", "C5", "--order-to", out)
    assert printed.out.startswith("STRINGS TO ORDER")
    assert "tonnes-force" not in printed.out
    assert f"Written: {out}" in printed.err
    assert "Ordered" not in printed.err
    report = strikeline("scale", EXAMPLE, "--order-to", out)
    assert "tonnes-force" in report.out, "without --order the report stays, and all strings are written"
    assert "C4" in out.read_text()
