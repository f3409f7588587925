"""Reading sound of every kind: the same samples, at the same time, in blocks."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.media.encoding import clicks, decaying_note, encode, write_pcm

from strikeline.errors import InputError
from strikeline.media.sound import SoundFile, open_sound, write_wav
from strikeline.workshop.ports import SoundSource

CODINGS = {
    "wav 16 bit": ("a.wav", "pcm_s16le", {}),
    "wav 24 bit": ("a.wav", "pcm_s24le", {}),
    "wav float": ("a.wav", "pcm_f32le", {}),
    "flac": ("a.flac", "flac", {}),
    "ogg opus": ("a.ogg", "libopus", {}),
    "mp3": ("a.mp3", "libmp3lame", {}),
    "m4a aac": ("a.m4a", "aac", {"container": "ipod"}),
    "m4a alac": ("a.m4a", "alac", {"container": "ipod"}),
    "mp4 aac": ("a.mp4", "aac", {}),
    "mp4 aac with index first": ("a.mp4", "aac", {"options": {"movflags": "faststart"}}),
    "mp4 video": ("a.mp4", "aac", {"picture": "mpeg4"}),
    "mov video": ("a.mov", "aac", {"picture": "mpeg4"}),
    "webm opus": ("a.webm", "libopus", {}),
    "webm video": ("a.webm", "libopus", {"picture": "libvpx"}),
    "mkv flac": ("a.mkv", "flac", {"container": "matroska"}),
    "aiff": ("a.aiff", "pcm_s16be", {}),
}


def read(sound: SoundSource) -> NDArray[np.float32]:
    return np.concatenate(list(sound.blocks()))


def shift_samples(heard: NDArray[np.float32], truth: NDArray[np.float32]) -> int:
    """Return the shift at the peak of the cross-correlation."""
    size = 2 * max(len(heard), len(truth))
    spectrum = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(truth, size))
    lag = int(np.argmax(np.fft.irfft(spectrum)))
    return lag if lag < size // 2 else lag - size


@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize("n_channels", [1, 2])
def test_every_coding_gives_the_blows_at_their_time_and_level(tmp_path: Path, coding: str, n_channels: int) -> None:
    name, codec, kwargs = CODINGS[coding]
    rate = 48000 if "opus" in codec else 44100
    truth = clicks(rate, n_channels=n_channels)
    path = encode(tmp_path / name, truth, sample_rate_hz=rate, codec=codec, **kwargs)  # type: ignore[arg-type]
    sound = open_sound(path)
    heard = read(sound)
    assert (sound.sample_rate_hz, sound.n_channels) == (rate, n_channels)
    assert heard.dtype == np.float32
    assert sound.broke_off is None
    assert sound.codec.name == codec.removeprefix("lib").replace("mp3lame", "mp3")
    assert sound.codec.is_lossy == (sound.codec.name in {"opus", "mp3", "aac"})
    assert abs(len(heard) - len(truth)) <= 2048, "an AAC file ends with up to two frames of padding"
    for channel in range(n_channels):
        assert shift_samples(heard[:, channel], truth[:, channel]) == 0
    assert_close(np.abs(heard).max(), np.abs(truth).max(), rtol=0.1, atol=0, why="lossy coding alters a blow by < 1 dB")
    assert sound.duration_s is not None
    assert_close(sound.duration_s, 4.0, rtol=0, atol=0.05, why="stated to the frame")


def test_ogg_vorbis_is_read_in_place(tmp_path: Path) -> None:
    truth = clicks(44100, n_channels=2)
    path = write_pcm(tmp_path / "a.ogg", truth, sample_rate_hz=44100, subtype="VORBIS")
    sound = open_sound(path)
    assert shift_samples(read(sound)[:, 1], truth[:, 1]) == 0
    assert sound.codec.name == "vorbis"
    assert sound.codec.is_lossy
    assert sound.broke_off is None


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("n_channels", [1, 2, 3, 7, 12])
def test_lossless_samples_equal_those_of_another_reader_to_the_last_bit(
    tmp_path: Path, subtype: str, n_channels: int
) -> None:
    import soundfile

    samples = np.random.default_rng(3).uniform(-1, 1, (5000, n_channels))
    path = write_pcm(tmp_path / "a.wav", samples, sample_rate_hz=48000, subtype=subtype)
    expected, _ = soundfile.read(path, dtype="float32", always_2d=True)
    np.testing.assert_array_equal(read(open_sound(path)), expected)


@pytest.mark.parametrize("rate", [8000, 11025, 96000, 192000])
@pytest.mark.parametrize("suffix", ["wav", "flac"])
def test_the_native_rate_is_kept(tmp_path: Path, rate: int, suffix: str) -> None:
    samples = decaying_note(rate, seconds=2.2)
    sound = open_sound(write_pcm(tmp_path / f"a.{suffix}", samples, sample_rate_hz=rate))
    assert sound.sample_rate_hz == rate
    assert [len(block) for block in sound.blocks()] == [rate, rate, len(samples) - 2 * rate]


def test_telephone_coding_counts_as_lossy(tmp_path: Path) -> None:
    sound = open_sound(write_pcm(tmp_path / "a.wav", decaying_note(8000), sample_rate_hz=8000, subtype="ULAW"))
    assert sound.codec.is_lossy
    assert not open_sound(write_pcm(tmp_path / "b.wav", decaying_note(8000), sample_rate_hz=8000)).codec.is_lossy


def test_the_sound_may_be_read_twice_and_an_abandoned_reading_does_no_harm(tmp_path: Path) -> None:
    sound = open_sound(write_pcm(tmp_path / "a.flac", decaying_note(44100), sample_rate_hz=44100))
    first = read(sound)
    begun = sound.blocks()
    next(begun)
    del begun
    np.testing.assert_array_equal(read(sound), first)


def test_the_hash_is_that_of_the_file(tmp_path: Path) -> None:
    path = write_pcm(tmp_path / "a.flac", decaying_note(44100), sample_rate_hz=44100)
    assert open_sound(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_long_file_is_never_held_in_memory(tmp_path: Path, peak_growth_bytes: Callable[[str], int]) -> None:
    """Ten minutes of stereo float would be 230 MB; reading grows a fresh process by far less."""
    path = write_pcm(tmp_path / "a.wav", np.zeros((600 * 48000, 2), np.int16), sample_rate_hz=48000)
    assert peak_growth_bytes(str(path)) < 30e6


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    n_samples=st.integers(1, 3000),
    n_channels=st.integers(1, 5),
    rate=st.sampled_from([8000, 44100, 192000]),
    seed=st.integers(0, 2**32 - 1),
)
def test_what_is_written_is_read_again_within_half_a_24_bit_step(
    tmp_path: Path, n_samples: int, n_channels: int, rate: int, seed: int
) -> None:
    samples = np.random.default_rng(seed).uniform(-1, 1, (n_samples, n_channels))
    samples.flat[0] = 1.0
    write_wav(tmp_path / "a.wav", samples, sample_rate_hz=rate)
    sound = open_sound(tmp_path / "a.wav")
    assert sound.sample_rate_hz == rate
    assert sound.broke_off is None
    why = "half a step of 2⁻²³, a whole one at +1, and float32 rounding"
    assert_close(read(sound), samples, rtol=6e-8, atol=2.0**-23, why=why)


@pytest.mark.parametrize(
    ("samples", "match"),
    [
        (np.array([0.0, np.nan]), "peak"),
        (np.array([0.0, 1.1]), "peak"),
        (np.zeros((2, 2, 2)), "ndim"),
        (np.zeros((4, 0)), "channels"),
    ],
)
def test_sound_that_a_wav_cannot_hold_is_refused(tmp_path: Path, samples: NDArray[np.float64], match: str) -> None:
    with pytest.raises(InputError, match=match):
        write_wav(tmp_path / "a.wav", samples, sample_rate_hz=44100)
    assert list(tmp_path.iterdir()) == []


def test_a_sound_file_fulfils_the_port(tmp_path: Path) -> None:
    sound: SoundSource = open_sound(write_pcm(tmp_path / "a.wav", decaying_note(8000), sample_rate_hz=8000))
    assert isinstance(sound, SoundFile)
    assert sound.codec.bit_rate == 8000 * 16
