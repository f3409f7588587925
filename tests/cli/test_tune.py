"""``strikeline tune``: what a user sees, and what it leaves behind."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.tuned_pianos import TYPICAL_B, heard_piano_of, write_heard

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
    assert "Targets for 88 keys, A0-C8, break after A#2: equal temperament, A4 = 440 Hz, leaning middle." in lines
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
    for _again in range(2):
        assert strikeline("tune", listening, "--chart", out).code == 0
    assert out.stat().st_size > 5000


def test_what_was_seen_goes_before_what_was_heard(strikeline: Command, listening: Path) -> None:
    answer = strikeline("tune", listening, "--break", "E2", "--last-wound", "G2")
    assert "A0-C8, break after E2, wound up to G2" in answer.out


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


def test_the_answer_stands_first_the_table_after_it_and_the_details_last(strikeline: Command, listening: Path) -> None:
    out = strikeline("tune", listening).out
    first = out.splitlines()[0]
    assert re.match(r"The piano is to move by \+[12]\d\.\d cents to A4 = 440 Hz", first)
    assert "strikeline pitch says first" in out.splitlines()[1]
    places = [out.index(words) for words in ("Targets for 88 keys", "A0 ", "What each leaning", "How it is computed")]
    assert places == sorted(places)
    assert out.index("Details:") > out.index("eye protection")
    weights = out[out.index("weights, middle") :].splitlines()
    assert weights[0].split()[-5:] == ["A0", "C2", "C4", "C6", "C8"]
    assert next(line for line in weights if line.startswith("octave 6:3")).split()[-5:] == ["1", "1", "0.4", "0", "0"]


def test_a_piano_near_its_targets_is_only_fine_tuned(strikeline: Command, listening: Path, tmp_path: Path) -> None:
    data = json.loads(strikeline("tune", listening, "--json", "-").out)
    targets = np.array([note["cents"]["value"] for note in data["notes"]])
    near = write_heard(heard_piano_of(targets - 2.0), tmp_path / "near.json")
    out = strikeline("tune", near).out
    assert "The piano is to move by +2.0 cents" in out
    assert "within fine tuning" in out


def test_an_odd_string_is_told_in_plain_words_that_do_not_contradict_the_sheet(
    strikeline: Command, tmp_path: Path
) -> None:
    b = TYPICAL_B * np.exp(0.03 * np.random.default_rng(5).normal(size=88))
    b[40] *= 1.4
    odd = write_heard(heard_piano_of(np.full(88, -20.0), b=b), tmp_path / "odd.json")
    out = strikeline("tune", odd).out
    line = next(line for line in out.splitlines() if line.startswith("C#4 ") and "odd" in line)
    assert re.search(
        r"odd B: \d\d % above its section; so the target is \d\.\d cents lower, and its octaves would have it "
        r"\d\.\d cents lower still",
        line,
    )
    assert "By itself the B of C#4 is odd" in out
    assert "may call the same inharmonicity even" in out
    assert "♯" not in out
    assert not re.search(r"[A-G]#?\d–[A-G]", out)


@pytest.mark.parametrize("command", ["tune", "pitch"])
@pytest.mark.parametrize("width", [60, 90])
def test_every_line_fits_a_narrow_terminal(
    strikeline: Command, listening: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int
) -> None:
    monkeypatch.setattr("strikeline.cli.table.terminal_width", lambda: width)
    answer = strikeline(command, listening)
    assert answer.code == 0, answer.err
    assert max(len(line) for line in answer.out.splitlines()) <= width
