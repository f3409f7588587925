"""How a unison is heard: which pairs of modes stay in each other's company long enough to beat.

Two modes make the level swell and dip while both are loud. How many times, is their difference in frequency times the
time for which both are: within 15 dB of the loudest mode of their partial (the dip is then 3 dB or more) and within
40 dB of the partial's beginning. Half a turn is a dip that bends the decay, two turns are a beat, because it comes
again; less than half passes for prompt sound and aftersound. The figures are choices, made for the ear (common
practice, no source). Listeners like unisons 1 to 2 cents wide (R. E. Kirk 1959, as quoted by Nakamura 1989), and by
these figures half of the notes of a recorded concert grand (tests/real) beat: a beat is what is heard, not yet a fault.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_result import Beat, UnisonVerdict
from strikeline.measured import Measured
from strikeline.units import DB_PER_NEPER

_COMPANY_DB: Final = 15.3
"""Level difference at which two modes make a swell 3 dB high: 20·log10((1 + r)/(1 − r)) = 3 for r = 0.171."""
_HEARD_DB: Final = 40.0
_BEATS_TURNS: Final = 2.0
_UNEVEN_TURNS: Final = 0.5
_SHARE: Final = 0.25
"""Share of the note's partials, each with its amplitude, that must beat for the note to be called beating."""
_EARLY_S: Final = 0.05
"""The blow is over, and no mode has fallen away."""
_N_TIMES: Final = 160
_DEEPEST_DB: Final = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """The pair of modes of one partial that turns about each other most."""

    partial: int
    amplitude: float
    """Of the partial, shortly after the onset."""
    turns: float
    rate_hz: Measured
    depth_db: float


def judge_by_modes(modes: Iterable[PartialModes], *, heard_s: float) -> tuple[UnisonVerdict, tuple[Beat, ...]]:
    """Return how a note is heard, from the modes of its strong partials, and the beats, the loudest partial first.

    Parameters
    ----------
    modes : iterable of PartialModes
        At least one partial.
    heard_s : float
        How long the note is heard.
    """
    turning = [find_turning(one, heard_s=heard_s) for one in modes]
    whole = sum(one.amplitude for one in turning)

    def share(turns: float) -> float:
        return sum(one.amplitude for one in turning if one.turns >= turns) / whole

    if share(_BEATS_TURNS) >= _SHARE:
        verdict = UnisonVerdict.BEATING
    elif share(_UNEVEN_TURNS) >= _SHARE:
        verdict = UnisonVerdict.UNEVEN
    else:
        verdict = UnisonVerdict.LOCKED
    beating = sorted((one for one in turning if one.turns >= _BEATS_TURNS), key=lambda one: -one.amplitude)
    return verdict, tuple(Beat(partial=b.partial, rate_hz=b.rate_hz, depth_db=b.depth_db) for b in beating)


def find_turning(modes: PartialModes, *, heard_s: float) -> Turning:
    """Return the pair of modes of a partial that turns about each other most while both are loud.

    Parameters
    ----------
    modes : PartialModes
        One mode or more; a single one does not turn.
    heard_s : float
        How long the partial is heard.
    """
    time_s = np.linspace(_EARLY_S, max(heard_s, 2 * _EARLY_S), _N_TIMES)
    level_db = 20.0 * np.log10(np.abs(modes.onset) + 1e-15)[:, None] + DB_PER_NEPER * np.outer(
        modes.pole_per_s.real, time_s
    )
    loudest_db = level_db.max(axis=0)
    in_company = (level_db > loudest_db - _COMPANY_DB) & (loudest_db > loudest_db[0] - _HEARD_DB)
    best = Turning(
        partial=modes.partial, amplitude=_amplitude(modes), turns=0.0, rate_hz=Measured(0.0, 0.0), depth_db=0.0
    )
    for i, j in combinations(range(modes.onset.size), 2):
        together = in_company[i] & in_company[j]
        rate_hz = abs(float(modes.pole_per_s[i].imag - modes.pole_per_s[j].imag)) / (2 * np.pi)
        turns = rate_hz * float(together.mean()) * float(time_s[-1] - time_s[0])
        if turns > best.turns:
            apart_db = float(np.abs(level_db[i] - level_db[j])[together].min())
            best = Turning(
                partial=modes.partial,
                amplitude=best.amplitude,
                turns=turns,
                rate_hz=Measured(rate_hz, float(np.hypot(*modes.pole_sd_per_s[[i, j]])) / (2 * np.pi)),
                depth_db=_depth_db(apart_db),
            )
    return best


def _amplitude(modes: PartialModes) -> float:
    return float(np.sqrt(np.sum(np.abs(modes.onset * np.exp(modes.pole_per_s.real * _EARLY_S)) ** 2)))


def _depth_db(apart_db: float) -> float:
    ratio = 10.0 ** (-apart_db / 20.0)
    return min(_DEEPEST_DB, 20.0 * float(np.log10((1.0 + ratio) / max(1.0 - ratio, 1e-6))))
