"""Short blows from file to table, JSON and sheet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.cli.conftest import RATE_HZ, Answer

from strikeline.keyboard import FULL_COMPASS
from strikeline.media.sound import write_wav
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import staccato
from strikeline.synthesis.rendering import render_pass

Command = Callable[..., Answer]
KEYS = tuple(range(36, 52))
LATE_KEY = 44


@pytest.fixture(scope="module")
def blows(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sixteen short blows on an invented grand, one of whose dampers lands late."""
    grand = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-5.0)
    fitted = with_dampers(grand, seed=3, late_s={LATE_KEY: 0.15})
    played = render_pass(fitted, staccato(KEYS, speed_m_per_s=2.5, seed=3), sample_rate_hz=RATE_HZ, seed=3)
    path = tmp_path_factory.mktemp("blows") / "blows.wav"
    write_wav(path, played.samples, sample_rate_hz=RATE_HZ)
    return path


@pytest.fixture(scope="module")
def result(blows: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    from strikeline.cli.main import run

    out = tmp_path_factory.mktemp("result") / "blows.json"
    assert run(["listen", str(blows), "--kind", "staccato", "--json", str(out)]) == 0
    whole: dict[str, Any] = json.loads(out.read_text())
    return whole


def test_every_short_blow_is_named_and_its_damper_judged(result: dict[str, Any]) -> None:
    assert result["recording"]["kind"] == "staccato"
    assert [note["key"] for note in result["notes"]] == list(KEYS)
    assert all(note["damping"]["verdict"] for note in result["notes"])
    assert not any("damping: needs short blows" in why for note in result["notes"] for why in note["cannot_tell"])


def test_the_late_damper_is_heard_and_no_other_is_blamed(result: dict[str, Any]) -> None:
    verdicts = {note["key"]: note["damping"]["verdict"] for note in result["notes"]}
    assert verdicts.pop(LATE_KEY) == "late"
    assert set(verdicts.values()) <= {"stops", "cannot tell"}


def test_the_table_says_what_each_damper_does(strikeline: Command, blows: Path) -> None:
    answer = strikeline("listen", blows, "--kind", "staccato")
    assert answer.code == 0, answer.err
    assert "E4 lands late" in answer.out
    (line,) = [line for line in answer.out.splitlines() if line.startswith("E4 ")]
    assert "late" in line


def test_the_sheet_names_the_damper_to_look_at(strikeline: Command, blows: Path, tmp_path: Path) -> None:
    answer = strikeline("sheet", blows, "--kind", "staccato", "--out", tmp_path)
    assert answer.code == 0, answer.err
    page = (tmp_path / "sheet.html").read_text()
    assert "Damper sheet from short blows" in page
    assert "E4 is damped later than the neighbours." in page
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert json.loads((tmp_path / "listening.json").read_text())["recording"]["kind"] == "staccato"
