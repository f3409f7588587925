"""From a listening, and one after the first pass, to the choice of a pitch and the next pass."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.tuned_pianos import BREAK, KEYS, heard_piano_of

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.physics.overpull import usual_overpull
from strikeline.physics.pitch_change import Risk
from strikeline.physics.tension_give import after_pass, pass_setting
from strikeline.workshop.pitch import plan_pitch
from strikeline.workshop.pitch_job import WireStory
from strikeline.workshop.pitch_result import Pitch
from strikeline.workshop.string_sections import StringSections
from strikeline.workshop.tuning import tune

SECTIONS = StringSections(break_after=BREAK)
TARGETS = np.array(
    [
        note.cents.value
        for note in tune(
            heard_piano_of(np.zeros(88)), sections=SECTIONS, temperament="equal", a4_hz=440.0, leaning="middle"
        ).notes
    ]
)
"""Where the piano of these tests belongs."""


def planned(listening: Listening, **others: Any) -> Pitch:
    settings: dict[str, Any] = {"sections": SECTIONS, "a4_hz": 440.0, "wire": WireStory(year=1990)}
    return plan_pitch(listening, **settings | others)


def flat_by(cents: float) -> Listening:
    return heard_piano_of(TARGETS - cents)


def test_a_piano_flat_by_20_cents_is_told_so_in_every_section() -> None:
    told = planned(flat_by(20.0))
    assert_close(told.level_cents.value, -20.0, rtol=0, atol=1e-6, why="all notes alike")
    assert_close(told.a4_now_hz.value, 440 * 2 ** (-20 / 1200), rtol=1e-9, atol=0, why="the same")
    for section in told.sections:
        assert section.offset is not None
        assert_close(section.offset.cents.value, 20.0, rtol=0, atol=1e-6, why="the same")


def test_the_choice_holds_440_435_and_staying() -> None:
    decisions = {one.name: one for one in planned(flat_by(19.77)).decisions}
    assert list(decisions) == ["to 440", "to 435", "stay, at 435"]
    assert_close(decisions["to 440"].tension_change_pct.value, 2.3, rtol=0, atol=0.05, why="435 to 440 Hz is 2.3 %")
    assert_close(decisions["stay, at 435"].move.cents.value, 0.0, rtol=0, atol=0.1, why="its A4 is 435.0")
    assert decisions["stay, at 435"].risk.risk is Risk.LOW
    assert all(one.load_change_n is None for one in decisions.values())


def test_a_pitch_of_choice_stands_in_the_table_too() -> None:
    decisions = [one.name for one in planned(flat_by(10.0), a4_hz=442.0).decisions]
    assert decisions[:3] == ["to 442", "to 440", "to 435"]


def test_old_wire_takes_more_passes_and_stays_within_its_cap() -> None:
    listening = flat_by(44.0)
    modern, old = planned(listening), planned(listening, wire=WireStory(year=1905))
    assert max(note.overpull_cents for note in modern.notes) > 10.0
    assert max(note.overpull_cents for note in old.notes) == 10.0
    assert any(note.is_capped for note in old.notes)
    assert len(old.passes) >= len(modern.passes)
    assert "old_wire" in old.cautions


def test_a_very_flat_piano_goes_to_pitch_first_then_with_overpull_then_fine() -> None:
    whys = [one.why for one in planned(flat_by(80.0)).passes]
    assert "without overpull" in whys[0]
    assert "with overpull" in whys[1]
    assert "fine tuning" in whys[-1]


def test_a_note_that_was_not_heard_stands_as_its_neighbours_do() -> None:
    told = planned(heard_piano_of(TARGETS - 20.0, silent=[52]))
    silent = next(note for note in told.notes if note.key == 52)
    assert silent.now_cents is None
    assert_close(silent.tension_change_pct, 2.34, rtol=0, atol=0.02, why="20 cents, as its neighbours")
    assert any(reason.startswith("C5: where it stands") for reason in told.cannot_tell)


@pytest.fixture(scope="module")
def first_pass() -> tuple[Listening, Listening, np.ndarray]:
    """A piano that gives twice as much as is usual, before and after a pass as planned; and its give."""
    before = heard_piano_of(TARGETS - 30.0)
    factor = usual_overpull(KEYS, bass_ends=BREAK, last_wound_key=None)
    setting = pass_setting(
        KEYS, response=factor, load=np.ones(88), bass_bridge_ends=BREAK, order=[int(key) for key in KEYS]
    )
    give = setting.prior + np.log(2.0)
    put = np.array([note.overpull_cents for note in planned(before).notes])
    end = after_pass(setting, log_give=give, start_cents=np.full(88, -30.0), set_cents=put)
    end += 1.0 * np.random.default_rng(3).normal(size=88)
    return before, heard_piano_of(TARGETS + end), end


def test_the_second_pass_goes_by_the_give_of_this_piano(first_pass: tuple[Listening, Listening, np.ndarray]) -> None:
    before, after, end = first_pass
    told = planned(before, after=after)
    assert told.first_pass is not None
    assert told.first_pass.n_notes == 88
    assert_close(told.first_pass.after.cents.value, -np.median(end), rtol=0, atol=1e-6, why="as it was heard")
    assert told.give.n_notes == 88
    likely = planned(before).give.lost_share
    assert told.give.lost_share.se < 0.2 * likely.se
    assert told.give.lost_share.differs_from(likely.value), "twice as much as is usual"
    assert "this piano's own give" in told.passes[0].why


def test_the_second_pass_ends_where_it_was_predicted(first_pass: tuple[Listening, Listening, np.ndarray]) -> None:
    before, after, end = first_pass
    told = planned(before, after=after)
    factor = usual_overpull(KEYS, bass_ends=BREAK, last_wound_key=None)
    setting = pass_setting(
        KEYS, response=factor, load=np.ones(88), bass_bridge_ends=BREAK, order=[int(key) for key in KEYS]
    )
    put = np.array([note.overpull_cents for note in told.notes])
    second = after_pass(setting, log_give=setting.prior + np.log(2.0), start_cents=end, set_cents=put)
    second += 1.0 * np.random.default_rng(4).normal(size=88)
    off = np.array(
        [(second[i] - note.expected_cents.value) / note.expected_cents.se for i, note in enumerate(told.notes)]
    )
    assert np.mean(np.abs(off) < 1.96) > 0.9
    assert abs(np.median(second)) < 1.0, "the piano is at pitch"


def test_a_plan_that_was_followed_goes_before_the_usual_one(
    first_pass: tuple[Listening, Listening, np.ndarray],
) -> None:
    before, after, _ = first_pass
    usual = planned(before, after=after)
    same = {note.key: note.overpull_cents for note in planned(before).notes}
    other = dict.fromkeys(same, 0.0)
    assert planned(before, after=after, set_cents=same).give == usual.give
    assert planned(before, after=after, set_cents=other).give != usual.give


def test_published_fields_have_the_schema() -> None:
    data = planned(flat_by(20.0)).to_json()
    assert data["schema"] == "strikeline.pitch/1"
    assert data["decisions"][0]["risk"]["risk"] in {"low", "medium", "high", "cannot tell"}


@pytest.mark.parametrize(("wrong", "name"), [({"a4_hz": 300.0}, "a4_hz"), ({"order": "middle"}, "order")])
def test_wrong_choices_are_refused(wrong: dict[str, Any], name: str) -> None:
    with pytest.raises(InputError, match=name):
        planned(flat_by(20.0), **wrong)


def test_a_pass_that_hardly_any_piano_answers_to_is_not_believed(
    first_pass: tuple[Listening, Listening, np.ndarray],
) -> None:
    before, after, _ = first_pass
    hardly = heard_piano_of(TARGETS - 27.0 + np.random.default_rng(5).normal(size=88))
    believed, doubted = planned(before, after=after), planned(before, after=hardly)
    assert believed.first_pass is not None
    assert not believed.first_pass.is_hard_to_believe, "it gives twice as much as is usual"
    assert doubted.first_pass is not None
    assert doubted.first_pass.is_hard_to_believe, "it kept three of 30 cents"
    assert any("not to be relied on" in warning for warning in doubted.warnings)
    assert not any("not to be relied on" in warning for warning in believed.warnings)


def named(listening: Listening, sha256: str) -> Listening:
    return replace(listening, recording=replace(listening.recording, sha256=sha256))


def test_the_same_recording_after_the_first_pass_is_refused() -> None:
    before = named(flat_by(30.0), "ab" * 32)
    with pytest.raises(InputError, match="after is the same recording"):
        planned(before, after=before)
    planned(before, after=named(flat_by(8.0), "cd" * 32))


@pytest.mark.parametrize(("left", "words"), [(30.0, "changed nothing"), (36.0, "wrong way"), (29.5, "hardly anything")])
def test_a_first_pass_that_does_not_show_teaches_nothing(left: float, words: str) -> None:
    scatter = 0.3 * np.random.default_rng(6).normal(size=88)
    told = planned(flat_by(30.0), after=heard_piano_of(TARGETS - left + scatter), wire=WireStory(year=1905))
    assert told.first_pass is not None, words
    assert not told.first_pass.is_shown
    assert not told.first_pass.is_hard_to_believe
    assert told.give.n_notes == 0, "it is that of common practice"
    assert any("the first pass does not show in this recording" in reason for reason in told.cannot_tell)
    assert all(note.overpull_cents >= 0.0 for note in told.notes), "a flat note is never set flat"
    assert all(one.n_passes is not None for one in told.decisions)
    assert told.notes[40].now_cents is not None
    assert_close(told.notes[40].now_cents.value, -left, rtol=0, atol=1.5, why="the next pass goes from where it stands")


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_first_pass_that_shows_is_learned_from_up_and_down(sign: float) -> None:
    told = planned(heard_piano_of(TARGETS + sign * 30.0), after=heard_piano_of(TARGETS + sign * 5.0))
    assert told.first_pass is not None
    assert told.first_pass.is_shown
    assert told.give.n_notes == 88


def test_a_risk_that_cannot_be_told_names_what_to_say_and_a_high_one_what_to_look_at_first() -> None:
    unknown = planned(flat_by(20.0), wire=WireStory())
    reasons = " ".join(unknown.decisions[0].risk.reasons)
    assert unknown.decisions[0].risk.risk is Risk.UNKNOWN
    assert all(option in reasons for option in ("--year", "--rust", "--scale"))
    assert unknown.look_first is None
    high = planned(flat_by(115.0), wire=WireStory(year=1905, rust_grade=3, n_broken=3))
    assert high.decisions[0].tension_change_pct.value > 14.0
    assert high.look_first is not None
    assert "Do not raise it before wrest pins" in high.look_first
    assert "strikeline pins" in high.look_first


def test_rises_agree_with_the_largest_move_of_the_table() -> None:
    start = TARGETS - 20.0
    start[70] -= 12.0
    whole = planned(heard_piano_of(start))
    told = whole.decisions[0]
    overpull = next(note.overpull_cents for note in whole.notes if note.key == 71)
    single = told.move.high_cents + overpull
    assert overpull > 5.0
    assert f"single notes by up to {single:.0f} cents, overpull included" in told.risk.reasons[0]


def test_the_level_names_the_notes_it_is_read_from() -> None:
    assert planned(flat_by(20.0)).level_over == "C3-A5"


def test_the_level_of_a_piano_is_not_read_from_its_bass_alone() -> None:
    bass_alone = heard_piano_of(TARGETS - 20.0, silent=list(range(20, 89)))
    with pytest.raises(InputError, match="0 heard from C3 to A5"):
        planned(bass_alone)
    few = planned(heard_piano_of(TARGETS - 20.0, silent=[key for key in range(1, 89) if key % 8]))
    assert any("only 11 of 88 notes were heard" in warning for warning in few.warnings)
    assert not any("notes were heard;" in warning for warning in planned(flat_by(20.0)).warnings)
