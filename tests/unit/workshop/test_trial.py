from __future__ import annotations

import math

from tests.closeness import assert_close

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.measured import Measured
from strikeline.synthesis.truth import TrueStrike, TrueString
from strikeline.workshop.trial import compare_with_truth


def heard(*notes: Note) -> Listening:
    recording = Recording(
        sha256="", sample_rate_hz=48000, duration_s=9.0, kind=Kind.PASS, analyser="", reference_a4_hz=440.0
    )
    return Listening(recording=recording, notes=notes)


def note(key: int, onset_s: float, f0_hz: Measured | None = None) -> Note:
    return Note(key=key, onset_s=onset_s, end_s=onset_s + 1.0, f0_hz=f0_hz)


def strike(key: int, onset_s: float, low_hz: float = 440.0, high_hz: float = 440.0) -> TrueStrike:
    strings = tuple(
        TrueString(place=place, f0_hz=f0_hz, inharmonicity_b=7e-4, share=1.0, lag_s=0.0, false_beat_hz=None)
        for place, f0_hz in enumerate((low_hz, high_hz))
    )
    return TrueStrike(
        key=key, onset_s=onset_s, release_s=onset_s + 1.0, strings=strings, f0_hz=(low_hz + high_hz) / 2,
        inharmonicity_b=7e-4, cents_from_et=0.0, is_wound=False, speed_m_per_s=2.5, hammer_wear=0.2, contact_s=2e-3,
        level_db=-20.0, partials=(),
    )  # fmt: skip


def test_right_wrong_missed_and_false_notes_are_counted() -> None:
    listening = heard(note(49, 1.01), note(62, 2.0), note(52, 3.5))
    trial = compare_with_truth(listening, [strike(49, 1.0), strike(50, 2.0), strike(51, 3.0)])
    assert (trial.n_played, trial.n_right, trial.n_wrong, trial.n_false) == (3, 1, 1, 1)


def test_one_note_answers_for_one_strike_only() -> None:
    trial = compare_with_truth(heard(note(49, 1.0)), [strike(49, 0.95), strike(49, 1.01)])
    assert (trial.n_right, trial.n_false) == (1, 0)


def test_a_true_f0_within_the_errors_is_covered_and_one_outside_is_not() -> None:
    listening = heard(note(49, 1.0, Measured(440.1, 0.06)), note(50, 2.0, Measured(440.1, 0.04)))
    trial = compare_with_truth(listening, [strike(49, 1.0), strike(50, 2.0)])
    assert (trial.n_f0, trial.n_f0_covered) == (2, 1)
    assert_close(trial.median_f0_error_cents, 1200 * math.log2(440.1 / 440.0), rtol=1e-6, atol=0, why="rounding only")


def test_a_value_between_the_strings_of_a_unison_is_right() -> None:
    trial = compare_with_truth(heard(note(49, 1.0, Measured(440.1, 0.001))), [strike(49, 1.0, 440.0, 440.3)])
    assert trial.n_f0_covered == 1


def test_without_any_f0_there_is_no_median() -> None:
    assert math.isnan(compare_with_truth(heard(note(49, 1.0)), [strike(49, 1.0)]).median_f0_error_cents)
