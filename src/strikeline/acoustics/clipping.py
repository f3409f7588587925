"""Find clipping: samples cut off at the extreme of what the recorder could take."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

_FLATNESS: Final = 2e-4
"""Samples within this share of the extreme count as one level."""
_CORNER: Final = 1e-3
"""Least step into and out of a flat top, as a share of the extreme.

A rounded peak is a parabola of depth ω²k²/2 at k samples from its top. If three or more samples lie within 2e-4 of the
top, then ωk ≤ 0.02 for the last of them, and the step to the next is ω²(k + ½) ≤ 6e-4 of the extreme. A larger step on
both sides is a corner that no rounded peak has.
"""
_LEAST_STEP: Final = 2.5 / 2**15
"""The same in steps of 16 bits, so that rounding cannot make a corner."""
_SHORTEST_TOP: Final = 3
_LEAST_EXTREME: Final = 0.02
"""Below −34 dB re full scale a flat top is not looked for: 16-bit rounding alone makes them."""
_FULL_SCALE: Final = 0.99
_CARRIED: Final = 64
_JOINED_S: Final = 0.05
"""Flat tops of one struck note follow each other within the period of its lowest tone, 36 ms for A0."""


@dataclass(slots=True)
class _Side:
    """Samples of one polarity at the running extreme, as runs, and how many of the runs are flat tops."""

    sign: float
    extreme: float = 0.0
    n_flat: int = 0
    starts: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)


class FlatTops:
    """Find samples cut off at the extreme of a recording, at full scale or below.

    A clipped sound holds runs of three or more samples at one and the same extreme value, entered and left with a
    corner. The extreme is the largest value of each polarity so far; when a larger one comes, what was found below it
    was not the limit and is forgotten. The first flat top at full scale is believed, below full scale the second; then
    every sample at that extreme counts as cut off.

    Lossy coding rounds flat tops off; `HeapedTops` finds those.

    Parameters
    ----------
    sample_rate_hz : float
        Samples per second.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._rate = sample_rate_hz
        self._sides = (_Side(1.0), _Side(-1.0))
        self._tail = np.zeros(0, np.float32)
        self._n_fed = 0

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in the next samples, shape (n,)."""
        top, bottom = float(samples.max(initial=0.0)), -float(samples.min(initial=0.0))
        joined = None
        for side, peak in zip(self._sides, (top, bottom), strict=True):
            if peak > side.extreme * (1 + _FLATNESS):
                side.n_flat = 0
                side.starts.clear()
                side.ends.clear()
            side.extreme = max(side.extreme, peak)
            if peak >= side.extreme * (1 - _FLATNESS) and side.extreme >= _LEAST_EXTREME:
                joined = np.concatenate([self._tail, samples]) if joined is None else joined
                self._find_tops(side, joined)
        self._n_fed += len(samples)
        self._tail = samples[-_CARRIED:].copy()

    def _find_tops(self, side: _Side, samples: NDArray[np.float32]) -> None:
        offset = self._n_fed - len(self._tail)
        level = side.sign * samples
        at_top = np.flatnonzero(level >= side.extreme * (1 - _FLATNESS))
        breaks = np.flatnonzero(np.diff(at_top) > 1)
        firsts = at_top[np.concatenate([[0], breaks + 1])]
        lasts = at_top[np.concatenate([breaks, [len(at_top) - 1]])]
        least = max(_CORNER * side.extreme, _LEAST_STEP)
        known_to = side.ends[-1] if side.ends else -1
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
            if last + 1 == len(level) or offset + last < known_to:
                continue  # a run that reaches the end of the block is seen again with the next one
            side.starts.append(max(offset + first, known_to))
            side.ends.append(offset + last + 1)
            enters = first == 0 or level[first] - level[first - 1] >= least
            leaves = level[last] - level[last + 1] >= least
            side.n_flat += last - first + 1 >= _SHORTEST_TOP and bool(enters and leaves)

    @property
    def n_samples(self) -> int:
        """How many samples are cut off."""
        return sum(
            end - start for side in self._sides if self._is_limit(side) for start, end in _pairs(side.starts, side.ends)
        )

    @property
    def spans_s(self) -> list[tuple[float, float]]:
        """When: start and end in seconds, ascending, flat tops within 50 ms of each other joined."""
        spans = [
            (start / self._rate, end / self._rate)
            for side in self._sides
            if self._is_limit(side)
            for start, end in _pairs(side.starts, side.ends)
        ]
        return _joined(sorted(spans))

    @property
    def level(self) -> float:
        """The value at which the tops are cut off, full scale 1."""
        return max((side.extreme for side in self._sides if self._is_limit(side)), default=0.0)

    def _is_limit(self, side: _Side) -> bool:
        return side.n_flat >= (1 if side.extreme >= _FULL_SCALE else 2)


_LOWEST_BIN: Final = 0.78
_LOWEST_HEAP: Final = 0.9
_HIGHEST_HEAP: Final = 1.1
_BIN: Final = 0.01
_N_BINS: Final = 80
_HEAP_BINS: Final = 3
_BELOW_BINS: Final = 12
_HEAP_RATIO: Final = 1.5
_LEAST_HEAP: Final = 100
_SLICE_S: Final = 0.01


class HeapedTops:
    """Find clipping at full scale that went through lossy coding afterwards, as in most phones.

    Coding bends flat tops by some per cent, so no two samples are equal any more, but their amplitudes still heap up
    near full scale. The amplitudes of sound that was not clipped thin out towards its extreme. Looked for is a heap:
    a hundred samples or more in an interval of 0.03 that starts between 0.9 and 1.1, half as many again as in the
    emptiest interval up to 0.12 below it, and more than in all that lies beyond it by 0.03. Tried on real notes coded
    with MP3 and AAC at 128 kbit/s: clipped by 4 dB and more they are found, by 1.6 dB in some passes only; 44
    notes that just reach full scale are not, in either coding.

    Parameters
    ----------
    sample_rate_hz : float
        Samples per second.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._slice = max(1, round(_SLICE_S * sample_rate_hz))
        self._slice_s = self._slice / sample_rate_hz
        self._n_fed = 0
        self._counts = np.zeros(_N_BINS, np.int64)
        self._peaks: dict[int, float] = {}

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in the next samples, shape (n,)."""
        size = np.abs(samples)
        near = np.flatnonzero(size >= _LOWEST_BIN)
        if len(near):
            bins = np.minimum(((size[near] - _LOWEST_BIN) / _BIN).astype(np.int64), _N_BINS - 1)
            self._counts += np.bincount(bins, minlength=_N_BINS)
            slices = (self._n_fed + near) // self._slice
            firsts = np.flatnonzero(np.diff(slices, prepend=-1))
            for number, peak in zip(slices[firsts], np.maximum.reduceat(size[near], firsts), strict=True):
                self._peaks[int(number)] = max(float(peak), self._peaks.get(int(number), 0.0))
        self._n_fed += len(samples)

    def _heap_bin(self) -> int | None:
        """Return the first bin of the fullest heap, or ``None``."""
        counts = np.convolve(self._counts, np.ones(_HEAP_BINS, np.int64), mode="valid")
        first, last = (round((edge - _LOWEST_BIN) / _BIN) for edge in (_LOWEST_HEAP, _HIGHEST_HEAP))
        heaps = [
            start
            for start in range(first, last)
            if counts[start]
            >= max(_LEAST_HEAP, _HEAP_RATIO * counts[start - _BELOW_BINS : start - _HEAP_BINS + 1].min())
            and counts[start] > self._counts[start + 2 * _HEAP_BINS :].sum()
        ]
        return max(heaps, key=lambda start: int(counts[start]), default=None)

    @property
    def n_samples(self) -> int:
        """How many samples lie in the heap or above it."""
        start = self._heap_bin()
        return 0 if start is None else int(self._counts[start:].sum())

    @property
    def level(self) -> float:
        """Lower edge of the heap, full scale 1; 0 if there is none."""
        start = self._heap_bin()
        return 0.0 if start is None else _LOWEST_BIN + start * _BIN

    @property
    def spans_s(self) -> list[tuple[float, float]]:
        """When, in slices of 10 ms: start and end in seconds, ascending, within 50 ms of each other joined."""
        level = self.level
        if not level:
            return []
        return _joined(
            [
                (number * self._slice_s, (number + 1) * self._slice_s)
                for number, peak in sorted(self._peaks.items())
                if peak >= level
            ]
        )


def _pairs(starts: list[int], ends: list[int]) -> list[tuple[int, int]]:
    return list(zip(starts, ends, strict=True))


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    whole: list[tuple[float, float]] = []
    for start, end in spans:
        if whole and start - whole[-1][1] <= _JOINED_S:
            whole[-1] = (whole[-1][0], max(end, whole[-1][1]))
        else:
            whole.append((start, end))
    return whole
