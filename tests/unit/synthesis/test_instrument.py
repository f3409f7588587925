from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS, Compass
from strikeline.synthesis.instrument import KeyCondition, cents_from_equal_temperament, piano, upright_1920s
from strikeline.synthesis.scale import SMALL_GRAND, UPRIGHT_1920S, ScaleDesign, StringUnison, lay_out_strings


@pytest.mark.parametrize("design", [UPRIGHT_1920S, SMALL_GRAND])
def test_every_string_could_exist(design: ScaleDesign) -> None:
    for unison in lay_out_strings(compass=FULL_COMPASS, design=design, a4_hz=440.0):
        assert 400 < unison.tension_n < 1300, unison
        stress_mpa = unison.tension_n / (np.pi * unison.core_diameter_mm**2 / 4)
        assert stress_mpa < 0.75 * 2000, "under three quarters of what piano wire breaks at"
        assert 1e-5 < unison.inharmonicity_b < 0.04


@pytest.mark.parametrize("design", [UPRIGHT_1920S, SMALL_GRAND])
def test_speaking_lengths_fall_from_bass_to_treble_in_each_section(design: ScaleDesign) -> None:
    strings = lay_out_strings(compass=FULL_COMPASS, design=design, a4_hz=440.0)
    for wound in (True, False):
        lengths = [u.speaking_length_mm for u in strings if u.is_wound is wound]
        assert (np.diff(lengths) < 0).all()


def test_the_demo_piano_is_what_it_says() -> None:
    upright = upright_1920s(7)
    assert len(upright.compass) == 85
    cents = [cents_from_equal_temperament(upright[key].unison, a4_hz=440.0) for key in range(35, 56)]
    assert_close(np.mean(cents), -18.0, rtol=0, atol=2.0, why="21 notes of 2.2 cents scatter, a little stretch")
    assert upright[50].hammer.wear > 0.8
    assert upright[10].hammer.wear < 0.4
    assert upright[74].condition is KeyCondition.WEAK
    assert [upright[key].unison.n_strings for key in (1, 9, 10, 28, 29, 85)] == [1, 1, 2, 2, 3, 3]
    bad_hz = upright[55].unison.f0_hz
    assert_close(1200 * np.log2(bad_hz[1] / bad_hz[2]), 7.5, rtol=0, atol=1e-6, why="set by hand; rounding only")


def test_the_pitch_level_moves_every_string_alike() -> None:
    low = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-100.0)
    high = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=50.0)
    cents = [1200 * np.log2(high[k].unison.f0_hz[0] / low[k].unison.f0_hz[0]) for k in FULL_COMPASS]
    assert_close(cents, np.full(88, 150.0), rtol=0, atol=1e-6, why="rounding only")


def test_faults_are_where_they_were_put() -> None:
    broken = piano(
        compass=Compass(1, 85), seed=1, pitch_level_cents=0.0, missing_keys=(3,), dead_keys=(40,), weak_keys=(60,)
    )
    found = {k: broken[k].condition for k in (3, 40, 60, 61)}
    assert list(found.values()) == [KeyCondition.MISSING, KeyCondition.DEAD, KeyCondition.WEAK, KeyCondition.SOUND]


def test_the_same_seed_is_the_same_piano() -> None:
    assert upright_1920s(7).keys == upright_1920s(7).keys
    assert upright_1920s(7).keys != upright_1920s(8).keys


def test_a_key_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="A0-A7"):
        upright_1920s(7)[86]
    with pytest.raises(InputError, match="compass"):
        piano(compass=Compass(0, 88), seed=1, pitch_level_cents=0.0)
    upright = upright_1920s(7)
    other = replace(upright[1], unison=replace(upright[1].unison, key=88))
    with pytest.raises(InputError, match="A0-A7"):
        upright.replacing(other)


def test_four_strings_are_refused() -> None:
    with pytest.raises(InputError, match="f0_hz"):
        StringUnison(key=1, speaking_length_mm=1.0, core_diameter_mm=1.0, wrap_diameter_mm=None, f0_hz=(1.0,) * 4)
