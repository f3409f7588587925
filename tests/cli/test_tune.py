"""``strikeline tune``: what a user sees, and what it leaves behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.tuned_pianos import heard_piano_of, write_heard

from strikeline.cli.tune import LEANING_NAMES, TEMPERAMENT_NAMES
from strikeline.physics.temperaments import TEMPERAMENTS
from strikeline.physics.tuning_leanings import LEANINGS

Command = Callable[..., Any]


@pytest.fixture(scope="module")
def listening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A listening to a piano 20 cents flat."""
    return write_heard(heard_piano_of(np.full(88, -20.0)), tmp_path_factory.mktemp("tune") / "pass.json")


def test_the_command_offers_every_temperament_and_leaning() -> None:
    assert set(TEMPERAMENT_NAMES) == set(TEMPERAMENTS)
    assert set(LEANING_NAMES) == set(LEANINGS)


def test_the_ledger_has_notes_beats_trade_off_and_the_criterion(strikeline: Command, listening: Path) -> None:
    answer = strikeline("tune", listening)
    assert answer.code == 0, answer.err
    lines = answer.out.splitlines()
    assert lines[0] == "Targets for 88 keys, A0-C8, break after A#2: equal temperament, A4 = 440 Hz, leaning middle."
    a4 = next(line for line in lines if line.startswith("A4 "))
    assert a4.split()[1:3] == ["440.00", "0.00"]
    for words in (
        "Temperament octave F3 to F4",
        "major third 5:4",
        "double 4:1",
        "middle *",
        "How it is computed",
        "eye protection",
    ):
        assert words in answer.out
    assert "The piano is to move by +1" in answer.out or "The piano is to move by +2" in answer.out


def test_the_json_is_the_published_schema_and_the_same_in_file_and_pipe(
    strikeline: Command, listening: Path, tmp_path: Path
) -> None:
    out = tmp_path / "tuning.json"
    written = strikeline("tune", listening, "--temperament", "vallotti", "--a4", "435", "--json", out)
    piped = strikeline("tune", listening, "--temperament", "vallotti", "--a4", "435", "--json", "-")
    assert (written.code, piped.code) == (0, 0)
    assert out.read_text("utf-8") == piped.out
    data = json.loads(piped.out)
    assert (data["schema"], data["temperament"], data["a4_hz"]) == ("strikeline.tuning/1", "vallotti", 435.0)


@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_charts_are_drawn_by_suffix(strikeline: Command, listening: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"targets.{suffix}"
    assert strikeline("tune", listening, "--chart", out).code == 0
    assert out.stat().st_size > 5000


def test_what_was_seen_goes_before_what_was_heard(strikeline: Command, listening: Path) -> None:
    answer = strikeline("tune", listening, "--break", "E2", "--last-wound", "G2")
    assert "break after E2, wound up to G2" in answer.out.splitlines()[0]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("missing.json",), 3, "missing.json"),
        (("{}", "--a4", "500"), 2, "380 to 480"),
        (("{}", "--temperament", "just"), 2, "werckmeister-3"),
        (("{}", "--chart", "targets.gif"), 2, ".svg, .png or .html"),
        (("{}", "--json", "{}"), 2, "give the result another name"),
    ],
)
def test_mistakes_are_told_in_a_sentence(
    strikeline: Command, listening: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    answer = strikeline("tune", *(argument.format(listening) for argument in arguments))
    assert answer.code == code
    assert words in answer.err


@pytest.mark.parametrize("command", ["tune", "pitch"])
def test_a_sound_in_place_of_a_listening_is_answered_with_what_to_do(
    strikeline: Command, tmp_path: Path, command: str
) -> None:
    sound = tmp_path / "grand.wav"
    sound.write_bytes(b"RIFF\xff\xfe\x00\x80")
    answer = strikeline(command, sound)
    assert answer.code == 3
    assert "run strikeline listen grand.wav --json grand.json first, then give grand.json" in answer.err


@pytest.mark.parametrize("text", ["[]", "{}", '{"schema": "strikeline.tuning/1"}', "no JSON"])
def test_other_files_in_place_of_a_listening_are_answered_with_what_to_do(
    strikeline: Command, listening: Path, tmp_path: Path, text: str
) -> None:
    other = tmp_path / "tuning.json"
    other.write_text(text, "utf-8")
    for arguments in (("tune", other), ("pitch", other), ("pitch", listening, "--after", other)):
        answer = strikeline(*arguments)
        assert answer.code == 3
        assert "run strikeline listen pass.wav --json pass.json first" in answer.err
        assert "sound itself" not in answer.err


@pytest.mark.parametrize("command", ["tune", "pitch"])
@pytest.mark.parametrize("width", [60, 90])
def test_every_line_fits_a_narrow_terminal(
    strikeline: Command, listening: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int
) -> None:
    monkeypatch.setattr("strikeline.cli.table.terminal_width", lambda: width)
    answer = strikeline(command, listening)
    assert answer.code == 0, answer.err
    assert max(len(line) for line in answer.out.splitlines()) <= width
