"""Strings alone against all together, on invented notes measured by the real core."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.unison_notes import UNKIND, UnisonNote, unison_note, unison_state
from tests.closeness import assert_close

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.muted import compare_strings, is_heard_in
from strikeline.acoustics.muted_result import Agreement, StringsOfNote
from strikeline.acoustics.pluck_result import StringPlace
from strikeline.acoustics.string_intervals import interval_cents
from strikeline.acoustics.unison_result import Unison, UnisonVerdict
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.soundboard import build_soundboard
from strikeline.units import cents_from_ratio

LEFT, MIDDLE, RIGHT = StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT
RATE_HZ = 44_100
KEY, SEED = 49, 31


def make(only: int | None, *, seed: int = SEED, n_strings: int = 3, **more: object) -> UnisonNote:
    about = {"spread_cents": 2.0, "even": False, "polarised": True} | more
    return unison_note(seed, key=KEY, n_strings=n_strings, coupled=True, only_string=only, **about)  # type: ignore[arg-type]


def heard(note: UnisonNote) -> Note:
    return measure_strike(
        note.strike(RATE_HZ),
        key=KEY,
        f0_start_hz=note.truth.f0_hz,
        a4_hz=440.0,
        n_strings=1 if len(note.truth.strings) == 1 else None,
    )


@pytest.fixture(scope="module")
def strings() -> list[UnisonNote]:
    return [make(place, surroundings=UNKIND) for place in range(3)]


@pytest.fixture(scope="module")
def notes(strings: list[UnisonNote]) -> list[Note]:
    return [heard(string) for string in strings]


@pytest.fixture(scope="module")
def together() -> Note:
    return heard(make(None, surroundings=UNKIND))


@pytest.fixture(scope="module")
def told(together: Note, notes: list[Note]) -> StringsOfNote:
    return compare_strings(together, dict(zip((LEFT, MIDDLE, RIGHT), notes, strict=True)), n_strings=3)


def test_the_interval_of_two_strings_is_told_far_better_than_each_f0(
    notes: list[Note], strings: list[UnisonNote]
) -> None:
    interval = interval_cents(notes[0], notes[1])
    assert interval is not None
    true = float(cents_from_ratio(strings[0].truth.f0_hz / strings[1].truth.f0_hz))
    assert_close(interval.value, true, rtol=0, atol=0.1, why="the target for strings")
    assert abs(interval.value - true) < 4.0 * interval.se
    assert notes[0].f0_hz is not None
    assert interval.se < 0.3 * 1731.0 * notes[0].f0_hz.se / notes[0].f0_hz.value


def test_an_interval_counts_the_other_way_round(notes: list[Note]) -> None:
    one, other = interval_cents(notes[0], notes[2]), interval_cents(notes[2], notes[0])
    assert one is not None
    assert other is not None
    assert_close(one.value, -other.value, rtol=0, atol=0.02, why="B of one or the other bends the slope")


def test_notes_without_a_common_partial_have_no_interval(notes: list[Note]) -> None:
    assert interval_cents(replace(notes[0], partials=()), notes[1]) is None


def test_one_common_partial_gives_its_own_interval(notes: list[Note]) -> None:
    first = [replace(note, partials=note.partials[:1]) for note in notes[:2]]
    interval = interval_cents(first[0], first[1])
    assert interval is not None
    heard_hz = [note.partials[0].modes[0].f_hz.value for note in first]
    expected = float(cents_from_ratio(heard_hz[0] / heard_hz[1]))
    assert_close(interval.value, expected, rtol=0, atol=0.05, why="less what B may differ by")


def test_every_string_is_told_within_a_tenth_of_a_cent(told: StringsOfNote, strings: list[UnisonNote]) -> None:
    f0_hz = np.array([string.truth.f0_hz for string in strings])
    true = np.asarray(cents_from_ratio(f0_hz / f0_hz.mean()))
    found = [string.from_mean_cents for string in told.strings]
    values = [one.value for one in found if one is not None]
    assert_close(values, true - true.mean(), rtol=0, atol=0.1, why="the target for strings")
    assert told.spread_cents is not None
    assert_close(told.spread_cents.value, 2.0, rtol=0, atol=0.1, why="the same")
    assert [string.string for string in told.strings] == [LEFT, MIDDLE, RIGHT]


def test_the_coupling_is_that_of_the_board(told: StringsOfNote, strings: list[UnisonNote]) -> None:
    assert len(told.coupling) >= 3
    unison = strings[0].truth
    number = np.array([one.partial for one in told.coupling])
    f0_hz = float(np.mean([string.truth.f0_hz for string in strings]))
    hz = partial_frequencies_hz(number, f0_hz=f0_hz, inharmonicity_b=unison.inharmonicity_b)
    wire = unison_state(SEED, key=KEY, n_strings=3, spread_cents=2.0, even=False, polarised=True, surroundings=UNKIND)
    kappa = 2 * f0_hz * wire.unison.impedance_kg_per_s * build_soundboard(SEED).admittance_s_per_kg(KEY, hz)
    for one, true in zip(told.coupling, kappa, strict=True):
        assert abs(one.loss_per_s.value - true.real) < 4.0 * one.loss_per_s.se
        assert abs(one.pull_hz.value + true.imag / (2 * np.pi)) < 4.0 * one.pull_hz.se
        locks = 1731.234 * 2 * abs(complex(one.loss_per_s.value, 2 * np.pi * one.pull_hz.value))
        omega = 2 * np.pi * float(hz[number == one.partial][0])
        assert_close(one.locks_below_cents.value, locks / omega, rtol=0.002, atol=0, why="2·abs(κ)/ω; ω as heard")


def test_clean_strings_beat_not_with_themselves_and_a_loose_pin_does(together: Note, told: StringsOfNote) -> None:
    assert not any(string.false_beats for string in told.strings)
    loose = [make(place, false_beat_hz=1.5) for place in range(3)]
    true = [string.truth.strings[0].false_beat_hz is not None for string in loose]
    notes = [heard(string) for string in loose]
    beating = compare_strings(together, dict(zip((LEFT, MIDDLE, RIGHT), notes, strict=True)), n_strings=3)
    assert [bool(string.false_beats) for string in beating.strings] == true
    (string,) = [one for one in beating.strings if one.false_beats]
    assert string.false_beats is not None
    first = min(string.false_beats, key=lambda beat: beat.partial)
    assert_close(first.rate_hz.value, 1.5 * first.partial, rtol=0.25, atol=0, why="the bridge takes part in the split")
    assert any("string beats with itself" in notice for notice in beating.notices)


def test_a_mute_that_does_not_hold_is_noticed(notes: list[Note]) -> None:
    """Two strings sound in what should be the left one alone."""
    both = unison_note(
        SEED, key=KEY, n_strings=3, spread_cents=6.0, coupled=True, even=True, polarised=False, only_string=None
    )
    singles = [
        heard(
            unison_note(
                SEED,
                key=KEY,
                n_strings=3,
                spread_cents=6.0,
                coupled=True,
                even=True,
                polarised=False,
                only_string=place,
            )
        )
        for place in range(3)
    ]
    with_all = heard(both)
    assert not any(is_heard_in(one, other) for one in singles for other in singles if one is not other)
    assert any(is_heard_in(single, with_all) for single in singles)
    told = compare_strings(notes[0], {LEFT: with_all, MIDDLE: singles[1], RIGHT: singles[2]}, n_strings=None)
    assert told.strings[0].also_heard
    assert any("mute that better" in notice for notice in told.notices)


def test_a_string_heard_too_briefly_to_beat_is_not_said_to_be_free_of_beats(together: Note, notes: list[Note]) -> None:
    why = "the sound is too short to hear a beat"
    unjudged = Unison(verdict=UnisonVerdict.CANNOT_TELL)
    short = replace(notes[0], unison=unjudged, cannot_tell=("f0: too short", f"unison, strings: {why}"))
    lost = replace(notes[2], unison=None, cannot_tell=("everything: no partial",))
    told = compare_strings(together, {LEFT: short, MIDDLE: notes[1], RIGHT: lost}, n_strings=3)
    assert [string.false_beats for string in told.strings] == [None, (), None]
    assert [one["false_beats_hz"] for one in told.to_json()["strings"]] == [None, [], None]
    assert f"false beats of the left string: {why}" in told.cannot_tell
    assert "false beats of the right string: no partial" in told.cannot_tell
    assert not any("of the middle string" in reason for reason in told.cannot_tell)


def test_one_string_alone_gives_no_spread_and_no_coupling(together: Note, notes: list[Note]) -> None:
    told = compare_strings(together, {MIDDLE: notes[1]}, n_strings=None)
    assert not told.is_complete
    assert told.spread_cents is None
    assert told.agreement is Agreement.ALONE_CANNOT_TELL
    assert any(reason.startswith("spread: only one") for reason in told.cannot_tell)
    assert any(reason.startswith("coupling: needs every") for reason in told.cannot_tell)


def with_strings(note: Note, f0_hz: tuple[float, ...] | None, se_hz: float = 0.02) -> Note:
    strings = None if f0_hz is None else tuple(Measured(f0, se_hz) for f0 in f0_hz)
    return replace(note, unison=Unison(verdict=UnisonVerdict.BEATING, string_f0_hz=strings))


def test_blind_and_alone_agree_disagree_or_cannot_be_compared(
    together: Note, notes: list[Note], strings: list[UnisonNote]
) -> None:
    alone = dict(zip((LEFT, MIDDLE, RIGHT), notes, strict=True))
    true = sorted(string.truth.f0_hz for string in strings)

    def agreement(f0_hz: tuple[float, ...] | None) -> Agreement:
        return compare_strings(with_strings(together, f0_hz), alone, n_strings=3).agreement

    assert agreement(tuple(f0 + 0.3 for f0 in true)) is Agreement.AGREES, "a common shift is no disagreement"
    assert agreement((true[0], true[1], true[2] + 0.3)) is Agreement.DISAGREES
    assert agreement((true[0], true[2])) is Agreement.DISAGREES, "another number of strings"
    assert agreement(None) is Agreement.BLIND_CANNOT_TELL
    blind = compare_strings(replace(together, unison=None), alone, n_strings=3)
    assert blind.agreement is Agreement.BLIND_CANNOT_TELL


def test_a_number_of_strings_that_was_not_given_is_said(together: Note, notes: list[Note]) -> None:
    told = compare_strings(together, {LEFT: notes[0], RIGHT: notes[2]}, n_strings=None)
    assert told.is_complete
    assert "the note has 2 strings, as many as were recorded alone" in told.rests_on


def test_json_holds_what_was_told(told: StringsOfNote) -> None:
    data = told.to_json()
    assert data["note"] == "A4"
    assert [string["string"] for string in data["strings"]] == ["left", "middle", "right"]
    assert data["agreement"] in {one.value for one in Agreement}
    assert all(
        set(one) == {"partial", "loss_per_s", "pull_hz", "locks_below_cents", "modes"} for one in data["coupling"]
    )


def test_what_cannot_be_compared_is_refused(together: Note, notes: list[Note]) -> None:
    with pytest.raises(InputError, match="no string was recorded alone"):
        compare_strings(together, {}, n_strings=None)
    with pytest.raises(InputError, match="sounds B4"):
        compare_strings(together, {LEFT: replace(notes[0], key=51)}, n_strings=None)
    with pytest.raises(InputError, match="same sound"):
        compare_strings(together, {LEFT: notes[0], RIGHT: notes[0]}, n_strings=None)
    with pytest.raises(InputError, match="n_strings"):
        compare_strings(together, {LEFT: notes[0], RIGHT: notes[1]}, n_strings=1)
