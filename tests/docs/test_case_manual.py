"""What ``strikeline colour``, ``gloss`` and ``finish`` take and give is in their manual, and its examples run."""

from __future__ import annotations

import datetime as dt
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from tests.docs.manual import OF_EVERY_ESTIMATE, field_names, missing_options, section_of_schema

from strikeline.cli.main import run
from strikeline.media.pictures import read_picture
from strikeline.physics.colour_card import MOST_LEFT
from strikeline.physics.colour_difference import ACCEPTABLE_DE00, PERCEPTIBLE_DE00, WOOD_CLASSES
from strikeline.workshop.colour import PhotographAsked, read_colours
from strikeline.workshop.colour_places import read_card_values
from strikeline.workshop.finish import PlanAsked, judge_finish
from strikeline.workshop.finish_choice import SIGHTS, Finish, Verdict
from strikeline.workshop.gloss import judge_gloss

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "docs" / "examples"
MANUAL = (ROOT / "docs" / "case-and-finish.md").read_text(encoding="utf-8")
COMMANDS = ("colour", "gloss", "finish")


def results() -> dict[str, Any]:
    """Return one full result of each command as its JSON."""
    photo = PhotographAsked(
        photograph=read_picture(EXAMPLES / "lid.jpg"),
        cards=("grey18@0.07,0.74,0.20,0.91",),
        patches=("hidden@0.34,0.16,0.58,0.45", "faded@0.34,0.58,0.58,0.86"),
    )
    asked = PlanAsked(
        areas=("1 m²",), g_per_l=240.0, waste_ratio=0.2, start=dt.date(2026, 12, 1), temperature_degc=20.0, rh_pct=50.0
    )
    return {
        "colour": read_colours([photo]).to_json(),
        "gloss": judge_gloss((EXAMPLES / "gloss.csv").read_text(encoding="utf-8")).to_json(),
        "finish": judge_finish(["thin"], finish=Finish.SHELLAC, is_original=None, asked=asked).to_json(),
    }


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_in_the_manual(command: str) -> None:
    assert f"strikeline {command}" in MANUAL
    assert missing_options(command, MANUAL) == []


@pytest.mark.parametrize("command", COMMANDS)
def test_every_field_of_the_json_is_in_the_section_of_its_schema(command: str) -> None:
    section = section_of_schema(MANUAL, command, ends_at="\n## ")
    found = {name for name in field_names(results()[command]) if not name.isdigit()} - OF_EVERY_ESTIMATE
    assert len(found) > 10, "a full result was looked at"
    assert {name for name in found if f"`{name}`" not in section} == set()


def test_limits_and_words_of_the_manual_are_those_of_the_program() -> None:
    assert f"| {PERCEPTIBLE_DE00:g} | half of 175 observers see it" in MANUAL
    assert f"| {ACCEPTABLE_DE00:g} | half of them accept it" in MANUAL
    assert f"more than {MOST_LEFT:g} CIEDE2000 wrong" in MANUAL
    assert all(name in MANUAL for _, name in WOOD_CLASSES)
    assert all(f"`{verdict.value}`" in MANUAL for verdict in Verdict)
    assert all(sight.names[0].replace(" ", "-") in MANUAL for sight in SIGHTS.values())


def test_examples_of_the_manual_that_need_nothing_else_run(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "docs").symlink_to(ROOT / "docs")
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```\n(strikeline .*?)```", MANUAL, re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    runnable = [line for line in lines if "before.jpg" not in line]
    assert len(runnable) >= 7
    for line in runnable:
        assert run(shlex.split(line)[1:]) == 0, (line, capsys.readouterr().err)


def test_the_example_card_is_read() -> None:
    card = read_card_values((EXAMPLES / "card.csv").read_text(encoding="utf-8"), white="D50")
    assert len(card) == 18
    assert {(one.row, one.column) for one in card.values()} == {
        (row, column) for row in (1, 2, 3) for column in range(1, 7)
    }


def test_links_lead_to_files() -> None:
    for name in re.findall(r"\(examples/([\w.-]+)\)", MANUAL):
        assert (EXAMPLES / name).is_file()
