"""What the demo says must be what its files say."""

from __future__ import annotations

import json
import re

import pytest
from tests.pages.conftest import Demo

from strikeline.cli.demo import has_display


def test_the_demo_leaves_sound_truth_and_sheet(demo: Demo) -> None:
    for folder, sound in (
        (demo.folder, "pass.wav"),
        (demo.folder / "staccato", "staccato.wav"),
        (demo.folder / "plucks", "plucks.wav"),
    ):
        names = {path.name for path in folder.iterdir() if path.is_file()}
        assert names == {sound, "truth.json", "sheet.html", "sheet.pdf", "listening.json"}
        assert all(str(folder / name) in demo.said for name in names)


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


def test_the_dampers_set_wrong_are_heard_and_told_beside_the_truth(demo: Demo) -> None:
    heard = json.loads((demo.folder / "staccato" / "listening.json").read_text())["notes"]
    verdicts = {note["note"]: note["damping"]["verdict"] for note in heard}
    assert len(verdicts) == 85
    assert (verdicts["D3"], verdicts["F4"]) == ("leaks", "late")
    assert "Dampers set wrong: D3 leaks, F4 lands late." in demo.said
    assert re.search(r"Heard: .*D3 leaks; .*F4 lands late", demo.said)


def test_the_strings_left_open_are_heard_and_told_beside_the_truth(demo: Demo) -> None:
    truth = json.loads((demo.folder / "plucks" / "truth.json").read_text())["strings"]
    heard = json.loads((demo.folder / "plucks" / "listening.json").read_text())["notes"]
    places = ("left", "middle", "right")
    told = {(note["key"], places.index(one["string"])): one["touched"] for note in heard for one in note["plucks"]}
    true = {(string["key"], string["string"]): string["touched"] for string in truth}
    assert told.keys() == true.keys()
    assert all(told[string] in {true[string], None} for string in true)
    assert sum(touched is False for touched in told.values()) == 2
    assert "Strings left open: A3 left and C4 right." in demo.said
    assert "Heard: Open strings: A3 left and C4 right: not yet mated." in demo.said


def test_a_browser_is_opened_only_where_it_can_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    for variable in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(variable, raising=False)
    assert not has_display()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert has_display()
