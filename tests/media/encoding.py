"""Encode sound into files of every kind, as a phone or a recorder would, for the tests of reading."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Final

import av
import numpy as np
import soundfile
from numpy.typing import NDArray

_LAYOUTS: Final = {1: "mono", 2: "stereo", 4: "quad", 6: "5.1"}


def encode(
    path: Path,
    samples: NDArray[np.float32],
    *,
    sample_rate_hz: int,
    codec: str,
    container: str | None = None,
    picture: str | None = None,
    options: dict[str, str] | None = None,
) -> Path:
    """Write samples (n,) or (n, channels) with an encoder of FFmpeg's; `picture` names a video codec to go with it."""
    columns = samples[:, None] if samples.ndim == 1 else samples
    layout = _LAYOUTS[columns.shape[1]]
    with av.open(str(path), "w", format=container, options=options or {}) as out:
        film = None if picture is None else _film(out, picture)
        stream = out.add_stream(codec, rate=sample_rate_hz)
        assert isinstance(stream, av.AudioStream)
        stream.layout = layout
        formats = stream.codec_context.codec.audio_formats or []
        stream.format = formats[0].name
        if film is not None:
            _shoot(out, film, seconds=len(columns) / sample_rate_hz)
        convert = av.AudioResampler(format=formats[0].name, layout=layout, rate=sample_rate_hz)
        whole = av.AudioFrame.from_ndarray(np.ascontiguousarray(columns.T, np.float32), format="fltp", layout=layout)
        whole.sample_rate = sample_rate_hz
        whole.pts = 0
        whole.time_base = Fraction(1, sample_rate_hz)
        queue = av.AudioFifo()
        for frame in [*convert.resample(whole), *convert.resample(None)]:
            queue.write(frame)
        while (part := queue.read(stream.frame_size or 4096) or queue.read(0, partial=True)) is not None:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    return path


def _film(out: av.container.OutputContainer, codec: str) -> av.VideoStream:
    stream = out.add_stream(codec, rate=25)
    assert isinstance(stream, av.VideoStream)
    stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
    return stream


def _shoot(out: av.container.OutputContainer, film: av.VideoStream, *, seconds: float) -> None:
    """Fill the film with grey, 25 frames per second."""
    for number in range(int(25 * seconds)):
        frame = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 128, np.uint8), format="rgb24")
        frame.pts = number
        out.mux(film.encode(frame))
    out.mux(film.encode(None))


def silent_video(path: Path) -> Path:
    """Write one second of picture without a sound track."""
    with av.open(str(path), "w") as out:
        _shoot(out, _film(out, "mpeg4"), seconds=1.0)
    return path


def write_pcm(path: Path, samples: NDArray[np.floating], *, sample_rate_hz: int, subtype: str = "PCM_16") -> Path:
    """Write with libsndfile, a second hand that shares no code with the reader under test."""
    soundfile.write(path, samples, sample_rate_hz, subtype=subtype)
    return path


def clicks(sample_rate_hz: int, *, n_channels: int = 1, seconds: float = 4.0) -> NDArray[np.float32]:
    """Return short decaying 1.5 kHz blows at irregular times, shape (n, channels)."""
    samples = np.zeros(round(seconds * sample_rate_hz), np.float32)
    t_s = np.arange(round(0.05 * sample_rate_hz)) / sample_rate_hz
    blow = 0.5 * np.exp(-t_s / 0.01) * np.sin(2 * np.pi * 1500 * t_s)
    for at_s in (0.5, 1.3337, 2.71, 3.5):
        start = round(at_s * sample_rate_hz)
        samples[start : start + len(blow)] += blow.astype(np.float32)
    return np.repeat(samples[:, None], n_channels, axis=1)


def decaying_note(sample_rate_hz: int, *, seconds: float = 3.0, f0_hz: float = 220.0) -> NDArray[np.float32]:
    """Return one struck note with some hiss, shape (n,)."""
    rng = np.random.default_rng(7)
    t_s = np.arange(round(seconds * sample_rate_hz)) / sample_rate_hz
    tone = sum(np.sin(2 * np.pi * n * f0_hz * t_s) * np.exp(-t_s * (0.8 + 0.2 * n)) / n for n in range(1, 6))
    return (0.3 * tone + 1e-3 * rng.standard_normal(len(t_s))).astype(np.float32)
