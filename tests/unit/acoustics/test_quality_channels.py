"""Which channel is listened to, and why."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.quality import choose_channel
from strikeline.errors import InputError

RATE = 44100


def notes(*, rate: int = RATE, seconds: float = 8.0, delay_s: float = 0.0) -> NDArray[np.float32]:
    """Return four struck notes of falling loudness, shape (n,), heard `delay_s` later."""
    t_s = np.arange(round(seconds * rate)) / rate - delay_s
    sound = np.zeros(len(t_s))
    for number, f0_hz in enumerate((65.4, 196.0, 523.3, 1760.0)):
        since_s = t_s - 0.4 - number * seconds / 4
        for partial in range(1, 9):
            f_hz = partial * f0_hz * np.sqrt(1 + 4e-4 * partial**2)
            if f_hz < 0.45 * rate:
                decay = np.exp(-np.maximum(since_s, 0) * (1.5 + 0.4 * partial + f0_hz / 400))
                sound += np.where(since_s > 0, 0.1 / partial * decay * np.sin(2 * np.pi * f_hz * since_s), 0.0)
    return sound.astype(np.float32)


def noise(n_samples: int, level: float, *, seed: int = 1) -> NDArray[np.float32]:
    return (level * np.random.default_rng(seed).standard_normal(n_samples)).astype(np.float32)


def stereo(left: NDArray[np.float32], right: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.stack([left, right], axis=1)


SOUND = notes()
CLEAN = SOUND + noise(len(SOUND), 1e-4)


def test_one_channel_is_taken_as_it_is() -> None:
    choice = choose_channel(CLEAN[:, None], sample_rate_hz=RATE)
    assert choice.weights.tolist() == [1.0]
    assert choice.is_certain
    assert choice.warnings == ()


@pytest.mark.parametrize(
    ("nothing", "words"),
    [
        (np.zeros_like(CLEAN), "right channel is dead"),
        (np.full_like(CLEAN, 0.1), "right channel is dead"),
        (noise(len(CLEAN), 2e-5), "right channel holds only noise"),
        (noise(len(CLEAN), 0.3), "right channel holds only noise"),
    ],
    ids=["zeros", "DC", "dither", "loud noise"],
)
def test_a_dead_channel_is_left_out_and_named(nothing: NDArray[np.float32], words: str) -> None:
    choice = choose_channel(stereo(CLEAN, nothing), sample_rate_hz=RATE)
    assert choice.weights.tolist() == [1.0, 0.0]
    assert len(choice.warnings) == 1
    assert words in choice.warnings[0]
    assert choice.is_certain
    mirrored = choose_channel(stereo(nothing, CLEAN), sample_rate_hz=RATE)
    assert mirrored.weights.tolist() == [0.0, 1.0]
    assert words.replace("right", "left") in mirrored.warnings[0]


def test_two_copies_are_averaged() -> None:
    choice = choose_channel(stereo(CLEAN, CLEAN), sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.5, 0.5]
    assert "same sound" in choice.reason
    assert choice.warnings == ()


def test_copies_with_noise_of_their_own_are_averaged_which_lowers_the_noise() -> None:
    both = stereo(SOUND + noise(len(SOUND), 1e-4, seed=1), SOUND + noise(len(SOUND), 1e-4, seed=2))
    choice = choose_channel(both, sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.5, 0.5]
    left_over = np.std(both @ choice.weights - SOUND) / np.std(both[:, 0] - SOUND)
    assert_close(left_over, np.sqrt(0.5), rtol=0.02, atol=0, why="independent noise adds in power")


def test_a_copy_upside_down_never_cancels() -> None:
    both = stereo(CLEAN, -CLEAN)
    choice = choose_channel(both, sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.5, -0.5]
    assert "upside down" in choice.warnings[0]
    assert_close(both @ choice.weights, CLEAN, rtol=1e-6, atol=0, why="turned round, then averaged")


def test_the_channel_with_less_noise_is_taken() -> None:
    both = stereo(SOUND + noise(len(SOUND), 3e-3), 0.3 * SOUND + noise(len(SOUND), 2e-5, seed=2))
    choice = choose_channel(both, sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.0, 1.0]
    assert choice.reason.startswith("right channel")


def test_two_microphones_in_two_places_are_not_averaged() -> None:
    """A path difference of 0.2 m delays one of them by 0.58 ms; averaging would cancel 860 Hz and its odd multiples."""
    other = notes(delay_s=0.2 / 343.0) + noise(len(SOUND), 1e-4, seed=2)
    choice = choose_channel(stereo(CLEAN, other), sample_rate_hz=RATE)
    assert sorted(choice.weights.tolist()) == [0.0, 1.0]


def test_a_louder_copy_is_taken_alone() -> None:
    choice = choose_channel(stereo(0.3 * CLEAN, CLEAN), sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.0, 1.0]


def test_a_clipped_channel_yields_to_one_that_is_not() -> None:
    clipped = np.clip(8 * CLEAN, -0.5, 0.5)
    quieter = 0.3 * SOUND + noise(len(SOUND), 1e-4, seed=3)
    assert choose_channel(stereo(clipped, quieter), sample_rate_hz=RATE).weights.tolist() == [0.0, 1.0]


def test_four_channels_with_one_pair_of_copies() -> None:
    samples = np.stack([np.zeros_like(CLEAN), CLEAN, noise(len(CLEAN), 1e-3), -CLEAN], axis=1)
    choice = choose_channel(samples, sample_rate_hz=RATE)
    assert choice.weights.tolist() == [0.0, 0.5, 0.0, -0.5]
    assert len(choice.warnings) == 3


@pytest.mark.parametrize(
    "silence", [np.zeros((RATE, 2), np.float32), stereo(noise(RATE, 1e-3), noise(RATE, 1e-3, seed=2))]
)
def test_without_sound_the_choice_is_uncertain(silence: NDArray[np.float32]) -> None:
    choice = choose_channel(silence, sample_rate_hz=RATE)
    assert not choice.is_certain
    assert sorted(choice.weights.tolist()) == [0.0, 1.0]


@pytest.mark.parametrize("n_samples", [1, 2, 100, 2047])
def test_a_snippet_is_taken_without_certainty(n_samples: int) -> None:
    choice = choose_channel(stereo(CLEAN[:n_samples], CLEAN[:n_samples]), sample_rate_hz=RATE)
    assert not choice.is_certain
    assert sorted(choice.weights.tolist()) == [0.0, 1.0]


@pytest.mark.parametrize("rate", [8000, 192000])
def test_any_rate_will_do(rate: int) -> None:
    sound = notes(rate=rate, seconds=4.0)
    both = stereo(noise(len(sound), 1e-3), sound + noise(len(sound), 1e-4, seed=2))
    assert choose_channel(both, sample_rate_hz=rate).weights.tolist() == [0.0, 1.0]


@pytest.mark.parametrize(
    "samples", [np.zeros(10, np.float32), np.zeros((0, 2), np.float32), np.zeros((10, 0), np.float32)]
)
def test_another_shape_is_refused(samples: NDArray[np.float32]) -> None:
    with pytest.raises(InputError, match="shape"):
        choose_channel(samples, sample_rate_hz=RATE)


def test_values_that_are_not_finite_are_refused() -> None:
    with pytest.raises(InputError, match="not finite"):
        choose_channel(np.full((100, 2), np.nan, np.float32), sample_rate_hz=RATE)


CASES = {
    "noisy left": stereo(SOUND + noise(len(SOUND), 3e-3), SOUND + noise(len(SOUND), 1e-4, seed=2)),
    "copies": stereo(CLEAN, CLEAN),
    "inverted": stereo(CLEAN, -CLEAN),
    "two places": stereo(CLEAN, 0.5 * notes(delay_s=1e-3) + noise(len(SOUND), 2e-3, seed=2)),
    "dead right": stereo(CLEAN, noise(len(SOUND), 1e-5)),
}


@settings(max_examples=8, deadline=None)
@given(gain_db=st.floats(-20, 12), shift=st.integers(0, 40000), case=st.sampled_from(sorted(CASES)))
def test_neither_gain_nor_time_changes_the_choice(gain_db: float, shift: int, case: str) -> None:
    samples = CASES[case]
    changed = np.roll(samples, shift, axis=0) * np.float32(10 ** (gain_db / 20))
    before, after = (choose_channel(version, sample_rate_hz=RATE) for version in (samples, changed))
    np.testing.assert_array_equal(after.weights, before.weights)


@pytest.mark.parametrize("case", ["noisy left", "copies", "two places", "dead right"])
def test_swapping_the_channels_swaps_the_weights(case: str) -> None:
    samples = CASES[case]
    before = choose_channel(samples, sample_rate_hz=RATE)
    after = choose_channel(np.ascontiguousarray(samples[:, ::-1]), sample_rate_hz=RATE)
    np.testing.assert_array_equal(after.weights, before.weights[::-1])
