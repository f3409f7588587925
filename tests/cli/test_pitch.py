"""``strikeline pitch``: what a user sees, and what it leaves behind."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.tuned_pianos import TYPICAL_B, heard_piano_of, write_heard

from strikeline.keyboard import equal_tempered_hz, key_name
from strikeline.physics.strings import plain_inharmonicity_b, plain_linear_density_kg_per_m, tension_for_pitch_n
from strikeline.units import ratio_from_cents

Command = Callable[..., Any]

SCALE = """note,length,diameter,strings
C4,657 mm,1.000 mm,3
E4,525 mm,0.975 mm,3
A4,404 mm,0.975 mm,3
C5,337 mm,0.950 mm,3
C6,175 mm,0.875 mm,3
C7,92 mm,0.825 mm,3
C8,52 mm,0.775 mm,3
"""


def own_scale(*, thicker: float = 1.0) -> str:
    """Return plain strings, C4 to C7, that have the B of the piano of these tests, or thicker ones of that length."""
    lines = ["note,length,diameter,strings"]
    for key in range(40, 77):
        diameter_mm = 1.0 - 0.005 * (key - 40)
        f0_hz = float(equal_tempered_hz(key, a4_hz=440.0) * ratio_from_cents(-30.0))
        wanted = float(TYPICAL_B[key - 1])

        def too_stiff(length_mm: float, wire_mm: float = diameter_mm, hz: float = f0_hz, b: float = wanted) -> float:
            density = plain_linear_density_kg_per_m(diameter_mm=wire_mm, density_kg_per_m3=7850.0)
            tension_n = tension_for_pitch_n(length_mm=length_mm, f0_hz=hz, linear_density_kg_per_m=density)
            found_b = plain_inharmonicity_b(
                diameter_mm=wire_mm, length_mm=length_mm, tension_n=tension_n, young_modulus_pa=2.02e11
            )
            return float(found_b) - b

        length_mm = float(brentq(too_stiff, 20.0, 2000.0))
        lines.append(f"{key_name(key)},{length_mm:.2f} mm,{thicker * diameter_mm:.4f} mm,3")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A piano about 30 cents flat as it was found."""
    return write_heard(heard_piano_of(np.full(88, -30.0)), tmp_path_factory.mktemp("pitch") / "found.json")


@pytest.fixture(scope="module")
def raised(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same after a first pass."""
    after = -8.0 + np.random.default_rng(2).normal(size=88)
    return write_heard(heard_piano_of(after), tmp_path_factory.mktemp("pitch") / "raised.json")


def test_the_ledger_has_sections_choice_passes_and_cautions(strikeline: Command, found: Path) -> None:
    answer = strikeline("pitch", found, "--year", 1905)
    assert answer.code == 0, answer.err
    for words in ("below A4 = 440 Hz", "to 440", "to 435", "stay, at 43", "risk of breaking", "The next pass"):
        assert words in answer.out
    assert "eye protection" in answer.out
    assert "in writing" in answer.out
    assert "give --scale" in answer.out


def test_without_a_year_it_says_what_it_takes_the_wire_for(strikeline: Command, found: Path) -> None:
    answer = strikeline("pitch", found)
    assert "year unknown, treated as old wire" in answer.out
    assert "cannot tell" in answer.out


def test_every_note_is_printed_on_request(strikeline: Command, found: Path) -> None:
    without, with_notes = strikeline("pitch", found), strikeline("pitch", found, "--notes")
    assert len(with_notes.out.splitlines()) == len(without.out.splitlines()) + 90


def test_the_second_pass_rests_on_the_first(strikeline: Command, found: Path, raised: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--json", plan).code == 0
    answer = strikeline("pitch", found, "--after", raised, "--plan", plan)
    assert answer.code == 0, answer.err
    assert "The first pass: 88 notes" in answer.out
    assert "from the first pass, 88 notes heard before and after" in answer.out


def test_a_plan_for_another_pitch_is_refused(strikeline: Command, found: Path, raised: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--a4", 435, "--json", plan).code == 0
    answer = strikeline("pitch", found, "--after", raised, "--plan", plan)
    assert answer.code == 2
    assert "say --a4 435" in answer.err


def test_it_says_when_to_come_again(strikeline: Command, found: Path) -> None:
    assert "again in about six months" in strikeline("pitch", found).out


def test_with_a_scale_it_tells_newtons_and_margins(strikeline: Command, found: Path, tmp_path: Path) -> None:
    scale = tmp_path / "scale.csv"
    scale.write_text(SCALE)
    answer = strikeline("pitch", found, "--scale", scale, "--year", 1990)
    assert answer.code == 0, answer.err
    assert "load kN" in answer.out
    assert "Nearest to breaking at the overpull" in answer.out
    data = json.loads(strikeline("pitch", found, "--scale", scale, "--json", "-").out)
    notes = {note["note"]: note for note in data["notes"]}
    assert 0.3 < notes["C6"]["breaking_share_now"]["value"] < 0.8
    assert notes["C6"]["breaking_share_at_most"]["value"] > notes["C6"]["breaking_share_now"]["value"]
    assert notes["A0"]["breaking_share_now"] is None


def test_a_scale_is_compared_with_the_sound_before_its_margins_are_told(
    strikeline: Command, found: Path, tmp_path: Path
) -> None:
    own, other = tmp_path / "own.csv", tmp_path / "other.csv"
    own.write_text(own_scale())
    other.write_text(own_scale(thicker=1.25))
    fits = strikeline("pitch", found, "--scale", own, "--year", 1990)
    assert "B heard fits this scale on all" in fits.out
    assert "% of its breaking load" in fits.out, "the risk rests on it"
    doubted = strikeline("pitch", found, "--scale", other, "--year", 1990)
    assert "B heard does not fit this scale" in doubted.out
    assert doubted.out.index("does not fit this scale") < doubted.out.index("Nearest to breaking")
    assert "% of its breaking load" not in doubted.out, "the risk does not rest on it"
    load = re.search(r"Load of all strings now: (\d+\.?\d*) ± (\d+\.?\d*) kN", fits.out)
    assert load is not None
    assert len(load[2].replace(".", "").lstrip("0")) <= 2, "as many digits as the error deserves"


def test_with_a_scale_nothing_is_said_of_notes_that_pull_the_same(
    strikeline: Command, found: Path, tmp_path: Path
) -> None:
    scale = tmp_path / "scale.csv"
    scale.write_text(SCALE)
    assert "every note is taken to pull the same" in " ".join(strikeline("pitch", found).out.split())
    assert "pull the same" not in " ".join(strikeline("pitch", found, "--scale", scale).out.split())


def test_the_plan_keeps_what_the_first_pass_knew(
    strikeline: Command, found: Path, raised: Path, tmp_path: Path
) -> None:
    scale, plan = tmp_path / "scale.csv", tmp_path / "plan.json"
    scale.write_text(SCALE)
    known = ("--year", 1905, "--rust", 3, "--broken", 3, "--scale", scale, "--order", "down", "--last-wound", "E3")
    assert strikeline("pitch", found, *known, "--json", plan).code == 0
    after = json.loads(strikeline("pitch", found, "--after", raised, "--plan", plan, "--json", "-").out)
    told = json.loads(plan.read_text("utf-8"))
    for name in ("year", "rust_grade", "n_broken", "scale_table", "order", "break_after", "last_wound"):
        assert after[name] == told[name] is not None
    assert after["scale_table"] == SCALE
    assert after["load_now_n"] is not None
    whole = json.loads(strikeline("pitch", found, *known, "--after", raised, "--plan", plan, "--json", "-").out)
    assert after == whole, "nothing need be said again"
    again = json.loads(
        strikeline("pitch", found, "--after", raised, "--plan", plan, "--year", 1990, "--rust", 0, "--json", "-").out
    )
    assert (again["year"], again["rust_grade"], again["n_broken"]) == (1990, 0, 3), "what is said now goes first"


def test_an_older_plan_without_these_is_read(strikeline: Command, found: Path, raised: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--json", plan).code == 0
    data = json.loads(plan.read_text("utf-8"))
    for name in ("rust_grade", "n_broken", "scale_table", "break_after", "last_wound"):
        del data[name]
    plan.write_text(json.dumps(data), "utf-8")
    assert strikeline("pitch", found, "--after", raised, "--plan", plan).code == 0


def test_an_unchanged_recording_is_answered_with_cannot_tell(strikeline: Command, found: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert strikeline("pitch", found, "--year", 1905, "--json", plan).code == 0
    answer = strikeline("pitch", found, "--after", found, "--plan", plan)
    assert answer.code == 0, answer.err
    assert "cannot be told: the first pass does not show in this recording" in " ".join(answer.out.split())
    assert "more than six" not in answer.out


def test_two_numbers_for_one_piano_are_explained(strikeline: Command, found: Path) -> None:
    out = " ".join(strikeline("pitch", found).out.split())
    assert "The middle of the piano, C3-A5, stands" in out
    assert "bass and treble included, each to a stretched target of its own" in out


def test_high_risk_is_told_to_wait_for_pins_and_frame(strikeline: Command, tmp_path: Path) -> None:
    far = write_heard(heard_piano_of(np.full(88, -115.0)), tmp_path / "far.json")
    answer = strikeline("pitch", far, "--year", 1905, "--rust", 3, "--broken", 3)
    words = " ".join(answer.out.split())
    assert "Do not raise it before wrest pins" in words
    assert words.index("Do not raise it") < words.index("The passes to 440 Hz")
    assert "strikeline pins" in words


def test_notes_are_printed_as_they_are_typed(strikeline: Command, found: Path, tmp_path: Path) -> None:
    scale = tmp_path / "scale.csv"
    scale.write_text(own_scale(thicker=1.25))
    out = strikeline("pitch", found, "--scale", scale, "--notes").out
    assert "♯" not in out
    assert not re.search(r"[A-G]#?\d–[A-G]", out)
    assert not re.search(r"\b([A-G]#?\d)-\1\b", out), "one note is no range"


@pytest.mark.parametrize("suffix", ["svg"])
def test_charts_are_drawn_by_suffix(strikeline: Command, found: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"raise.{suffix}"
    for _again in range(2):
        assert strikeline("pitch", found, "--chart", out).code == 0
    assert out.stat().st_size > 5000


def test_the_json_is_the_published_schema(strikeline: Command, found: Path) -> None:
    data = json.loads(strikeline("pitch", found, "--a4", "442", "--json", "-").out)
    assert data["schema"] == "strikeline.pitch/1"
    assert [one["a4_hz"] for one in data["decisions"]][:3] == [442.0, 440.0, 435.0]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("missing.json",), 3, "missing.json"),
        (("{}", "--a4", "500"), 2, "380 to 480"),
        (("{}", "--plan", "{}"), 2, "--after"),
        (("{}", "--after", "{}", "--plan", "{}"), 3, "is no plan"),
        (("{}", "--rust", "9"), 2, "0<=x<=4"),
        (("{}", "--json", "{}"), 2, "give the result another name"),
    ],
)
def test_mistakes_are_told_in_a_sentence(
    strikeline: Command, found: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    answer = strikeline("pitch", *(argument.format(found) for argument in arguments))
    assert answer.code == code
    assert words in answer.err
