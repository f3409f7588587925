"""What ``strikeline string`` and ``strikeline wire`` take and give is in their manual, and its example runs."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from tests.docs.manual import OF_EVERY_ESTIMATE, field_names, missing_options, section_of_schema

from strikeline.cli.one_string import GRADES
from strikeline.physics.wire_strength import WireGrade, wire_strength
from strikeline.workshop.one_string import StringAsked, calculate_string
from strikeline.workshop.wire import find_wire

MANUAL = (Path(__file__).parents[2] / "docs" / "strings-and-scale.md").read_text()


def results() -> dict[str, Any]:
    """Return one full result of each command as its JSON."""
    bass = StringAsked(
        length="1120mm", diameter="1.05mm", outside="2.65mm", bare="18mm", note="A1", want_b="1.5e-4",
        second_wrap="0.6mm", second_inset="8mm", is_hexagonal=True,
    )  # fmt: skip
    return {
        "string": calculate_string(bass).to_json(),
        "wire": find_wire("14½", grade=WireGrade.ASTM_A228).to_json(),
    }


@pytest.mark.parametrize("command", ["string", "wire"])
def test_every_option_is_in_the_manual(command: str) -> None:
    assert f"strikeline {command}" in MANUAL
    assert missing_options(command, MANUAL) == []


@pytest.mark.parametrize("command", ["string", "wire"])
def test_every_field_of_the_json_is_in_the_section_of_its_schema(command: str) -> None:
    section = section_of_schema(MANUAL, command)
    found = set(field_names(results()[command])) - OF_EVERY_ESTIMATE
    assert len(found) > 15, "a full result was looked at"
    assert {name for name in found if f"`{name}`" not in section} == set()


def test_the_strengths_in_the_manual_are_those_of_the_program() -> None:
    for grade in (WireGrade.ASTM_A228, *list(WireGrade)[list(WireGrade).index(WireGrade.PIANO_WIRE) :]):
        strength = wire_strength(0.031 * 25.4, grade=grade)
        assert f"{strength.low_mpa:.0f} to {strength.high_mpa:.0f} MPa" in MANUAL, grade
    assert all(f"`{name}`" in MANUAL for name in GRADES)


def test_the_example_in_python_runs(capsys: pytest.CaptureFixture[str]) -> None:
    blocks = re.findall(r"```python\n(.*?)```", MANUAL, re.DOTALL)
    mine = next(block for block in blocks if "string_state" in block)
    exec(compile(mine, "strings-and-scale.md", "exec"), {})  # noqa: S102  # our own manual
    assert capsys.readouterr().out.count("Measured(") == 3
