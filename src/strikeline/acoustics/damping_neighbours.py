"""What the dampers around a note do: when they land, how long notes and partials take to die under them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.damping_result import DampedPartial, Damping
from strikeline.acoustics.listening import Note
from strikeline.measured import Measured

Real = NDArray[np.float64]

_REACH_KEYS: Final = 8
_FARTHEST_KEYS: Final = 16
_FEWEST: Final = 5
_MAD_SD: Final = 1.4826
"""Standard deviation of normal values over their median absolute deviation."""
_LEAST_LANDING_SD_S: Final = 0.015
"""Fingers scatter by 10 to 15 ms (common practice, no source)."""
_LEAST_T60_SD: Final = 0.12
"""Of the logarithm: sound dampers scatter by some 10 % (no source)."""
_SLOW_SHARE: Final = 0.6
_MOST_RELATIVE_SE: Final = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Typical:
    """A middle value and how sound ones scatter about it."""

    value: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neighbours:
    """What was heard of the dampers of a piano that surely land."""

    key: Real  # shape (n,)
    lands_s: Real  # shape (n,)
    log_t60: Real  # shape (n,); NaN where it could not be told
    log_partial_t60: dict[int, Real]  # by partial number, shape (n,); NaN where nothing was heard, or a leak

    @classmethod
    def of(cls, notes: Sequence[Note]) -> Neighbours:
        """Return the neighbours among these notes."""
        sure = [(n.key, n.damping) for n in notes if n.key is not None and n.damping is not None and lands(n.damping)]
        numbers = sorted({partial.n for _, damping in sure for partial in damping.partials})
        by_number = {n: np.full(len(sure), np.nan) for n in numbers}
        for place, (_, damping) in enumerate(sure):
            for partial in damping.partials:
                t60 = stopped_log_t60(partial)
                by_number[partial.n][place] = np.nan if t60 is None else t60.value
        return cls(
            key=np.array([key for key, _ in sure], dtype=np.float64),
            lands_s=np.array([d.lands_s.value for _, d in sure if d.lands_s is not None]),
            log_t60=np.array([np.nan if d.t60_s is None else float(np.log(d.t60_s.value)) for _, d in sure]),
            log_partial_t60=by_number,
        )

    def landing_s(self, key: int) -> Typical | None:
        """Return when dampers near a key land; ``None`` if too few were heard."""
        return self._around(key, self.lands_s, _LEAST_LANDING_SD_S)

    def t60_s(self, key: int) -> float | None:
        """Return the middle T60 of the notes near a key."""
        typical = self._around(key, self.log_t60, _LEAST_T60_SD)
        return None if typical is None else float(np.exp(typical.value))

    def log_excess(self, key: int, damping: Damping) -> Measured | None:
        """Return by how much a note dies slower than its neighbours, natural logarithm of the ratio of times.

        Each partial is compared with the same partial of the notes around, for where a damper lies makes some partials
        slow on all of them; only those count that last longest, as these are what is heard of the end.
        """
        found = []
        for partial in damping.partials:
            own = stopped_log_t60(partial)
            typical = self._around(key, self.log_partial_t60.get(partial.n, np.full(self.key.size, np.nan)), 0.05)
            if own is not None and typical is not None:
                found.append((typical.value, own.value - typical.value, float(np.hypot(own.se, typical.sd))))
        if not found:
            return None
        usual, excess, sd = (np.array(column) for column in zip(*found, strict=True))
        slow = usual > usual.max() + np.log(_SLOW_SHARE)
        weight = 1.0 / sd[slow] ** 2
        se = float(np.hypot(1.0 / np.sqrt(weight.sum()), _LEAST_T60_SD))
        return Measured(float(weight @ excess[slow] / weight.sum()), se)

    def _around(self, key: int, values: Real, least_sd: float) -> Typical | None:
        for reach in (_REACH_KEYS, _FARTHEST_KEYS):
            near = values[(np.abs(self.key - key) <= reach) & (self.key != key) & np.isfinite(values)]
            if near.size >= _FEWEST:
                middle = float(np.median(near))
                return Typical(value=middle, sd=max(_MAD_SD * float(np.median(np.abs(near - middle))), least_sd))
        return None


def lands(damping: Damping) -> bool:
    """Return whether a damper was surely heard to land."""
    return damping.lands_s is not None and damping.is_landing_sure


def stopped_log_t60(partial: DampedPartial) -> Measured | None:
    """Return the logarithm of the T60 of a partial that does not leak, if it was measured well."""
    decay = partial.decay_db_per_s
    if decay is None or partial.leaks or decay.se > _MOST_RELATIVE_SE * decay.value:
        return None
    return Measured(float(np.log(60.0 / decay.value)), decay.se / decay.value)
