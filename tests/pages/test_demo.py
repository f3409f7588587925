"""What the demo says must be what its files say."""

from __future__ import annotations

import json
import re

import pytest
from tests.pages.conftest import Demo

from strikeline.cli.demo import has_display


def test_the_demo_leaves_sound_truth_and_sheet(demo: Demo) -> None:
    names = {path.name for path in demo.folder.iterdir()}
    assert names == {"pass.wav", "truth.json", "sheet.html", "sheet.pdf", "listening.json"}
    assert all(str(demo.folder / name) in demo.said for name in names)


def test_every_note_of_the_demo_is_named_rightly_and_none_is_invented(demo: Demo) -> None:
    truth = json.loads((demo.folder / "truth.json").read_text())["notes"]
    heard = json.loads((demo.folder / "listening.json").read_text())["notes"]
    assert [note["key"] for note in heard] == [note["key"] for note in truth]
    assert "Played 85 notes; 85 were heard and named rightly, 0 wrongly." in demo.said


def test_what_is_said_of_f0_follows_from_the_files(demo: Demo) -> None:
    truth = json.loads((demo.folder / "truth.json").read_text())["notes"]
    heard = json.loads((demo.folder / "listening.json").read_text())["notes"]
    n_given = n_agree = 0
    for true, note in zip(truth, heard, strict=True):
        if note["f0_hz"] is not None:
            strings = [string["f0_hz"] for string in true["strings"]]
            reach = 1.96 * note["f0_hz"]["se"]
            n_given += 1
            n_agree += min(strings) - reach <= note["f0_hz"]["value"] <= max(strings) + reach
    assert f"f0: {n_agree} of {n_given} values agree" in demo.said
    assert re.search(r"within \d+\.\d\d cent of the strings' mean", demo.said)


def test_a_browser_is_opened_only_where_it_can_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    for variable in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(variable, raising=False)
    assert not has_display()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert has_display()
