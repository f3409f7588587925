from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.cli.conftest import NAMES, RATE_HZ, Answer

from strikeline.media.sound import write_wav

OLD_RESULT = '{"an older": "result"}\n'


@pytest.fixture(scope="module")
def long_pass(pass_samples: NDArray[np.float32], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The short pass over and over, 100 notes."""
    path = tmp_path_factory.mktemp("long") / "long.wav"
    write_wav(path, np.tile(pass_samples, 20), sample_rate_hz=RATE_HZ)
    return path


def stop_at(words: str, *arguments: object) -> tuple[int, str]:
    """Run the command on a terminal, press Ctrl-C when its progress bar says `words`; return code and terminal."""
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "strikeline.cli.main", *map(str, arguments)]
    process = subprocess.Popen(command, stdout=slave, stderr=slave, stdin=subprocess.DEVNULL)
    os.close(slave)
    seen, is_stopped, deadline = "", False, time.monotonic() + 60.0
    while time.monotonic() < deadline:
        if not select.select([master], [], [], 1.0)[0]:
            continue
        try:
            piece = os.read(master, 4096).decode(errors="replace")
        except OSError:  # the terminal's other end is closed: the command has left
            break
        if not piece:
            break
        seen += piece
        if not is_stopped and words in seen:
            process.send_signal(signal.SIGINT)
            is_stopped = True
    os.close(master)
    code = process.wait(timeout=30)
    assert is_stopped, f"the progress bar never said {words!r}: {seen}"
    return code, seen


@pytest.mark.parametrize("words", ["listening, 1:", "measuring note 30 of"])
def test_ctrl_c_keeps_what_was_found_and_names_it_partial(words: str, long_pass: Path, tmp_path: Path) -> None:
    out = tmp_path / "result.json"
    out.write_text(OLD_RESULT)
    code, terminal = stop_at(words, "listen", long_pass, "--json", out)
    assert code == 130, terminal
    assert out.read_text() == OLD_RESULT
    result = json.loads((tmp_path / "result.partial.json").read_text())
    assert result["recording"]["partial_result"] is True
    assert "stopped by the user" in result["recording"]["warnings"][0]
    assert len(result["notes"]) >= 20
    assert {note["note"] for note in result["notes"]} <= set(NAMES)
    assert "PARTIAL RESULT" in terminal
    assert "Traceback" not in terminal


def test_notes_not_measured_yet_say_so(long_pass: Path, tmp_path: Path) -> None:
    stop_at("measuring note 30 of", "listen", long_pass, "--json", tmp_path / "result.json")
    notes = json.loads((tmp_path / "result.partial.json").read_text())["notes"]
    waiting = [note for note in notes if any("stopped by the user" in reason for reason in note["cannot_tell"])]
    assert all(note["f0_hz"] is None for note in waiting)
    assert any(note["f0_hz"] is not None for note in notes)
    assert len(notes) > len(waiting) > 0


def test_ctrl_c_before_anything_was_found_leaves_nothing_behind(
    sounds: dict[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    strikeline: Callable[..., Answer],
) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("strikeline.workshop.hearing.choose_channel", stop)
    answer = strikeline("listen", sounds["pass"], "--json", tmp_path / "result.json")
    assert answer.code == 130
    assert "nothing was found yet" in answer.err
    assert list(tmp_path.iterdir()) == []
