"""The listening use case on an invented piano, through the real ear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.sounds import MemorySound

from strikeline.acoustics.listening import Kind, Listening
from strikeline.errors import InputError, SignalError
from strikeline.keyboard import FULL_COMPASS, Compass
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import DisturbanceKind, play
from strikeline.synthesis.rendering import render_pass
from strikeline.workshop import hearing
from strikeline.workshop.hearing import mono, stretches
from strikeline.workshop.listening import Interrupted, listen
from strikeline.workshop.ports import Progress

RATE_HZ = 44100
KEYS = (40, 41, 42, 43, 44)


@pytest.fixture(scope="module")
def samples() -> NDArray[np.float32]:
    """A pass of five notes with a door after the second."""
    performance = play(KEYS, speed_m_per_s=2.5, seed=5, length_ratio=0.5)
    with_door = performance.interrupted(DisturbanceKind.DOOR, after_blow=1, duration_s=1.0, peak_db=-15.0)
    grand = piano(compass=FULL_COMPASS, seed=5, pitch_level_cents=4.0)
    return render_pass(grand, with_door, sample_rate_hz=RATE_HZ, seed=5).samples


def heard(
    source: MemorySound,
    *,
    kind: Kind = Kind.PASS,
    note: int | None = None,
    compass: Compass | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> Listening:
    return listen(source, kind=kind, note=note, compass=compass, a4_hz=a4_hz, analyser="test", progress=progress)


def test_every_note_of_a_pass_is_named_and_measured_in_the_order_of_time(samples: NDArray[np.float32]) -> None:
    listening = heard(MemorySound(samples, sample_rate_hz=RATE_HZ))
    assert tuple(note.key for note in listening.notes) == KEYS
    assert all(note.f0_hz is not None for note in listening.notes)
    assert_close(
        listening.recording.duration_s, len(samples) / RATE_HZ, rtol=0, atol=1e-6, why="counted samples, rounding only"
    )


def test_sounds_that_are_no_note_are_left_out_and_counted(samples: NDArray[np.float32]) -> None:
    warnings = heard(MemorySound(samples, sample_rate_hz=RATE_HZ)).recording.warnings
    (warning,) = [one for one in warnings if "left out" in one]
    assert "1 sound was left out, no piano note was recognised in it (talk, a door, a damper): at 0:0" in warning


def test_a_long_recording_is_read_again_and_gives_the_same(
    samples: NDArray[np.float32], monkeypatch: pytest.MonkeyPatch
) -> None:
    once = MemorySound(samples, sample_rate_hz=RATE_HZ)
    kept = heard(once)
    monkeypatch.setattr(hearing, "_KEPT_VALUES", RATE_HZ)
    twice = MemorySound(samples, sample_rate_hz=RATE_HZ)
    assert heard(twice) == kept
    assert twice.n_samples_read == once.n_samples_read + len(samples)


def test_progress_never_falls_and_ends_at_the_whole(samples: NDArray[np.float32]) -> None:
    told: list[tuple[float, str]] = []
    heard(MemorySound(samples, sample_rate_hz=RATE_HZ), progress=lambda fraction, words: told.append((fraction, words)))
    fractions = [fraction for fraction, _ in told]
    assert fractions == sorted(fractions)
    assert fractions[-1] == 1.0
    assert any("measuring note" in words for _, words in told)


@pytest.mark.parametrize(("words", "n_least"), [("listening, 0:05", 1), ("measuring note 3", 5)])
def test_stopping_keeps_what_was_found(samples: NDArray[np.float32], words: str, n_least: int) -> None:
    def stop(_fraction: float, told: str) -> None:
        if told.startswith(words):
            raise KeyboardInterrupt

    with pytest.raises(Interrupted) as stopped:
        heard(MemorySound(samples, sample_rate_hz=RATE_HZ), progress=stop)
    so_far = stopped.value.so_far
    assert so_far is not None
    assert so_far.recording.is_partial
    assert len(so_far.notes) >= n_least
    assert {note.key for note in so_far.notes} <= set(KEYS)
    assert "stopped by the user" in so_far.recording.warnings[0]
    waiting = [note for note in so_far.notes if note.f0_hz is None]
    assert waiting
    assert all("stopped by the user" in note.cannot_tell[0] for note in waiting)


def test_a_file_that_broke_off_gives_a_partial_listening_with_the_reason(samples: NDArray[np.float32]) -> None:
    source = MemorySound(samples, sample_rate_hz=RATE_HZ, broke_off="the file ends after 7.0 s of 20.0 s")
    recording = heard(source).recording
    assert recording.is_partial
    assert any("7.0 s of 20.0 s" in warning for warning in recording.warnings)


def test_silence_and_emptiness_are_refused() -> None:
    for n_samples in (0, 3 * RATE_HZ):
        with pytest.raises(SignalError, match="silent"):
            heard(MemorySound(np.zeros(n_samples), sample_rate_hz=RATE_HZ))


def test_steady_noise_holds_no_strike() -> None:
    noise = 0.01 * np.random.default_rng(1).standard_normal(10 * RATE_HZ)
    with pytest.raises(SignalError):
        heard(MemorySound(noise, sample_rate_hz=RATE_HZ))


def test_a_note_is_the_loudest_strike_and_the_others_are_told(samples: NDArray[np.float32]) -> None:
    louder = samples.copy()
    third = slice(round(4.9 * RATE_HZ), round(6.0 * RATE_HZ))
    louder[third] *= 3.0
    listening = heard(MemorySound(louder, sample_rate_hz=RATE_HZ), kind=Kind.NOTE)
    assert len(listening.notes) == 1
    assert any("strikes were found where one note was expected" in w for w in listening.recording.warnings)


@pytest.mark.parametrize("a4_hz", [0.0, 300.0, 500.0, float("nan"), float("inf")])
def test_an_impossible_a4_is_refused(a4_hz: float) -> None:
    with pytest.raises(InputError, match="a4_hz"):
        heard(MemorySound(np.zeros(10), sample_rate_hz=RATE_HZ), a4_hz=a4_hz)


def test_a_note_goes_with_kind_note_only() -> None:
    with pytest.raises(InputError, match="kind"):
        heard(MemorySound(np.zeros(10), sample_rate_hz=RATE_HZ), note=49)


def test_the_channel_is_judged_by_half_minutes_that_hold_sound() -> None:
    rate = 1000
    silent, sounding = np.zeros((40 * rate, 2)), np.full((50 * rate, 2), 0.5)
    source = MemorySound(np.concatenate([silent, sounding]), sample_rate_hz=rate)
    found = list(stretches(source))
    assert [len(stretch) for stretch in found] == [30 * rate, 20 * rate]
    assert min(stretch.min() for stretch in found) == 0.5


def test_a_channel_that_is_dead_until_the_piano_begins_is_judged_by_the_piano(samples: NDArray[np.float32]) -> None:
    noise = 1e-3 * np.random.default_rng(2).standard_normal(45 * RATE_HZ).astype(np.float32)
    late = np.concatenate([noise, samples])
    source = MemorySound(np.stack([np.zeros_like(late), late], axis=1), sample_rate_hz=RATE_HZ)
    listening = heard(source)
    assert tuple(note.key for note in listening.notes) == KEYS


def test_notes_that_clip_are_marked_and_others_are_not(samples: NDArray[np.float32]) -> None:
    first_end = round(2.2 * RATE_HZ)
    clipped = samples / np.abs(samples).max() * 0.9
    clipped[:first_end] = np.clip(clipped[:first_end] * 20.0, -1.0, 1.0)
    notes = heard(MemorySound(clipped, sample_rate_hz=RATE_HZ)).notes
    assert "clipped" in notes[0].notices
    assert all("clipped" not in note.notices for note in notes[2:])


def test_only_chosen_channels_are_heard() -> None:
    class Choice:
        weights = np.array([0.0, 1.0])

    stereo = np.stack([np.full(1500, 0.25), np.full(1500, 0.5)], axis=1)
    source = MemorySound(stereo, sample_rate_hz=1000)
    joined = np.concatenate(list(mono(source, Choice())))  # type: ignore[arg-type]  # only the weights are read
    assert_close(joined, np.full(1500, 0.5), rtol=0, atol=0, why="a copy of one channel")
    Choice.weights = np.array([0.5, 0.5])
    joined = np.concatenate(list(mono(source, Choice())))  # type: ignore[arg-type]  # only the weights are read
    assert_close(joined, np.full(1500, 0.375), rtol=0, atol=1e-7, why="rounding of float32")


def test_two_keys_struck_together_are_named_and_not_measured_as_one() -> None:
    performance = play(KEYS, speed_m_per_s=2.5, seed=5, length_ratio=0.5)
    third = performance.blows[2]
    chord = replace(performance, blows=(*performance.blows, replace(third, key=46, at_s=third.at_s + 0.01)))
    grand = piano(compass=FULL_COMPASS, seed=5, pitch_level_cents=4.0)
    samples = render_pass(grand, chord, sample_rate_hz=RATE_HZ, seed=5).samples
    listening = heard(MemorySound(samples, sample_rate_hz=RATE_HZ))
    (both,) = [note for note in listening.notes if "two notes at once: D4 and F#4" in note.notices]
    assert both.key == 42
    assert both.f0_hz is None
    assert both.cannot_tell == ("everything: two notes at once: D4 and F#4",)


def test_a_pass_with_the_pedal_down_is_warned_of_and_told_only_as_far_as_it_can_be() -> None:
    keys = tuple(range(36, 46))
    performance = play(keys, speed_m_per_s=2.5, seed=6, length_ratio=0.5)
    grand = piano(compass=FULL_COMPASS, seed=6, pitch_level_cents=4.0)
    pedal = performance.with_pedal_down(from_s=0.0, to_s=performance.duration_s)
    listening = heard(
        MemorySound(render_pass(grand, pedal, sample_rate_hz=RATE_HZ, seed=6).samples, sample_rate_hz=RATE_HZ)
    )
    assert any("the sustain pedal was down" in warning for warning in listening.recording.warnings)
    assert all(note.singing_s is None and note.sustain_db_per_s is None for note in listening.notes)
    assert sum(note.f0_hz is not None for note in listening.notes) >= 9
