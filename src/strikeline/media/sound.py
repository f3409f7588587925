"""Open a recorded sound of any common kind and read it in blocks, never held whole in memory."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import StoreError
from strikeline.media.completeness import announces_mp3_length, find_cut, lacks_index, wav_length_s
from strikeline.media.decoding import Decoding, opened
from strikeline.media.failures import error_in_words
from strikeline.media.wav import write_wav

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container.input import InputContainer

__all__ = ["Codec", "SoundFile", "open_sound", "write_wav"]

_LOSSLESS: Final = ("pcm_", "flac", "alac", "wavpack", "tta", "ape", "mlp", "truehd")
_LOSSY_PCM: Final = frozenset({"pcm_alaw", "pcm_mulaw", "pcm_vidc"})
"""Telephone codings of 8 bits: FFmpeg files them under PCM, but they are lossy."""
_EXACT_LENGTHS: Final = frozenset({"flac", "aiff", "caf", "au", "mov,mp4,m4a,3gp,3g2,mj2"})
"""Containers that state the length of the sound to the sample or frame."""
_SHORTFALL_S: Final = 0.15
"""Shortfalls below are the codec's frames (up to 93 ms for FLAC at 44.1 kHz) and paddings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Codec:
    """How a sound is coded in its file."""

    name: str
    """For example ``aac`` or ``pcm_s16le``."""
    is_lossy: bool
    bit_rate: int | None
    """Bits per second, ``None`` when the file does not say."""


class SoundFile:
    """A recorded sound in a file; made by `open_sound`.

    The file is not kept open: every call of `blocks` opens it anew. The sample rate and the channels are those of the
    file, full scale is ±1. Delays that encoders add (AAC and MP3 priming, Opus pre-skip) are taken out where the file
    records them, so that onsets stay in place; only a bare AAC stream (``.aac``) records none, and begins with about
    1024 samples too many. Time 0 is the first sample of sound, also in a video whose picture begins earlier.
    """

    def __init__(
        self, path: Path, *, sample_rate_hz: int, n_channels: int, duration_s: float | None, codec: Codec
    ) -> None:
        self.path = path
        self.sample_rate_hz = sample_rate_hz
        self.n_channels = n_channels
        self.duration_s = duration_s
        self.codec = codec
        self._broke_off: str | None = None
        self._sha256: str | None = None

    @property
    def sha256(self) -> str:
        """Hash of the file, hexadecimal; computed when first asked for, in pieces."""
        if self._sha256 is None:
            with _bytes_of(self.path) as file:
                self._sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        return self._sha256

    @property
    def broke_off(self) -> str | None:
        """What was damaged or missing, in words; known once `blocks` has been read to its end."""
        return self._broke_off

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Return the sound from its beginning as blocks (n, n_channels) of about 1 s.

        Damaged stretches are silent, samples that are not numbers are zero, and a sound that was cut short simply
        ends; `broke_off` then says so.

        Yields
        ------
        ndarray of float32, shape (n, n_channels)
            At most one second, except for silence in place of a damaged stretch.

        Raises
        ------
        NotFoundError, StoreError, SignalError
            As `open_sound`, if the file has changed since.
        """
        with opened(self.path) as (container, stream):
            decoding = Decoding(container, stream, self.path)
            promised_s = _promised_s(self.path, container, stream)
            yield from decoding.blocks()
        faults = list(decoding.damage)
        got_s = decoding.n_samples / decoding.sample_rate_hz
        with _bytes_of(self.path) as file:
            cut = find_cut(file)
        if cut is None and promised_s is not None and got_s < promised_s - _SHORTFALL_S:
            cut = f"the file breaks off after {got_s:.1f} s of the {promised_s:.1f} s it announces"
        if cut is not None:
            faults.insert(0, cut)
        self._broke_off = "; ".join(faults) or None


def open_sound(path: Path) -> SoundFile:
    """Open a sound or video file of any common kind: WAV, FLAC, OGG, MP3, M4A, AAC, MP4, MOV, WebM and their kin.

    The first moments are decoded to make sure that there is sound.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    SoundFile
        Fulfils `strikeline.workshop.ports.SoundSource`.

    Raises
    ------
    NotFoundError
        If there is no such file.
    StoreError
        If it may not be read, is a folder, is empty, or is no sound or video file with sound.
    SignalError
        If it is a sound file that holds not a single sample.
    """
    path = Path(path)
    _check(path)
    with opened(path) as (container, stream):
        decoding = Decoding(container, stream, path)
        context = stream.codec_context
        coding = context.codec.canonical_name  # "mp3", where the decoder at work may be called "mp3float"
        return SoundFile(
            path,
            sample_rate_hz=decoding.sample_rate_hz,
            n_channels=decoding.n_channels,
            duration_s=_duration_s(path, container, stream),
            codec=Codec(
                name=coding,
                is_lossy=coding in _LOSSY_PCM or not coding.startswith(_LOSSLESS),
                bit_rate=context.bit_rate or container.bit_rate or None,
            ),
        )


@contextmanager
def _bytes_of(path: Path) -> Iterator[BufferedReader]:
    """Open a file for reading; what fails on the way is said in words."""
    try:
        with path.open("rb") as file:
            yield file
    except OSError as error:
        raise error_in_words(error, path, doing="read") from error


def _check(path: Path) -> None:
    """Refuse what cannot be a sound file, saying why."""
    if path.is_dir():
        raise StoreError(f"cannot read {path}: it is a folder; name a sound file in it")
    with _bytes_of(path) as file:
        if not file.read(1):
            raise StoreError(f"cannot read {path}: the file is empty; copy it again from the recorder")
        if lacks_index(file):
            raise StoreError(
                f"cannot read {path}: the recording was never closed, its index (moov) is missing; "
                "copy it again from the phone, or mend it with a program that rebuilds MP4 files"
            )


def _duration_s(path: Path, container: InputContainer, stream: AudioStream) -> float | None:
    """Return the length the file claims; for a WAV what it really holds."""
    with _bytes_of(path) as file:
        wav_s = wav_length_s(file)
    if wav_s is not None:
        return wav_s[1]
    if stream.duration is not None and stream.time_base is not None:
        return float(stream.duration * stream.time_base)
    return None if container.duration is None else container.duration / 1e6


def _promised_s(path: Path, container: InputContainer, stream: AudioStream) -> float | None:
    """Return the length that the sound must have if it is whole, or ``None`` where the container only estimates it."""
    if stream.duration is not None and stream.time_base is not None:
        is_exact = container.format.name in _EXACT_LENGTHS
        if container.format.name == "mp3":
            with _bytes_of(path) as file:
                is_exact = announces_mp3_length(file)
        return float(stream.duration * stream.time_base) if is_exact else None
    is_sound_only = not container.streams.video
    if container.format.name == "matroska,webm" and is_sound_only and container.duration is not None:
        return container.duration / 1e6
    return None
