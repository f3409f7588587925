"""The give of frame and board: simulated, recovered, and the second pass predicted with honest errors."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.tension_give import (
    PassSetting,
    after_pass,
    fit_give,
    likely_give,
    pass_setting,
    settings_for,
)

KEYS = np.arange(1, 89)
ONES = np.ones(88)
Floats = NDArray[np.float64]


def setting(order: NDArray[np.int64] = KEYS) -> PassSetting:
    return pass_setting(KEYS, response=ONES, load=ONES, bass_bridge_ends=26, order=[int(key) for key in order])


def logs(*give: float) -> Floats:
    return np.asarray(np.log(np.array(give)))


def test_without_give_every_note_stays_where_it_is_put() -> None:
    end = after_pass(setting(), log_give=logs(*[1e-12] * 4), start_cents=-30 * ONES, set_cents=5 * ONES)
    assert_close(end, 5 * ONES, rtol=0, atol=1e-9, why="nothing gives")


def test_the_notes_tuned_first_lose_most() -> None:
    give = logs(1e-12, 0.2, 1e-12, 1e-12)
    up = after_pass(setting(), log_give=give, start_cents=-30 * ONES, set_cents=0 * ONES)
    down = after_pass(setting(KEYS[::-1]), log_give=give, start_cents=-30 * ONES, set_cents=0 * ONES)
    assert (np.diff(up) > 0).all()
    assert_close(up[-1], 0.0, rtol=0, atol=1e-9, why="nothing is pulled after the last note")
    assert_close(down, up[::-1], rtol=0, atol=1e-9, why="all notes answer alike")


def test_one_pull_lowers_each_other_string_by_its_share() -> None:
    """One note is raised by 10 cents, the others are set where they are when their turn comes."""
    start = np.zeros(88)
    put = np.zeros(88)
    put[0] = 10.0
    end = after_pass(setting(KEYS[::-1]), log_give=logs(1e-12, 0.22, 1e-12, 0.12), start_cents=start, set_cents=put)
    assert_close(end[50], -10.0 * 0.22 / 88, rtol=1e-6, atol=0, why="shared by 88 notes; on the other bridge")
    assert_close(end[0], 10.0, rtol=0, atol=1e-9, why="without settling")


def test_neighbours_on_the_same_bridge_lose_more_than_those_beyond_the_break() -> None:
    put = np.zeros(88)
    put[24] = 10.0  # key 25, two keys below the break
    order = np.concatenate([np.delete(KEYS, 24), KEYS[24:25]])
    end = after_pass(setting(order), log_give=logs(1e-12, 0.1, 0.3, 0.3), start_cents=0 * ONES, set_cents=put)
    assert end[25] < 5 * end[26], "key 26 is on the bass bridge, key 27 is not"


def test_settings_found_for_a_target_reach_it() -> None:
    start = -30.0 + 5.0 * np.sin(KEYS / 9.0)
    give = logs(0.07, 0.13, 0.1, 0.2)
    put = settings_for(setting(), log_give=give, start_cents=start, target_cents=np.zeros(88))
    end = after_pass(setting(), log_give=give, start_cents=start, set_cents=put)
    assert_close(end, np.zeros(88), rtol=0, atol=1e-9, why="a linear system; rounding only")
    assert (put > 0).all()


def test_give_is_recovered_and_the_second_pass_predicted_within_its_errors() -> None:
    rng = np.random.default_rng(7)
    one = setting()
    give_inside, give_n, end_inside, end_n = 0, 0, 0, 0
    for _ in range(25):
        true = one.prior + 0.7 * rng.normal(size=4)
        scatter = 2.0 * np.exp(0.3 * rng.normal())
        start = -30.0 + 5.0 * rng.normal(size=88)
        put = np.full(88, 6.0)

        def played(start: Floats, put: Floats, true: Floats = true, scatter: float = scatter) -> Floats:
            end = after_pass(one, log_give=true, start_cents=start, set_cents=put)
            return np.asarray(end + scatter * rng.standard_t(5, 88))

        first = played(start, put)
        heard = first + 0.3 * rng.normal(size=88)
        fit = fit_give(one, start_cents=start, set_cents=put, end_cents=heard, end_se_cents=np.full(88, 0.3))
        off = (fit.log_give - true) / np.sqrt(np.diag(fit.covariance))
        give_inside, give_n = give_inside + int(np.sum(np.abs(off) < 1.96)), give_n + 4
        again = settings_for(one, log_give=fit.log_give, start_cents=heard, target_cents=np.zeros(88))
        expected, se = fit.predict(start_cents=heard, set_cents=again)
        second = played(first, again)
        end_inside, end_n = end_inside + int(np.sum(np.abs(second - expected) < 1.96 * se)), end_n + 88
    assert give_inside / give_n > 0.89, "95 %, less two and a half binomial errors at n = 100"
    assert 0.92 < end_inside / end_n < 0.975, "95 %, notes of one piano hanging together"


def test_a_fit_knows_more_than_what_was_likely_beforehand() -> None:
    one = setting()
    true = logs(0.15, 0.25, 0.1, 0.1)
    start, put = -40 * ONES, 8 * ONES
    end = after_pass(one, log_give=true, start_cents=start, set_cents=put)
    end += np.random.default_rng(1).normal(size=88)
    likely = likely_give(one)
    fit = fit_give(one, start_cents=start, set_cents=put, end_cents=end, end_se_cents=np.full(88, 0.3))
    before, after = (g.mean_slope_se(start_cents=start, set_cents=put) for g in (likely, fit))
    assert after < 0.2 * before
    told, _ = fit.predict(start_cents=start, set_cents=put)
    true_end = after_pass(one, log_give=true, start_cents=start, set_cents=put)
    assert_close(np.mean(told), np.mean(true_end), rtol=0, atol=0.4, why="88 notes that stray by 1 cent: 0.1, 4 errors")


def test_a_single_note_that_went_astray_hardly_moves_the_fit() -> None:
    one = setting()
    start, put = -30 * ONES, 6 * ONES
    end = after_pass(one, log_give=one.prior, start_cents=start, set_cents=put)
    end += np.random.default_rng(2).normal(size=88)
    odd = end.copy()
    odd[40] -= 60.0
    fits = [
        fit_give(one, start_cents=start, set_cents=put, end_cents=e, end_se_cents=np.full(88, 0.3)) for e in (end, odd)
    ]
    even_end, odd_end = (fit.predict(start_cents=start, set_cents=put)[0] for fit in fits)
    assert_close(odd_end, even_end, rtol=0, atol=0.3, why="60 cents over 88 notes would be 0.7 on every one")


def test_too_few_notes_after_the_pass_are_refused() -> None:
    end = np.full(88, np.nan)
    end[:5] = 0.0
    with pytest.raises(InputError, match="record a whole pass"):
        fit_give(setting(), start_cents=-30 * ONES, set_cents=ONES, end_cents=end, end_se_cents=ONES)


def test_an_order_that_leaves_a_note_out_is_refused() -> None:
    with pytest.raises(InputError, match="every key once"):
        pass_setting(KEYS, response=ONES, load=ONES, bass_bridge_ends=26, order=[1, 2, 3])
