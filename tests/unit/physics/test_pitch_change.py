"""How far off, what the frame carries, and the risk in words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.overpull import tension_ratio
from strikeline.physics.pitch_change import Risk, breaking_risk, load_change, offset_of

UNTOLD: dict[str, Any] = {"year": None, "rust_grade": None, "n_broken": None, "highest_share": None}


def test_the_middle_of_moves_lies_within_its_error_in_95_of_100() -> None:
    rng = np.random.default_rng(1)
    inside = 0
    for _ in range(400):
        moves = 20.0 + 3.0 * rng.normal(size=25)
        found = offset_of(moves, move_se_cents=np.full(25, 0.3))
        assert found is not None
        inside += abs(found.cents.value - 20.0) < 1.96 * found.cents.se
    assert 0.91 < inside / 400 < 0.98


def test_single_notes_far_away_hardly_move_the_middle() -> None:
    moves = np.full(25, 20.0) + np.linspace(-2, 2, 25)
    moves[:3] = -300.0
    found = offset_of(moves, move_se_cents=np.full(25, 0.3))
    assert found is not None
    assert_close(found.cents.value, 20.0, rtol=0, atol=0.6, why="a median of 25 moves by three ranks")


def test_no_note_has_no_middle() -> None:
    assert offset_of([], move_se_cents=[]) is None


def test_a_uniform_rise_changes_the_load_as_one_string() -> None:
    moves = np.full(88, 19.77)
    change = load_change(moves, move_se_cents=np.zeros(88), load=np.linspace(1, 3, 88))
    assert_close(change.value, tension_ratio(19.77) - 1, rtol=1e-12, atol=0, why="all by the same share")


def test_435_to_440_on_18_tonnes_is_four_tenths_of_a_tonne() -> None:
    """The survey of trade facts calculates 18 t × 2.3 % = 0.4 t, against a forum's six."""
    moves = np.full(220, 1200 * np.log2(440 / 435))
    change = load_change(moves, move_se_cents=np.zeros(220), load=np.ones(220))
    assert_close(18.0 * change.value, 0.4, rtol=0, atol=0.05, why="given to one figure")


def test_errors_of_the_load_are_those_of_the_moves() -> None:
    rng = np.random.default_rng(2)
    load, se = np.linspace(1, 3, 60), np.full(60, 4.0)
    told = load_change(np.full(60, 30.0), move_se_cents=se, load=load)
    tried = [
        load_change(30.0 + se * rng.normal(size=60), move_se_cents=np.zeros(60), load=load).value for _ in range(500)
    ]
    assert_close(np.std(tried), told.se, rtol=0.15, atol=0, why="a standard deviation of 500 is good to 3 %")


def test_pulls_that_nobody_measured_bring_their_error() -> None:
    """Pulls of any slope over the compass, of the spread taken: the truth lies within 1.96 errors."""
    moves, place = np.linspace(0.0, 60.0, 88), np.linspace(-1.0, 1.0, 88)
    told = load_change(moves, move_se_cents=np.zeros(88), load=np.ones(88), load_spread=0.3)
    rng, inside = np.random.default_rng(3), 0
    for _ in range(300):
        mix = float(rng.uniform(-1.0, 1.0))
        slope, bend = place / place.std(), np.cos(np.pi * place) / np.cos(np.pi * place).std()
        pulls = 1.0 + 0.3 * (mix * slope + (1.0 - mix**2) ** 0.5 * bend)
        true = load_change(moves, move_se_cents=np.zeros(88), load=np.maximum(pulls, 0.1)).value
        inside += not told.differs_from(true)
    assert inside >= 0.95 * 300
    alike = load_change(np.full(88, 30.0), move_se_cents=np.zeros(88), load=np.ones(88), load_spread=0.3)
    assert_close(alike.se, 0.0, rtol=0, atol=1e-12, why="where all move alike, pulls do not matter")


def test_notes_that_were_guessed_may_all_be_wrong_the_same_way() -> None:
    settings: dict[str, Any] = {"move_se_cents": np.full(50, 4.0), "load": np.ones(50)}
    own = load_change(np.full(50, 30.0), **settings)
    common = load_change(np.full(50, 30.0), **settings, is_guessed=np.ones(50, dtype=bool))
    assert_close(common.se / own.se, np.sqrt(50), rtol=1e-9, atol=0, why="fifty errors in full against their squares")


@pytest.mark.parametrize(
    ("rise", "told", "risk"),
    [
        (-10.0, {}, Risk.LOW),
        (3.0, {"rust_grade": 4, "n_broken": 5}, Risk.LOW),
        (20.0, {"year": 1990}, Risk.LOW),
        (20.0, {}, Risk.UNKNOWN),
        (60.0, {"year": 1920}, Risk.MEDIUM),
        (60.0, {"year": 1920, "rust_grade": 3}, Risk.HIGH),
        (20.0, {"rust_grade": 4}, Risk.MEDIUM),
        (20.0, {"year": 1990, "n_broken": 1}, Risk.MEDIUM),
        (20.0, {"year": 1990, "n_broken": 4}, Risk.HIGH),
        (150.0, {"year": 1990}, Risk.HIGH),
        (150.0, {}, Risk.HIGH),
        (20.0, {"highest_share": Measured(0.5, 0.02)}, Risk.LOW),
        (20.0, {"highest_share": Measured(0.65, 0.02)}, Risk.MEDIUM),
        (20.0, {"highest_share": Measured(0.75, 0.02)}, Risk.HIGH),
    ],
)
def test_the_risk_is_a_word_with_reasons(rise: float, told: dict[str, Any], risk: Risk) -> None:
    found = breaking_risk(rise_cents=rise, single_cents=rise, **UNTOLD | told)
    assert found.risk is risk
    assert found.reasons


def test_the_risk_never_names_a_chance() -> None:
    found = breaking_risk(
        rise_cents=80.0, single_cents=85.0, year=1905, rust_grade=3, n_broken=2, highest_share=Measured(0.65, 0.02)
    )
    assert not any("chance" in reason or "probab" in reason for reason in found.reasons)
    assert any("one break foretells" in reason for reason in found.reasons)


def test_a_word_about_the_wire_tells_what_it_rests_on() -> None:
    told = UNTOLD | {"highest_share": Measured(0.62, 0.07)}
    reasons = " ".join(breaking_risk(rise_cents=20.0, single_cents=20.0, **told).reasons)
    assert "rust was not told" in reasons
    assert "62 ± 14 % of its breaking load if its wire is sound, below or above the 60 %" in reasons


def test_the_rise_is_told_with_its_overpull_of_section_and_single_note() -> None:
    alike = breaking_risk(rise_cents=30.2, single_cents=30.4, **UNTOLD).reasons
    assert alike[0] == "the rise is up to 30 cents, overpull included, 3.6 % tension"
    apart = breaking_risk(rise_cents=119.0, single_cents=122.9, **UNTOLD).reasons
    words = "the section that rises most goes up by 119 cents, single notes by up to 123 cents, overpull included"
    assert apart[0] == f"{words}, 15.3 % tension"
    still = breaking_risk(rise_cents=-2.0, single_cents=9.0, **UNTOLD)
    assert still.risk is Risk.LOW
    assert "single notes rise by up to 9 cents" in still.reasons[1]


@pytest.mark.parametrize(("year", "is_said"), [(2020, False), (1905, True), (None, True)])
def test_old_uprights_are_named_beside_old_wire_alone(year: int | None, is_said: bool) -> None:
    reasons = " ".join(breaking_risk(rise_cents=60.0, single_cents=60.0, **UNTOLD | {"year": year}).reasons)
    assert ("80 years" in reasons) is is_said
    assert ("wire of 2020 counts as modern" in reasons) is (year == 2020)


def test_loads_of_another_length_are_refused() -> None:
    with pytest.raises(InputError, match="load"):
        load_change([1.0, 2.0], move_se_cents=[0.1, 0.1], load=[1.0])
