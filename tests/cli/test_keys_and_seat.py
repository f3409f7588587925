"""``strikeline keys``, ``keytops``, ``ivory``, ``look``, ``dampers`` and ``seat`` on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
ARMS = ("--front-arm", "220mm", "--back-arm", "190mm", "--capstan-arm", "110mm")
CALLS = {
    "keys": ("keys", EXAMPLES / "keys.csv", *ARMS, "--count", "85"),
    "keytops": ("keytops", "--saw", "seam", "--saw", "cross-grain"),
    "ivory": ("ivory", "--where", "uk", "--made", "1908", "--plan", "sell"),
    "look": ("look", EXAMPLES / "look.csv"),
    "dampers": ("dampers", EXAMPLES / "dampers.csv", "--ratio", "5.0"),
    "seat": ("seat", "--keys", "74cm", "--elbow", "24cm"),
}


@pytest.mark.parametrize("name", CALLS)
def test_the_whole_result_comes_as_json_and_as_a_table(
    strikeline: Callable[..., Answer], tmp_path: Path, name: str
) -> None:
    out = tmp_path / "result.json"
    table = strikeline(*CALLS[name], "--json", out)
    assert table.code == 0, table.err
    assert "{" not in table.out
    result = json.loads(strikeline(*CALLS[name], "--json", "-").out)
    assert result["schema"] == f"strikeline.{name}/1"
    assert json.loads(out.read_text()) == result
    assert isinstance(result["cautions"], list)


def test_keys_are_papered_and_counted(strikeline: Callable[..., Answer], tmp_path: Path) -> None:
    chart = tmp_path / "keys.svg"
    told = strikeline(*CALLS["keys"], "--chart", chart).out
    assert "A0-A7 as a rule" in told
    assert "F2    −0.73" in told
    assert "re-bush the set" in told
    assert "Lead key weights" in told, "cautions of what was read are shown"
    assert "<svg" in chart.read_text()[:200]
    alone = strikeline("keys", "--count", "88")
    assert alone.out.startswith("88 keys, 52 naturals and 36 sharps: A0-C8 as a rule.")
    assert strikeline("keys").code == 2


def test_the_questions_on_key_tops_are_listed_without_an_answer(strikeline: Callable[..., Answer]) -> None:
    listed = strikeline("keytops").out
    assert "cross-grain" in listed
    assert "Ultraviolet lamps:" in listed
    told = strikeline(*CALLS["keytops"]).out
    assert told.startswith("Likely ivory; bone cannot be ruled out.")
    assert "treat it as ivory" in told
    assert strikeline("keytops", "--saw", "hot-pin").code == 2


def test_ivory_says_guidance_and_who_decides(strikeline: Callable[..., Answer]) -> None:
    told = strikeline(*CALLS["ivory"]).out
    assert "Guidance, no legal advice." in told
    assert "Who decides: the Animal and Plant Health Agency" in told
    assert "To find out first:" in told
    early = strikeline(*CALLS["ivory"], "--material", "elephant", "--on", "2022-06-05").out
    assert early.startswith("Ask the authority")
    paper = strikeline(*CALLS["ivory"], "--material", "elephant", "--tops", "50").out
    assert paper.startswith("Only with paper")
    assert "section 10" in paper
    assert "unlimited fine" in paper, "what sources say differently is shown"


def test_what_stops_work_comes_first_and_a_photograph_is_kept_by_its_hash(
    strikeline: Callable[..., Answer], tmp_path: Path
) -> None:
    told = strikeline(*CALLS["look"]).out
    assert told.index("Stops work") < told.index("Needs work") < told.index("To be watched") < told.index("Cosmetic")
    assert "no verdict by themselves" in told
    (tmp_path / "crack.jpg").write_bytes(b"abc")
    table = tmp_path / "look.csv"
    table.write_text("kind,photo\nplate crack,crack.jpg\n", encoding="utf-8")
    result = json.loads(strikeline("look", table, "--json", "-").out)
    # FIPS 180-4 example (from memory): SHA-256 of "abc".
    assert result["observations"][0]["photographs"] == [
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    ]
    table.write_text("kind,photo\nplate crack,none.jpg\n", encoding="utf-8")
    missing = strikeline("look", table)
    assert missing.code == 3
    assert "none.jpg" in missing.err
    assert "board crack" in strikeline("look", "--kinds").out
    assert strikeline("look").code == 2


def test_dampers_come_pedal_first(strikeline: Callable[..., Answer], tmp_path: Path) -> None:
    chart = tmp_path / "dampers.svg"
    told = strikeline(*CALLS["dampers"], "--chart", chart).out
    assert told.index("By pedal:") < told.index("By key:")
    assert "bend the spoon away from its damper lever" in told
    assert "<svg" in chart.read_text()[:200]
    grand = strikeline(*CALLS["dampers"], "--action", "grand").out
    assert "spoon" not in grand.replace("before any spoon is bent", "")
    assert "Half-blow" not in grand


def test_the_seat_is_told_in_centimetres_with_its_error(strikeline: Callable[..., Answer]) -> None:
    told = strikeline(*CALLS["seat"], "--stool", "56cm", "--choose", "48-58cm").out
    assert told.startswith("Seat 51.0 ± 1.0 cm")
    assert "does not grow back" in told
    assert "48-58cm: serves, set to 51.0 cm." in told
    guess = strikeline("seat", "--keys", "29 in", "--stature", "170cm", "--cups", "2cm").out
    assert "tells little of it" in guess
    assert "Lifting, tilting and moving:" in guess
    assert strikeline("seat", "--keys", "74cm").code == 2
