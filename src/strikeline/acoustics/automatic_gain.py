"""A recorder that changes its gain by itself gives itself away by the noise behind the notes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import scipy.special
from numpy.typing import NDArray

_ONSET_DB: Final = 8.0
_LOUD_WITHIN_DB: Final = 40.0
_SETTLED_S: Final = 0.5
_SHORTEST_DECAY_S: Final = 1.2
_RISE_DB: Final = 3.0
_FEWEST_RISES: Final = 10
_SIGN_P: Final = 1e-3
_NO_NOISE_DB: Final = -190.0
"""Per bin; below it the sound is digital silence, put in or left by a gate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GainChange:
    """Noise that rises while notes die away."""

    n_rising: int
    n_decays: int
    rise_db: float
    """Median over the rising ones."""


class GainWatch:
    """Tell from the noise behind the notes whether the recorder changes its gain by itself.

    Behind a decaying note the noise stays as it is, or falls with the last of the blow. A recorder with automatic gain
    turns down at the strike and up again while the note dies away, and the noise rises with it. The noise level is the
    20th percentile of the spectrum's bins from 4 to 16 kHz, in which partials are few and narrow. In every decay of
    1.2 s or more, from half a second after the strike on, its median over the last third is compared with that over
    the first. A rise or fall of 3 dB counts. Noise that merely wanders rises as often as it falls, so rises against
    falls are put to a one-sided sign test at 1 in 1000; and a quarter of the decays must rise, ten at least. A
    recording of few notes is therefore not judged.

    On 88 notes of a real grand no decay rises by more than 0.4 dB, with noise added from −100 to −50 dB re full scale
    too. With a simulated recorder (gain range 6 to 25 dB, recovery in 0.5 to 1.5 s) a third to all of the decays rise;
    recovery over 5 s is found in passes of 3 s per note, and in faster ones only from −60 dB of noise upwards, where
    the gain hardly moves within a note.

    Parameters
    ----------
    frame_s : float
        Length of the frames fed.
    """

    def __init__(self, *, frame_s: float) -> None:
        self._frame_s = frame_s
        self._level: list[NDArray[np.float64]] = []
        self._noise: list[NDArray[np.float64]] = []

    def feed(self, *, level: NDArray[np.float64], noise: NDArray[np.float64]) -> None:
        """Take in the power of the next frames and the power of the noise in them, each of shape (frames,)."""
        self._level.append(level)
        self._noise.append(noise)

    def find(self) -> GainChange | None:
        """Return the evidence for automatic gain, or ``None``."""
        changes = self.changes_db()
        rising = changes[changes >= _RISE_DB]
        n_falling = int(np.count_nonzero(changes <= -_RISE_DB))
        if len(rising) < max(_FEWEST_RISES, len(changes) / 4):
            return None
        # The sign test: so many rises or more, if rises and falls were equally likely.
        chance = float(scipy.special.bdtrc(len(rising) - 1, len(rising) + n_falling, 0.5))
        if chance > _SIGN_P:
            return None
        return GainChange(n_rising=len(rising), n_decays=len(changes), rise_db=float(np.median(rising)))

    def changes_db(self) -> NDArray[np.float64]:
        """Return by how much the noise rose in each decay that can be judged, shape (decays,)."""
        if not self._level:
            return np.zeros(0)
        level_db, noise_db = (
            10 * np.log10(np.maximum(np.concatenate(parts), 1e-20)) for parts in (self._level, self._noise)
        )
        starts = self._onsets(level_db)
        changes = []
        for start, end in pairwise([*starts, len(level_db)]):
            decay = noise_db[start + round(_SETTLED_S / self._frame_s) : end - 1]
            if len(decay) * self._frame_s < _SHORTEST_DECAY_S or decay.min() < _NO_NOISE_DB:
                continue
            third = len(decay) // 3
            changes.append(float(np.median(decay[-third:]) - np.median(decay[:third])))
        return np.array(changes)

    @staticmethod
    def _onsets(level_db: NDArray[np.float64]) -> list[int]:
        """Return the frames in which a strike begins: 8 dB above the lowest of the three before."""
        if len(level_db) < 4:
            return []
        before = np.minimum(np.minimum(level_db[2:-1], level_db[1:-2]), level_db[:-3])
        is_strike = (level_db[3:] - before >= _ONSET_DB) & (level_db[3:] >= level_db.max() - _LOUD_WITHIN_DB)
        frames = np.flatnonzero(is_strike) + 3
        return [int(frame) for frame, gap in zip(frames, np.diff(frames, prepend=-9), strict=True) if gap > 3]
