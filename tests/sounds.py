"""Sounds for tests that live in memory and behave like sound files."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, kw_only=True)
class MemoryCodec:
    """A coding that loses nothing."""

    name: str = "pcm_f32le"
    is_lossy: bool = False
    bit_rate: int | None = None


class MemorySound:
    """A `SoundSource` over an array of shape (n,) or (n, channels); counts how often it was read."""

    def __init__(self, samples: ArrayLike, *, sample_rate_hz: int, broke_off: str | None = None) -> None:
        array = np.asarray(samples, dtype=np.float32)
        self.samples: NDArray[np.float32] = array[:, None] if array.ndim == 1 else array
        self.sha256 = "0" * 64
        self.sample_rate_hz = sample_rate_hz
        self.n_channels = int(self.samples.shape[1])
        self.duration_s: float | None = len(self.samples) / sample_rate_hz
        self.codec = MemoryCodec()
        self.broke_off = broke_off
        self.n_samples_read = 0

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Return blocks of one second."""
        for start in range(0, len(self.samples), self.sample_rate_hz):
            block = self.samples[start : start + self.sample_rate_hz]
            self.n_samples_read += len(block)
            yield block
