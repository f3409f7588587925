"""Verdicts on unisons, dampers and plucked strings as words: the right notes, numbers and grammar, never a cause."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.reports.fake_listening import fake_listening
from tests.reports.fake_sounds import (
    FASTEST,
    FIRST_UNDAMPED,
    OPEN,
    PLUCKED,
    RINGS,
    fake_pass,
    fake_plucks,
    fake_staccato,
)

from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import Listening, Note
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.measured import Measured
from strikeline.reports.damper_words import (
    after_ring_words,
    damper_words,
    dampers_sentence,
    leaking_words,
    top_sentence,
    undamped_top,
)
from strikeline.reports.figures import NO_BREAK
from strikeline.reports.pluck_words import mating_sentence, pluck_at, pluck_words, sure_words
from strikeline.reports.unison_words import note_sentence, unison_words, unisons_sentence, widest_first

BEATING = Unison(
    verdict=UnisonVerdict.BEATING,
    beats=(
        Beat(partial=2, rate_hz=Measured(0.41, 0.01), depth_db=12.0),
        Beat(partial=1, rate_hz=Measured(0.2, 0.01), depth_db=9.0),
    ),
)


def plain(text: str | None) -> str:
    return (text or "").replace(NO_BREAK, " ")


def only(listening: Listening, *keys: int) -> Listening:
    return replace(listening, notes=tuple(note for note in listening.notes if note.key in keys))


@pytest.mark.parametrize(
    ("unison", "words"),
    [
        (None, ""),
        (Unison(verdict=UnisonVerdict.LOCKED), "no beat"),
        (Unison(verdict=UnisonVerdict.LOCKED, beats=BEATING.beats), "no beat"),
        (Unison(verdict=UnisonVerdict.UNEVEN), "uneven"),
        (Unison(verdict=UnisonVerdict.CANNOT_TELL), "cannot tell"),
        (BEATING, "beating 0.41 ± 0.02 /s"),
        (replace(BEATING, is_false_beat=True), "false beat 0.41 ± 0.02 /s"),
    ],
)
def test_a_unison_is_told_by_its_verdict_and_the_beat_of_its_loudest_partial(unison: Unison | None, words: str) -> None:
    assert plain(unison_words(unison)) == words


def test_of_many_beating_notes_the_widest_for_their_pitch_are_named() -> None:
    listening = fake_pass()
    assert widest_first(listening)[0] == FASTEST
    said = plain(unisons_sentence(listening))
    assert said.startswith("13 notes of 83 beat: widest C5 (7.6 cents), ")
    assert said.endswith("; D4, E4 are uneven without a whole beat.")


def test_without_a_beat_that_is_said_and_without_a_unison_nothing() -> None:
    assert unisons_sentence(only(fake_pass(), 1, 2, 3)) == "No note beats among three notes whose unison could be told."
    assert unisons_sentence(fake_listening()) is None
    assert unisons_sentence(only(fake_pass(), FASTEST)) is not None


@pytest.mark.parametrize(
    ("unison", "said"),
    [
        (None, "its unison could not be told."),
        (BEATING, "it beats at 0.41 ± 0.02 /s in partial 2."),
        (replace(BEATING, is_false_beat=True), "one string alone beats with itself at 0.41 ± 0.02 /s in partial 2: "),
        (Unison(verdict=UnisonVerdict.LOCKED), "no beat is heard."),
    ],
)
def test_one_note_is_told_in_a_sentence(unison: Unison | None, said: str) -> None:
    assert plain(note_sentence(Note(key=49, onset_s=0.0, end_s=4.0, unison=unison))).startswith(said)


def test_dampers_that_do_not_stop_their_notes_are_named_by_what_they_do() -> None:
    assert plain(dampers_sentence(fake_staccato())) == (
        "Six dampers of 68 do not stop the note as the others do: A♯2, B2, D3 leak; F4 lands late; C5 is weak; "
        "E6 rings on undamped."
    )


def test_the_top_without_dampers_is_no_fault_but_a_note_that_rings_on_below_it_is() -> None:
    listening = fake_staccato()
    assert undamped_top(listening) == range(FIRST_UNDAMPED, 86)
    assert RINGS not in undamped_top(listening)
    assert top_sentence(listening) == "F♯6–A7 ring on undamped up to the top, as notes without dampers do."
    assert top_sentence(only(listening, *range(40, 50))) is None
    assert len(undamped_top(only(listening, *range(40, 50)))) == 0


def test_sound_dampers_are_called_so_and_untold_ones_are_not() -> None:
    assert dampers_sentence(fake_staccato(even=True)) == (
        "All 68 dampers that could be told stop their notes as their neighbours do."
    )
    assert dampers_sentence(only(fake_staccato(), 1)) == "Of no note could it be told what its damper does."


def test_a_damper_is_told_in_a_word_and_long_lists_are_cut() -> None:
    partials = tuple(DampedPartial(n=n, decay_db_per_s=None, leaks=n > 1) for n in range(1, 12))
    damping = Damping(verdict=DamperVerdict.LEAKS, partials=partials, after_ring_hz=(262.13, 523.9))
    assert damper_words(damping) == "leaks"
    assert leaking_words(damping) == "2, 3, 4, 5, 6, 7, …"
    assert plain(after_ring_words(damping)) == "262, 524 Hz"
    assert damper_words(None) == leaking_words(None) == after_ring_words(None) == ""


def pluck(touched: bool | None, confidence: float, *, at_s: float | None = 1.0) -> Pluck:
    return Pluck(string=StringPlace.LEFT, at_s=at_s, is_touched=touched, confidence=confidence)


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (None, "–"),
        (pluck(True, 0.9995), "touched (very sure)"),
        (pluck(False, 0.995), "open (sure)"),
        (pluck(False, 0.97), "open (fairly sure)"),
        (pluck(True, 0.8), "touched (a hint)"),
        (pluck(None, 0.5), "cannot tell"),
        (pluck(None, 0.5, at_s=None), "not plucked"),
    ],
)
def test_a_string_is_touched_or_open_and_how_sure_is_said_in_words(one: Pluck | None, words: str) -> None:
    assert pluck_words(one) == words


def test_how_sure_is_said_once_where_the_strings_are_alike() -> None:
    sure, hint, untold = pluck(True, 0.9995), pluck(True, 0.8), pluck(None, 0.5)
    assert sure_words((sure, sure)) == "very sure"
    assert sure_words((sure, hint, untold)) == "very sure, a hint, –"
    assert sure_words((untold,)) == sure_words(None) == ""


def test_open_strings_are_named_and_say_that_the_hammers_are_not_mated() -> None:
    assert mating_sentence(fake_plucks()) == (
        "Open strings: A4 left and B4 middle and right: not yet mated. One string could not be told."
    )
    one = only(fake_plucks(), next(iter(OPEN)))
    assert mating_sentence(one) == "Open string: A4 left: not yet mated."


def test_mated_is_said_only_when_every_string_could_be_told() -> None:
    assert mating_sentence(fake_plucks(even=True)) == "All 60 strings are touched: mated, as far as this test hears."
    unsure = only(fake_plucks(), *(key for key in PLUCKED if key not in OPEN))
    assert mating_sentence(unsure) == "All 53 strings that could be told are touched. One string could not be told."


def test_the_only_string_of_a_note_stands_in_the_middle() -> None:
    only_one = Pluck(string=StringPlace.ONLY, at_s=0.0, is_touched=False, confidence=0.99)
    assert pluck_at((only_one,), StringPlace.MIDDLE) is only_one
    assert pluck_at((only_one,), StringPlace.LEFT) is None
    note = Note(key=3, onset_s=0.0, end_s=1.0, plucks=(only_one,))
    assert mating_sentence(replace(fake_plucks(), notes=(note,))) == "Open string: B0: not yet mated."


def test_an_open_string_that_is_only_a_hint_is_not_called_unmated() -> None:
    hint = Pluck(string=StringPlace.ONLY, at_s=0.0, is_touched=False, confidence=0.8)
    sure = Pluck(string=StringPlace.ONLY, at_s=0.0, is_touched=False, confidence=0.99)
    one, other = (Note(key=key, onset_s=0.0, end_s=1.0, plucks=(it,)) for key, it in ((3, hint), (4, sure)))
    assert mating_sentence(replace(fake_plucks(), notes=(one,))) == "A hint of an open string: B0; pluck again."
    assert mating_sentence(replace(fake_plucks(), notes=(one, other))) == (
        "Open string: C1: not yet mated. A hint of an open string: B0; pluck again."
    )
    touched = replace(one, plucks=(replace(hint, is_touched=True),))
    assert "mated" not in mating_sentence(replace(fake_plucks(), notes=(touched,)))


def test_no_sentence_names_a_cause_or_a_remedy() -> None:
    said = [unisons_sentence(fake_pass()), dampers_sentence(fake_staccato()), mating_sentence(fake_plucks())]
    for word in ("worn", "replace", "should", "must", "repair", "fault", "defect", "loose"):
        assert word not in " ".join(map(str, said)).lower()


def test_an_untold_unison_says_between_which_two_it_lies() -> None:
    unison = Unison(verdict=UnisonVerdict.CANNOT_TELL)
    reason = "unison: uneven or beating; it lies too near the limit between them"
    note = Note(key=49, onset_s=0.0, end_s=4.0, unison=unison, cannot_tell=(reason,))
    assert note_sentence(note) == "its unison could not be told: uneven or beating, too near the limit to say which."
    assert note_sentence(replace(note, cannot_tell=())) == "its unison could not be told."
