"""The modes of the strong partials of one note: up to four damped sinusoids each, as many as the evidence demands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.modes import ModeFit, fit_one_more_mode, needs_more_modes
from strikeline.acoustics.partials import MeasuredPartials
from strikeline.units import DB_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_MOST_MODES: Final = 4
"""Three strings and what is left of their second polarisations."""
_MOST_PARTIALS: Final = 10
_HIGHEST_PARTIAL: Final = 20
_FAINTEST_DB: Final = 40.0
"""Below the strongest partial: nobody hears a beat there."""
_CLEAR_DB: Final = 25.0
"""Energy over noise density: a second mode 12 dB down still stands clear of the noise."""
_EXPLAINED: Final = 2.0
"""What a fit leaves, over the noise beside the partial: below this there is nothing left to explain."""


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

    Up to ten partials among the first twenty. A mode is added while the evidence demands it (see
    `modes.needs_more_modes`); how many strings there are is another question.

    Parameters
    ----------
    found : MeasuredPartials
        Partials of the note, with fits of one and two modes.
    clear : ndarray of bool, shape (k,)
        Which of them stand clear of the noise.
    """
    rows = _strong(found, clear)
    resolved = {int(row): _modes(found, int(row), found.single, int(row)) for row in rows}
    bands, last = found.bands.of_rows(rows), found.double.of_rows(rows)
    residual, count = found.single.residual[rows], np.ones(rows.size, dtype=np.int64)
    for n_modes in range(2, _MOST_MODES + 1):
        if rows.size == 0:
            break
        if n_modes > 2:
            last = fit_one_more_mode(bands, last)
        asked = needs_more_modes(bands, residual=residual, more=last, n_more=n_modes - count)
        for place in np.flatnonzero(asked):
            resolved[int(rows[place])] = _modes(found, int(rows[place]), last, int(place))
        residual, count = np.where(asked, last.residual, residual), np.where(asked, n_modes, count)
        # Two modes may explain three strings no better than one does: what is not explained goes on.
        left = last.noise_variance > _EXPLAINED * found.floor_variance[rows]
        goes_on = np.flatnonzero((asked & left) if n_modes > 2 else left)
        rows, residual, count = rows[goes_on], residual[goes_on], count[goes_on]
        bands, last = bands.of_rows(goes_on), last.of_rows(goes_on)
    return resolved


def modes_of(found: MeasuredPartials, row: int) -> PartialModes:
    """Return the one or two modes that `found` has of a partial."""
    return _modes(found, row, found.double if found.is_double[row] else found.single, row)


def _strong(found: MeasuredPartials, clear: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the rows of the partials that are worth resolving, ascending."""
    if found.bands.is_cut_short:
        return np.empty(0, dtype=np.int64)
    loud = clear & (found.signal_to_noise_db > _CLEAR_DB) & (found.partial <= _HIGHEST_PARTIAL)
    loud &= found.level_db > found.level_db[clear].max(initial=-np.inf) - _FAINTEST_DB
    rows = np.flatnonzero(loud)
    return np.sort(rows[np.argsort(-found.level_db[rows], kind="stable")][:_MOST_PARTIALS])


def _modes(found: MeasuredPartials, row: int, fit: ModeFit, place: int) -> PartialModes:
    return PartialModes(
        partial=int(found.partial[row]),
        pole_per_s=fit.exponent[place] + 2j * np.pi * found.bands.centre_hz[row],
        onset=fit.onset[place],
        pole_sd_per_s=fit.exponent_sd[place],
        level_sd_db=DB_PER_NEPER * fit.amplitude_rel_sd[place],
    )
