"""Early and late decay of each partial, read from its fitted modes."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands
from strikeline.acoustics.listening import Decay
from strikeline.acoustics.modes import ModeFit
from strikeline.acoustics.partials import MeasuredPartials
from strikeline.measured import Measured
from strikeline.units import DB_PER_NEPER

Real = NDArray[np.float64]

_TWO_STAGES_RATIO: Final = 1.5
"""Two modes are two stages only if one falls this much faster; otherwise they are a beat."""
_MOST_RELATIVE_SE: Final = 0.5


def estimate_decays(found: MeasuredPartials) -> tuple[Decay, ...]:
    """Return the decay of every partial, in order.

    *Early* is the rate at which the energy falls when the band first shows it (1.5 / half width after the onset), the
    mean of the modes' rates weighted by their energy then: −d/dt Σ|a|²e^(−2αt) / Σ|a|²e^(−2αt), without the beat.
    *Late* is the rate of the slower mode, if it falls at least 1.5 times slower and carries the sound before its end.
    One damped sinusoid has one rate, the early one. A rate with a standard error above half of itself is left out, and
    so are all rates where the bands are cut short: what falls there is the end of the sound.
    """
    if found.bands.is_cut_short:
        return (Decay(early=None, late=None),) * found.partial.size
    return tuple(
        _two_stages(found.double, row, found.bands) if found.is_double[row] else _one_stage(found.single, row)
        for row in range(found.partial.size)
    )


def _one_stage(fit: ModeFit, row: int) -> Decay:
    return Decay(early=_rate(-fit.exponent.real[row, 0], fit.exponent_sd[row, 0]), late=None)


def _two_stages(fit: ModeFit, row: int, bands: Bands) -> Decay:
    first_s, last_s = float(bands.time_s[0]), float(bands.time_s[-1])
    alpha: Real = -fit.exponent.real[row]
    alpha_sd: Real = fit.exponent_sd[row]
    power = (np.abs(fit.onset[row]) * np.exp(-alpha * first_s)) ** 2
    share = power / max(float(power.sum()), 1e-300)
    share_sd = share[0] * share[1] * 2.0 * float(np.hypot(*fit.amplitude_rel_sd[row]))
    early_sd = float(np.hypot(np.hypot(*(share * alpha_sd)), share_sd * (alpha[0] - alpha[1])))
    slow = int(np.argmin(alpha))
    fast = 1 - slow
    late = None
    if alpha[fast] > _TWO_STAGES_RATIO * alpha[slow]:
        lead = float(np.log(max(power[fast], 1e-300) / max(power[slow], 1e-300)))
        crossing_s = first_s + lead / (2.0 * (alpha[fast] - alpha[slow]))
        if crossing_s < last_s:
            late = _rate(float(alpha[slow]), float(alpha_sd[slow]))
    return Decay(early=_rate(float(share @ alpha), early_sd), late=late)


def _rate(alpha_per_s: float, sd_per_s: float) -> Measured | None:
    if not sd_per_s < _MOST_RELATIVE_SE * alpha_per_s:
        return None
    return Measured(DB_PER_NEPER * alpha_per_s, DB_PER_NEPER * sd_per_s)
