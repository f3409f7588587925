from __future__ import annotations

from dataclasses import replace

import pytest
from tests.reports.fake_sounds import fake_pass, fake_plucks, fake_staccato

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.cli.table import listening_table
from strikeline.keyboard import Compass
from strikeline.measured import Measured

A4 = Note(
    key=49,
    onset_s=210.113,
    end_s=214.02,
    f0_hz=Measured(439.2104, 0.0042),
    inharmonicity_b=Measured(7.61e-4, 4e-6),
    cents_from_et=Measured(-3.1, 0.02),
    pitch_cents=Measured(-2.45, 0.02),
    brightness=Measured(3.42, 0.11),
    level_db=Measured(-18.23, 0.2),
    sustain_db_per_s=Measured(9.46, 0.3),
)
C8 = Note(
    key=88,
    onset_s=300.0,
    end_s=300.4,
    level_db=Measured(-40.0, 1.0),
    cannot_tell=("inharmonicity_b: only one partial stands above the noise", "sustain_db_per_s: 0.4 s is too short"),
    notices=("second strike of this key",),
)
LISTENING = Listening(
    recording=Recording(
        sha256="0" * 64,
        sample_rate_hz=48000,
        duration_s=312.4,
        kind=Kind.PASS,
        analyser="0.1.0",
        reference_a4_hz=440.0,
        warnings=("the recording clips in 3 places, at the loudest blows",),
        compass=Compass(1, 88),
        missing_keys=(13,),
    ),
    notes=(A4, C8),
)


def test_the_table_has_one_line_per_note_with_value_error_and_remarks() -> None:
    text = listening_table(LISTENING, width=None)
    (a4_line,) = [line for line in text.splitlines() if line.startswith("A4 ")]
    for part in ("49", "210.11", "439.210 ± 0.008", "−2.45 ± 0.04", "7.61 ± 0.08", "9.5", "−18.2"):
        assert part in a4_line
    (c8_line,) = [line for line in text.splitlines() if line.startswith("C8 ")]
    assert "second strike of this key; cannot tell: inharmonicity_b, sustain_db_per_s" in c8_line


def test_warnings_missing_keys_and_full_reasons_follow_in_words() -> None:
    text = listening_table(LISTENING, width=None)
    assert "2 notes in 5:12 min; compass A0-C8; not heard: A1" in text
    rest = replace(LISTENING, recording=replace(LISTENING.recording, missing_keys=(2, 50, 51, 52, 53)))
    assert "; not heard: A#0, A#4–C#5\n" in listening_table(rest, width=None)
    assert "- the recording clips in 3 places" in text
    assert "- inharmonicity: only one partial stands above the noise (C8)" in text


def test_the_signs_of_the_errors_stand_below_each_other() -> None:
    sharp, blurred = (
        replace(A4, key=50),
        replace(A4, key=51, f0_hz=Measured(1046.5, 1.5), pitch_cents=Measured(12.0, 1.6)),
    )
    lines = listening_table(replace(LISTENING, notes=(A4, sharp, blurred)), width=None).splitlines()
    rows = [line for line in lines if line.startswith(("A4 ", "A#4 ", "B4 "))]
    places = [[i for i, sign in enumerate(row) if sign == "±"] for row in rows]
    assert len(rows) == 3
    assert places[0] == places[1] == places[2]


@pytest.mark.parametrize("width", [60, 80, 100, 132])
def test_no_line_is_wider_than_the_terminal_and_what_was_dropped_is_named(width: int) -> None:
    text = listening_table(LISTENING, width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    head = next(line for line in text.splitlines() if line.startswith("note"))
    assert ("Left out for want of room" in text) == ("key" not in head)


def test_a_partial_result_says_so_first() -> None:
    partial = replace(LISTENING, recording=replace(LISTENING.recording, is_partial=True))
    assert listening_table(partial, width=None).startswith("PARTIAL RESULT.")


def row(text: str, note: str) -> str:
    (line,) = [line for line in text.splitlines() if line.startswith(f"{note} ")]
    return " ".join(line.split())


def test_a_unison_is_told_with_its_verdict_its_rate_and_the_spread_of_its_strings() -> None:
    text = listening_table(fake_pass(), width=None)
    assert "beating 2.30 ± 0.04 /s" in row(text, "C5")
    assert "7.60 ± 0.20" in row(text, "C5")
    assert "uneven" in row(text, "D4")
    assert "no beat" in row(text, "A0")
    assert "13 notes of 83 beat: widest C5 (7.6 cents)" in text


def test_columns_that_no_note_fills_are_left_out_without_a_word() -> None:
    text = listening_table(LISTENING, width=None)
    assert "unison  " not in text
    assert "spread" not in text
    assert "Left out" not in text


def test_short_blows_have_a_line_for_every_damper_and_the_verdict_below() -> None:
    text = listening_table(fake_staccato(), width=None)
    assert row(text, "A#2").startswith("A#2 26 65.00 leaks 0.158 ± 0.016 2.10 ± 0.21 3, 6")
    assert row(text, "C5").endswith("weak 0.148 ± 0.016 1.20 ± 0.12 262, 785 Hz")
    assert row(text, "E6").endswith("rings on – –")
    assert "cannot tell" in row(text, "A0")
    assert "Six dampers of 68 do not stop the note as the others do: A#2, B2, D3 leak;" in text
    assert "F#6-A7 ring on undamped up to the top" in text


def test_plucked_strings_have_a_line_for_every_note_and_the_mating_below() -> None:
    text = listening_table(fake_plucks(), width=None)
    assert row(text, "A4") == "A4 49 48.00 open touched touched fairly sure, very sure, very sure"
    assert row(text, "D4") == "D4 42 27.00 touched touched cannot tell very sure, very sure, –"
    assert "Open strings: A4 left and B4 middle and right: not yet mated." in text


def test_a_note_of_which_no_pluck_was_heard_has_no_time() -> None:
    listening = fake_plucks()
    silent = tuple(
        replace(pluck, at_s=None, is_touched=None, confidence=0.5) for pluck in listening.notes[0].plucks or ()
    )
    missed = replace(listening.notes[0], onset_s=0.0, end_s=0.0, plucks=silent)
    text = listening_table(replace(listening, notes=(missed, *listening.notes[1:])), width=None)
    name = missed.name
    assert name is not None
    assert row(text, name).startswith(f"{name} {missed.key} – ")


@pytest.mark.parametrize("width", [60, 80, 100, 132])
@pytest.mark.parametrize("listening", [fake_pass(), fake_staccato(), fake_plucks()], ids=lambda one: one.recording.kind)
def test_the_tables_of_all_kinds_fit_narrow_terminals(listening: Listening, width: int) -> None:
    text = listening_table(listening, width=width)
    assert max(len(line) for line in text.splitlines()) <= width
