"""Dampers against their neighbours, from notes whose measures are given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.closeness import assert_close

from strikeline.acoustics.damping_judgement import judge_dampers
from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import Note
from strikeline.measured import Measured


def partial(n: int, t60_s: float, *, lasts_s: float = 0.5) -> DampedPartial:
    return DampedPartial(n=n, decay_db_per_s=Measured(60.0 / t60_s, 1.0 / t60_s), leaks=None, lasts_s=lasts_s)


def note(key: int, *, lands_s: float = 0.2, t60_s: float = 0.4, more: tuple[DampedPartial, ...] = ()) -> Note:
    rng = np.random.default_rng(key)
    own_s = t60_s * float(np.exp(0.08 * rng.standard_normal()))
    damping = Damping(
        verdict=DamperVerdict.STOPS,
        lands_s=Measured(lands_s + 0.01 * float(rng.standard_normal()), 0.007),
        t60_s=Measured(own_s, 0.03),
        partials=(partial(1, own_s), partial(2, 0.3 * own_s), *more),
    )
    return Note(
        key=key,
        onset_s=1.4 * key,
        end_s=1.4 * key + 1.2,
        f0_hz=Measured(27.5 * 2 ** (key / 12), 0.01),
        inharmonicity_b=Measured(2e-4, 1e-6),
        damping=damping,
    )


def ringing(key: int) -> Note:
    return replace(note(key), damping=Damping(verdict=DamperVerdict.NONE))


def verdicts(notes: list[Note]) -> dict[int, DamperVerdict]:
    return {n.key: n.damping.verdict for n in judge_dampers(notes).notes if n.key is not None and n.damping is not None}


PASS = [note(key) for key in range(20, 67)]
TOP = [ringing(key) for key in range(67, 80)]


def test_sound_dampers_stop_and_the_top_has_none() -> None:
    judged = judge_dampers([*PASS, *TOP])
    assert judged.last_damped_key == 66
    assert judged.warnings == ()
    found = verdicts([*PASS, *TOP])
    assert all(found[key] is DamperVerdict.STOPS for key in range(20, 67))
    assert all(found[key] is DamperVerdict.NONE for key in range(67, 80))
    assert all(n.notices == () for n in judged.notes), "no damper at the top is no fault"


def test_late_and_weak_dampers_and_one_that_does_nothing_are_found_and_named() -> None:
    changed = {30: note(30, lands_s=0.36), 40: note(40, t60_s=0.9), 50: ringing(50)}
    notes = [changed.get(n.key or 0, n) for n in PASS] + TOP
    found = verdicts(notes)
    assert found[30] is DamperVerdict.LATE
    assert found[40] is DamperVerdict.WEAK
    assert found[50] is DamperVerdict.NONE
    assert sum(v is DamperVerdict.STOPS for v in found.values()) == len(PASS) - 3
    said = {n.key: n.notices for n in judge_dampers(notes).notes if n.notices}
    assert "later" in said[30][0]
    assert "times as long" in said[40][0]
    assert "nothing stops" in said[50][0]


def test_a_slow_partial_leaks_and_a_slow_room_does_not_make_leaks() -> None:
    notes = [note(n.key or 0, more=(partial(3, 5.0),)) if n.key == 33 else n for n in PASS]
    assert verdicts(notes)[33] is DamperVerdict.LEAKS
    lively = [note(key, t60_s=0.6, more=(partial(3, 0.9),)) for key in range(20, 67)]
    assert set(verdicts(lively).values()) == {DamperVerdict.STOPS}


def test_a_doubtful_landing_is_believed_when_it_comes_with_the_neighbours_or_stops_the_note() -> None:
    def doubtful(key: int, lands_s: float) -> Note:
        one = note(key, lands_s=lands_s, more=tuple(partial(n, 8.0, lasts_s=2.0) for n in range(3, 9)))
        assert one.damping is not None
        slow = Measured(8.0, 0.5)
        return replace(one, damping=replace(one.damping, is_landing_sure=False, t60_s=slow))

    late = note(55, lands_s=0.5, more=tuple(partial(n, 0.2) for n in range(3, 9)))
    assert late.damping is not None
    late = replace(late, damping=replace(late.damping, is_landing_sure=False))
    changed = {30: doubtful(30, 0.2), 45: doubtful(45, 0.5), 55: late}
    found = verdicts([changed.get(n.key or 0, n) for n in PASS] + TOP)
    assert found[30] is DamperVerdict.LEAKS
    assert found[45] is DamperVerdict.NONE
    assert found[55] is DamperVerdict.LATE, "what dies at once was stopped, whenever that was"


def test_a_note_that_dies_in_time_is_not_blamed_though_no_landing_was_heard() -> None:
    quick = replace(ringing(45), damping=Damping(verdict=DamperVerdict.NONE, t60_s=Measured(0.6, 0.1)))
    judged = judge_dampers([quick if n.key == 45 else n for n in PASS] + TOP).notes
    found = next(n for n in judged if n.key == 45)
    assert found.damping is not None
    assert found.damping.verdict is DamperVerdict.CANNOT_TELL
    assert found.notices == ()
    assert "as if it were stopped" in found.cannot_tell[0]


def test_what_an_undamped_note_left_ringing_is_not_laid_to_the_next_note() -> None:
    octave_up = note(52, more=(partial(3, 6.0),))
    undamped = replace(ringing(40), onset_s=octave_up.onset_s - 3.0)
    notes = [n for n in PASS if n.key not in {40, 52}] + TOP

    def damping_among(*others: Note) -> Damping:
        judged = judge_dampers(sorted([*notes, octave_up, *others], key=lambda n: n.onset_s)).notes
        found = next(n.damping for n in judged if n.key == 52)
        assert found is not None
        return found

    assert damping_among().leaking_partials == (3,)
    assert damping_among(undamped).leaking_partials == ()
    assert damping_among(undamped).partials[2].leaks is None
    assert "partial 3" in damping_among(undamped).cannot_tell[0]
    assert damping_among(undamped).verdict is DamperVerdict.CANNOT_TELL


def test_the_pedal_down_is_said_once_and_no_damper_is_blamed() -> None:
    notes = [ringing(key) for key in range(20, 66)]
    judged = judge_dampers(notes)
    assert len(judged.warnings) == 1
    assert "pedal" in judged.warnings[0]
    assert judged.warnings[0].endswith("if this is a pass, leave --kind staccato out")
    assert {n.damping.verdict for n in judged.notes if n.damping} == {DamperVerdict.CANNOT_TELL}
    assert all("pedal" in n.cannot_tell[0] for n in judged.notes)


def test_few_notes_are_not_compared() -> None:
    lone = judge_dampers([note(30, lands_s=0.6), note(31)])
    assert lone.last_damped_key is None
    assert [n.damping.verdict for n in lone.notes if n.damping] == [DamperVerdict.STOPS] * 2


def test_notes_of_other_kinds_pass_through() -> None:
    plain = Note(key=40, onset_s=0.0, end_s=1.0)
    assert judge_dampers([plain]).notes == (plain,)
    assert_close(len(judge_dampers([]).notes), 0, rtol=0, atol=0, why="nothing in, nothing out")
