"""The strings behind the modes: taken back from modes worked out here, and from struck notes whose truth is known.

The notes come from `benchmarks.unison_notes` with seeds that its benchmark does not use.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from benchmarks.unison_notes import KIND, UNKIND, Surroundings, UnisonNote, unison_note
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.unison import judge_unison
from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_odds import Odds, weigh_verdict
from strikeline.acoustics.unison_result import UnisonVerdict
from strikeline.acoustics.unison_strings import estimate_lean, separate_strings
from strikeline.acoustics.unison_verdict import find_turning, judge_by_modes
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.units import cents_from_ratio

RATE_HZ = 44_100
SEED = 50_000
CENTS_PER_NEPER = 1200.0 / np.log(2.0)


def modes_of_strings(
    cents: list[float],
    *,
    partial_hz: float,
    partial: int = 1,
    coupling_per_s: complex = 1.2 + 0.4j,
    share: list[float] | None = None,
) -> PartialModes:
    """Return the modes of strings on one bridge, by the eigenvalues of Weinreich's matrix (1977, from memory)."""
    omega = 2 * np.pi * partial_hz * 2.0 ** (np.array(cents) / 1200.0)
    matrix = np.diag(1j * omega - 0.4) - coupling_per_s * np.ones((len(cents), len(cents)))
    value, vector = np.linalg.eig(matrix)
    blow = np.ones(len(cents)) if share is None else np.array(share)
    onset = vector.sum(axis=0) * np.linalg.solve(vector, blow.astype(complex))
    return free_modes(value, onset, partial=partial)


def free_modes(pole_per_s: NDArray[np.complex128], onset: NDArray[np.complex128], *, partial: int = 1) -> PartialModes:
    sd = np.full(pole_per_s.size, 1e-4)
    return PartialModes(partial=partial, pole_per_s=pole_per_s, onset=onset, pole_sd_per_s=sd, level_sd_db=sd)


def tones(*, apart_hz: float, second_db: float = 0.0, decay_per_s: float = 0.2) -> PartialModes:
    pole = np.array([-decay_per_s + 2j * np.pi * 440.0, -decay_per_s + 2j * np.pi * (440.0 + apart_hz)])
    return free_modes(pole, np.array([1.0, 10.0 ** (second_db / 20.0)], dtype=complex))


@pytest.mark.parametrize("cents", [[-0.5, 0.5], [-0.3, 0.3], [-0.6, 0.1, 0.5], [-1.0, 0.49, 0.51]])
def test_strings_struck_evenly_are_taken_back_from_their_modes(cents: list[float]) -> None:
    found = separate_strings(modes_of_strings(cents, partial_hz=440.0), n_strings=len(cents))
    assert found is not None
    assert found.offset_sd_cents < 0.1
    assert_close(
        found.offset_cents.real,
        np.array(cents),
        rtol=0,
        atol=2.0 * found.offset_sd_cents,
        why="its own claim: a hammer that is late by 20 µs is allowed for",
    )
    assert_close(
        found.mean_hz, 440.0, rtol=1e-5, atol=0, why="the pull of the bridge, 0.06 Hz, is taken off to within 5 %"
    )
    assert abs(found.coupling_per_s - (1.2 + 0.4j)) < 0.05


def test_the_modes_lie_elsewhere_than_the_strings_they_belong_to() -> None:
    modes = modes_of_strings([-0.1, 0.1], partial_hz=440.0)
    apart_cents = cents_from_ratio(modes.pole_per_s.imag.max() / modes.pole_per_s.imag.min())
    assert abs(apart_cents - 0.2) > 0.1, "else the test of the separation would test nothing"


def test_an_uneven_blow_is_told_from_the_bridge_by_its_growth_with_frequency() -> None:
    share = [0.7, 1.3]
    modes = [
        modes_of_strings(
            [-0.8, 0.8], partial_hz=220.0 * n, partial=n, coupling_per_s=0.4 + 0.1j * (-1) ** n, share=share
        )
        for n in range(1, 9)
    ]
    lean = estimate_lean(modes, n_strings=2)
    expected = 0.8 * (1.3 - 0.7) / 2 / CENTS_PER_NEPER
    assert_close(
        lean.value, expected, rtol=0, atol=2.0 * lean.se, why="its own error, as the imaginary parts of κ scatter"
    )
    assert lean.value > 3.0 * lean.se
    found = [separate_strings(one, n_strings=2, lean=lean) for one in modes[:4]]
    for one in found:
        assert one is not None
        assert_close(np.abs(one.share), np.array(share), rtol=0, atol=0.1, why="to within the lean's own error")


def test_fewer_modes_than_strings_tell_no_strings() -> None:
    assert separate_strings(modes_of_strings([-0.5, 0.5], partial_hz=440.0), n_strings=3) is None


@pytest.mark.parametrize(("apart_hz", "heard_s"), [(1.0, 4.0), (0.5, 4.0), (5.0, 1.0)])
def test_two_equal_tones_turn_about_each_other_as_often_as_they_differ(apart_hz: float, heard_s: float) -> None:
    turning = find_turning(tones(apart_hz=apart_hz), heard_s=heard_s)
    assert_close(
        turning.turns, apart_hz * (heard_s - 0.05), rtol=0.02, atol=0, why="counted from 50 ms on, in 160 steps"
    )
    assert_close(turning.rate_hz.value, apart_hz, rtol=1e-9, atol=0, why="the difference of two given numbers")


def test_a_tone_far_below_the_other_makes_no_beat() -> None:
    assert find_turning(tones(apart_hz=1.0, second_db=-20.0), heard_s=4.0).turns == 0.0


def test_the_depth_of_a_beat_is_that_of_two_tones() -> None:
    turning = find_turning(tones(apart_hz=1.0, second_db=-6.0206), heard_s=4.0)
    assert_close(turning.depth_db, 20.0 * np.log10(1.5 / 0.5), rtol=1e-3, atol=0, why="amplitudes 1 and 1/2")


@pytest.mark.parametrize(
    ("apart_hz", "verdict"),
    [(0.02, UnisonVerdict.LOCKED), (0.25, UnisonVerdict.UNEVEN), (1.0, UnisonVerdict.BEATING)],
)
def test_the_verdict_follows_from_how_often_the_modes_turn(apart_hz: float, verdict: UnisonVerdict) -> None:
    assert judge_by_modes([tones(apart_hz=apart_hz)], heard_s=4.0)[0] is verdict


def test_prompt_sound_and_aftersound_of_strings_in_tune_are_locked() -> None:
    pole = np.array([-3.0 + 2j * np.pi * 440.0, -0.3 + 2j * np.pi * 440.03])
    modes = free_modes(pole, np.array([1.0, 0.05], dtype=complex))
    assert judge_by_modes([modes], heard_s=4.0)[0] is UnisonVerdict.LOCKED


def test_half_a_second_of_sound_is_too_short_for_a_verdict() -> None:
    unison, untold = judge_unison([tones(apart_hz=1.0)], heard_s=0.3, f0_hz=None, inharmonicity_b=None, n_strings=None)
    assert unison.verdict is UnisonVerdict.CANNOT_TELL
    assert "too short" in untold[0]


def test_one_string_that_beats_has_a_false_beat() -> None:
    alone = Measured(440.0, 0.01)
    unison, _ = judge_unison([tones(apart_hz=1.0)], heard_s=4.0, f0_hz=alone, inharmonicity_b=None, n_strings=1)
    assert unison.is_false_beat
    assert unison.string_f0_hz == (alone,)
    assert [beat.partial for beat in unison.beats] == [1]


def measured(note: UnisonNote, *, key: int, n_strings: int | None = None) -> Note:
    return measure_strike(note.strike(RATE_HZ), key=key, f0_start_hz=note.truth.f0_hz, a4_hz=440.0, n_strings=n_strings)


def struck(
    seed: int, *, key: int, n_strings: int, spread_cents: float, surroundings: Surroundings = KIND, even: bool = False
) -> UnisonNote:
    return unison_note(
        SEED + seed,
        key=key,
        n_strings=n_strings,
        spread_cents=spread_cents,
        coupled=True,
        even=even,
        polarised=True,
        sample_rate_hz=RATE_HZ,
        surroundings=surroundings,
    )


@pytest.mark.parametrize(("key", "n_strings"), [(20, 2), (40, 3), (49, 3), (60, 3)])
def test_each_string_of_a_wide_unison_is_told(key: int, n_strings: int) -> None:
    made = struck(key, key=key, n_strings=n_strings, spread_cents=2.5, even=True)
    unison = measured(made, key=key).unison
    assert unison is not None
    assert unison.string_f0_hz is not None
    assert len(unison.string_f0_hz) == n_strings
    for told, true_hz in zip(unison.string_f0_hz, np.sort(made.truth.string_f0_hz), strict=True):
        assert_close(told.value, true_hz, rtol=0, atol=4 * told.se, why="four of its own standard errors")
        assert told.se / true_hz * CENTS_PER_NEPER < 0.3


@pytest.mark.parametrize("key", range(30, 80, 7))
def test_strings_that_pull_each_other_are_not_told_apart(key: int) -> None:
    made = struck(key, key=key, n_strings=3, spread_cents=0.05)
    note = measured(made, key=key)
    assert note.unison is not None
    assert note.unison.string_f0_hz is None
    assert any(reason.startswith("strings:") for reason in note.cannot_tell)


@pytest.mark.parametrize("key", range(10, 82, 6))
@pytest.mark.parametrize("surroundings", [KIND, UNKIND], ids=["kind", "unkind"])
def test_a_single_string_that_swings_both_ways_is_never_several(key: int, surroundings: Surroundings) -> None:
    made = struck(key, key=key, n_strings=1, spread_cents=0.0, surroundings=surroundings)
    unison = measured(made, key=key).unison
    assert unison is not None
    assert unison.string_f0_hz is None


@pytest.mark.parametrize("key", [30, 44, 56])
def test_a_loose_bridge_pin_is_heard_in_the_one_string_that_has_it(key: int) -> None:
    rate_hz = 1.5
    made = unison_note(
        SEED + key, key=key, n_strings=1, spread_cents=0.0, coupled=True, even=True, polarised=True,
        false_beat_hz=rate_hz, sample_rate_hz=RATE_HZ,
    )  # fmt: skip
    unison = measured(made, key=key, n_strings=1).unison
    assert unison is not None
    assert unison.is_false_beat
    true = {partial.n: partial for partial in made.truth.partials}
    for beat in unison.beats[:3]:
        by_level = sorted(true[beat.partial].modes, key=lambda mode: -mode.level_db)
        true_hz = abs(by_level[0].f_hz - by_level[1].f_hz)
        assert_close(beat.rate_hz.value, true_hz, rtol=0.02, atol=4 * beat.rate_hz.se, why="its own error, and 2 %")


def test_gain_changes_nothing_that_is_said_of_a_unison() -> None:
    made = struck(3, key=52, n_strings=3, spread_cents=3.0)
    strike = made.strike(RATE_HZ)
    quiet = Strike(
        samples=strike.samples * np.float32(0.25),
        sample_rate_hz=strike.sample_rate_hz,
        onset_sample=strike.onset_sample,
        start_s=strike.start_s,
    )
    loud_note, quiet_note = (
        measure_strike(one, key=52, f0_start_hz=made.truth.f0_hz, a4_hz=440.0).unison for one in (strike, quiet)
    )
    assert loud_note is not None
    assert quiet_note is not None
    assert loud_note.verdict is quiet_note.verdict
    assert [beat.partial for beat in loud_note.beats] == [beat.partial for beat in quiet_note.beats]


def test_strings_are_told_in_ascending_order() -> None:
    unison = measured(struck(7, key=45, n_strings=3, spread_cents=4.0, even=True), key=45).unison
    assert unison is not None
    assert unison.string_f0_hz is not None
    assert all(low.value < high.value for low, high in pairwise(unison.string_f0_hz))


def test_a_number_of_strings_that_no_note_has_is_refused() -> None:
    made = struck(1, key=49, n_strings=3, spread_cents=1.0)
    with pytest.raises(InputError, match="n_strings"):
        measure_strike(made.strike(RATE_HZ), key=49, f0_start_hz=440.0, a4_hz=440.0, n_strings=4)


def chances(odds: Odds) -> tuple[float, float, float]:
    return odds.locked, odds.uneven, odds.beating


@pytest.mark.parametrize(
    ("apart_hz", "heard_s", "verdict"),
    [
        (0.02, 4.0, UnisonVerdict.LOCKED),
        (0.3, 4.0, UnisonVerdict.UNEVEN),
        (1.0, 4.0, UnisonVerdict.BEATING),
        (5.0, 1.0, UnisonVerdict.BEATING),
    ],
)
def test_far_from_the_limits_a_verdict_is_sure(apart_hz: float, heard_s: float, verdict: UnisonVerdict) -> None:
    odds, _ = weigh_verdict([tones(apart_hz=apart_hz)], heard_s=heard_s)
    assert odds.ranked[0] is verdict
    assert odds.most > 0.99
    assert_close(sum(chances(odds)), 1.0, rtol=0, atol=1e-9, why="the three are all there are")


def test_at_the_limit_between_two_verdicts_either_is_as_likely() -> None:
    odds, _ = weigh_verdict([tones(apart_hz=2.0 / 3.95)], heard_s=4.0)
    assert_close(odds.beating, 0.5, rtol=0, atol=0.01, why="two turns exactly, in 3.95 s")
    assert odds.locked < 0.01
    unison, untold = judge_unison(
        [tones(apart_hz=2.0 / 3.95)], heard_s=4.0, f0_hz=None, inharmonicity_b=None, n_strings=None
    )
    assert unison.verdict is UnisonVerdict.CANNOT_TELL
    assert untold[0].startswith("unison: uneven or beating")


def test_how_well_the_modes_are_known_decides_how_sure_a_verdict_is() -> None:
    known = tones(apart_hz=1.05, decay_per_s=2.0)
    sd_per_s = 0.4
    guessed = replace(known, pole_sd_per_s=np.full(2, sd_per_s))
    rng = np.random.default_rng(1)
    error = sd_per_s * (rng.standard_normal((500, 2)) + 1j * rng.standard_normal((500, 2)))
    drawn = [find_turning(replace(known, pole_per_s=known.pole_per_s + one), heard_s=4.0).turns for one in error]
    expected = float(np.mean(np.array(drawn) >= 2.0))
    (sure, _), (unsure, _) = (weigh_verdict([one], heard_s=4.0) for one in (known, guessed))
    assert sure.beating > 0.9
    assert sure.beating - unsure.beating > 0.1
    assert_close(unsure.beating, expected, rtol=0, atol=0.08, why="linear errors, and those of the room besides")


def test_a_quarter_of_the_partials_that_beat_makes_it_as_likely_as_not_that_the_note_does() -> None:
    partials = [replace(tones(apart_hz=hz), partial=n) for n, hz in enumerate((2.0, 0.01, 0.01, 0.01), start=1)]
    odds, _ = weigh_verdict(partials, heard_s=4.0)
    assert_close(odds.beating, 0.5, rtol=0, atol=0.01, why="a share of exactly 1/4")
    louder, _ = weigh_verdict(partials, heard_s=4.0, level_db=[6.0, 0.0, 0.0, 0.0])
    assert louder.beating > 0.99


def test_a_swell_as_short_as_a_room_answers_may_be_the_rooms() -> None:
    pole = np.array([-14.0 + 2j * np.pi * 3000.0, -14.0 + 2j * np.pi * 3010.0])
    modes = free_modes(pole, np.array([1.0, 1.0], dtype=complex))
    assert judge_by_modes([modes], heard_s=4.0)[0] is UnisonVerdict.BEATING, "122 dB/s, but heard alone it would be"
    odds, beats = weigh_verdict([modes], heard_s=4.0)
    assert 0.5 <= odds.locked < 2.0 / 3.0, (
        "as likely the room as the strings, and of strings the turns are not known well"
    )
    assert odds.beating > 0.2
    assert beats == ()


@given(
    level_db=st.lists(st.floats(-40.0, 0.0), min_size=2, max_size=4),
    seed=st.integers(0, 2**32 - 1),
)
def test_the_time_in_company_is_where_the_levels_say(level_db: list[float], seed: int) -> None:
    rng = np.random.default_rng(seed)
    fall_per_s = rng.uniform(0.1, 8.0, len(level_db))
    pole = (-fall_per_s + 2j * np.pi * (440.0 + rng.uniform(-2.0, 2.0, len(level_db)))).astype(np.complex128)
    modes = free_modes(pole, (10.0 ** (np.array(level_db) / 20.0)).astype(np.complex128))
    time_s = np.linspace(0.05, 4.0, 20_001)
    heard_db = np.array(level_db)[:, None] - 20.0 * np.log10(np.e) * np.outer(fall_per_s, time_s)
    top_db = heard_db.max(axis=0)
    loud = (heard_db > top_db - 15.3) & (top_db > top_db[0] - 40.0)
    expected = max(
        abs(pole[i].imag - pole[j].imag) / (2 * np.pi) * float((loud[i] & loud[j]).mean()) * 3.95
        for i, j in combinations(range(len(level_db)), 2)
    )
    turning = find_turning(modes, heard_s=4.0)
    assert_close(turning.turns, expected, rtol=0, atol=0.01, why="counted on a grid of 0.2 ms")
