"""``strikeline bearing``, ``pins`` and ``climate`` as a user types them, on the invented examples of the manual."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer
from tests.passes import InventedPiano, play_pass

from strikeline import bootstrap

Command = Callable[..., Answer]
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
PLUS_MINUS = re.compile(r"\d ± \d")


def test_bearing_is_printed_note_by_note_with_loads_and_tone_first(strikeline: Command) -> None:
    answer = strikeline("bearing", EXAMPLES / "bearing.csv", "--crown", EXAMPLES / "crown.csv")
    assert answer.code == 0, answer.err
    assert "negative on one note (C6)" in answer.out
    assert re.search(r"The treble bridge carries \d+ ± \d+ N from C3-A7", answer.out)
    assert "Tone first" in answer.out
    assert "hollow at one rib (11)" in answer.out
    assert "Wear eye protection" in answer.out
    assert PLUS_MINUS.search(answer.out)


def test_columns_that_no_note_fills_are_left_out(strikeline: Command, tmp_path: Path) -> None:
    table = tmp_path / "angles.csv"
    table.write_text("note,angle\nC4,1\nE4,0.5\n")
    answer = strikeline("bearing", table)
    assert answer.out.splitlines()[0].split() == ["note", "bend", "°", "it", "is"]
    assert "no tension was given" in answer.out


def test_pins_are_told_with_run_meaning_and_proof(strikeline: Command) -> None:
    answer = strikeline("pins", EXAMPLES / "pins.csv", "--after", EXAMPLES / "pins-after.csv", "--pins", 215)
    assert answer.code == 0, answer.err
    assert "in runs along the plank" in answer.out
    assert "Along the flange of the frame" in answer.out
    assert "The grip rose: +" in answer.out
    assert "Humidity was not noted for both surveys" in answer.out
    assert "if it stays in tune, it is tight enough" in answer.out


def test_one_pin_is_no_range_and_empty_torques_are_counted(strikeline: Command, tmp_path: Path) -> None:
    table = tmp_path / "pins.csv"
    table.write_text("key,torque [in-lb]\n49,65\n50,\n51,n/a\n", encoding="utf-8")
    told = strikeline("pins", table).out
    assert "One pin read" in told
    assert ": 7.3 N·m." in told
    assert "Two rows without a torque were left out." in told
    assert "The classes do not hold" not in told
    assert "The classes do not hold" in strikeline("pins", table, "--direction", "flat").out


def test_a_whole_survey_is_told_how_to_say_so(strikeline: Command) -> None:
    assert "--pins 215 if these are all" in strikeline("pins", EXAMPLES / "pins.csv").out
    whole = strikeline("pins", EXAMPLES / "pins.csv", "--pins", 215).out
    assert "That is every pin." in whole
    assert "once in 10,000" not in whole


def test_climate_tells_of_wood_and_pitch(strikeline: Command) -> None:
    answer = strikeline("climate", "--rh", "45%", "--temperature", "20C", "--rh-before", "60%", "--panel", "900mm")
    assert answer.code == 0, answer.err
    assert "8.5 ± 1.1" in answer.out
    assert re.search(r"shrinks: −3\.\d ± \d", answer.out)
    assert "enough to call a call-back climate" in answer.out
    assert "steady matters more than the level" in answer.out


@pytest.fixture
def visits(tmp_path: Path) -> tuple[Path, Path]:
    """Two listenings of an invented piano, all notes 6 cents sharper at the second."""
    paths = tmp_path / "before.json", tmp_path / "after.json"
    for hand, (path, cents) in enumerate(zip(paths, (0.0, 6.0), strict=True)):
        bootstrap.write_listening(play_pass(InventedPiano(all_cents=cents), hand=hand), path)
    return paths


def test_two_visits_are_judged_and_drawn(strikeline: Command, visits: tuple[Path, Path], tmp_path: Path) -> None:
    chart = tmp_path / "drift.svg"
    air = ("--rh", "58%", "--temperature", "20C", "--rh-before", "45%", "--temperature-before", "20C")
    answer = strikeline("climate", *air, "--before", visits[0], "--after", visits[1], "--break", "C3", "--chart", chart)
    assert answer.code == 0, answer.err
    assert "Whether the drift is climate cannot be told." in answer.out
    assert "All notes moved alike" in answer.out
    assert chart.read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("command", "schema"),
    [
        (("bearing", EXAMPLES / "bearing.csv"), "strikeline.bearing/1"),
        (("pins", EXAMPLES / "pins.csv"), "strikeline.pins/1"),
        (("climate", "--rh", "45%", "--temperature", "20C"), "strikeline.climate/1"),
    ],
)
def test_the_whole_result_comes_as_json(
    strikeline: Command, tmp_path: Path, command: tuple[object, ...], schema: str
) -> None:
    out = tmp_path / "out.json"
    answer = strikeline(*command, "--json", "-")
    strikeline(*command, "--json", out)
    assert json.loads(answer.out)["schema"] == schema
    assert out.read_text() == answer.out


@pytest.mark.parametrize("name", ["bearing", "pins"])
@pytest.mark.parametrize("suffix", [".svg", ".png", ".html"])
def test_charts_are_written_as_their_name_says(strikeline: Command, tmp_path: Path, name: str, suffix: str) -> None:
    chart = tmp_path / f"chart{suffix}"
    answer = strikeline(name, EXAMPLES / f"{name}.csv", "--chart", chart)
    assert answer.code == 0, answer.err
    beginnings = {".svg": b"<svg", ".png": b"\x89PNG", ".html": b"<!doctype html"}
    assert chart.read_bytes().lower().startswith(beginnings[suffix].lower())


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (("bearing", EXAMPLES / "pins.csv"), "looks like a table for `strikeline pins`"),
        (("pins", EXAMPLES / "pins.csv", "--chart", "out.pdf"), "pdf"),
        (("climate", "--rh", "450%", "--temperature", "20C"), "relative humidity"),
        (("climate", "--rh", "45%", "--temperature", "20C", "--panel", "900mm"), "humidity before"),
        (("climate", "--rh", "45%", "--temperature", "20C", "--chart", "out.svg"), "--before and --after"),
        (("climate", "--rh", "45%", "--temperature", "200C"), "temperature of a room"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_a_sentence(
    strikeline: Command, command: tuple[object, ...], words: str
) -> None:
    answer = strikeline(*command)
    assert answer.code == 2
    assert words in answer.err


def test_results_are_never_written_over_the_table(strikeline: Command, tmp_path: Path) -> None:
    table = tmp_path / "pins.csv"
    table.write_text((EXAMPLES / "pins.csv").read_text())
    assert strikeline("pins", table, "--json", table).code == 2
    assert table.read_text() == (EXAMPLES / "pins.csv").read_text()
