"""Brightness: a ratio that no gain moves, freed from the blow."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.acoustics.brightness import estimate_brightness, level_out, levelled, reference_centroid_hz
from strikeline.acoustics.listening import Note
from strikeline.measured import Measured

F_HZ = np.array([440.0, 881.0, 1323.0, 1768.0])
AMPLITUDE = np.array([1.0, 0.5, 0.25, 0.1])


def note(key: int, *, level_db: float | None, brightness: float | None) -> Note:
    return Note(
        key=key,
        onset_s=0.0,
        end_s=1.0,
        level_db=None if level_db is None else Measured(level_db, 0.1),
        brightness=None if brightness is None else Measured(brightness, 0.3),
    )


def brightness_of(amplitude: np.ndarray, *, noise: float = 0.01) -> Measured:
    found = estimate_brightness(F_HZ, amplitude, np.full(F_HZ.size, noise), key=49)
    assert found is not None
    return found


def test_brightness_is_the_centroid_in_semitones_above_the_reference() -> None:
    centroid_hz = np.sum(F_HZ * AMPLITUDE) / np.sum(AMPLITUDE)
    expected = 12.0 * np.log2(centroid_hz / reference_centroid_hz(49))
    assert_close(brightness_of(AMPLITUDE).value, expected, rtol=0, atol=1e-12, why="the definition")


@pytest.mark.parametrize("gain", [1e-9, 1e6])
def test_gain_cancels(gain: float) -> None:
    quiet = estimate_brightness(F_HZ, gain * AMPLITUDE, np.full(4, gain * 0.01), key=49)
    assert quiet is not None
    assert_close(quiet.value, brightness_of(AMPLITUDE).value, rtol=0, atol=1e-9, why="a ratio of amplitudes")
    assert_close(quiet.se, brightness_of(AMPLITUDE).se, rtol=1e-9, atol=0, why="a ratio of amplitudes")


def test_a_stronger_upper_partial_is_brighter() -> None:
    assert brightness_of(AMPLITUDE * [1, 1, 1, 2]).value > brightness_of(AMPLITUDE).value


def test_the_error_is_that_of_noisy_amplitudes_with_the_repeatability_of_blows() -> None:
    rng = np.random.default_rng(1)
    values = [brightness_of(AMPLITUDE + 0.05 * rng.standard_normal(4)).value for _ in range(2000)]
    from_noise = np.sqrt(brightness_of(AMPLITUDE, noise=0.05).se ** 2 - brightness_of(AMPLITUDE, noise=0.0).se ** 2)
    assert_close(np.std(values), from_noise, rtol=0.1, atol=0, why="2000 trials: 1.6 %; the rest is curvature")


@pytest.mark.parametrize("k", [0, 1])
def test_fewer_than_two_partials_have_no_brightness(k: int) -> None:
    assert estimate_brightness(F_HZ[:k], AMPLITUDE[:k], AMPLITUDE[:k], key=49) is None


def test_the_reference_runs_smoothly_over_every_key() -> None:
    centroid_hz = np.array([reference_centroid_hz(key) for key in range(-8, 98)])
    assert np.all(np.diff(centroid_hz) >= 0.0)
    assert np.max(np.diff(np.log2(centroid_hz))) < 1.5 / 12, "no step of more than one and a half semitones"


def test_levelling_takes_off_what_a_harder_blow_adds() -> None:
    plain = Measured(2.0, 0.3)
    assert levelled(plain, key=40, louder_db=0.0) == plain
    louder, softer = levelled(plain, key=40, louder_db=4.0), levelled(plain, key=40, louder_db=-4.0)
    assert louder.value < plain.value < softer.value
    assert_close(louder.value + softer.value, 2 * plain.value, rtol=1e-12, atol=0, why="a straight line")
    assert louder.se > plain.se, "the slope is not known exactly"


def test_a_pass_is_levelled_against_neighbours_and_single_notes_stay() -> None:
    even = [note(key, level_db=-20.0, brightness=0.0) for key in range(40, 51)]
    loud = note(45, level_db=-16.0, brightness=3.0)
    out = level_out([*even[:5], loud, *even[6:]])
    assert out[5].brightness == levelled(Measured(3.0, 0.3), key=45, louder_db=4.0)
    assert out[0].brightness == Measured(0.0, 0.3)
    assert level_out([loud]) == (loud,), "nobody to compare with"


def test_a_note_without_level_or_brightness_passes_through() -> None:
    even = [note(key, level_db=-20.0, brightness=0.0) for key in range(40, 51)]
    dumb = [note(60, level_db=None, brightness=1.0), note(45, level_db=-10.0, brightness=None)]
    assert level_out([*even, *dumb])[-2:] == tuple(dumb)
