"""A plucked section cut into its sounds: every moment at which something began, with the sound around it.

A string under felt is over in a tenth of a second and, beside an open string that still rings, hardly louder than it.
So every rise of a few bands counts, and whether it was a pluck is decided later, from all of them together
(`strikeline.acoustics.plucks_sequence`).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.onsets import RiseBlock
from strikeline.acoustics.plucks_bright import bright_part, smoothing_samples
from strikeline.acoustics.sound_stream import SoundStream
from strikeline.acoustics.strikes import Strike

PRE_S: Final = 0.35
"""Sound kept before the onset: what rings there is foreseen into the time after it."""
LONGEST_S: Final = 1.2
_GUARD_S: Final = 0.004
"""A sound ends this long before the next one begins."""
_RISE_DB: Final = 4.0
"""Mean rise of the bands that rise most. Between the plucks of generated sections it is below 2.8 dB in 99 of 100
frames that hold neither pluck nor action; of 170 plucks the least had 5.6."""
_SPAN_FRAMES: Final = 6
"""A rise is the highest within 60 ms either side."""
_CONTEXT: Final = 16
_LEAST_S: Final = 0.05
_RELEASE_REACH_S: Final = 0.03
_RELEASE_SPAN_S: Final = 0.006
_CLEAR_GROWTH: Final = 1.0
"""Of white noise no 6 ms in the 60 ms looked at have twice the power of those before."""
_KEPT_S: Final = 1.0
_MEAN_SHARE: Final = 0.3
"""Where the few bands are all at the greatest rise that is told, the mean over all bands decides."""


class PluckCutter:
    """Cut a stream of mono sound into sounds that begin.

    The result does not depend on the size of the blocks fed. About 3 s of sound are held.

    Parameters
    ----------
    sample_rate_hz : float
        4000 to 400 000 Hz.

    Examples
    --------
    >>> import numpy as np
    >>> cutter = PluckCutter(sample_rate_hz=8000.0)
    >>> time_s = np.arange(8000, dtype=np.float32) / 8000
    >>> pluck = np.sin(2 * np.pi * 440 * time_s) * np.exp(-30 * time_s)
    >>> sounds = cutter.feed(np.concatenate([np.zeros(4000), pluck]).astype(np.float32)) + cutter.finish()
    >>> [round(sound.onset_s, 2) for sound in sounds]
    [0.5]
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._stream = SoundStream(sample_rate_hz=sample_rate_hz)
        self._rate = sample_rate_hz
        self._rise = np.zeros(_CONTEXT, dtype=np.float32)
        self._rise_from = -_CONTEXT
        self._open_onset: int | None = None

    def feed(self, samples: NDArray[np.float32]) -> list[Strike]:
        """Take the next samples, shape (n,), and return the sounds that became complete."""
        return [sound for block in self._stream.feed(samples) for sound in self._take(block)]

    def finish(self) -> list[Strike]:
        """Return the sounds still open at the end of the recording."""
        rest = self._stream.finish()
        if rest is None:
            return []
        end, blocks = rest
        done = [sound for block in blocks for sound in self._take(block, end=end)]
        if self._open_onset is not None:
            done.append(self._close(end))
        return done

    def _take(self, block: RiseBlock, *, end: int | None = None) -> list[Strike]:
        """Act on the rises of the next block that have all their surroundings."""
        self._rise = np.concatenate([self._rise, block.few_rise_db + np.float32(_MEAN_SHARE) * block.rise_db])
        done: list[Strike] = []
        for frame in _pick(self._rise):
            done += self._begin(int(frame) + self._rise_from, end=end)
        seen = self._rise.size - 2 * _CONTEXT
        self._rise, self._rise_from = self._rise[seen:], self._rise_from + seen
        settled = self._stream.block_start - round((_CONTEXT * 0.01 + 2.0 * _RELEASE_REACH_S) * self._rate)
        if self._open_onset is not None and settled - self._open_onset >= LONGEST_S * self._rate:
            done.append(self._close(self._open_onset + round(LONGEST_S * self._rate)))
        self._forget()
        return done

    def _begin(self, frame: int, *, end: int | None) -> list[Strike]:
        """Close the open sound and open the next."""
        at = self._stream.middle_of(frame)
        if end is not None and at >= end - round(_LEAST_S * self._rate):
            return []  # the end of the recording itself is a step
        around, first = self._stream.around(at, before_s=0.3, after_s=0.25)
        onset = max(_release(around, sample_rate_hz=self._rate, at=at - first) + first, 0)
        done: list[Strike] = []
        if self._open_onset is not None:
            if onset - self._open_onset < round(0.03 * self._rate):
                return []
            done.append(self._close(onset - round(_GUARD_S * self._rate)))
        self._open_onset = onset
        return done

    def _close(self, end: int) -> Strike:
        onset = self._open_onset
        if onset is None:
            raise RuntimeError("no sound is open")
        self._open_onset = None
        stop = max(min(end, onset + round(LONGEST_S * self._rate)), onset + 1)
        samples, start = self._stream.piece(onset - round(PRE_S * self._rate), stop)
        return Strike(
            samples=samples, sample_rate_hz=self._rate, onset_sample=onset - start, start_s=start / self._rate
        )

    def _forget(self) -> None:
        """Drop sound that nothing can need any more."""
        keep_from = self._stream.block_start - round(_KEPT_S * self._rate)
        if self._open_onset is not None:
            keep_from = min(keep_from, self._open_onset - round(PRE_S * self._rate))
        self._stream.forget_before(keep_from)


def _release(around: NDArray[np.float32], *, sample_rate_hz: float, at: int) -> int:
    """Return the index at which the nail lets the string go, near `at`.

    The nail scrapes before and clicks as it leaves. Both are bright, what rings is not: so the moment is where the
    power of the bright part grows most, from one 6 ms to the next. Where no click stands clear of the noise, less
    bright sound decides.
    """
    reach, span = round(_RELEASE_REACH_S * sample_rate_hz), round(_RELEASE_SPAN_S * sample_rate_hz)
    low, high = max(0, at - reach - span), min(around.size, at + reach + span)
    best = at
    for order in (2, 1, 0):
        bright = np.square(bright_part(around[low:high], sample_rate_hz=sample_rate_hz, order=order))
        if bright.size <= 2 * span:
            return at
        total = np.concatenate([[0.0], np.cumsum(bright)])
        power = total[span:] - total[:-span]
        growth = power[span:] - power[:-span]
        best = low + span + int(np.argmax(growth)) + (smoothing_samples(sample_rate_hz) + order) // 2
        if growth.max() > _CLEAR_GROWTH * np.median(power):
            break
    return best


def _pick(rise_db: NDArray[np.float32]) -> NDArray[np.int64]:
    """Return the frames that rise by enough and by more than any within 60 ms; the ends are context only."""
    inner = np.arange(_CONTEXT, rise_db.size - _CONTEXT)
    wide = np.lib.stride_tricks.sliding_window_view(rise_db, 2 * _SPAN_FRAMES + 1)
    top = wide[inner - _SPAN_FRAMES].argmax(axis=1) == _SPAN_FRAMES
    return np.asarray(inner[top & (rise_db[inner] > _RISE_DB)])
