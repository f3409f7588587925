"""What readings, regulate, hammers, touch and centres take and give is in their manual."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.docs.manual import OF_EVERY_ESTIMATE, field_names, missing_options, section_of_schema

from strikeline.physics.hammer_wear import Remedy
from strikeline.workshop.centres import CentreState, judge_centres
from strikeline.workshop.hammers import judge_hammers
from strikeline.workshop.readings import check_table
from strikeline.workshop.regulation import advise
from strikeline.workshop.regulation_wear import Wear
from strikeline.workshop.touch import TouchFault, judge_touch

DOCS = Path(__file__).parents[2] / "docs"
MANUAL = (DOCS / "bench.md").read_text()


def example(name: str) -> str:
    return (DOCS / "examples" / f"{name}.csv").read_text()


def far(quantity: str) -> str:
    """Return a table in which one reading is a tenth of its neighbours."""
    rows = [f"{letter}4,{'1.0' if letter == 'F' else '10'}" for letter in "CDEFGAB"]
    return "\n".join([f"note,{quantity}", *rows, ""])


def readings() -> list[dict[str, Any]]:
    one = check_table(example("readings"), action="upright_under_damper").to_json()
    return [one, check_table(far("length of the string cut"), action="grand").to_json()]


def regulation() -> list[dict[str, Any]]:
    return [
        advise(
            example("readings"),
            action="upright_under_damper",
            floats="shared",
            capstan_pitch="0.8mm",
            capstan_ratio=0.5,
            set_off_per_turn="2mm",
            papers=["0.08mm", "0.25mm"],
        ).to_json()
    ]


def hammers() -> list[dict[str, Any]]:
    one = judge_hammers(example("hammers"), sections=["A0-C8"], width="11mm", shank_length="130mm")
    return [one.to_json(), judge_hammers(far("length of the string cut"), sections=[]).to_json()]


def centres() -> list[dict[str, Any]]:
    return [judge_centres(example("centres"), action="grand", n_all=88, ratio=5.0, reach="130mm").to_json()]


RESULTS: dict[str, Callable[[], list[dict[str, Any]]]] = {
    "readings": readings,
    "regulation": regulation,
    "hammers": hammers,
    "touch": lambda: [judge_touch(example("touch"), action="grand", wanted_balance_g=38.0).to_json()],
    "centres": centres,
}


@pytest.mark.parametrize("schema", list(RESULTS))
def test_every_field_of_the_json_is_in_the_section_of_its_schema(schema: str) -> None:
    data = json.loads(json.dumps(RESULTS[schema]()))
    found = set(field_names(data)) - OF_EVERY_ESTIMATE
    assert len(found) >= 10, "a full result was looked at"
    assert {one["schema"] for one in data} == {f"strikeline.{schema}/1"}
    assert {name for name in found if f"`{name}`" not in section_of_schema(MANUAL, schema)} == set()


@pytest.mark.parametrize("command", ["readings", "regulate", "hammers", "touch", "centres"])
def test_every_option_is_in_the_manual(command: str) -> None:
    assert f"strikeline {command}" in MANUAL
    assert missing_options(command, MANUAL) == []


@pytest.mark.parametrize(
    ("schema", "words"), [("regulation", Wear), ("hammers", Remedy), ("touch", TouchFault), ("centres", CentreState)]
)
def test_every_verdict_is_in_the_section_of_its_schema(schema: str, words: Any) -> None:
    section = " ".join(section_of_schema(MANUAL, schema).split())
    assert [one.value for one in words if f"*{one.value}*" not in section] == []
