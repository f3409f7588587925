from __future__ import annotations

import json
import os
import resource
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import NAMES, Answer

Command = Callable[..., Answer]
OLD_RESULT = '{"an older": "result"}\n'


def notes_of(json_path: Path) -> list[str]:
    return [note["note"] for note in json.loads(json_path.read_text())["notes"]]


def test_a_pass_prints_a_table_and_writes_json(strikeline: Command, sounds: dict[str, Path], tmp_path: Path) -> None:
    answer = strikeline("listen", sounds["pass"], "--json", tmp_path / "pass.json")
    assert answer.code == 0
    assert [
        line.split()[0] for line in answer.out.splitlines() if line.split()[:1] and line.split()[0] in NAMES
    ] == NAMES
    assert notes_of(tmp_path / "pass.json") == NAMES
    n_judged = json.loads((tmp_path / "pass.json").read_text())["toning"]["n_judged"]
    assert f"Toning list: Brightness and level are known for {n_judged} notes, 12 are needed" in answer.out
    assert "Traceback" not in answer.err


def test_json_to_standard_output_is_nothing_but_json(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["pass"], "--json", "-")
    assert answer.code == 0
    result = json.loads(answer.out)
    assert result["schema"] == "strikeline.listening/1"
    assert result["recording"]["kind"] == "pass"
    assert result["recording"]["partial_result"] is False


def test_one_note_is_measured_with_and_without_its_name(strikeline: Command, sounds: dict[str, Path]) -> None:
    for more in ([], ["--note", "A4"]):
        answer = strikeline("listen", sounds["note"], "--kind", "note", *more, "--json", "-")
        assert answer.code == 0, answer.err
        assert [note["note"] for note in json.loads(answer.out)["notes"]] == ["A4"]


def test_only_of_one_string_alone_a_false_beat_is_told(strikeline: Command, sounds: dict[str, Path]) -> None:
    for strings, told in (([], False), (["--strings", "1"], True)):
        answer = strikeline("listen", sounds["note"], "--kind", "note", *strings, "--json", "-")
        assert answer.code == 0, answer.err
        (note,) = json.loads(answer.out)["notes"]
        assert isinstance(note["unison"]["false_beat"], bool) == told
        assert not told or len(note["strings"]) == 1


def test_a_note_that_is_not_what_was_said_keeps_its_own_name(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["note"], "--kind", "note", "--note", "E4", "--json", "-")
    assert answer.code == 0
    result = json.loads(answer.out)
    assert [note["note"] for note in result["notes"]] == ["A4"]
    assert any("A4, not E4" in warning for warning in result["recording"]["warnings"])


def test_a_single_note_is_a_short_pass(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["note"], "--json", "-")
    assert answer.code == 0, answer.err
    assert [note["note"] for note in json.loads(answer.out)["notes"]] == ["A4"]


@pytest.mark.parametrize(
    ("sound", "word"),
    [("clipped", "clip"), ("8 kHz", "8"), ("dead channel", "channel")],
)
def test_a_poor_recording_is_measured_with_a_warning(
    strikeline: Command, sounds: dict[str, Path], sound: str, word: str
) -> None:
    answer = strikeline("listen", sounds[sound], "--json", "-")
    assert answer.code == 0, answer.err
    result = json.loads(answer.out)
    assert [note["note"] for note in result["notes"]] == NAMES
    assert any(word in warning.lower() for warning in result["recording"]["warnings"])


@pytest.mark.parametrize("sound", ["dc", "192 kHz"])
def test_a_dc_offset_and_a_high_rate_do_no_harm(strikeline: Command, sounds: dict[str, Path], sound: str) -> None:
    answer = strikeline("listen", sounds[sound], "--json", "-")
    assert answer.code == 0, answer.err
    notes = json.loads(answer.out)["notes"]
    assert [note["note"] for note in notes] == NAMES
    assert all(note["f0_hz"] is not None for note in notes)


def test_a_dead_channel_changes_nothing(strikeline: Command, sounds: dict[str, Path]) -> None:
    mono, stereo = (
        json.loads(strikeline("listen", sounds[sound], "--json", "-").out)["notes"]
        for sound in ("pass", "dead channel")
    )
    assert [note["f0_hz"] for note in stereo] == [note["f0_hz"] for note in mono]
    assert [note["level_db"] for note in stereo] == [note["level_db"] for note in mono]


@pytest.mark.parametrize("sound", ["silence", "speech"])
def test_a_sound_without_a_note_is_refused_with_code_1(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path, sound: str
) -> None:
    out = tmp_path / "out.json"
    out.write_text(OLD_RESULT)
    answer = strikeline("listen", sounds[sound], "--json", out)
    assert answer.code == 1
    assert answer.out == ""
    assert len(answer.err.splitlines()) == 2
    assert out.read_text() == OLD_RESULT


def test_files_that_are_no_sound_are_refused_with_code_3(strikeline: Command, tmp_path: Path) -> None:
    empty, text = tmp_path / "empty.wav", tmp_path / "text.wav"
    empty.touch()
    text.write_text("the piano stands in the hall\n" * 50)
    for file in (empty, text, tmp_path, tmp_path / "not there.wav"):
        answer = strikeline("listen", file)
        assert answer.code == 3, answer.err
        assert file.name in answer.err
        assert "Traceback" not in answer.err


def test_a_truncated_file_is_measured_as_far_as_it_goes(
    strikeline: Command, sounds: dict[str, Path], tmp_path: Path
) -> None:
    data = sounds["pass"].read_bytes()
    cut = tmp_path / "cut.wav"
    cut.write_bytes(data[: round(len(data) * 0.55)])
    answer = strikeline("listen", cut, "--json", "-")
    assert answer.code == 0, answer.err
    result = json.loads(answer.out)
    assert [note["note"] for note in result["notes"]] == NAMES[: len(result["notes"])]
    assert 2 <= len(result["notes"]) < len(NAMES)
    assert result["recording"]["partial_result"] is True
    assert any("what is whole was measured" in warning for warning in result["recording"]["warnings"])


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--kind", "song"], "--kind"),
        (["--note", "A4"], "add --kind note"),
        (["--kind", "note", "--note", "H4"], "'H4', expected a note such as A4, C#5 or Bb0; the German H is B here"),
        (["--compass", "A7-A0"], "compass = 'A7-A0', expected the lower key first"),
        (["--a4", "0"], "a4_hz"),
        (["--a4", "nan"], "a4_hz"),
        (["--a4", "442,5"], "without a unit and with a point"),
        (["--loud"], "--loud"),
    ],
)
def test_a_wrong_option_is_refused_with_code_2(
    strikeline: Command, sounds: dict[str, Path], arguments: list[str], word: str
) -> None:
    answer = strikeline("listen", sounds["pass"], *arguments)
    assert answer.code == 2, answer.err
    assert word in answer.err
    assert "Traceback" not in answer.err


def as_a_user(*arguments: object, limit_bytes: int | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command as a process that obeys file permissions, also when the tests run as root."""
    command = [sys.executable, "-m", "strikeline.cli.main", *map(str, arguments)]
    if os.geteuid() == 0:
        command = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", *command]

    def limit() -> None:
        if limit_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))

    return subprocess.run(command, capture_output=True, text=True, check=False, preexec_fn=limit)


def test_without_permission_to_read_the_code_is_3(sounds: dict[str, Path], tmp_path: Path) -> None:
    secret = tmp_path / "secret.wav"
    secret.write_bytes(sounds["pass"].read_bytes())
    secret.chmod(0)
    done = as_a_user("listen", secret)
    assert done.returncode == 3, done.stderr
    assert "permission" in done.stderr


def test_without_permission_to_write_the_table_is_still_printed(sounds: dict[str, Path], tmp_path: Path) -> None:
    locked = tmp_path / "locked"
    locked.mkdir()
    locked.chmod(stat.S_IRUSR | stat.S_IXUSR)
    done = as_a_user("listen", sounds["pass"], "--json", locked / "out.json")
    locked.chmod(stat.S_IRWXU)
    assert done.returncode == 3, done.stderr
    assert "permission" in done.stderr
    assert all(name in done.stdout for name in NAMES)
    assert list(locked.iterdir()) == []


def test_a_full_disk_is_told_with_code_3(strikeline: Command, sounds: dict[str, Path]) -> None:
    answer = strikeline("listen", sounds["pass"], "--json", "/dev/full")
    assert answer.code == 3
    assert "disk is full" in answer.err
    assert all(name in answer.out for name in NAMES)


def test_when_writing_fails_in_the_middle_the_older_result_stays(sounds: dict[str, Path], tmp_path: Path) -> None:
    out = tmp_path / "out.json"
    out.write_text(OLD_RESULT)
    done = as_a_user("listen", sounds["pass"], "--json", out, limit_bytes=2000)
    assert done.returncode == 3, done.stderr
    assert out.read_text() == OLD_RESULT
    assert list(tmp_path.iterdir()) == [out]


def test_a_reader_that_has_seen_enough_is_no_error(sounds: dict[str, Path]) -> None:
    command = [sys.executable, "-m", "strikeline.cli.main", "listen", str(sounds["pass"]), "--json", "-"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        first = process.stdout.readline()
        process.stdout.close()
        errors = process.stderr.read()
    assert first == "{\n"
    assert "Traceback" not in errors
    assert "Broken pipe" not in errors
    assert process.returncode == 0


def test_a_fault_of_the_program_is_told_without_traceback_and_shown_with_debug(
    strikeline: Command, sounds: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("strikeline.bootstrap.listen", broken)
    answer = strikeline("listen", sounds["pass"])
    assert answer.code == 70
    assert "fault of strikeline" in answer.err
    assert "Traceback" not in answer.err
    assert "Traceback" in strikeline("--debug", "listen", sounds["pass"]).err


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["listen", "--help"], ["sheet", "-h"], ["demo", "-h"]]
)
def test_help_and_version_are_no_errors(strikeline: Command, arguments: list[str]) -> None:
    answer = strikeline(*arguments)
    assert answer.code == 0
    assert answer.out
    assert answer.err == ""


def test_no_arguments_show_the_help_with_code_2(strikeline: Command) -> None:
    answer = strikeline()
    assert answer.code == 2
    assert "Exit codes" in answer.out + answer.err
