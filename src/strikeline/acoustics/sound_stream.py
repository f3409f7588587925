"""A stream of mono sound held as long as it is needed, and walked through in the blocks of a `RiseMeter`."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.onsets import RiseBlock, RiseMeter

Real32 = NDArray[np.float32]


class SoundStream:
    """Sound that comes in pieces of any size and is measured in blocks of one size.

    Samples are numbered from the beginning of the recording.

    Parameters
    ----------
    sample_rate_hz : float
        4000 to 400 000 Hz.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self.meter = RiseMeter(sample_rate_hz=sample_rate_hz)
        self._rate = sample_rate_hz
        # The meter's grid begins one frame before the recording.
        self._origin = -self.meter.frame_samples
        self._held = np.zeros(self.meter.frame_samples, dtype=np.float32)
        self._held_from = self._origin
        self._waiting: list[Real32] = []
        self._n_waiting = 0
        self._is_untouched = True
        self._is_finished = False
        self.n_blocks = 0
        """Blocks measured so far."""

    @property
    def block_start(self) -> int:
        """First sample of the next block."""
        return self._origin + self.n_blocks * self.meter.stride_samples

    @property
    def n_held(self) -> int:
        """Samples held."""
        return self._held.size

    @property
    def _held_to(self) -> int:
        return self._held_from + self._held.size

    def feed(self, samples: Real32) -> Iterator[RiseBlock]:
        """Take the next samples, shape (n,), and return the blocks that became complete, one after another."""
        if samples.size and self._is_untouched:
            # As if the first sample had stood still before: a constant offset must not look like a blow.
            self._held[:] = samples[0]
            self._is_untouched = False
        self._waiting.append(np.asarray(samples, dtype=np.float32))
        self._n_waiting += samples.size
        if self.block_start + self.meter.block_samples > self._held_to + self._n_waiting:
            return
        self._take_in()
        while self.block_start + self.meter.block_samples <= self._held_to:
            yield self._measure(self.meter.block_samples)

    def finish(self) -> tuple[int, Iterator[RiseBlock]] | None:
        """Return the end of the recording and the blocks that reach beyond it; ``None`` if it was finished before."""
        if self._is_finished:
            return None
        self._is_finished = True
        self._take_in()
        end = self._held_to
        n_more = 2 + (end - self.block_start) // self.meter.stride_samples
        missing = self.block_start + n_more * self.meter.stride_samples + self.meter.frame_samples - end
        self._held = np.concatenate([self._held, np.zeros(missing, dtype=np.float32)])
        return end, (self._measure(min(end - self.block_start, self.meter.block_samples)) for _ in range(n_more))

    def _take_in(self) -> None:
        """Join what was fed to what is held."""
        self._held = np.concatenate([self._held, *self._waiting])
        self._waiting, self._n_waiting = [], 0

    def _measure(self, n_heard: int) -> RiseBlock:
        low = self.block_start - self._held_from
        block = self.meter.measure(self._held[low : low + self.meter.block_samples], n_heard=n_heard)
        self.n_blocks += 1
        return block

    def middle_of(self, frame: int) -> int:
        """Return the sample in the middle of a frame of the meter, counted from its first."""
        return self._origin + frame * self.meter.hop_samples + self.meter.frame_samples // 2

    def end_of(self, frame: int) -> int:
        """Return the sample just after a frame."""
        return self._origin + frame * self.meter.hop_samples + self.meter.frame_samples

    def around(self, at: int, *, before_s: float, after_s: float) -> tuple[Real32, int]:
        """Return the sound around a sample, and the number of its first.

        Parameters
        ----------
        at : int
            The sample.
        before_s, after_s : float
            How far it reaches; less where less is held.
        """
        low = max(0, at - self._held_from - round(before_s * self._rate))
        high = at - self._held_from + round(after_s * self._rate)
        return self._held[low:high], low + self._held_from

    def piece(self, start: int, stop: int) -> tuple[Real32, int]:
        """Return the sound between two samples, as far back as it is held, as a copy, and the number of its first."""
        start = max(start, self._held_from, 0)
        return self._held[start - self._held_from : stop - self._held_from].copy(), start

    def forget_before(self, sample: int) -> None:
        """Drop the sound before a sample."""
        drop = sample - self._held_from
        if drop > 0:
            self._held = self._held[drop:].copy()
            self._held_from = sample
