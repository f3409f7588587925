"""What the bench commands take and give is in their manual."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from tests.docs.manual import OF_EVERY_ESTIMATE, field_names, missing_options, section_of_schema
from tests.passes import InventedPiano, play_pass

from strikeline.measured import Measured
from strikeline.physics.wrest_pins import CLASS_LIMITS, Direction
from strikeline.workshop.bearing import BearingErrors, read_bearing
from strikeline.workshop.climate import judge_climate
from strikeline.workshop.pins import read_pins

DOCS = Path(__file__).parents[2] / "docs"
MANUAL = (DOCS / "bearing-pins-climate.md").read_text()
COMMANDS = ("bearing", "pins", "climate")


def example(name: str) -> str:
    return (DOCS / "examples" / name).read_text()


def results() -> dict[str, Any]:
    """Return one full result of each command as its JSON."""
    heard = [play_pass(InventedPiano(all_cents=cents), hand=hand) for hand, cents in enumerate((0.0, 6.0))]
    pins = example("pins.csv").replace("\n", ",7.05 mm\n").replace("place,7.05 mm", "place,diameter").partition("\n")[2]
    return {
        "bearing": read_bearing(
            example("bearing.csv"), crown_text=example("crown.csv"), errors=BearingErrors()
        ).to_json(),
        "pins": read_pins(pins, after_text=example("pins-after.csv"), direction=Direction.SHARP).to_json(),
        "climate": judge_climate(
            rh_pct=Measured(58.0, 1.5),
            temperature_degc=Measured(20.0, 0.5),
            rh_before_pct=Measured(45.0, 1.5),
            temperature_before_degc=Measured(20.0, 0.5),
            panel_mm=Measured(900.0, 0.5),
            heard_before=heard[0],
            heard_after=heard[1],
        ).to_json(),
    }


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_in_the_manual(command: str) -> None:
    assert f"strikeline {command}" in MANUAL
    assert missing_options(command, MANUAL) == []


@pytest.mark.parametrize("command", COMMANDS)
def test_every_field_of_the_json_is_in_the_section_of_its_schema(command: str) -> None:
    section = section_of_schema(MANUAL, command)
    found = {name for name in field_names(results()[command]) if not name.isdigit()} - OF_EVERY_ESTIMATE
    assert len(found) > 20, "a full result was looked at"
    assert {name for name in found if f"`{name}`" not in section} == set()


def test_the_limits_of_the_classes_are_those_of_the_program() -> None:
    for limit in CLASS_LIMITS[:-1]:
        assert re.search(rf"^\| {limit.grip.value} \|.*\b{limit.below_in_lb:.0f} \|", MANUAL, re.MULTILINE), limit.grip


def test_the_examples_of_the_manual_are_there() -> None:
    for name in re.findall(r"\(examples/([\w.-]+)\)", MANUAL):
        assert (DOCS / "examples" / name).is_file()
