"""What can be said of the sound on the command line, and what does not go together."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer

from strikeline.cli.options import read_notes
from strikeline.errors import InputError

Command = Callable[..., Answer]


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        (None, None),
        ("A4", (49,)),
        ("F3-A3", (33, 34, 35, 36, 37)),
        ("A3–F3", (37, 36, 35, 34, 33)),
        ("A4,A#4, B4", (49, 50, 51)),
        ("A4; Bb4", (49, 50)),
        ("C4-D4,A4", (40, 41, 42, 49)),
    ],
)
def test_notes_are_names_and_runs_in_their_order(text: str | None, keys: tuple[int, ...] | None) -> None:
    assert read_notes(text) == keys


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "expected a note"),
        ("A4,,B4", "expected a note"),
        ("F3-", "expected a note"),
        ("F3-H3", "German H"),
        ("C4-E4,D4", "a note twice"),
        ("A4-B4-C5", "expected a note"),
    ],
)
def test_what_is_no_list_of_notes_is_refused_in_words(text: str, word: str) -> None:
    with pytest.raises(InputError, match=word):
        read_notes(text)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--note", "A4"], "leave --note out for a pass"),
        (["--kind", "plucks", "--note", "A4"], "--notes"),
        (["--notes", "A4"], "add --kind plucks"),
        (["--kind", "note", "--notes", "A4"], "add --kind plucks"),
        (["--strings", "2"], "leave it out for a pass"),
        (["--kind", "staccato", "--strings", "2"], "leave it out for a staccato"),
        (["--kind", "plucks", "--strings", "4"], "1<=x<=3"),
        (["--kind", "plucks", "--strings", "0"], "1<=x<=3"),
        (["--kind", "plucks", "--notes", "F3-F3-G3"], "expected a note"),
    ],
)
@pytest.mark.parametrize("command", ["listen", "sheet"])
def test_options_that_do_not_go_together_are_refused_with_code_2(
    strikeline: Command, tmp_path: Path, command: str, arguments: list[str], word: str
) -> None:
    out = ["--out", tmp_path / "sheet"] if command == "sheet" else []
    answer = strikeline(command, tmp_path / "no.wav", *out, *arguments)
    assert answer.code == 2, answer.err
    assert word in answer.err
    assert "Traceback" not in answer.err
    assert not list(tmp_path.iterdir())
