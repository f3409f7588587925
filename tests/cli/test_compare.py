from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer
from tests.passes import InventedPiano, play_pass, tilted

from strikeline import bootstrap

Command = Callable[..., Answer]
FILES = ["comparison.html", "comparison.json", "comparison.pdf"]


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Listenings kept as JSON, by what was done to the piano."""
    folder = tmp_path_factory.mktemp("heard")
    passes = {
        "before": play_pass(InventedPiano(), hand=1),
        "again": play_pass(InventedPiano(), hand=2),
        "moved": play_pass(InventedPiano(), hand=3, place=1, moved_db=3.0, gain_db=-6.0, colour_db=tilted(2.0)),
        "needled": play_pass(InventedPiano(toned=dict.fromkeys(range(45, 60), -2.0)), hand=4),
        "other piano": play_pass(InventedPiano(seed=2), hand=1),
    }
    paths = {}
    for name, listening in passes.items():
        paths[name] = folder / f"{name}.json"
        bootstrap.write_listening(listening, paths[name])
    return paths


def test_what_changed_is_printed_in_words_and_as_a_table(strikeline: Command, heard: dict[str, Path]) -> None:
    answer = strikeline("compare", heard["before"], heard["needled"], "--again-before", heard["again"])
    assert answer.code == 0, answer.err
    assert answer.out.startswith("Changed, in the 56 keys heard in both recordings: ")
    assert "weaker in the upper partials" in answer.out
    assert "Repeatability was measured on 56 notes played again" in answer.out
    assert "one note repeats to" in answer.out


def test_a_moved_microphone_is_no_change(strikeline: Command, heard: dict[str, Path]) -> None:
    answer = strikeline("compare", heard["before"], heard["moved"])
    assert answer.code == 0
    assert answer.out.startswith("No change beyond repeatability in the 56 keys")
    assert "Repeatability was not measured" in answer.out
    assert "the microphone was moved or the room is another one" in answer.out


def test_a_recording_compared_with_itself_is_said_first(strikeline: Command, heard: dict[str, Path]) -> None:
    answer = strikeline("compare", heard["before"], heard["before"])
    assert answer.code == 0
    assert answer.out.startswith("Before and after are the same recording. ") or answer.out.startswith(
        "Before and after are the same recording.\n"
    )


def test_a_quieter_recording_with_a_warning_of_its_own_is_told(strikeline: Command, tmp_path: Path) -> None:
    loud, quiet = tmp_path / "loud.json", tmp_path / "quiet.json"
    bootstrap.write_listening(play_pass(InventedPiano(), hand=1), loud)
    warned = play_pass(InventedPiano(), hand=1, place=1, gain_db=-12.0, warnings=["hum: 50 Hz and its harmonics"])
    bootstrap.write_listening(warned, quiet)
    answer = strikeline("compare", loud, quiet)
    assert "The second is 12 dB quieter throughout: taken off." in answer.out
    about = answer.out.partition("About the two recordings:")[2]
    assert "After: hum: 50 Hz and its harmonics." in about
    back = strikeline("compare", quiet, loud).out
    assert "The second is 12 dB louder throughout: taken off." in back
    assert "Before: hum: 50 Hz and its harmonics." in back
    assert "throughout: taken off" not in strikeline("compare", loud, loud).out


def test_another_piano_is_warned_of(strikeline: Command, heard: dict[str, Path]) -> None:
    answer = strikeline("compare", heard["before"], heard["other piano"])
    assert answer.code == 0
    assert answer.out.startswith("These two recordings cannot be compared: not the same strings")


def test_the_sheet_is_a_page_a_print_and_the_numbers(
    strikeline: Command, heard: dict[str, Path], tmp_path: Path
) -> None:
    out = tmp_path / "not" / "there yet"
    answer = strikeline("compare", heard["before"], heard["needled"], "--out", out, "--title", "Grand of <Mrs> & son")
    assert answer.code == 0, answer.err
    assert sorted(path.name for path in out.iterdir()) == FILES
    assert all(str(out / name) in answer.out for name in FILES)
    assert "Grand of &lt;Mrs&gt; &amp; son" in (out / "comparison.html").read_text()
    shown = subprocess.run(["pdftotext", out / "comparison.pdf", "-"], capture_output=True, text=True, check=True)  # noqa: S607  (poppler's, wherever it is)
    assert "Grand of <Mrs> & son" in " ".join(shown.stdout.split())
    assert json.loads((out / "comparison.json").read_text())["schema"] == "strikeline.comparison/1"


def test_json_goes_to_a_file_or_to_standard_output(strikeline: Command, heard: dict[str, Path], tmp_path: Path) -> None:
    to_output = strikeline("compare", heard["before"], heard["moved"], "--json", "-")
    assert json.loads(to_output.out)["verdict"] == "no change beyond repeatability"
    path = tmp_path / "result.json"
    answer = strikeline("compare", heard["before"], heard["moved"], "--json", path)
    assert answer.out.startswith("No change")
    assert json.loads(path.read_text()) == json.loads(to_output.out)


def test_a_sound_and_a_listening_kept_as_json_compare(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path
) -> None:
    kept = tmp_path / "before.json"
    assert strikeline("listen", sounds["pass"], "--json", kept).code == 0
    answer = strikeline("compare", kept, sounds["pass"])
    assert answer.code == 0, answer.err
    assert "in the five keys heard in both recordings" in answer.out
    assert "Before and after are the same recording." in answer.out


def test_a_file_that_is_no_listening_is_told_with_what_to_give(
    strikeline: Command, heard: dict[str, Path], tmp_path: Path
) -> None:
    wrong, broken = tmp_path / "truth.json", tmp_path / "broken.json"
    wrong.write_text('{"schema": "strikeline.truth/1"}')
    broken.write_text(heard["before"].read_text()[:1000])
    answer = strikeline("compare", heard["before"], wrong)
    assert answer.code == 3
    assert f"cannot read {wrong}: this is no listening" in answer.err
    assert "strikeline listen --json" in answer.err
    answer = strikeline("compare", broken, heard["before"])
    assert answer.code == 3
    assert f"cannot read {broken}: it is no JSON" in answer.err
    assert strikeline("compare", heard["before"], tmp_path / "none.json").code == 3


def test_listenings_of_different_playing_are_a_wrong_use(
    strikeline: Command, heard: dict[str, Path], sounds: dict[str, Path]
) -> None:
    answer = strikeline("compare", heard["before"], sounds["note"], "--kind", "note")
    assert answer.code == 2
    assert "pass and note; compare like with like" in answer.err


def test_ctrl_c_leaves_nothing_behind_and_an_older_sheet_alone(
    strikeline: Command,
    heard: dict[str, Path],
    sounds: dict[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("strikeline.workshop.hearing.choose_channel", stop)
    for name in FILES:
        (tmp_path / name).write_text("older")
    answer = strikeline("compare", heard["before"], sounds["pass"], "--out", tmp_path)
    assert answer.code == 130
    assert [(tmp_path / name).read_text() for name in FILES] == ["older"] * 3
    assert sorted(path.name for path in tmp_path.iterdir()) == FILES
