"""The notes that trials of the unison are made of: what they promise must be so."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.unison_notes import PRE_ROLL_S, UNKIND, first_power, unison_note
from tests.closeness import assert_close

from strikeline.units import cents_from_ratio

RATE_HZ = 44_100


@pytest.mark.parametrize("n_strings", [1, 2, 3])
@pytest.mark.parametrize("coupled", [True, False])
def test_strings_are_as_many_and_as_far_apart_as_asked(n_strings: int, coupled: bool) -> None:
    note = unison_note(4, key=44, n_strings=n_strings, spread_cents=1.2, coupled=coupled, even=True, polarised=False)
    f0_hz = [string.f0_hz for string in note.truth.strings]
    assert len(f0_hz) == n_strings
    spread = float(cents_from_ratio(max(f0_hz) / min(f0_hz)))
    assert_close(spread, 1.2 if n_strings > 1 else 0.0, rtol=0, atol=1e-9, why="rounding")
    decays = {round(mode.decay_db_per_s, 6) for mode in note.truth.partials[0].modes}
    assert (len(decays) == 1) is (not coupled or n_strings == 1), "a rigid bridge leaves all decays alike"


def test_the_noise_lies_as_far_below_the_first_sample_as_asked() -> None:
    note = unison_note(4, key=44, n_strings=3, spread_cents=1.0, coupled=True, even=False, polarised=True, snr_db=30.0)
    before = note.samples[: int(PRE_ROLL_S * RATE_HZ)].astype(np.float64)
    snr_db = 10.0 * np.log10(first_power(note.truth) / np.mean(before**2))
    assert_close(snr_db, 30.0, rtol=0, atol=0.2, why="11 000 samples of noise: 1.3 %")


def test_an_even_blow_has_equal_shares_and_no_lag_and_an_uneven_one_has_not() -> None:
    for even in (True, False):
        note = unison_note(4, key=44, n_strings=3, spread_cents=1.0, coupled=True, even=even, polarised=False)
        shares = {string.share for string in note.truth.strings}
        lags = {string.lag_s for string in note.truth.strings}
        assert (shares == {1.0}) is even
        assert (lags == {0.0}) is even


def test_unkind_surroundings_add_a_room_and_strings_of_their_own_b() -> None:
    about = {"key": 20, "n_strings": 2, "spread_cents": 1.0, "coupled": True, "even": True, "polarised": True}
    kind = unison_note(4, **about)  # type: ignore[arg-type]
    unkind = unison_note(4, **about, surroundings=UNKIND)  # type: ignore[arg-type]
    assert kind.truth.strings[0].inharmonicity_b == kind.truth.strings[1].inharmonicity_b
    assert unkind.truth.strings[0].inharmonicity_b != unkind.truth.strings[1].inharmonicity_b
    assert kind.truth.strings[0].f0_hz == unkind.truth.strings[0].f0_hz
    assert not np.allclose(kind.samples, unkind.samples, atol=1e-3)


def test_the_same_arguments_give_the_same_note_and_each_string_its_own_noise() -> None:
    about = {"key": 49, "n_strings": 2, "spread_cents": 1.0, "coupled": True, "even": True, "polarised": False}
    first, second = (unison_note(4, **about) for _ in range(2))  # type: ignore[arg-type]
    assert np.array_equal(first.samples, second.samples)
    left, right = (unison_note(4, **about, only_string=place) for place in range(2))  # type: ignore[arg-type]
    silent = slice(0, int(PRE_ROLL_S * RATE_HZ))
    assert abs(np.corrcoef(left.samples[silent], right.samples[silent])[0, 1]) < 0.05
