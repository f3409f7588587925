"""What the commands on keys, ivory, board and seat take and give is in their manual."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from tests.docs.manual import OF_EVERY_ESTIMATE, field_names, missing_options, section_of_schema

from strikeline.domain.key_tops import the_key_tops
from strikeline.measured import Measured
from strikeline.workshop.dampers import judge_dampers
from strikeline.workshop.ivory import ask_ivory
from strikeline.workshop.key_tops import tell_tops
from strikeline.workshop.keys import Arms, judge_keys
from strikeline.workshop.observations import read_look
from strikeline.workshop.seat import advise_seat

DOCS = Path(__file__).parents[2] / "docs"
MANUAL = (DOCS / "keys-board-seat.md").read_text()
COMMANDS = ("keys", "keytops", "ivory", "look", "dampers", "seat")


def example(name: str) -> str:
    return (DOCS / "examples" / name).read_text()


def keys() -> dict[str, Any]:
    return judge_keys(
        example("keys.csv"),
        action="grand",
        goal="run",
        arms=Arms(front_mm=220.0, back_mm=190.0, capstan_mm=110.0),
        papers_mm=(0.08, 0.25),
        n_keys=85,
        n_naturals=None,
        lowest_letter=None,
    ).to_json()


def ivory() -> dict[str, Any]:
    day = date(2026, 11, 25)
    return ask_ivory(where="us", plan="sell", on=day, made="1908", imported="1960", n_tops=52).to_json()


def seat() -> dict[str, Any]:
    return advise_seat(
        keys="74cm",
        elbow="24cm",
        keybed="61cm",
        knee="43cm",
        stool="56cm",
        choose=["48-58cm"],
        desks=["15cm", "45cm"],
        eye="76cm",
    ).to_json()


RESULTS: dict[str, Callable[[], dict[str, Any]]] = {
    "keys": keys,
    "keytops": lambda: tell_tops(["seam", "cross-grain"]).to_json(),
    "ivory": ivory,
    "look": lambda: read_look(example("look.csv")).to_json(),
    "dampers": lambda: judge_dampers(
        example("dampers.csv"), action="upright_under_damper", ratio=Measured(5.0, 0.1)
    ).to_json(),
    "seat": seat,
}


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_in_the_manual(command: str) -> None:
    section = MANUAL.partition(f"`strikeline {command}`\n")[2].partition("\n## ")[0]
    assert missing_options(command, section) == []


@pytest.mark.parametrize("command", COMMANDS)
def test_every_field_of_the_json_is_in_the_section_of_its_schema(command: str) -> None:
    section = section_of_schema(MANUAL, command)
    data = json.loads(json.dumps(RESULTS[command]()))
    found = set(field_names(data)) - OF_EVERY_ESTIMATE
    assert len(found) > 10, "a full result was looked at"
    assert {name for name in found if f"`{name}`" not in section} == set()


def law_days() -> set[date]:
    """Return every day in the conditions of the rules on ivory."""
    text = resources.files("strikeline.domain").joinpath("ivory_law.toml").read_text("utf-8")
    found = set[date]()
    for rule in tomllib.loads(text)["rule"]:
        for value in rule["when"].values():
            found |= {one for one in (value if isinstance(value, list) else [value]) if isinstance(one, date)}
    return found


def test_every_day_on_which_the_law_divides_is_in_the_manual() -> None:
    text = " ".join(MANUAL.partition("The days that divide:")[2].partition("\n\n")[0].split())
    days = law_days()
    assert len(days) == 8
    for day in days:
        words = f"{day.day} {day:%B %Y}" if (day.month, day.day) != (1, 1) else f"{day.year}"
        # From 1977 on no source leaves it open: the manual names the two years before, 1975 and 1976.
        assert words in text or (day == date(1977, 1, 1) and "For 1975 and 1976" in text), words


def test_every_answer_on_key_tops_in_the_manual_is_a_word_of_the_list() -> None:
    words = {answer.say for clue in the_key_tops().clues for answer in clue.answers}
    assert set(re.findall(r"--saw ([\w-]+)", MANUAL)) <= words


def test_the_examples_of_the_manual_are_there() -> None:
    for name in re.findall(r"\(examples/([\w.-]+)\)", MANUAL):
        assert (DOCS / "examples" / name).is_file()
