"""Write sound as a WAV file that every player reads."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.media.atomic import write_atomically

_BYTES_PER_SAMPLE: Final = 3
_FULL_SCALE: Final = 2**23
_MAX_DATA_BYTES: Final = 2**32 - 64
"""A WAV header counts bytes in 32 bits."""
_SLICE_FRAMES: Final = 65536


def write_wav(path: Path, samples: NDArray[np.floating], *, sample_rate_hz: int) -> None:
    """Write `samples` as a WAV file of 24 bits, whole or not at all.

    24 bits: read by every player and program, and with a step of −138 dB re full scale below any microphone's noise.

    Parameters
    ----------
    path : Path
        Target; an existing file is replaced only when the new one is complete.
    samples : ndarray of float, shape (n,) or (n, channels)
        Sound with full scale ±1.
    sample_rate_hz : int
        Samples per second, 1 or more.

    Raises
    ------
    InputError
        If the shape is another, a sample is not finite or beyond ±1, or the sound is too long for a WAV file.
    NotFoundError, StoreError
        If the file cannot be written; see `write_atomically`.
    """
    frames = _checked(samples, sample_rate_hz)
    n_channels = frames.shape[1]
    data_bytes = frames.size * _BYTES_PER_SAMPLE
    block_align = n_channels * _BYTES_PER_SAMPLE
    padding = data_bytes % 2
    header = struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF",
        36 + data_bytes + padding,
        b"WAVE",
        b"fmt ",
        16,
        1,  # integer PCM
        n_channels,
        sample_rate_hz,
        sample_rate_hz * block_align,
        block_align,
        8 * _BYTES_PER_SAMPLE,
        b"data",
        data_bytes,
    )

    def fill(file: BinaryIO) -> None:
        file.write(header)
        for start in range(0, len(frames), _SLICE_FRAMES):
            file.write(_pcm24(frames[start : start + _SLICE_FRAMES]))
        file.write(b"\0" * padding)

    write_atomically(path, fill)


def _checked(samples: NDArray[np.floating], sample_rate_hz: int) -> NDArray[np.floating]:
    """Return the samples as (n, channels), or say what is wrong with them."""
    if sample_rate_hz < 1:
        raise InputError.of("sample_rate_hz", sample_rate_hz, "1 or more")
    if samples.ndim not in (1, 2):
        raise InputError.of("samples.ndim", samples.ndim, "1 (mono) or 2 (samples × channels)")
    frames = samples[:, np.newaxis] if samples.ndim == 1 else samples
    if not 1 <= frames.shape[1] <= 64:
        raise InputError.of("channels", frames.shape[1], "1 to 64", advice="samples must have shape (n, channels)")
    if frames.size * _BYTES_PER_SAMPLE > _MAX_DATA_BYTES:
        raise InputError.of("length", len(frames), "a sound below 4 GB", advice="write it in parts")
    peak = float(np.abs(frames).max(initial=0.0))
    if not peak <= 1.0:  # also true for NaN
        raise InputError.of("peak of samples", peak, "finite and at most 1", advice="scale the sound before writing")
    return frames


def _pcm24(frames: NDArray[np.floating]) -> bytes:
    steps = np.rint(frames.astype(np.float64) * _FULL_SCALE)
    whole = np.minimum(steps, _FULL_SCALE - 1).astype("<i4")
    return whole.reshape(-1, 1).view(np.uint8)[:, :_BYTES_PER_SAMPLE].tobytes()
