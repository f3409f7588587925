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
    RiseMeter,
    brings_new_sound,
    pick_rises,
    refine_onset,
)

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
        self._meter = RiseMeter(sample_rate_hz=sample_rate_hz)
        self._rate = sample_rate_hz
        # The detector's grid begins one frame before the recording.
        self._origin = -self._meter.frame_samples
        self._held = np.zeros(self._meter.frame_samples, dtype=np.float32)
        self._held_from = self._origin
        self._waiting: list[NDArray[np.float32]] = []
        self._n_waiting = 0
        self._n_blocks = 0
        self._rise = np.zeros(PICK_CONTEXT, dtype=np.float32)
        self._level = np.full(PICK_CONTEXT, -200.0, dtype=np.float32)
        self._rise_from = -PICK_CONTEXT
        self._steady = 0.0
        self._quiet_groups = 0
        self._open_onset: int | None = None
        self._is_untouched = True
        self._is_finished = False

    def feed(self, samples: NDArray[np.float32]) -> list[Strike]:
        """Take the next samples, shape (n,), and return the strikes that became complete."""
        if samples.size and self._is_untouched:
            # As if the first sample had stood still before: a constant offset must not look like a blow.
            self._held[:] = samples[0]
            self._is_untouched = False
        self._waiting.append(np.asarray(samples, dtype=np.float32))
        self._n_waiting += samples.size
        done: list[Strike] = []
        if self._block_start + self._meter.block_samples > self._held_to + self._n_waiting:
            return done
        self._take_in()
        while self._block_start + self._meter.block_samples <= self._held_to:
            done += self._take_block()
        return done

    def finish(self) -> list[Strike]:
        """Return the strikes still open at the end of the recording."""
        if self._is_finished:
            return []
        self._is_finished = True
        self._take_in()
        end = self._held_to
        done: list[Strike] = []
        n_more = 2 + (end - self._block_start) // self._meter.stride_samples
        missing = self._block_start + n_more * self._meter.stride_samples + self._meter.frame_samples - end
        self._held = np.concatenate([self._held, np.zeros(missing, dtype=np.float32)])
        for _ in range(n_more):
            done += self._take_block(end=end)
        if self._open_onset is not None:
            done.append(self._close(end))
        return done

    def _take_in(self) -> None:
        """Join what was fed to what is held."""
        self._held = np.concatenate([self._held, *self._waiting])
        self._waiting, self._n_waiting = [], 0

    @property
    def _block_start(self) -> int:
        return self._origin + self._n_blocks * self._meter.stride_samples

    @property
    def _held_to(self) -> int:
        return self._held_from + self._held.size

    def _take_block(self, *, end: int | None = None) -> list[Strike]:
        """Run the detector over the next block and act on what it found."""
        low = self._block_start - self._held_from
        n_heard = self._meter.block_samples if end is None else min(end - self._block_start, self._meter.block_samples)
        block = self._meter.measure(self._held[low : low + self._meter.block_samples], n_heard=n_heard)
        self._n_blocks += 1
        self._rise = np.concatenate([self._rise, block.rise_db])
        self._level = np.concatenate([self._level, block.level_db])
        self._steady = block.steady_power
        if block.starts_in_sound:
            self._open_onset = 0
        done: list[Strike] = []
        events = [(int(frame) + self._rise_from, True) for frame in pick_rises(self._rise, self._level)]
        groups = np.arange(block.above_floor_db.size) * _GROUP_FRAMES + (self._n_blocks - 1) * BLOCK_FRAMES
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
        at = self._origin + frame * self._meter.hop_samples + self._meter.frame_samples // 2
        if end is not None and at >= end:
            return []
        low = max(0, at - self._held_from - round(0.3 * self._rate))
        around = self._held[low : at - self._held_from + round(0.25 * self._rate)]
        index = at - self._held_from - low
        rise_db = float(self._rise[frame - self._rise_from])
        if at < _START_S * self._rate and rise_db < _START_RISE_DB:
            return []
        if not brings_new_sound(
            around, sample_rate_hz=self._rate, at=index, rise_db=rise_db, steady_power=self._steady
        ):
            return []
        onset = refine_onset(around, sample_rate_hz=self._rate, at=index) + low + self._held_from
        onset = max(onset, 0)
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
        at = self._origin + frame * self._meter.hop_samples + self._meter.frame_samples
        if end is not None:
            at = min(at, end)
        if self._open_onset is None or at - self._open_onset < _HOLD_BACK_S * self._rate:
            return []
        return [self._close(at)]

    def _cap(self) -> list[Strike]:
        """Close a strike that has lasted 12 s."""
        limit = round(_LONGEST_S * self._rate)
        # The detector may still find a blow up to this sample; only what lies before it is settled.
        settled = self._block_start - round((PICK_CONTEXT * 0.01 + REFINE_AFTER_S) * self._rate)
        if self._open_onset is None or settled - self._open_onset < limit:
            return []
        return [self._close(self._open_onset + limit)]

    def _close(self, end: int) -> Strike:
        onset = self._open_onset
        if onset is None:
            raise RuntimeError("no strike is open")
        self._open_onset = None
        start = max(onset - round(_PRE_ROLL_S * self._rate), self._held_from, 0)
        stop = max(min(end, onset + round(_LONGEST_S * self._rate)), onset + 1)
        return Strike(
            samples=self._held[start - self._held_from : stop - self._held_from].copy(),
            sample_rate_hz=self._rate,
            onset_sample=onset - start,
            start_s=start / self._rate,
        )

    def _forget(self) -> None:
        """Drop sound that no strike can need any more."""
        keep_from = self._block_start - round(_KEPT_S * self._rate)
        if self._open_onset is not None:
            keep_from = min(keep_from, self._open_onset - round(_PRE_ROLL_S * self._rate))
        drop = keep_from - self._held_from
        if drop > 0:
            self._held = self._held[drop:].copy()
            self._held_from = keep_from
