"""Files that are wrong: a clear error, or what is whole with a word about the rest."""

from __future__ import annotations

import errno
import struct
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.media.encoding import clicks, decaying_note, encode, silent_video, write_pcm

from strikeline.errors import NotFoundError, SignalError, StoreError
from strikeline.media.sound import open_sound

RATE = 44100


def read(path: Path) -> tuple[NDArray[np.float32], str | None]:
    sound = open_sound(path)
    return np.concatenate(list(sound.blocks())), sound.broke_off


def cut(path: Path, share: float) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    return path


def with_data_size(path: Path, size: int) -> Path:
    data = bytearray(path.read_bytes())
    at = data.find(b"data") + 4
    data[at : at + 4] = struct.pack("<I", size)
    path.write_bytes(data)
    return path


def test_a_missing_file_is_not_found(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no such file"):
        open_sound(tmp_path / "nothing.wav")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="it is a folder"):
        open_sound(tmp_path)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.wav").touch()
    with pytest.raises(StoreError, match="file is empty"):
        open_sound(tmp_path / "a.wav")


def test_a_file_without_permission_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_pcm(tmp_path / "a.wav", clicks(RATE), sample_rate_hz=RATE)

    def refuse(self: Path, *_args: object, **_kwargs: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(self))

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(StoreError, match="permission is denied"):
        open_sound(path)


@pytest.mark.parametrize("name", ["a.wav", "a.mp3", "a.flac", "a.ogg", "a.m4a", "a.aac", "a.webm", "a"])
@pytest.mark.parametrize(
    "content",
    [b"Dear owner, the piano is fine.\n" * 300, bytes(5000), np.random.default_rng(5).bytes(5000), b"R"],
    ids=["a letter", "zeros", "random bytes", "one byte"],
)
def test_what_is_no_sound_is_refused_whatever_its_name(
    tmp_path: Path, name: str, content: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises((StoreError, SignalError), match=r"not a sound or video file|holds no sound|without sound"):
        open_sound(tmp_path / name)
    assert capfd.readouterr() == ("", "")


def test_a_playlist_cannot_make_us_open_other_files(tmp_path: Path) -> None:
    other = write_pcm(tmp_path / "other.wav", clicks(RATE), sample_rate_hz=RATE)
    playlist = f"#EXTM3U\n#EXT-X-TARGETDURATION:4\n#EXTINF:4,\nfile://{other}\n#EXT-X-ENDLIST\n"
    for name in ("a.m3u8", "a.wav"):
        (tmp_path / name).write_text(playlist)
        with pytest.raises(StoreError, match="not a sound or video file"):
            open_sound(tmp_path / name)


def test_a_video_without_sound_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="video without sound"):
        open_sound(silent_video(tmp_path / "a.mp4"))


@pytest.mark.parametrize("name", ["a.mp4", "a.mov", "a.m4a"])
def test_an_mp4_whose_index_is_missing_is_refused_with_the_way_out(tmp_path: Path, name: str) -> None:
    path = encode(tmp_path / name, clicks(RATE), sample_rate_hz=RATE, codec="aac")
    with pytest.raises(StoreError, match="moov"):
        open_sound(cut(path, 0.6))


def test_a_wav_without_samples_is_refused(tmp_path: Path) -> None:
    path = write_pcm(tmp_path / "a.wav", np.zeros((0, 1)), sample_rate_hz=RATE)
    with pytest.raises(SignalError, match="holds no sound"):
        open_sound(path)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_a_wav_that_breaks_off_gives_what_is_whole_and_says_so(tmp_path: Path, subtype: str) -> None:
    truth = decaying_note(RATE, seconds=4.0)
    path = cut(write_pcm(tmp_path / "a.wav", truth, sample_rate_hz=RATE, subtype=subtype), 0.6)
    samples, broke_off = read(path)
    assert_close(len(samples) / RATE, 2.4, rtol=0, atol=0.01, why="60 % of 4 s less the header")
    assert_close(samples[:, 0], truth[: len(samples)], rtol=0, atol=1.01 / 2**15, why="one 16-bit step")
    assert broke_off is not None
    assert "breaks off after 2.4 s of the 4.0 s" in broke_off
    assert_close(open_sound(path).duration_s or 0.0, 2.4, rtol=0, atol=0.01, why="what is there, not what is announced")


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF, 0x7FFFFFFF])
def test_a_wav_of_a_streaming_recorder_is_whole(tmp_path: Path, size: int) -> None:
    path = write_pcm(tmp_path / "a.wav", decaying_note(RATE, seconds=2.0), sample_rate_hz=RATE)
    samples, broke_off = read(with_data_size(path, size))
    assert len(samples) == 2 * RATE
    assert broke_off is None
    assert_close(open_sound(path).duration_s or 0.0, 2.0, rtol=0, atol=1e-3, why="from the size of the file")


def test_a_wav_that_promises_more_than_there_is_says_so(tmp_path: Path) -> None:
    path = write_pcm(tmp_path / "a.wav", decaying_note(RATE, seconds=2.0), sample_rate_hz=RATE)
    samples, broke_off = read(with_data_size(path, 10 * RATE * 2))
    assert len(samples) == 2 * RATE
    assert broke_off is not None
    assert "2.0 s of the 10.0 s" in broke_off


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("a.flac", "flac", {}),
        ("a.mp3", "libmp3lame", {}),
        ("a.ogg", "libopus", {}),
        ("a.mp4", "aac", {"movflags": "faststart"}),
        ("a.webm", "libopus", {}),
        ("a.aiff", "pcm_s16be", {}),
        ("a.w64", "pcm_s16le", {}),
    ],
)
def test_other_files_that_break_off_do_the_same(tmp_path: Path, name: str, codec: str, options: dict[str, str]) -> None:
    rate = 48000
    truth = decaying_note(rate, seconds=6.0)
    path = encode(tmp_path / name, truth, sample_rate_hz=rate, codec=codec, options=options)
    whole, nothing_said = read(path)
    assert nothing_said is None
    samples, broke_off = read(cut(path, 0.6))
    assert broke_off is not None
    assert 0.3 * len(whole) < len(samples) < 0.8 * len(whole)
    inside = len(samples) - 4096
    assert_close(samples[:inside], whole[:inside], rtol=0, atol=1e-6, why="decoded just the same up to the cut")


def damaged_in_the_middle(path: Path) -> Path:
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 300] = np.random.default_rng(0).integers(0, 256, 300, dtype=np.uint8).tobytes()
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(("name", "codec"), [("a.flac", "flac"), ("a.m4a", "aac"), ("a.ogg", "libopus")])
def test_damage_in_the_middle_leaves_the_rest_in_place(tmp_path: Path, name: str, codec: str) -> None:
    path = encode(tmp_path / name, decaying_note(48000, seconds=8.0), sample_rate_hz=48000, codec=codec)
    whole, _ = read(path)
    samples, broke_off = read(damaged_in_the_middle(path))
    assert broke_off is not None
    assert len(samples) == len(whole), "what is lost is silent, so that everything after it keeps its time"
    tail = slice(int(0.8 * len(whole)), None)
    assert_close(samples[tail], whole[tail], rtol=0, atol=1e-3, why="the end is untouched by the damage")
    assert np.abs(samples).max() < 1.5 * np.abs(whole).max(), "damage is never played as noise"


def test_damage_in_the_middle_of_an_mp3_moves_the_rest_by_the_lost_frames_at_most(tmp_path: Path) -> None:
    """MP3 frames carry no time: a frame whose header is lost leaves no trace but the decoder's complaint."""
    path = encode(tmp_path / "a.mp3", decaying_note(48000, seconds=8.0), sample_rate_hz=48000, codec="libmp3lame")
    whole, _ = read(path)
    samples, broke_off = read(damaged_in_the_middle(path))
    assert broke_off is not None
    assert 0 <= len(whole) - len(samples) <= 3 * 1152, "300 bytes touch two or three frames of 384 bytes"


FRAGMENTED = {"movflags": "frag_keyframe+empty_moov+default_base_moof", "frag_duration": "500000"}


def test_a_recording_in_fragments_is_read_whole_and_up_to_where_it_breaks_off(tmp_path: Path) -> None:
    """Recorders in browsers write MP4 in fragments, so that an interrupted one can be read."""
    truth = decaying_note(48000, seconds=6.0)
    path = encode(tmp_path / "a.mp4", truth, sample_rate_hz=48000, codec="aac", options=FRAGMENTED)
    whole, nothing_said = read(path)
    assert nothing_said is None
    assert_close(len(whole) / 48000, 6.0, rtol=0, atol=0.05, why="to the frame")
    samples, broke_off = read(cut(path, 0.6))
    assert broke_off is not None
    assert 0.4 * len(whole) < len(samples) < 0.7 * len(whole)


def test_a_webm_of_a_browser_without_length_or_index_is_read(tmp_path: Path) -> None:
    truth = decaying_note(48000, seconds=3.0)
    path = encode(tmp_path / "a.webm", truth, sample_rate_hz=48000, codec="libopus", options={"live": "1"})
    samples, nothing_said = read(path)
    assert nothing_said is None
    assert open_sound(path).duration_s is None
    assert_close(len(samples) / 48000, 3.0, rtol=0, atol=0.03, why="to the frame")


def test_a_file_that_vanishes_while_it_is_in_use_is_not_found(tmp_path: Path) -> None:
    path = write_pcm(tmp_path / "a.wav", clicks(RATE), sample_rate_hz=RATE)
    sound = open_sound(path)
    path.unlink()
    with pytest.raises(NotFoundError, match="no such file"):
        next(sound.blocks())
    with pytest.raises(NotFoundError, match="no such file"):
        assert sound.sha256


def test_samples_that_are_not_numbers_become_zero_with_a_word(tmp_path: Path) -> None:
    samples = decaying_note(RATE, seconds=1.0)
    samples[100:103] = [np.nan, np.inf, -np.inf]
    heard, broke_off = read(write_pcm(tmp_path / "a.wav", samples, sample_rate_hz=RATE, subtype="FLOAT"))
    np.testing.assert_array_equal(heard[100:103, 0], 0.0)
    np.testing.assert_array_equal(heard[103:, 0], samples[103:])
    assert broke_off is not None
    assert "3 samples were not numbers" in broke_off


def test_reading_damage_says_nothing_on_standard_error(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for name, codec in (("a.mp3", "libmp3lame"), ("a.flac", "flac")):
        read(cut(encode(tmp_path / name, clicks(RATE), sample_rate_hz=RATE, codec=codec), 0.7))
    assert capfd.readouterr() == ("", "")
