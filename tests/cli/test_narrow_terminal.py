"""Tables on a terminal too narrow for them leave columns out and say which; nothing runs over its edge."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer
from tests.passes import InventedPiano, play_pass

from strikeline.acoustics.comparison import compare
from strikeline.cli.bearing_table import bearing_table
from strikeline.cli.comparison_table import comparison_table
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.one_string_table import string_table
from strikeline.cli.scale_table import scale_table
from strikeline.cli.wire_table import wire_table
from strikeline.physics.wire_strength import WireGrade
from strikeline.workshop.bearing import BearingErrors, read_bearing
from strikeline.workshop.one_string import StringAsked, calculate_string
from strikeline.workshop.scale import ScaleChoices, assess_scale
from strikeline.workshop.wire import find_wire

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
NARROW = 68


def test_the_least_needed_columns_go_first_and_are_named_but_not_those_the_table_lacks() -> None:
    rows = [("note", "what it is", "remark"), ("A4", "sound", "a long remark")]
    assert fitted(rows, 30, least_first=("absent", "remark", "what it is")) == [
        "note  what it is",
        "A4    sound",
        "Left out for want of room:\nremark; a wider terminal or\n--json has them.",
    ]
    assert len(fitted(rows, None, least_first=("remark",))) == 2


def test_wire_bearing_and_string_fit_a_narrow_terminal_and_lose_nothing_on_a_pipe() -> None:
    wire = find_wire("14½", grade=WireGrade.ASTM_A228)
    bearing = read_bearing((EXAMPLES / "bearing.csv").read_text(), errors=BearingErrors())
    bass = StringAsked(length="1120mm", diameter="1.05mm", wrap="0.8mm", bare="18mm,22mm", note="A1", want_b="1.5e-4")
    string = calculate_string(bass)
    for narrow, whole in (
        (wire_table(wire, width=NARROW), wire_table(wire, width=None)),
        (bearing_table(bearing, width=NARROW), bearing_table(bearing, width=None)),
        (string_table(string, width=NARROW), string_table(string, width=None)),
    ):
        assert max(map(len, narrow.splitlines())) <= NARROW
        assert "Left out for want of room" in narrow
        assert "Left out" not in whole


def test_the_ledger_of_a_scale_fits_a_narrow_terminal_with_its_sections() -> None:
    report = assess_scale((EXAMPLES / "upright-scale.csv").read_text(), choices=ScaleChoices())
    narrow = scale_table(report, width=NARROW)
    ledger = narrow[: narrow.index("± holds the truth")].splitlines()
    assert max(map(len, ledger)) <= NARROW
    assert "  bass bridge, double wound" in ledger
    assert "Left out for want of room: Z kg/s" in narrow.replace("\n", " ")
    assert "Left out" not in scale_table(report, width=None)


@pytest.mark.parametrize(
    "arguments",
    [
        ("readings", "readings.csv"),
        ("hammers", "hammers.csv", "--width", "10mm", "--shank", "130mm"),
        ("touch", "touch.csv"),
        ("touch", "touch.csv", "--action", "grand", "--balance", "38"),
        ("centres", "centres.csv"),
        ("regulate", "readings.csv", "--capstan-pitch", "0.8mm"),
        ("bearing", "bearing.csv"),
        ("pins", "pins.csv"),
    ],
    ids=" ".join,
)
def test_bench_tables_fit_a_narrow_terminal(
    strikeline: Callable[..., Answer], monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.setattr("strikeline.cli.table.terminal_width", lambda: NARROW)
    command, file, *options = arguments
    answer = strikeline(command, EXAMPLES / file, *options)
    assert answer.code == 0, answer.err
    assert max(map(len, answer.out.splitlines())) <= NARROW


def test_a_comparison_fits_a_narrow_terminal() -> None:
    passes = InventedPiano(), InventedPiano(toned=dict.fromkeys(range(45, 60), -2.0))
    before, after = (play_pass(piano, hand=hand) for hand, piano in enumerate(passes, start=1))
    narrow = comparison_table(compare(before, after, before_again=[play_pass(passes[0], hand=3)]), width=NARROW)
    assert max(map(len, narrow.splitlines())) <= NARROW


def test_a_string_and_a_scale_run_over_no_terminal_of_sixty_columns() -> None:
    strings = (
        StringAsked(length="40.3", diameter="0.95", note="A4"),
        StringAsked(length="1120mm", diameter="1.05mm", wrap="0.8mm", bare="18mm,22mm", note="A1", want_b="1.5e-4"),
    )
    scale = assess_scale((EXAMPLES / "upright-scale.csv").read_text(), choices=ScaleChoices())
    for width in (60, 70):
        texts = [scale_table(scale, width=width)]
        texts += [string_table(calculate_string(one), width=width) for one in strings]
        texts += [wire_table(find_wire(size, grade=WireGrade.ASTM_A228), width=width) for size in ("5", "0.875")]
        assert [line for text in texts for line in text.splitlines() if len(line) > width] == []
