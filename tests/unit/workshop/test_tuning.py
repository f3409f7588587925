"""From a listening to targets: what was heard is used, what was not is filled and said so."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.tuned_pianos import BREAK, KEYS, TYPICAL_B, heard_piano_of

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.workshop.string_sections import StringSections, find_sections, sections_in
from strikeline.workshop.tuning import Tuning, tune

RNG = np.random.default_rng(5)
OWN_B = TYPICAL_B * np.exp(0.03 * RNG.normal(size=88))
SECTIONS = StringSections(break_after=BREAK, last_wound_key=30)


def tuned(listening: Listening, **others: Any) -> Tuning:
    settings: dict[str, Any] = {"sections": SECTIONS, "temperament": "equal", "a4_hz": 440.0, "leaning": "middle"}
    return tune(listening, **settings | others)


@pytest.fixture(scope="module")
def flat() -> Listening:
    """A piano 20 cents flat, C5 silent."""
    return heard_piano_of(np.full(88, -20.0), b=OWN_B, silent=[52])


@pytest.fixture(scope="module")
def told(flat: Listening) -> Tuning:
    return tuned(flat)


def test_moves_lead_from_what_was_heard_to_the_target(told: Tuning) -> None:
    for note in told.notes:
        if note.now_cents is None or note.move_cents is None:
            assert note.note == "C5"
            continue
        assert_close(note.now_cents.value + note.move_cents.value, note.cents.value, rtol=0, atol=1e-9, why="a sum")


def test_a_listening_at_another_reference_tells_the_same(told: Tuning) -> None:
    shift = float(1200 * np.log2(440 / 435))
    other = heard_piano_of(np.full(88, -20.0 + shift), b=OWN_B, silent=[52], a4_hz=435.0)
    for one, two in zip(told.notes, tuned(other).notes, strict=True):
        if one.move_cents is not None and two.move_cents is not None:
            assert_close(one.move_cents.value, two.move_cents.value, rtol=0, atol=1e-9, why="the same piano")


def test_a_piano_on_its_targets_has_nowhere_to_go(told: Tuning) -> None:
    targets = np.array([note.cents.value for note in told.notes])
    again = tuned(heard_piano_of(targets, b=OWN_B, silent=[52]))
    moves = [note.move_cents.value for note in again.notes if note.move_cents is not None]
    assert_close(moves, np.zeros(87), rtol=0, atol=1e-9, why="it stands there")


def test_a_note_without_b_gets_that_of_its_section_and_a_larger_error(told: Tuning) -> None:
    notes = {note.note: note for note in told.notes}
    filled = notes["C5"]
    assert not filled.b_is_heard
    assert filled.b_departure_pct is None
    relative = filled.inharmonicity_b.se / filled.inharmonicity_b.value
    assert 0.02 < relative < 0.08, "it contains the scatter from string to string, 3 %"
    off = float(np.log(filled.inharmonicity_b.value / OWN_B[51])) / relative
    assert abs(off) < 2.6
    assert any(reason.startswith("C5: ") for reason in told.cannot_tell)


def test_an_odd_string_is_named(told: Tuning) -> None:
    odd_b = OWN_B.copy()
    odd_b[40] *= 1.4
    with_odd = tuned(heard_piano_of(np.full(88, -20.0), b=odd_b))
    assert [note.note for note in with_odd.notes if note.b_is_odd] == ["C#4"]
    odd = next(note for note in with_odd.notes if note.b_is_odd)
    assert odd.b_departure_pct is not None
    assert_close(odd.b_departure_pct.value, 40.0, rtol=0, atol=8.0, why="the curve of B has its own scatter")
    assert odd.own_part_cents < -0.2, "a stiffer string has sharper partials: its octaves ask it down"
    assert not any(note.b_is_odd for note in told.notes)


def test_the_sections_are_named(told: Tuning) -> None:
    sections = {note.key: note.section for note in told.notes}
    assert (sections[10], sections[28], sections[40]) == ("wound bass", "wound tenor", "plain")
    assert StringSections().name_of(10) == "whole compass"
    assert StringSections(break_after=26).name_of(40) == "tenor and treble"


def test_beats_of_the_temperament_octave_are_wide_or_narrow_as_in_print(told: Tuning) -> None:
    signs = {"major third": 1, "fourth": 1, "fifth": -1, "major sixth": 1, "minor third": -1, "minor sixth": -1}
    beats = told.temperament_beats
    assert len(beats) == 10 + 9 + 8 + 6 + 4 + 5
    assert all(np.sign(beat.beat_hz.value) == signs[beat.interval] for beat in beats)
    first = next(beat for beat in beats if (beat.low, beat.interval) == ("F3", "major third"))
    assert_close(first.beat_hz.value, 6.93, rtol=0, atol=0.6, why="stiffness slows the thirds of flexible strings")


def test_the_trade_off_shows_every_leaning_and_marks_the_chosen_one(flat: Listening) -> None:
    outcomes = {one.leaning: one for one in tuned(flat, leaning="wide").trade_off}
    assert [name for name, one in outcomes.items() if one.is_chosen] == ["wide"]
    octaves = {
        name: next(w.width_cents for w in one.widths if (w.partials, w.register) == ("2:1", "treble"))
        for name, one in outcomes.items()
    }
    assert octaves["close"] < octaves["middle"] < octaves["wide"]
    assert abs(octaves["close"]) < 0.5


def test_published_fields_have_the_schema_and_no_record_left(told: Tuning) -> None:
    data = told.to_json()
    assert data["schema"] == "strikeline.tuning/1"
    assert data["notes"][48]["first_partial_hz"] == {"value": 440.0, "se": 0.0}
    assert set(data["notes"][0]["cents"]) == {"value", "se"}


@pytest.mark.parametrize(("wrong", "name"), [({"a4_hz": 300.0}, "a4_hz"), ({"temperament": "just"}, "temperament")])
def test_wrong_choices_are_refused(flat: Listening, wrong: dict[str, Any], name: str) -> None:
    with pytest.raises(InputError, match=name):
        tuned(flat, **wrong)


def test_a_listening_with_few_notes_says_what_its_targets_rest_on() -> None:
    few = heard_piano_of(np.full(88, 0.0), b=OWN_B, silent=[int(key) for key in KEYS if not 40 <= key <= 50])
    told = tuned(few)
    assert any("only 11 of 88 notes" in warning for warning in told.warnings)
    errors = {note.note: note.cents.se for note in told.notes}
    assert errors["A0"] > 3 * errors["A#4"]
    assert errors["A0"] > 1.0, "B of a bass that was not heard is known to a factor of two at best"


def test_sections_are_read_from_the_json_or_found_or_seen() -> None:
    assert sections_in({"notes": []}) is None
    found = sections_in(
        {"evenness": {"change_points": [{"after": "A#2", "change": "the break", "ends_winding": None}]}}
    )
    assert found == StringSections(break_after=26)
    seen = StringSections(break_after=26, others_after=(30, 40)).seen(break_after=28, last_wound_key=30)
    assert seen == StringSections(break_after=28, last_wound_key=30, others_after=(40,))
    with pytest.raises(InputError, match="change_points"):
        sections_in({"evenness": {"change_points": [{"after": "Q9"}]}})


def test_sections_are_found_in_a_pass_that_has_none() -> None:
    b = TYPICAL_B * np.where(KEYS <= BREAK, 0.7, 1.0) * np.exp(0.02 * RNG.normal(size=88))
    found = find_sections(heard_piano_of(np.full(88, 0.0), b=b))
    assert found.break_after is not None
    assert abs(found.break_after - BREAK) <= 1
