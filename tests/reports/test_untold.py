"""What could not be told is gathered by reason, with numbers that differ as a range and nothing left out silently."""

from __future__ import annotations

from dataclasses import replace

from tests.reports.fake_listening import SILENT_KEY, fake_listening

from strikeline.acoustics.listening import Note
from strikeline.reports.untold import gather_untold, untold_keys


def test_reasons_that_differ_in_a_number_are_one_row_with_the_range() -> None:
    rows = {(one.what, one.notes): one.why for one in gather_untold(fake_listening())}
    assert rows["inharmonicity", "G7–A7"] == "only 1–2 partials above the noise, 3 are needed"
    assert rows["inharmonicity", "A0–C1"] == "the partials are too close together to number"


def test_a_long_list_of_all_that_was_heard_is_told_in_two_words() -> None:
    white = fake_listening(only=(40, 42, 44, 45, 47, 49, 51))
    notes = tuple(replace(note, brightness=None, cannot_tell=()) for note in white.notes)
    rows = {one.what: one.notes for one in gather_untold(replace(white, notes=notes))}
    assert rows["brightness"] == "every note heard"
    rows = {one.what: one.notes for one in gather_untold(replace(white, notes=(white.notes[0], *notes[1:])))}
    assert rows["brightness"] == "D4, E4, F4, G4, A4, B4"


def test_keys_that_did_not_sound_come_first() -> None:
    first = gather_untold(fake_listening())[0]
    assert (first.what, first.notes, first.n_notes) == ("everything", "G♯6", 1)


def test_a_missing_value_without_a_reason_is_said_to_have_none() -> None:
    listening = fake_listening(only=(49,))
    note = replace(listening.notes[0], brightness=None)
    (row,) = gather_untold(replace(listening, notes=(note,)))
    assert (row.what, row.notes, row.why) == ("brightness", "A4", "no reason was noted")


def test_a_reason_given_for_several_values_at_once_is_that_of_each() -> None:
    listening = fake_listening(only=(49,))
    reason = "brightness, decay, sustain, singing, knock: 0.15 s of sound is too short for this key"
    short = replace(
        listening.notes[0],
        brightness=None,
        sustain_db_per_s=None,
        singing_s=None,
        knock_db=None,
        inharmonicity_b=None,
        pitch_cents=None,
        cannot_tell=(reason, "f0, inharmonicity: the partials do not agree on a string"),
    )
    rows = gather_untold(replace(listening, notes=(short,)))
    assert {(row.what, row.why) for row in rows} == {
        ("brightness, decay, sustain, singing, knock", "0.15 s of sound is too short for this key"),
        ("f0, inharmonicity", "the partials do not agree on a string"),
    }
    rows = gather_untold(replace(listening, notes=(replace(short, level_db=None),)))
    assert [row.what for row in rows if row.why == "no reason was noted"] == ["level"]


def test_a_strike_that_could_not_be_named_is_told_by_its_time() -> None:
    listening = fake_listening(only=(49,))
    unnamed = Note(key=None, onset_s=12.34, end_s=13.0, cannot_tell=("key: two notes at once",))
    rows = gather_untold(replace(listening, notes=(*listening.notes, unnamed)))
    assert [(row.notes, row.why) for row in rows] == [("the strike at 12.3 s", "key: two notes at once")]


def test_note_names_inside_a_reason_are_not_taken_for_numbers() -> None:
    listening = fake_listening(only=(49, 50))
    notes = tuple(
        replace(note, knock_db=None, cannot_tell=(f"knock_db: hidden by {name}",))
        for note, name in zip(listening.notes, ("C4", "C4"), strict=True)
    )
    (row,) = gather_untold(replace(listening, notes=notes))
    assert row.why == "hidden by C4"


def test_untold_keys_are_those_without_a_value_and_those_that_did_not_sound() -> None:
    assert untold_keys(fake_listening(), "inharmonicity_b") == (1, 2, 3, 4, SILENT_KEY, 83, 84, 85)
    assert untold_keys(fake_listening(), "pitch_cents") == (SILENT_KEY,)
