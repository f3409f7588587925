"""Whole plucked sections: told strings against the truth, and what is said where they cannot be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from strikeline.acoustics.pluck_result import StringPlace
from strikeline.acoustics.plucks import TOLD_FROM, ToldPlucks, tell_plucks
from strikeline.acoustics.plucks_cut import PluckCutter
from strikeline.acoustics.plucks_evidence import PluckEvidence, gather_pluck_evidence
from strikeline.acoustics.plucks_order import order_warnings, sounds_struck
from strikeline.keyboard import FULL_COMPASS
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.plucking import Hand, PluckKind, PluckPerformance, StringPluck, pluck_section
from strikeline.synthesis.plucks import RenderedPlucks, render_plucks

RATE_HZ = 22_050
GRAND = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-10.0)
KEYS = (44, 45, 46, 47)
TOUCH = {(44, 0): 0.1, (44, 2): 0.15, (45, 1): 0.1, (46, 0): 0.1, (46, 1): 0.2, (46, 2): 0.1}
HAND = Hand(
    pace_s=0.55,
    change_s=1.0,
    timing_scatter=0.1,
    force_n=2.0,
    force_scatter_db=2.0,
    release_s=3e-4,
    click_db=-14.0,
)


def performed(keys: tuple[int, ...] = KEYS) -> PluckPerformance:
    return pluck_section(GRAND, keys, touch_t60_s=TOUCH, hand=HAND, seed=3)


def rendered(performance: PluckPerformance) -> RenderedPlucks:
    quiet = performance.disturbed(action_noise_db=-35.0)
    return render_plucks(GRAND, quiet, sample_rate_hz=RATE_HZ, seed=3)


def evidence_of(made: RenderedPlucks) -> list[PluckEvidence]:
    cutter = PluckCutter(sample_rate_hz=made.sample_rate_hz)
    sounds = cutter.feed(made.samples) + cutter.finish()
    return [gather_pluck_evidence(sound, a4_hz=440.0) for sound in sounds]


@pytest.fixture(scope="module")
def made() -> RenderedPlucks:
    return rendered(performed())


@pytest.fixture(scope="module")
def evidence(made: RenderedPlucks) -> list[PluckEvidence]:
    return evidence_of(made)


def answers(told: ToldPlucks) -> dict[tuple[int, int], bool | None]:
    return {(note.key, string): pluck.is_touched for note in told.notes for string, pluck in enumerate(note.plucks)}


@pytest.mark.parametrize(("notes", "n_strings"), [(KEYS, 3), (KEYS, None), (None, None)])
def test_every_string_is_told_right(
    made: RenderedPlucks, evidence: list[PluckEvidence], notes: tuple[int, ...] | None, n_strings: int | None
) -> None:
    told = tell_plucks(evidence, notes=notes, n_strings=n_strings, a4_hz=440.0)
    said = answers(told)
    assert set(said) == set(made.is_touched)
    wrong = {slot for slot, is_touched in made.is_touched.items() if said[slot] is (not is_touched)}
    untold = {slot for slot, answer in said.items() if answer is None}
    assert not wrong
    assert len(untold) <= 1
    assert told.holds_plucks
    assert not sounds_struck(told)


def test_plucks_say_when_they_were_and_how_sure(made: RenderedPlucks, evidence: list[PluckEvidence]) -> None:
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    true_s = {(pluck.key, pluck.string): pluck.at_s for pluck in made.plucks}
    for note in told.notes:
        assert [pluck.string for pluck in note.plucks] == [StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT]
        for string, pluck in enumerate(note.plucks):
            assert pluck.at_s is not None
            assert abs(pluck.at_s - true_s[note.key, string]) < 0.02
            assert 0.5 <= pluck.confidence <= 1.0
            assert (pluck.is_touched is None) == (pluck.confidence == 0.5)
            assert pluck.is_touched is None or pluck.confidence >= TOLD_FROM
        assert note.onset_s <= min(true_s[note.key, string] for string in range(3)) + 0.02


def test_the_gain_of_the_recorder_changes_no_answer(made: RenderedPlucks, evidence: list[PluckEvidence]) -> None:
    louder = replace(made, samples=made.samples * np.float32(4.0))
    before, after = (
        answers(tell_plucks(one, notes=KEYS, n_strings=3, a4_hz=440.0)) for one in (evidence, evidence_of(louder))
    )
    assert before == after


def without(performance: PluckPerformance, *forgotten: tuple[int, int]) -> PluckPerformance:
    kept = tuple(pluck for pluck in performance.plucks if (pluck.key, pluck.string) not in forgotten)
    return replace(performance, plucks=kept, missed=forgotten)


def test_a_missed_pluck_leaves_its_note_in_doubt_and_is_warned_of() -> None:
    evidence = evidence_of(rendered(without(performed(), (45, 1))))
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    note = told.notes[1]
    assert any(pluck.is_touched is None for pluck in note.plucks)
    assert any(why.startswith("plucks: ") for why in note.cannot_tell)
    (warning,) = [w for w in order_warnings(told, evidence) if "fewer plucks than strings" in w]
    assert "F4" in warning
    assert "again, left to right" in warning


def test_a_note_never_plucked_is_named() -> None:
    skipped = without(performed(), *((46, string) for string in range(3)))
    evidence = evidence_of(rendered(skipped))
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    assert all(pluck.at_s is None and pluck.is_touched is None for pluck in told.notes[2].plucks)
    assert any(w.startswith("not heard at all: F♯4") for w in order_warnings(told, evidence))


def test_notes_out_of_order_are_warned_of() -> None:
    evidence = evidence_of(rendered(performed((44, 47, 45, 46))))
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    assert any("out of order" in w for w in order_warnings(told, evidence))


def test_a_string_of_the_neighbour_is_told_as_such() -> None:
    performance = performed()
    before, after = performance.plucks[5], performance.plucks[6]
    foreign = replace(
        before, key=43, string=0, at_s=(before.at_s + after.at_s) / 2, force_n=3.0, kind=PluckKind.FOREIGN
    )
    evidence = evidence_of(rendered(replace(performance, plucks=(*performance.plucks, foreign))))
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    told_of = next(w for w in order_warnings(told, evidence) if "D♯4 sounded out of its turn" in w)
    assert "if F4 was meant" in told_of, "the note plucked last before it, not the first of the section"


def test_a_pluck_too_many_is_warned_of_and_where_all_are_alike_does_no_harm() -> None:
    performance = performed()
    late: list[StringPluck] = []
    for pluck in performance.plucks:
        late.append(pluck)
        if (pluck.key, pluck.string) == (47, 2):
            late.append(replace(pluck, at_s=pluck.at_s + 0.6, kind=PluckKind.REPEATED))
    holds = tuple(replace(h, until_s=h.until_s + 0.6) if h.key == 47 else h for h in performance.holds)
    again = replace(performance, plucks=tuple(late), holds=holds, duration_s=performance.duration_s + 0.6)
    evidence = evidence_of(rendered(again))
    told = tell_plucks(evidence, notes=KEYS, n_strings=3, a4_hz=440.0)
    assert answers(told)[47, 2] is False
    assert any(w.startswith("more plucks than strings: G4") for w in order_warnings(told, evidence))
