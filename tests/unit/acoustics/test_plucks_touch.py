"""Touched or open, from decays whose groups are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.plucked import ringing

from strikeline.acoustics.plucks_touch import expected_open_db_per_s, weigh_touch
from strikeline.measured import Measured


def key_of(n: int, key: int = 45) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.full(n, key, dtype=np.int64)


def test_two_clear_groups_are_told() -> None:
    rates = [9.0, 12.0, 150.0, 8.0, 90.0, 10.0, 300.0]
    sounds = [ringing(r, n_partials=10 if r < 50.0 else 4) for r in rates]
    touched = weigh_touch(sounds, key_of(len(rates))).touched
    assert (touched[[0, 1, 3, 5]] < 0.1).all()
    assert (touched[[2, 4, 6]] > 0.9).all()


@pytest.mark.parametrize("key", [10, 30, 50, 70])
def test_a_recording_all_open_or_all_touched_is_told_by_what_strings_do(key: int) -> None:
    usual = float(expected_open_db_per_s(np.array([float(key)]))[0])
    rng = np.random.default_rng(key)
    scatter = np.exp(0.25 * rng.standard_normal(12))
    open_ = weigh_touch([ringing(usual * s) for s in scatter], key_of(12, key))
    assert (open_.touched < 0.3).all()
    felt = weigh_touch([ringing(250.0 * s, n_partials=4) for s in scatter], key_of(12, key))
    assert (felt.touched > 0.7).all()


def test_a_piano_whose_strings_all_fall_faster_is_followed() -> None:
    usual = float(expected_open_db_per_s(np.array([45.0]))[0])
    rates = [1.9 * usual] * 6 + [25.0 * usual] * 3
    odds = weigh_touch([ringing(r, n_partials=10 if r < 50.0 else 5) for r in rates], key_of(9))
    assert odds.open_shift > 0.25
    assert (odds.touched[:6] < 0.3).all()
    assert (odds.touched[6:] > 0.9).all()


def test_a_lower_bound_far_above_an_open_string_is_touched() -> None:
    sounds = [ringing(10.0), ringing(11.0), replace(ringing(400.0, n_partials=5), is_at_least=True)]
    assert weigh_touch(sounds, key_of(3)).touched[2] > 0.9


def test_a_soft_sound_beside_a_loud_string_is_not_told_with_confidence() -> None:
    sounds = [ringing(10.0), ringing(11.0), ringing(120.0), ringing(-4.0, new_db=-52.0, old_db=-38.0, n_partials=6)]
    assert 0.1 < weigh_touch(sounds, key_of(4)).touched[3] < 0.95


def test_a_wide_error_weakens_what_is_told() -> None:
    sure = [ringing(10.0), ringing(11.0), ringing(60.0)]
    unsure = [*sure[:2], replace(sure[2], decay_db_per_s=Measured(60.0, 90.0))]
    assert weigh_touch(unsure, key_of(3)).touched[2] < weigh_touch(sure, key_of(3)).touched[2]


def test_dull_is_touched_where_others_are_bright() -> None:
    sounds = [ringing(9.0, n_partials=13), ringing(12.0, n_partials=14), ringing(25.0, n_partials=3)]
    bright = [*sounds[:2], ringing(25.0, n_partials=14)]
    assert weigh_touch(sounds, key_of(3, 20)).touched[2] > weigh_touch(bright, key_of(3, 20)).touched[2] + 0.2


def test_what_is_no_pluck_and_what_is_hidden_stay_near_even() -> None:
    hidden = replace(ringing(1.0), decay_db_per_s=None)
    touched = weigh_touch([None, hidden, None], key_of(3)).touched
    assert_close(touched[[0, 2]], [0.5, 0.5], rtol=0, atol=0, why="nothing was seen")
    assert 0.5 < touched[1] < 0.8


@pytest.mark.parametrize(("fade_db", "is_touched"), [(12.0, True), (-1.0, False)])
def test_what_fades_at_once_is_touched_where_the_decay_does_not_say(fade_db: float, is_touched: bool) -> None:
    # At a decay between those of the two groups.
    unsure = [ringing(60.0, old_db=-55.0, fade_db=fade_db)]
    clear = [ringing(8.0, fade_db=0.0), ringing(300.0, fade_db=15.0)] * 3
    touched = weigh_touch(clear + unsure, key_of(7)).touched
    assert (touched[-1] > 0.7) if is_touched else (touched[-1] < 0.3)
