"""Plucked strings from file to table, JSON and sheet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.cli.conftest import RATE_HZ, Answer

from strikeline.cli.main import run
from strikeline.keyboard import FULL_COMPASS
from strikeline.media.sound import write_wav
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.plucking import Hand, pluck_section
from strikeline.synthesis.plucks import render_plucks

Command = Callable[..., Answer]
KEYS = tuple(range(33, 38))
OPEN = ((34, 0), (34, 1), (34, 2))
"""All strings of F♯3: its hammer does not reach them."""
HAND = Hand(
    pace_s=0.9, change_s=1.8, timing_scatter=0.08, force_n=2.0, force_scatter_db=2.0, release_s=3e-4, click_db=-18.0
)


@pytest.fixture(scope="module")
def plucks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five notes of three strings plucked against their hammers, one of which touches none."""
    grand = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-5.0)
    touched = {(key, i): None if (key, i) in OPEN else 0.1 for key in KEYS for i in range(3)}
    performance = pluck_section(grand, KEYS, touch_t60_s=touched, hand=HAND, seed=3)
    played = render_plucks(grand, performance.disturbed(action_noise_db=-30.0), sample_rate_hz=RATE_HZ, seed=3)
    path = tmp_path_factory.mktemp("plucks") / "plucks.wav"
    write_wav(path, played.samples, sample_rate_hz=RATE_HZ)
    return path


OPTIONS = ("--kind", "plucks", "--notes", "F3-A3", "--strings", "3")


@pytest.fixture(scope="module")
def result(plucks: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    out = tmp_path_factory.mktemp("result") / "plucks.json"
    assert run(["listen", str(plucks), *OPTIONS, "--json", str(out)]) == 0
    whole: dict[str, Any] = json.loads(out.read_text())
    return whole


def test_every_note_named_has_its_strings_from_left_to_right(result: dict[str, Any]) -> None:
    assert result["recording"]["kind"] == "plucks"
    assert [note["key"] for note in result["notes"]] == list(KEYS)
    for note in result["notes"]:
        assert [one["string"] for one in note["plucks"]] == ["left", "middle", "right"]


def test_the_open_strings_are_heard_and_no_touched_one_is_called_open(result: dict[str, Any]) -> None:
    told = {(note["key"], i): one["touched"] for note in result["notes"] for i, one in enumerate(note["plucks"])}
    assert all(told[string] is False for string in OPEN)
    assert not any(touched is False for string, touched in told.items() if string not in OPEN)


def test_the_table_says_which_strings_are_not_mated(strikeline: Command, plucks: Path) -> None:
    answer = strikeline("listen", plucks, *OPTIONS)
    assert answer.code == 0, answer.err
    assert "Open strings: F#3 left, middle and right: not yet mated." in answer.out


def test_the_sheet_sets_the_open_strings_strong(strikeline: Command, plucks: Path, tmp_path: Path) -> None:
    answer = strikeline("sheet", plucks, *OPTIONS, "--out", tmp_path)
    assert answer.code == 0, answer.err
    page = (tmp_path / "sheet.html").read_text()
    assert "Hammers against their strings" in page
    assert page.count("<strong>open (") == 3
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


def test_a_pass_given_as_plucks_is_no_fault_of_the_program(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["pass"], "--kind", "plucks")
    assert answer.code in {0, 1}, answer.err
    assert "open" not in {cell for line in answer.out.splitlines() for cell in line.split("  ")}


def test_silence_given_as_plucks_is_refused_with_code_1(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["silence"], "--kind", "plucks")
    assert answer.code == 1
    assert "Traceback" not in answer.err
