"""A pass cut into strikes: sound in, one `Strike` per blow out, block by block and in bounded memory."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.onsets import (
    BLOCK_FRAMES,
    PICK_CONTEXT,
    REFINE_AFTER_S,
    RiseBlock,
    brings_new_sound,
    pick_rises,
    refine_onset,
)
from strikeline.acoustics.sound_stream import SoundStream

_PRE_ROLL_S: Final = 0.25
_LONGEST_S: Final = 12.0
_GUARD_S: Final = 0.002
"""A strike ends this long before the next one begins."""
_AGAIN_S: Final = 0.05
"""Two onsets nearer than this are one blow."""
_QUIET_DB: Final = 8.0
"""Above the noise floor by less than this in every band: nothing left to hear. The floor is a minimum, which lies a few
decibels below the mean of the noise."""
_QUIET_GROUPS: Final = 4
"""So many times 80 ms must be quiet before a strike is over."""
_START_S: Final = 0.04
_START_RISE_DB: Final = 3.0
"""The room's noise sets in with the recording and lifts its first frames by up to 1.5 dB; a blow lifts them by more."""
_KEPT_S: Final = 0.6
_HOLD_BACK_S: Final = 0.2
_GROUP_FRAMES: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strike:
    """The sound of one blow, with what rang just before it."""

    samples: NDArray[np.float32]
    """Mono, shape (n,): up to 0.25 s before the onset, at most 12 s after it."""
    sample_rate_hz: float
    onset_sample: int
    """Index into `samples` of the first sample of the new sound (see `onsets.refine_onset`)."""
    start_s: float
    """Time in the recording of ``samples[0]``."""

    @property
    def onset_s(self) -> float:
        """Time of the onset in the recording."""
        return self.start_s + self.onset_sample / self.sample_rate_hz

    @property
    def end_s(self) -> float:
        """Time in the recording just after the last sample: next onset, silence, or 12 s after the onset."""
        return self.start_s + self.samples.size / self.sample_rate_hz


class StrikeCutter:
    """Cut a stream of mono sound into strikes.

    The result does not depend on the size of the blocks fed. Between calls at most about 14 s of sound are held.

    Parameters
    ----------
    sample_rate_hz : float
        4000 to 400 000 Hz.

    Examples
    --------
    >>> import numpy as np
    >>> cutter = StrikeCutter(sample_rate_hz=8000.0)
    >>> time_s = np.arange(8000, dtype=np.float32) / 8000
    >>> blow = np.sin(2 * np.pi * 440 * time_s) * np.exp(-3 * time_s)
    >>> strikes = cutter.feed(np.concatenate([np.zeros(4000), blow]).astype(np.float32)) + cutter.finish()
    >>> [round(strike.onset_s, 2) for strike in strikes]
    [0.5]
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._stream = SoundStream(sample_rate_hz=sample_rate_hz)
        self._rate = sample_rate_hz
        self._rise = np.zeros(PICK_CONTEXT, dtype=np.float32)
        self._level = np.full(PICK_CONTEXT, -200.0, dtype=np.float32)
        self._rise_from = -PICK_CONTEXT
        self._steady = 0.0
        self._quiet_groups = 0
        self._open_onset: int | None = None

    def feed(self, samples: NDArray[np.float32]) -> list[Strike]:
        """Take the next samples, shape (n,), and return the strikes that became complete."""
        return [strike for block in self._stream.feed(samples) for strike in self._take(block)]

    def finish(self) -> list[Strike]:
        """Return the strikes still open at the end of the recording."""
        rest = self._stream.finish()
        if rest is None:
            return []
        end, blocks = rest
        done = [strike for block in blocks for strike in self._take(block, end=end)]
        if self._open_onset is not None:
            done.append(self._close(end))
        return done

    def _take(self, block: RiseBlock, *, end: int | None = None) -> list[Strike]:
        """Act on what the detector found in the next block."""
        self._rise = np.concatenate([self._rise, block.rise_db])
        self._level = np.concatenate([self._level, block.level_db])
        self._steady = block.steady_power
        if block.starts_in_sound:
            self._open_onset = 0
        done: list[Strike] = []
        events = [(int(frame) + self._rise_from, True) for frame in pick_rises(self._rise, self._level)]
        groups = np.arange(block.above_floor_db.size) * _GROUP_FRAMES + (self._stream.n_blocks - 1) * BLOCK_FRAMES
        loud = block.above_floor_db > _QUIET_DB
        for group_frame, is_loud in zip(groups.tolist(), loud.tolist(), strict=True):
            self._quiet_groups = 0 if is_loud else self._quiet_groups + 1
            if self._quiet_groups == _QUIET_GROUPS:
                events.append((group_frame - (_QUIET_GROUPS - 1) * _GROUP_FRAMES, False))
        for frame, is_rise in sorted(events):
            done += self._begin(frame, end=end) if is_rise else self._fall_silent(frame, end=end)
        seen = self._rise.size - 2 * PICK_CONTEXT
        self._rise, self._level, self._rise_from = self._rise[seen:], self._level[seen:], self._rise_from + seen
        done += self._cap()
        self._forget()
        return done

    def _begin(self, frame: int, *, end: int | None) -> list[Strike]:
        """Close the open strike and open the next, if the rise at `frame` is a blow."""
        at = self._stream.middle_of(frame)
        if end is not None and at >= end:
            return []
        around, first = self._stream.around(at, before_s=0.3, after_s=0.25)
        index = at - first
        rise_db = float(self._rise[frame - self._rise_from])
        if at < _START_S * self._rate and rise_db < _START_RISE_DB:
            return []
        if not brings_new_sound(
            around, sample_rate_hz=self._rate, at=index, rise_db=rise_db, steady_power=self._steady
        ):
            return []
        onset = max(refine_onset(around, sample_rate_hz=self._rate, at=index) + first, 0)
        if self._open_onset is None:
            self._open_onset = onset
            return []
        if onset - self._open_onset < _AGAIN_S * self._rate:
            return []
        strike = self._close(onset - round(_GUARD_S * self._rate))
        self._open_onset = onset
        return [strike]

    def _fall_silent(self, frame: int, *, end: int | None) -> list[Strike]:
        """Close the open strike where sound has sunk into the noise."""
        at = self._stream.end_of(frame)
        if end is not None:
            at = min(at, end)
        if self._open_onset is None or at - self._open_onset < _HOLD_BACK_S * self._rate:
            return []
        return [self._close(at)]

    def _cap(self) -> list[Strike]:
        """Close a strike that has lasted 12 s."""
        limit = round(_LONGEST_S * self._rate)
        # The detector may still find a blow up to this sample; only what lies before it is settled.
        settled = self._stream.block_start - round((PICK_CONTEXT * 0.01 + REFINE_AFTER_S) * self._rate)
        if self._open_onset is None or settled - self._open_onset < limit:
            return []
        return [self._close(self._open_onset + limit)]

    def _close(self, end: int) -> Strike:
        onset = self._open_onset
        if onset is None:
            raise RuntimeError("no strike is open")
        self._open_onset = None
        stop = max(min(end, onset + round(_LONGEST_S * self._rate)), onset + 1)
        samples, start = self._stream.piece(onset - round(_PRE_ROLL_S * self._rate), stop)
        return Strike(
            samples=samples, sample_rate_hz=self._rate, onset_sample=onset - start, start_s=start / self._rate
        )

    def _forget(self) -> None:
        """Drop sound that no strike can need any more."""
        keep_from = self._stream.block_start - round(_KEPT_S * self._rate)
        if self._open_onset is not None:
            keep_from = min(keep_from, self._open_onset - round(_PRE_ROLL_S * self._rate))
        self._stream.forget_before(keep_from)
