"""Find dropouts: holes of zeros in the middle of sound, as lost buffers leave them."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_SHORTEST_HOLE_S: Final = 1e-3
_LONGEST_HOLE_S: Final = 0.3
"""Longer silences are gaps between recordings, not lost buffers."""
_EDGE_S: Final = 1e-3
_CONTEXT_S: Final = 0.02
_EDGE_PEAK: Final = 2e-3
"""Sound on both edges of a hole reaches −54 dB re full scale: 65 steps of 16 bits, never natural zeros."""
_EDGE_STEPS: Final = 20
"""And so many of the file's own steps, for recordings of 8 bits."""
_EDGE_RATIO: Final = 0.1
"""Sound that was faded out or in has died at the edge; sound that was torn has not."""


class Dropouts:
    """Find runs of exact zeros of 1 to 300 ms between edges at which the sound is torn, not faded.

    Parameters
    ----------
    sample_rate_hz : float
        Samples per second.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._rate = sample_rate_hz
        self._edge = max(8, round(_EDGE_S * sample_rate_hz))
        self._context = max(self._edge, round(_CONTEXT_S * sample_rate_hz))
        self._shortest = max(8, round(_SHORTEST_HOLE_S * sample_rate_hz))
        self._longest = round(_LONGEST_HOLE_S * sample_rate_hz)
        self._tail = np.zeros(0, np.float32)
        self._n_fed = 0
        self.spans_s: list[tuple[float, float]] = []

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in the next samples, shape (n,)."""
        joined = np.concatenate([self._tail, samples])
        offset = self._n_fed - len(self._tail)
        self._n_fed += len(samples)
        if joined.size - np.count_nonzero(joined) >= self._shortest:
            self._find_holes(joined, offset)
        # What is kept holds any hole that is still open, with its near edge.
        self._tail = joined[-(self._longest + 2 * self._context) :].copy()

    def _find_holes(self, samples: NDArray[np.float32], offset: int) -> None:
        """Note the holes whose far edge is there."""
        edges = np.diff(np.concatenate([[0], (samples == 0).view(np.int8), [0]]))
        firsts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        right_size = (ends - firsts >= self._shortest) & (ends - firsts <= self._longest)
        size = np.abs(samples)
        least = max(_EDGE_PEAK, _EDGE_STEPS * float(size[size > 0].min(initial=1.0)))
        inside = (firsts >= self._context) & (ends + self._context <= len(samples))
        for first, end in zip(firsts[right_size & inside].tolist(), ends[right_size & inside].tolist(), strict=True):
            start_s = (offset + first) / self._rate
            if self.spans_s and start_s <= self.spans_s[-1][0]:
                continue  # seen with the block before
            before = size[first - self._context : first][::-1]
            after = size[end : end + self._context]
            if self._is_torn(before, least) and self._is_torn(after, least):
                self.spans_s.append((start_s, (offset + end) / self._rate))

    def _is_torn(self, away: NDArray[np.float32], least: float) -> bool:
        """Return whether sound of `least` or more is there right at the edge, where `away` begins."""
        at_edge = float(away[: self._edge].max())
        return at_edge >= max(least, _EDGE_RATIO * float(away.max()))
