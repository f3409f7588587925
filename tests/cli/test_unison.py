from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from benchmarks.unison_notes import UNKIND, unison_note
from tests.cli.conftest import Answer

from strikeline.media.sound import write_wav

Command = Callable[..., Answer]
RATE_HZ = 44_100


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A4 of three strings 3 cents apart, in a workshop: all together, and each alone; and another note."""
    folder = tmp_path_factory.mktemp("strings")
    about = {"n_strings": 3, "spread_cents": 3.0, "coupled": True, "even": False, "polarised": True, "duration_s": 3.0}
    paths = {}
    for name, key, only in (("all", 49, None), ("left", 49, 0), ("middle", 49, 1), ("right", 49, 2), ("b4", 51, 0)):
        note = unison_note(5, key=key, only_string=only, surroundings=UNKIND, **about)  # type: ignore[arg-type]
        paths[name] = folder / f"{name} string.wav"
        write_wav(paths[name], note.samples, sample_rate_hz=RATE_HZ)
    return paths


def singles(files: dict[str, Path]) -> list[object]:
    return [word for name in ("left", "middle", "right") for word in (f"--{name}", files[name])]


def test_three_strings_make_a_table_in_words_and_json(
    strikeline: Command, files: dict[str, Path], tmp_path: Path
) -> None:
    answer = strikeline("unison", files["all"], *singles(files), "--json", tmp_path / "a4.json")
    assert answer.code == 0, answer.err
    assert answer.out.startswith("A4, three strings recorded alone. From the lowest to the highest: ")
    assert [line.split()[0] for line in answer.out.splitlines() if line.split()[:1] and "±" in line][:4] == [
        "A4,", "left", "middle", "right"
    ]  # fmt: skip
    for words in ("All strings together: ", "locks below cents", "This rests on:", "± holds the truth in 95 cases"):
        assert words in answer.out
    data = json.loads((tmp_path / "a4.json").read_text())
    assert data["schema"] == "strikeline.unison/1"
    assert abs(data["spread_cents"]["value"] - 3.0) < 0.1


def test_a_string_recorded_too_briefly_is_said_not_to_tell_of_beats(
    strikeline: Command, files: dict[str, Path], tmp_path: Path
) -> None:
    note = unison_note(
        5,
        key=49,
        n_strings=3,
        spread_cents=3.0,
        coupled=True,
        even=False,
        polarised=True,
        duration_s=0.25,
        only_string=1,
        surroundings=UNKIND,
    )
    write_wav(tmp_path / "short.wav", note.samples, sample_rate_hz=RATE_HZ)
    answer = strikeline("unison", files["all"], "--left", files["left"], "--middle", tmp_path / "short.wav")
    assert answer.code == 0, answer.err
    (row,) = [line for line in answer.out.splitlines() if line.startswith("middle")]
    assert row.endswith("cannot tell")
    assert "false beats of the middle string: " in answer.out


def test_json_to_standard_output_is_nothing_but_json(strikeline: Command, files: dict[str, Path]) -> None:
    answer = strikeline("unison", files["all"], "--left", files["left"], "--note", "A4", "--json", "-")
    assert answer.code == 0, answer.err
    data = json.loads(answer.out)
    assert data["all_strings"] is False
    assert data["spread_cents"] is None
    assert data["coupling"] == []


def test_a_narrow_terminal_breaks_the_sentences(
    strikeline: Command, files: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("strikeline.cli.table.terminal_width", lambda: 72)
    answer = strikeline("unison", files["all"], *singles(files))
    assert answer.code == 0
    assert max(len(line) for line in answer.out.splitlines()) <= 100, "tables keep their columns"
    assert any(line.startswith("± holds the truth") and len(line) <= 72 for line in answer.out.splitlines())


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ([], 2, "no recording of a string alone was given"),
        (["--left", "b4"], 2, "the recording of the left string sounds B4, that of all strings A4"),
        (["--left", "left", "--right", "left"], 2, "the left string and of the right string are the same file"),
        (["--left", "all"], 2, "are the same file"),
        (["--left", "nowhere"], 3, "there is no such file"),
        (["--left", "left", "--strings", "4"], 2, "4 is not in the range"),
        (["--left", "left", "--middle", "middle", "--right", "right", "--strings", "2"], 2, "n_strings"),
        (["--left", "left", "--note", "H9"], 2, "H9"),
    ],
)
def test_bad_input_is_told_in_a_sentence(
    strikeline: Command, files: dict[str, Path], arguments: list[str], code: int, words: str
) -> None:
    named = [files.get(word, word) for word in arguments]
    answer = strikeline("unison", files["all"], *named)
    assert answer.code == code, answer.err
    assert words in answer.err
    assert "Traceback" not in answer.err
    assert not answer.out
