"""Before and after on passes whose every partial is known."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from tests.closeness import assert_close
from tests.passes import InventedPiano, play_pass, tilted

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison import compare
from strikeline.acoustics.comparison_quantities import ComparedQuantity
from strikeline.acoustics.comparison_result import Basis, Cause, Comparison, QuantityComparison, Strings, Verdict
from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Unison, UnisonVerdict
from strikeline.errors import InputError
from strikeline.keyboard import Compass
from strikeline.measured import Measured

RUN = range(45, 60)


def of(comparison: Comparison, quantity: ComparedQuantity) -> QuantityComparison:
    return next(one for one in comparison.quantities if one.quantity is quantity)


def spans(one: QuantityComparison) -> list[tuple[int, int]]:
    return [(change.first_key, change.last_key) for change in one.changes]


@pytest.mark.parametrize("seed", range(3))
def test_gain_tilt_room_and_hand_alone_are_no_change(seed: int) -> None:
    piano = InventedPiano(seed=seed)
    before = play_pass(piano, hand=1, place=1, moved_db=2.5)
    after = play_pass(
        piano, hand=2, place=2, moved_db=2.5, gain_db=-9.0, louder_db=2.0, colour_db=tilted(-3.0, bend_db=4.0)
    )
    comparison = compare(before, after)
    assert comparison.verdict is Verdict.NO_CHANGE, comparison.changes
    assert comparison.strings is Strings.SAME
    assert any("all hammers" in reason for reason in comparison.cannot_tell)


def test_the_tilt_of_the_microphone_is_measured_and_taken_off() -> None:
    piano = InventedPiano()
    comparison = compare(play_pass(piano, hand=1), play_pass(piano, hand=2, colour_db=tilted(2.0)))
    assert comparison.transfer is not None
    tilt = comparison.transfer.tilt_db_per_octave
    assert_close(tilt, 2.0, rtol=0, atol=0.3, why="two hands tilt a note by 0.85 dB per octave, 56 notes 0.11")
    raw = [note.after - note.before for note in of(comparison, compared.BRIGHTNESS).notes]
    assert sum(raw) / len(raw) > 1.5, "without taking it off the piano would seem brighter"
    common = of(comparison, compared.BRIGHTNESS).common
    assert common is not None
    assert abs(common.value) < 0.5


def test_gain_changes_nothing_but_the_level_of_the_whole() -> None:
    piano = InventedPiano(toned=dict.fromkeys(RUN, -2.0))
    before = play_pass(InventedPiano(), hand=1)
    soft, loud = (compare(before, play_pass(piano, hand=2, gain_db=gain_db)) for gain_db in (0.0, -20.0))
    for one, other in zip(soft.quantities, loud.quantities, strict=True):
        assert spans(one) == spans(other)
        changes = [[note.change.value for note in side.notes] for side in (one, other)]
        assert_close(changes[0], changes[1], rtol=1e-6, atol=1e-6, why="a gain cancels; rounding only")
    levels = [of(comparison, compared.LEVEL).common for comparison in (soft, loud)]
    assert levels[0] is not None
    assert levels[1] is not None
    assert_close(levels[1].value - levels[0].value, -20.0, rtol=0, atol=1e-6, why="a gain is a gain")


def test_a_pass_struck_harder_does_not_pass_for_brighter_hammers() -> None:
    piano = InventedPiano()
    comparison = compare(play_pass(piano, hand=1), play_pass(piano, hand=2, louder_db=5.0))
    assert comparison.verdict is Verdict.NO_CHANGE


def test_needled_hammers_are_found_as_the_run_they_are() -> None:
    before = play_pass(InventedPiano(), hand=1)
    after = play_pass(InventedPiano(toned=dict.fromkeys(RUN, -2.0)), hand=2, gain_db=-3.0, colour_db=tilted(1.0))
    comparison = compare(before, after)
    assert comparison.verdict is Verdict.CHANGED
    balance = of(comparison, compared.BALANCE)
    assert len(balance.changes) == 1
    change = balance.changes[0]
    assert abs(change.first_key - RUN[0]) <= 1
    assert abs(change.last_key - RUN[-1]) <= 1
    assert change.change.value == pytest.approx(-2.0, abs=0.5)
    assert abs(change.change.value + 2.0) < 2.6 * change.change.se
    assert of(comparison, compared.PITCH).changes == ()


def test_all_hammers_changed_alike_are_not_named_but_said_to_be_untold() -> None:
    after = play_pass(InventedPiano(toned=dict.fromkeys(range(1, 89), -2.0)), hand=2)
    comparison = compare(play_pass(InventedPiano(), hand=1), after)
    assert comparison.verdict is Verdict.NO_CHANGE
    assert comparison.cause is not Cause.NONE
    assert any(reason.startswith("all hammers") for reason in comparison.cannot_tell)


def test_two_passes_from_one_place_share_hardly_anything() -> None:
    piano = InventedPiano()
    comparison = compare(play_pass(piano, hand=1), play_pass(piano, hand=2, gain_db=-4.0))
    assert comparison.cause is Cause.NONE


def test_a_raised_pitch_is_common_and_one_note_off_it_is_a_departure() -> None:
    before = play_pass(InventedPiano(), hand=1)
    comparison = compare(before, play_pass(InventedPiano(all_cents=20.0, cents={49: -4.0}), hand=2))
    pitch = of(comparison, compared.PITCH)
    assert pitch.common is not None
    assert_close(pitch.common.value, 20.0, rtol=0, atol=0.1, why="56 notes to 0.07 cent each")
    assert pitch.is_common_changed
    assert spans(pitch) == [(49, 49)]
    assert_close(pitch.changes[0].change.value, -4.0, rtol=0, atol=0.3, why="one note to 0.07 cent")
    assert comparison.strings is Strings.SAME, "B·f0² does not depend on the tension"
    assert of(comparison, compared.INHARMONICITY).changes == ()


def test_another_reference_is_no_change_of_pitch() -> None:
    piano = InventedPiano()
    comparison = compare(play_pass(piano, hand=1, a4_hz=440.0), play_pass(piano, hand=2, a4_hz=442.0))
    assert comparison.verdict is Verdict.NO_CHANGE
    assert (comparison.before.reference_a4_hz, comparison.after.reference_a4_hz) == (440.0, 442.0)


def test_a_unison_out_of_tune_is_found_though_its_mean_pitch_stays() -> None:
    before = play_pass(InventedPiano(), hand=1)
    comparison = compare(before, play_pass(InventedPiano(spread_cents={52: 5.0}), hand=2))
    assert spans(of(comparison, compared.UNISON)) == [(52, 52)]


def test_another_piano_is_warned_of_and_nothing_else_is_compared() -> None:
    comparison = compare(play_pass(InventedPiano(seed=1), hand=1), play_pass(InventedPiano(seed=2), hand=1))
    assert comparison.verdict is Verdict.NOT_COMPARABLE
    assert comparison.strings is Strings.OTHER
    assert "not the same strings" in comparison.warnings[0]
    judged = [one.quantity for one in comparison.quantities if one.why_not is None]
    assert judged == [compared.INHARMONICITY]


def test_new_strings_on_a_few_notes_are_named_and_their_tone_is_left_out() -> None:
    new = (50, 51, 52)
    after = play_pass(InventedPiano(b_ratio=dict.fromkeys(new, 1.12), toned=dict.fromkeys(new, 6.0)), hand=2)
    comparison = compare(play_pass(InventedPiano(), hand=1), after)
    assert comparison.strings is Strings.SOME_OTHER
    assert comparison.other_string_keys == new
    assert set(new).isdisjoint(note.key for note in of(comparison, compared.BALANCE).notes)
    assert set(new) <= {note.key for note in of(comparison, compared.PITCH).notes}


def test_repeatability_is_measured_on_a_pass_played_again() -> None:
    piano = InventedPiano()
    before, again, after = (play_pass(piano, hand=hand) for hand in (1, 2, 3))
    alone, repeated = compare(before, after), compare(before, after, before_again=[again])
    assert of(alone, compared.BALANCE).basis is Basis.SCATTER
    balance = of(repeated, compared.BALANCE)
    assert balance.basis is Basis.REPEATED
    assert balance.n_repeats == len(balance.notes)
    assert balance.scatter_ratio is not None
    assert 0.6 <= balance.scatter_ratio < 1.5
    assert repeated.verdict is Verdict.NO_CHANGE


def test_repeatability_is_measured_on_notes_struck_twice_in_one_pass() -> None:
    piano = InventedPiano()
    comparison = compare(play_pass(piano, hand=1, times=2), play_pass(piano, hand=2))
    pitch = of(comparison, compared.PITCH)
    assert pitch.basis is Basis.REPEATED
    assert pitch.n_repeats == 56
    assert pitch.repeatability is not None
    assert pitch.repeatability < 0.2, "0.05 cents of tuning each; the standard errors allow for much more"


def test_few_notes_are_judged_only_where_their_own_errors_tell() -> None:
    keys = range(40, 46)
    before = play_pass(InventedPiano(keys=keys), hand=1)
    comparison = compare(before, play_pass(InventedPiano(keys=keys, cents={42: 6.0}), hand=2))
    assert spans(of(comparison, compared.PITCH)) == [(42, 42)]
    assert "too few" in (of(comparison, compared.BRIGHTNESS).why_not or "")


def test_no_key_in_common_is_not_comparable() -> None:
    low, high = (play_pass(InventedPiano(keys=keys), hand=1) for keys in (range(20, 30), range(60, 70)))
    comparison = compare(low, high)
    assert comparison.verdict is Verdict.NOT_COMPARABLE
    assert comparison.only_before == tuple(range(20, 30))
    assert comparison.warnings[0] == "no key was heard in both recordings"


def test_automatic_gain_keeps_level_and_tone_from_being_compared() -> None:
    piano = InventedPiano()
    warning = "automatic gain: the noise rises by 12 dB while notes die away"
    comparison = compare(play_pass(piano, hand=1), play_pass(piano, hand=2, warnings=[warning]))
    assert of(comparison, compared.LEVEL).why_not == "the after was recorded with automatic gain"
    assert of(comparison, compared.PITCH).why_not is None
    assert any(warning in told for told in comparison.warnings)


def test_what_each_recording_was_warned_of_is_told_of_it_by_name() -> None:
    piano = InventedPiano()
    hum, door = "hum: 50 Hz and 3 harmonics", "1 sound was left out, no piano note was recognised in it"
    comparison = compare(
        play_pass(piano, hand=1, warnings=[hum]), play_pass(piano, hand=2, warnings=[door, "the pedal was down"])
    )
    assert [one for one in comparison.warnings if one.startswith(("before: ", "after: "))] == [
        f"before: {hum}",
        f"after: {door}",
        "after: the pedal was down",
    ]


def test_compasses_that_differ_and_partials_that_are_lost_are_warned_of() -> None:
    piano = InventedPiano()
    before = play_pass(piano, hand=1, compass=Compass(1, 88))
    after = play_pass(piano, hand=2, compass=Compass(1, 85), top_hz=1500.0)
    warnings = " ".join(compare(before, after).warnings)
    assert "compass is A0-C8 before and A0-A7 after" in warnings
    assert "partials where the other recording shows" in warnings


def test_clipped_notes_have_no_level_to_compare() -> None:
    piano = InventedPiano()
    before = play_pass(piano, hand=1)
    notes = tuple(replace(note, notices=("clipped",)) if note.key == 40 else note for note in before.notes)
    comparison = compare(replace(before, notes=notes), play_pass(piano, hand=2))
    for quantity in (compared.LEVEL, compared.BRIGHTNESS, compared.BALANCE):
        assert 40 not in {note.key for note in of(comparison, quantity).notes}
    assert 40 in {note.key for note in of(comparison, compared.PITCH).notes}


def test_recordings_of_different_playing_are_refused() -> None:
    before = play_pass(InventedPiano(), hand=1)
    after = replace(before, recording=replace(before.recording, kind=Kind.STACCATO))
    with pytest.raises(InputError, match="compare like with like"):
        compare(before, after)


def test_the_same_recording_twice_is_said() -> None:
    before = play_pass(InventedPiano(), hand=1)
    assert "before and after are the same recording" in compare(before, before).warnings


def _with(listening: Listening, kind: Kind, **fields: dict[int, Any]) -> Listening:
    notes = tuple(
        replace(note, **{name: by_key[note.key] for name, by_key in fields.items() if note.key in by_key})
        for note in listening.notes
        if note.key is not None
    )
    return replace(listening, recording=replace(listening.recording, kind=kind), notes=notes)


def test_a_damper_that_no_longer_leaks_is_found() -> None:
    base = play_pass(InventedPiano(keys=range(30, 60)), hand=1)

    def dampings(leaking: set[int], seed: int) -> dict[int, Any]:
        return {
            key: Damping(
                verdict=DamperVerdict.LEAKS if key in leaking else DamperVerdict.STOPS,
                t60_s=Measured((2.0 if key in leaking else 0.3) * (1.0 + 0.03 * ((key * seed) % 5 - 2)), 0.01),
            )
            for key in range(30, 60)
        }

    before = _with(base, Kind.STACCATO, damping=dampings({41, 50}, 3))
    comparison = compare(before, _with(base, Kind.STACCATO, damping=dampings({50}, 7)))
    assert spans(of(comparison, compared.DAMPING)) == [(41, 41)]
    assert [(word.key, word.before, word.after) for word in comparison.words if word.is_certain] == [
        (41, "leaks", "stops")
    ]


def test_a_string_that_the_hammer_meets_again_is_found_when_both_answers_are_sure() -> None:
    base = play_pass(InventedPiano(keys=range(40, 44)), hand=1)

    def plucks(touched: bool, confidence: float) -> tuple[Pluck, ...]:
        return (Pluck(string=StringPlace.LEFT, at_s=1.0, is_touched=touched, confidence=confidence),)

    before = _with(
        base, Kind.PLUCKS, plucks={40: plucks(False, 0.999), 41: plucks(False, 0.9), 42: plucks(True, 0.999)}
    )
    after = _with(base, Kind.PLUCKS, plucks={40: plucks(True, 0.999), 41: plucks(True, 0.9), 42: plucks(True, 0.999)})
    words = compare(before, after).words
    assert [(word.key, word.before, word.after, word.is_certain) for word in words] == [
        (40, "open", "touched", True),
        (41, "open", "touched", False),
    ]


def test_a_unison_that_reads_otherwise_is_certain_only_with_its_width() -> None:
    def locked(verdict: UnisonVerdict) -> dict[int, Any]:
        return dict.fromkeys((52, 55), Unison(verdict=verdict))

    before = _with(play_pass(InventedPiano(), hand=1), Kind.PASS, unison=locked(UnisonVerdict.LOCKED))
    detuned = play_pass(InventedPiano(spread_cents={52: 5.0}), hand=2)
    words = compare(before, _with(detuned, Kind.PASS, unison=locked(UnisonVerdict.BEATING))).words
    assert [(word.key, word.is_certain) for word in words] == [(52, True), (55, False)]


def test_the_json_holds_what_was_found() -> None:
    before = play_pass(InventedPiano(), hand=1)
    data = json.loads(json.dumps(compare(before, play_pass(InventedPiano(all_cents=9.0), hand=2)).to_json()))
    assert data["schema"] == "strikeline.comparison/1"
    assert data["verdict"] == "changed"
    pitch = next(one for one in data["quantities"] if one["name"] == "pitch")
    assert pitch["common_is_a_change"] is True
    assert len(pitch["notes"]) == data["common_keys"] == 56
    assert len(data["common_change"]["transfer"]["curve"]) == 60


def test_short_blows_against_held_notes_are_not_comparable_and_name_no_change() -> None:
    piano, warned = InventedPiano(), ["these sound like short blows; listen with --kind staccato"]
    held = play_pass(piano, hand=1)
    short = play_pass(InventedPiano(toned=dict.fromkeys(RUN, -4.0)), hand=2, warnings=warned)
    for comparison, which in ((compare(held, short), "after"), (compare(short, held), "before")):
        assert comparison.verdict is Verdict.NOT_COMPARABLE
        assert not comparison.changes
        assert not comparison.words
        assert f"{which} sounds like short blows" in comparison.warnings[0]
        assert all(one.why_not is not None for one in comparison.quantities)
    assert compare(held, play_pass(piano, hand=2), after_again=[short]).verdict is Verdict.NOT_COMPARABLE


def test_two_recordings_of_short_blows_are_compared_with_each_other() -> None:
    piano, warned = InventedPiano(), ["these sound like short blows; listen with --kind staccato"]
    both = [play_pass(piano, hand=hand, warnings=warned) for hand in (1, 2)]
    assert compare(*both).verdict is Verdict.NO_CHANGE
