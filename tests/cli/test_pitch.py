"""``strikeline pitch``: what a user sees, and what it leaves behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.tuned_pianos import heard_piano_of, write_heard

Command = Callable[..., Any]

SCALE = """note,length,diameter,strings
C4,657 mm,1.000 mm,3
E4,525 mm,0.975 mm,3
A4,404 mm,0.975 mm,3
C5,337 mm,0.950 mm,3
C6,175 mm,0.875 mm,3
C7,92 mm,0.825 mm,3
C8,52 mm,0.775 mm,3
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A piano about 30 cents flat as it was found."""
    return write_heard(heard_piano_of(np.full(88, -30.0)), tmp_path_factory.mktemp("pitch") / "found.json")


@pytest.fixture(scope="module")
def raised(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same after a first pass."""
    after = -8.0 + np.random.default_rng(2).normal(size=88)
    return write_heard(heard_piano_of(after), tmp_path_factory.mktemp("pitch") / "raised.json")


def test_the_ledger_has_sections_choice_passes_and_cautions(strikeline: Command, found: Path) -> None:
    answer = strikeline("pitch", found, "--year", 1905)
    assert answer.code == 0, answer.err
    for words in ("below A4 = 440 Hz", "to 440", "to 435", "stay, at 43", "risk of breaking", "The next pass"):
        assert words in answer.out
    assert "eye protection" in answer.out
    assert "in writing" in answer.out
    assert "give --scale" in answer.out


def test_without_a_year_it_says_what_it_takes_the_wire_for(strikeline: Command, found: Path) -> None:
    answer = strikeline("pitch", found)
    assert "year unknown, treated as old wire" in answer.out
    assert "cannot tell" in answer.out


def test_every_note_is_printed_on_request(strikeline: Command, found: Path) -> None:
    without, with_notes = strikeline("pitch", found), strikeline("pitch", found, "--notes")
    assert len(with_notes.out.splitlines()) == len(without.out.splitlines()) + 90


def test_the_second_pass_rests_on_the_first(strikeline: Command, found: Path, raised: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--json", plan).code == 0
    answer = strikeline("pitch", found, "--after", raised, "--plan", plan)
    assert answer.code == 0, answer.err
    assert "The first pass: 88 notes" in answer.out
    assert "from the first pass, 88 notes heard before and after" in answer.out


def test_a_plan_for_another_pitch_is_refused(strikeline: Command, found: Path, raised: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--a4", 435, "--json", plan).code == 0
    answer = strikeline("pitch", found, "--after", raised, "--plan", plan)
    assert answer.code == 2
    assert "say --a4 435" in answer.err


def test_it_says_when_to_come_again(strikeline: Command, found: Path) -> None:
    assert "again in about six months" in strikeline("pitch", found).out


def test_with_a_scale_it_tells_newtons_and_margins(strikeline: Command, found: Path, tmp_path: Path) -> None:
    scale = tmp_path / "scale.csv"
    scale.write_text(SCALE)
    answer = strikeline("pitch", found, "--scale", scale, "--year", 1990)
    assert answer.code == 0, answer.err
    assert "load N" in answer.out
    assert "Nearest to breaking at the overpull" in answer.out
    data = json.loads(strikeline("pitch", found, "--scale", scale, "--json", "-").out)
    notes = {note["note"]: note for note in data["notes"]}
    assert 0.3 < notes["C6"]["breaking_share_now"]["value"] < 0.8
    assert notes["C6"]["breaking_share_at_most"]["value"] > notes["C6"]["breaking_share_now"]["value"]
    assert notes["A0"]["breaking_share_now"] is None


@pytest.mark.parametrize("suffix", ["svg"])
def test_charts_are_drawn_by_suffix(strikeline: Command, found: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"raise.{suffix}"
    assert strikeline("pitch", found, "--chart", out).code == 0
    assert out.stat().st_size > 5000


def test_the_json_is_the_published_schema(strikeline: Command, found: Path) -> None:
    data = json.loads(strikeline("pitch", found, "--a4", "442", "--json", "-").out)
    assert data["schema"] == "strikeline.pitch/1"
    assert [one["a4_hz"] for one in data["decisions"]][:3] == [442.0, 440.0, 435.0]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("missing.json",), 3, "missing.json"),
        (("{}", "--a4", "500"), 2, "380 to 480"),
        (("{}", "--plan", "{}"), 2, "--after"),
        (("{}", "--after", "{}", "--plan", "{}"), 3, "is no plan"),
        (("{}", "--rust", "9"), 2, "0<=x<=4"),
        (("{}", "--json", "{}"), 2, "give the result another name"),
    ],
)
def test_mistakes_are_told_in_a_sentence(
    strikeline: Command, found: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    answer = strikeline("pitch", *(argument.format(found) for argument in arguments))
    assert answer.code == code
    assert words in answer.err
