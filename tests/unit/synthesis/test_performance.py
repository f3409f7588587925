from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import SHORT_COMPASS, Compass
from strikeline.synthesis.noises import blow_knock, disturbance
from strikeline.synthesis.performance import (
    Disturbance,
    DisturbanceKind,
    ascending,
    descending,
    every_note_twice,
    play,
    white_keys,
    with_wrong_strike,
)


def test_a_pass_over_an_85_note_piano_has_50_naturals() -> None:
    assert len(ascending(SHORT_COMPASS)) == 85
    assert len(white_keys(SHORT_COMPASS)) == 50
    assert descending(SHORT_COMPASS) == ascending(SHORT_COMPASS)[::-1]


def test_blows_follow_one_another_with_the_strength_of_a_hand() -> None:
    performance = play(every_note_twice(ascending(SHORT_COMPASS)), speed_m_per_s=2.5, seed=1)
    onsets = np.array([blow.at_s for blow in performance.blows])
    releases = np.array([blow.at_s + blow.hold_s for blow in performance.blows])
    assert (releases[:-1] < onsets[1:]).all()
    strength_db = 20 * np.log10([blow.speed_m_per_s / 2.5 for blow in performance.blows])
    assert 0.9 < strength_db.std() < 1.5
    assert performance.duration_s > releases[-1]


def test_an_interruption_makes_room_for_itself() -> None:
    quiet = play([40, 41, 42], speed_m_per_s=2.0, seed=1)
    quiet = quiet.disturbed(
        Disturbance(kind=DisturbanceKind.DOOR, at_s=quiet.blows[2].at_s, duration_s=0.3, peak_db=-20)
    )
    talked = quiet.interrupted(DisturbanceKind.TALK, after_blow=1, duration_s=2.0, peak_db=-20)
    talk = next(d for d in talked.disturbances if d.kind is DisturbanceKind.TALK)
    door = next(d for d in talked.disturbances if d.kind is DisturbanceKind.DOOR)
    assert talked.blows[1] == quiet.blows[1]
    assert talk.at_s + talk.duration_s < talked.blows[2].at_s == door.at_s
    assert talked.duration_s > quiet.duration_s + 2.0


def test_a_wrong_strike_comes_before_the_right_one() -> None:
    assert with_wrong_strike([40, 41, 42], at=2, wrong_key=43) == (40, 41, 43, 42)
    with pytest.raises(InputError, match="at"):
        with_wrong_strike([40], at=1, wrong_key=43)


@pytest.mark.parametrize("kind", list(DisturbanceKind))
def test_a_disturbance_has_peak_one_and_the_length_asked_for(kind: DisturbanceKind) -> None:
    sound = disturbance(kind, duration_s=1.5, sample_rate_hz=16_000.0, rng=np.random.default_rng(1))
    assert sound.shape == (24_000,)
    assert np.abs(sound).max() == 1.0


def test_babble_comes_in_syllables() -> None:
    sound = disturbance(DisturbanceKind.TALK, duration_s=4.0, sample_rate_hz=16_000.0, rng=np.random.default_rng(1))
    level = np.sqrt((sound.reshape(-1, 640) ** 2).mean(axis=1))  # 40 ms
    quiet = level < 0.2 * level.max()
    assert 6 <= np.count_nonzero(np.diff(quiet.astype(int)) == 1) <= 40


def test_a_knock_grows_with_the_blow_and_dies_at_once() -> None:
    soft, loud = (
        blow_knock(speed_m_per_s=v, sample_rate_hz=16_000.0, rng=np.random.default_rng(1)) for v in (1.0, 2.0)
    )
    np.testing.assert_allclose(loud, 2 * soft, rtol=1e-12, atol=0)
    assert np.abs(loud[-400:]).max() < 0.02 * np.abs(loud).max()


def test_no_keys_are_refused() -> None:
    with pytest.raises(InputError, match="keys"):
        play([], speed_m_per_s=2.0, seed=1)


def test_under_the_pedal_keys_let_go_sound_until_its_end() -> None:
    performance = play(ascending(Compass(40, 45)), speed_m_per_s=2.0, seed=1)
    down_s, up_s = performance.blows[1].at_s + 0.1, performance.blows[4].at_s + 0.1
    pedal = performance.with_pedal_down(from_s=down_s, to_s=up_s)
    ends_s = [blow.at_s + blow.hold_s for blow in pedal.blows]
    assert_close(ends_s[1:4], [up_s] * 3, rtol=0, atol=1e-9, why="they end with the pedal")
    assert [pedal.blows[place] for place in (0, 4, 5)] == [performance.blows[place] for place in (0, 4, 5)]
    assert [pedal.frees_all(blow) for blow in pedal.blows] == [False, False, True, True, True, False]
