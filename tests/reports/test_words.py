"""Evidence as sentences: the right notes, sizes and grammar, and never a cause or a remedy."""

from __future__ import annotations

import pytest
from tests.reports.fake_listening import FLAT_KEY, WORN, fake_listening

from strikeline.acoustics.evenness import Standout, judge_evenness
from strikeline.acoustics.evenness_quantities import BRIGHTNESS, INHARMONICITY, PITCH, Quantity
from strikeline.measured import Measured
from strikeline.reports.figures import NO_BREAK, note_name
from strikeline.reports.words import (
    areas_sentence,
    chart_sentence,
    heard_sentence,
    how_far,
    pitch_level_sentence,
    scatter_sentence,
    standout_sentence,
    standouts_sentence,
)


def plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def standout(
    quantity: Quantity, *, keys: tuple[int, int], departure: float, low: float, high: float, p_false: float = 1e-6
) -> Standout:
    return Standout(
        quantity=quantity,
        first_key=keys[0],
        last_key=keys[1],
        n_notes=keys[1] - keys[0] + 1,
        departure=Measured(departure, 0.2 * abs(departure)),
        low=low,
        high=high,
        p_false=p_false,
    )


def test_a_run_is_told_with_its_ends_its_range_and_how_sure() -> None:
    run = standout(BRIGHTNESS, keys=(40, 49), departure=0.9, low=0.6, high=1.1)
    assert plain(standout_sentence(run)) == (
        "C4 to A4 (ten notes) are brighter than their neighbours by mostly 0.6 to 1.1 semitones (very sure)."
    )


def test_a_single_note_is_told_with_its_error() -> None:
    note = standout(PITCH, keys=(57, 57), departure=-16.0, low=-16.0, high=-16.0, p_false=0.004)
    assert plain(standout_sentence(note)) == "F5 is flatter than its neighbours by 16 ± 6 cents (sure)."


def test_a_logarithmic_quantity_is_told_in_per_cent() -> None:
    note = standout(INHARMONICITY, keys=(66, 66), departure=33.0, low=33.0, high=33.0, p_false=0.03)
    assert plain(standout_sentence(note)) == ("D6 is more inharmonic than its neighbours by 33 ± 13 % (fairly sure).")


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (-0.3, 2.2, "mostly up to 2.2 semitones"),
        (-1.04, -1.03, "about 1.0 semitones"),
        (-0.6, -1.1, "mostly 0.6 to 1.1 semitones"),
    ],
)
def test_the_range_of_a_run_reads_well_at_its_edges(low: float, high: float, expected: str) -> None:
    assert plain(how_far(standout(BRIGHTNESS, keys=(40, 44), departure=high, low=low, high=high))) == expected


def test_the_range_of_a_short_run_holds_all_its_notes_and_does_not_say_mostly() -> None:
    run = standout(PITCH, keys=(38, 40), departure=4.7, low=3.9, high=5.9)
    assert plain(how_far(run)) == "3.9 to 5.9 cents"


def test_hints_alone_are_not_called_standouts() -> None:
    hint = standout(PITCH, keys=(57, 57), departure=9.0, low=9.0, high=9.0, p_false=0.15)
    assert standouts_sentence([hint]).startswith("Nothing stands out clearly")
    assert standouts_sentence([]) == "Nothing stands out from its neighbours."


def test_the_invented_upright_is_told_as_it_was_made() -> None:
    listening = fake_listening()
    evenness = judge_evenness(listening)
    said = " ".join(standout_sentence(one) for one in evenness.standouts)
    assert f"{note_name(WORN[0])} to {note_name(WORN[-1])} (20 notes) are brighter" in said
    assert f"{note_name(FLAT_KEY)} is flatter" in said
    assert heard_sentence(listening) == "84 of the 85 keys from A0 to A7 were heard; G♯6 did not sound."
    assert evenness.pitch_level is not None
    level = plain(pitch_level_sentence(evenness.pitch_level, a4_hz=440.0))
    assert level.startswith("As a whole the piano stands 2")
    assert "cents below A4 = 440 Hz" in level


def test_an_even_piano_is_called_even_in_every_chart() -> None:
    evenness = judge_evenness(fake_listening(even=True))
    for one in evenness.quantities:
        assert "no note leaves its neighbours" in chart_sentence(one, evenness)


def test_no_sentence_names_a_cause_or_a_remedy() -> None:
    evenness = judge_evenness(fake_listening())
    said = [standout_sentence(one) for one in evenness.standouts]
    said += [chart_sentence(one, evenness) for one in evenness.quantities]
    said += [standouts_sentence(evenness.standouts), areas_sentence(evenness) or "", scatter_sentence(evenness) or ""]
    for word in ("worn", "hammer", "replace", "voic", "toning", "should", "must", "repair", "fault", "defect"):
        assert word not in " ".join(said).lower()


@pytest.mark.parametrize(("only", "expected"), [((), "No note was recognised"), ((49,), "One note was heard")])
def test_few_notes_are_told_in_good_grammar(only: tuple[int, ...], expected: str) -> None:
    assert heard_sentence(fake_listening(only=only, compass=None)).startswith(expected)
