"""How often two modes of a partial turn about each other while both are loud.

Levels of modes fall along straight lines, so when a pair begins and ceases to be loud follows from where lines cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.units import DB_PER_NEPER

Real = NDArray[np.float64]

COMPANY_DB: Final = 15.3
"""Level difference at which two modes make a swell 3 dB high: 20·log10((1 + r)/(1 − r)) = 3 for r = 0.171."""
HEARD_DB: Final = 40.0
EARLY_S: Final = 0.05
"""The blow is over, and no mode has fallen away."""
_SILENT_DB: Final = -1000.0
_LEAST_FALL_DB_PER_S: Final = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeLines:
    """Modes of k partials side by side, two places or more for each; places that a partial does not fill are silent."""

    level_db: Real
    """Shape (..., k, m): at the onset."""
    fall_db_per_s: Real
    """Shape (..., k, m), above 0."""
    f_hz: Real
    """Shape (k, m)."""
    level_sd_db: Real
    """Shape (k, m)."""
    pole_sd_per_s: Real
    """Shape (k, m)."""

    @classmethod
    def of(cls, modes: Sequence[PartialModes]) -> ModeLines:
        """Return the modes of some partials, of each the loudest at the onset first."""
        shape = (len(modes), max(2, max((one.onset.size for one in modes), default=2)))
        level, fall = np.full(shape, _SILENT_DB), np.ones(shape)
        f_hz, level_sd, pole_sd = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        for row, one in enumerate(modes):
            order, n = np.argsort(-np.abs(one.onset), kind="stable"), one.onset.size
            level[row, :n] = 20.0 * np.log10(np.abs(one.onset[order]) + 1e-15)
            fall[row, :n] = np.maximum(-DB_PER_NEPER * one.pole_per_s.real[order], _LEAST_FALL_DB_PER_S)
            f_hz[row, :n] = one.pole_per_s.imag[order] / (2 * np.pi)
            level_sd[row, :n], pole_sd[row, :n] = one.level_sd_db[order], one.pole_sd_per_s[order]
        return cls(level_db=level, fall_db_per_s=fall, f_hz=f_hz, level_sd_db=level_sd, pole_sd_per_s=pole_sd)

    def moved(self, *, level_db: Real, fall_db_per_s: Real) -> ModeLines:
        """Return the same modes, louder and falling faster by so much, arrays of shape (..., k, m)."""
        fall = np.maximum(self.fall_db_per_s + fall_db_per_s, _LEAST_FALL_DB_PER_S)
        return replace(self, level_db=self.level_db + level_db, fall_db_per_s=fall)

    @property
    def pair(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Places of the two modes of each of p = m·(m − 1)/2 pairs."""
        return _pairs(self.f_hz.shape[-1])

    def apart_hz(self) -> Real:
        """Return the difference in frequency of each pair, shape (k, p)."""
        first, second = self.pair
        return np.abs(self.f_hz[:, first] - self.f_hz[:, second])

    def company_s(self, heard_s: float) -> tuple[Real, Real]:
        """Return from when until when both modes of each pair are loud, shapes (..., k, p); no later, if never."""
        level, fall = self.level_db, self.fall_db_per_s
        above = level[..., :, None] - level[..., None, :] + COMPANY_DB
        faster = fall[..., :, None] - fall[..., None, :]
        same = faster == 0.0
        crossing_s = above / np.where(same, 1.0, faster)
        never = np.where(same & (above < 0.0), -np.inf, np.inf)
        until_s = np.where(faster > 0.0, crossing_s, never).min(axis=-1)
        from_s = np.where(faster < 0.0, crossing_s, -np.inf).max(axis=-1)
        gone_db = (level - EARLY_S * fall).max(axis=-1, keepdims=True) - HEARD_DB
        gone_s = ((level - gone_db) / fall).max(axis=-1, keepdims=True)
        first, second = self.pair
        begin_s = np.maximum(np.maximum(from_s[..., first], from_s[..., second]), EARLY_S)
        end_s = np.minimum(np.minimum(until_s[..., first], until_s[..., second]), np.minimum(gone_s, heard_s))
        return begin_s, np.maximum(begin_s, end_s)

    def turns(self, heard_s: float) -> Real:
        """Return how often each pair turns, shape (..., k, p)."""
        begin_s, end_s = self.company_s(heard_s)
        return self.apart_hz() * (end_s - begin_s)

    def early_amplitude(self) -> Real:
        """Return the amplitude of each partial shortly after the onset, its modes' powers added, shape (k,)."""
        power = 10.0 ** ((self.level_db - EARLY_S * self.fall_db_per_s) / 10.0)
        return np.asarray(np.sqrt(power.sum(axis=-1)))


@cache
def _pairs(n_modes: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    first, second = np.triu_indices(n_modes, 1)
    return first, second
