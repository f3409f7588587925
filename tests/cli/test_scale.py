"""strikeline scale as a user sees it."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer
from tests.scales import EXAMPLE

Command = Callable[..., Answer]

SMALL = """note,strings,length,diameter
A4,3,419,0.94
A#4,3,398,0.92
B4,3,378,0.92
C5,3,358,0.92
D5,3,323,0.91
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.csv"
    path.write_text(SMALL)
    return path


def test_the_ledger_has_strings_load_jumps_weak_points_proposal_and_caution(strikeline: Command) -> None:
    answer = strikeline("scale", EXAMPLE, "--year", "1905", "--compass", "A0-A7")
    assert answer.code == 0, answer.err
    for words in (
        "85 notes, A0-A7",
        "wire taken as 1886 to 1930",
        "bass bridge, double wound",
        "tonnes-force",
        "does not average out",
        "Where the scale jumps:",
        "Odd wire: C5 has 0.990 ± 0.011 mm",
        "keep the original",
        "A proposal is arithmetic, not a verdict",
        "Wear eye protection",
    ):
        assert words in answer.out, words
    assert "None" not in answer.out
    assert "nan" not in answer.out


def test_what_matters_stands_before_the_rows_and_notes_are_written_as_they_are_typed(strikeline: Command) -> None:
    printed = strikeline("scale", EXAMPLE, "--year", "1905").out
    parts = ["tonnes-force", "Weak points:", "Odd wire: C5", "What to do:", "put a micrometer on C5", "note  str."]
    places = [printed.casefold().index(part.casefold()) for part in parts]
    assert places == sorted(places)
    assert "Near slack: D#3, E3 at about 30 %" in printed
    assert "breaking share %" in printed
    assert "♯" not in printed
    assert not re.search(r"\d–[A-G]", printed)


def test_a_sound_scale_asks_for_nothing_and_a_single_note_is_no_run(strikeline: Command, small: Path) -> None:
    small.write_text("note,strings,length,diameter\nA4,3,419,0.94\n")
    printed = strikeline("scale", small).out
    assert "Nothing in these figures asks for work." in printed
    assert "A4-" not in printed
    assert "One note, A4;" in printed


def test_what_was_filled_is_marked(strikeline: Command, small: Path) -> None:
    answer = strikeline("scale", small)
    assert answer.code == 0, answer.err
    line = next(line for line in answer.out.splitlines() if line.startswith("C#5"))
    assert line.split()[1] == "~3"
    assert "~" in line.split()[2]


def test_a_share_that_no_wire_bears_is_called_a_misreading(strikeline: Command, small: Path) -> None:
    small.write_text(SMALL.replace("358", "1058"))
    answer = strikeline("scale", small)
    assert answer.code == 0, answer.err
    assert "no wire bears that: a length, a wire or the note is misread" in answer.out
    assert "Correct the entries of C5" in answer.out
    assert "Do not raise C5" not in answer.out


def test_wound_strings_alone_get_no_proposal_of_stock_sizes(strikeline: Command, small: Path) -> None:
    small.write_text("note,strings,length,core,outside\nA1,2,1062,1.12,3.16\nB1,2,1029,1.12,2.86\n")
    answer = strikeline("scale", small)
    assert answer.code == 0, answer.err
    assert "smoother" not in answer.out
    assert "B comes out too low: A1, B1" in answer.out


def test_json_goes_to_standard_output_or_a_file(strikeline: Command, small: Path, tmp_path: Path) -> None:
    answer = strikeline("scale", small, "--json", "-")
    assert json.loads(answer.out)["schema"] == "strikeline.scale/1"
    out = tmp_path / "scale.json"
    answer = strikeline("scale", small, "--json", out)
    assert json.loads(out.read_text())["notes"][0]["note"] == "A4"
    assert "Written:" in answer.err


@pytest.mark.parametrize("suffix", [".svg", ".png", ".html"])
def test_charts_are_drawn(strikeline: Command, small: Path, tmp_path: Path, suffix: str) -> None:
    answer = strikeline("scale", small, "--chart", tmp_path / f"scale{suffix}")
    assert answer.code == 0, answer.err
    assert (tmp_path / f"scale{suffix}").stat().st_size > 5000


def test_an_order_is_printed_or_written_as_text_csv_and_json(strikeline: Command, tmp_path: Path) -> None:
    printed = strikeline("scale", EXAMPLE, "--order", "C5:1,A0", "--allowance", "12 cm")
    assert printed.code == 0, printed.err
    assert printed.out.startswith("STRINGS TO ORDER")
    assert "120 mm at the wrest pin" in printed.out
    assert "round the hitch pin" in printed.out
    for suffix in (".txt", ".csv", ".json"):
        answer = strikeline("scale", EXAMPLE, "--order", "C5:1,A0", "--order-to", tmp_path / f"order{suffix}")
        assert answer.code == 0, answer.err
    rows = list(csv.DictReader((tmp_path / "order.csv").read_text().splitlines()))
    assert [(row["note"], row["kind"], row["strings"]) for row in rows] == [("A0", "wound", "1"), ("C5", "plain", "1")]
    data = json.loads((tmp_path / "order.json").read_text())
    assert data["schema"] == "strikeline.string-order/1"
    assert (tmp_path / "order.txt").read_text().startswith("STRINGS TO ORDER")


def test_mistakes_are_told_before_anything_is_written(strikeline: Command, small: Path, tmp_path: Path) -> None:
    answer = strikeline("scale", small, "--chart", tmp_path / "chart.pdf")
    assert answer.code == 2
    assert ".svg, .png or .html" in answer.err
    answer = strikeline("scale", small, "--order-to", small)
    assert answer.code == 2
    assert small.read_text() == SMALL
    small.write_text(SMALL.replace("419", "540 m"))
    answer = strikeline("scale", small)
    assert answer.code == 2
    assert "line 2, length" in answer.err
    assert "did you mean 540 mm" in answer.err
    assert strikeline("scale", tmp_path / "none.csv").code == 3


def test_year_and_grade_together_are_refused(strikeline: Command, small: Path) -> None:
    assert strikeline("scale", small, "--year", "1905", "--grade", "ASTM A228").code == 2
    answer = strikeline("scale", small, "--grade", "gold")
    assert answer.code == 2
    assert "ASTM A228" in answer.err


def test_limits_and_tools_are_read_as_people_write_them(strikeline: Command, small: Path) -> None:
    answer = strikeline(
        "scale", small, "--plain-limit", "40 %", "--micrometer", "±0.02 mm", "--tape", "2 mm", "--changes", "0",
        "--gauge-system", "metric", "--json", "-",
    )  # fmt: skip
    data = json.loads(answer.out)
    assert data["plain_limit"] == pytest.approx(0.4)
    assert data["reading_errors"]["diameter_mm"] == pytest.approx(0.02)
    assert data["reading_errors"]["length_mm"] == pytest.approx(2.0)
    assert len(data["proposal"]["options"]) == 1
