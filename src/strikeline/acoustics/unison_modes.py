"""The modes of the strong partials of one note: up to four damped sinusoids each, as many as the evidence demands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.modes import (
    ModeFit,
    fit_one_more_mode,
    needs_more_modes,
    refit_modes,
)
from strikeline.acoustics.partials import MeasuredPartials
from strikeline.units import DB_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_MOST_MODES: Final = 4
"""Three strings and what is left of their second polarisations."""
_FEWEST_SAMPLES: Final = 4 * (_MOST_MODES + 2)
"""A short blow leaves fewer: too little for the search to begin with."""
_MOST_PARTIALS: Final = 8
_HIGHEST_PARTIAL: Final = 16
_FAINTEST_DB: Final = 40.0
"""Below the strongest partial: nobody hears a beat there."""
_CLEAR_DB: Final = 25.0
"""Energy over noise density: a second mode 12 dB down still stands clear of the noise."""
_ROOM_S: Final = 0.25
"""A furnished room's answer to the onset has fallen by 40 dB."""
_AT_MOST_GONE_DB: Final = 8.0
"""But no more of the sound than this is waited for."""
_ROOM_DB_PER_S: Final = 100.0
"""A room that takes 0.6 s for 60 dB, a lively one, answers with modes that fall this fast."""
_FASTER: Final = 2.5
"""Prompt sound and strings fall at most so much faster than the mode that carries the partial when the blow is over:
three strings in step fall N times as fast as each alone, and the mode that carries them is that one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartialModes:
    """What sounds in one partial."""

    partial: int
    pole_per_s: Complex
    """Shape (m,): −α + iω of each mode."""
    onset: Complex
    """Shape (m,): complex amplitude at the onset."""
    pole_sd_per_s: Real
    """Shape (m,): standard deviation of the real part, and equally of the imaginary part."""
    level_sd_db: Real
    """Shape (m,): standard deviation of the level at the onset, dB."""


def resolve_modes(found: MeasuredPartials, clear: NDArray[np.bool_]) -> dict[int, PartialModes]:
    """Return the modes of the strongest partials, by row of `found`, ascending.

    Up to eight partials among the first sixteen. A mode is added while the evidence demands it (see
    `modes.needs_more_modes`); how many strings there are is another question.

    Parameters
    ----------
    found : MeasuredPartials
        Partials of the note, with fits of one and two modes.
    clear : ndarray of bool, shape (k,)
        Which of them stand clear of the noise.
    """
    rows = _strong(found, clear)
    if rows.size == 0:
        return {}
    single = found.single.of_rows(rows)
    start_s = _start_s(single)
    bands = found.bands.of_rows(rows).from_s(start_s)
    if bands.time_s.size < _FEWEST_SAMPLES:
        return {}
    last = refit_modes(bands, single.exponent)
    resolved = {int(row): _modes(found, int(row), last, place, start_s) for place, row in enumerate(rows)}
    residual, count = last.residual, np.ones(rows.size, dtype=np.int64)
    for n_modes in range(2, _MOST_MODES + 1):
        last = refit_modes(bands, found.double.exponent[rows]) if n_modes == 2 else fit_one_more_mode(bands, last)
        asked = needs_more_modes(bands, residual=residual, more=last, n_more=n_modes - count)
        for place in np.flatnonzero(asked):
            resolved[int(rows[place])] = _modes(found, int(rows[place]), last, int(place), start_s)
        residual, count = np.where(asked, last.residual, residual), np.where(asked, n_modes, count)
        # Two modes may explain three strings no better than one does: three get their chance all the same.
        goes_on = np.flatnonzero(asked | (n_modes == 2))
        if goes_on.size == 0:
            break
        rows, residual, count = rows[goes_on], residual[goes_on], count[goes_on]
        bands, last = bands.of_rows(goes_on), last.of_rows(goes_on)
    return resolved


def _start_s(single: ModeFit) -> float:
    """Return when the modes of strings stand free of the blow and of the room's first answer to it."""
    return min(_ROOM_S, _AT_MOST_GONE_DB / (DB_PER_NEPER * float(np.median(-single.exponent.real))))


def modes_of(found: MeasuredPartials, row: int) -> PartialModes:
    """Return the one or two modes that `found` has of a partial."""
    return _modes(found, row, found.double if found.is_double[row] else found.single, row, 0.0)


def _strong(found: MeasuredPartials, clear: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the rows of the partials that are worth resolving, ascending."""
    if found.bands.is_cut_short:
        return np.empty(0, dtype=np.int64)
    loud = clear & (found.signal_to_noise_db > _CLEAR_DB) & (found.partial <= _HIGHEST_PARTIAL)
    loud &= found.level_db > found.level_db[clear].max(initial=-np.inf) - _FAINTEST_DB
    rows = np.flatnonzero(loud)
    return np.sort(rows[np.argsort(-found.level_db[rows], kind="stable")][:_MOST_PARTIALS])


def _modes(found: MeasuredPartials, row: int, fit: ModeFit, place: int, start_s: float) -> PartialModes:
    kept = _lasting(fit.exponent[place].real, fit.onset[place], start_s)
    return PartialModes(
        partial=int(found.partial[row]),
        pole_per_s=fit.exponent[place, kept] + 2j * np.pi * found.bands.centre_hz[row],
        onset=fit.onset[place, kept],
        pole_sd_per_s=fit.exponent_sd[place, kept],
        level_sd_db=DB_PER_NEPER * fit.amplitude_rel_sd[place, kept],
    )


def _lasting(growth_per_s: Real, onset: Complex, start_s: float) -> NDArray[np.bool_]:
    """Return which modes are of the strings: what is over as fast as a room is, and long before the rest, is not."""
    power = np.abs(onset * np.exp(start_s * growth_per_s)) ** 2
    fall_db_per_s = -DB_PER_NEPER * growth_per_s
    return np.asarray(fall_db_per_s < max(_ROOM_DB_PER_S, _FASTER * float(fall_db_per_s[np.argmax(power)])))
