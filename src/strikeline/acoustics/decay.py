"""Early and late decay of each partial and where they cross, read from its fitted modes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands
from strikeline.acoustics.listening import Decay
from strikeline.acoustics.modes import ModeFit
from strikeline.acoustics.partials import MeasuredPartials
from strikeline.acoustics.unison_modes import PartialModes
from strikeline.measured import Measured
from strikeline.units import DB_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_TWO_STAGES_RATIO: Final = 1.5
"""Two modes are two stages only if one falls this much faster; otherwise they are a beat."""
_MOST_RELATIVE_SE: Final = 0.5
_TWO: Final = 2
_MOMENTS: Final = 200
"""Between which the crossing of more than two modes is looked for, up to the end of the sound."""


def estimate_decays(found: MeasuredPartials, resolved: Mapping[int, PartialModes] | None = None) -> tuple[Decay, ...]:
    """Return the decay of every partial, in order.

    Parameters
    ----------
    found : MeasuredPartials
        k partials.
    resolved : mapping of int to PartialModes, optional
        Modes of strong partials by row, see `unison_modes.resolve_modes`.

    Returns
    -------
    tuple of Decay
        k of them.

    Notes
    -----
    *Early* is the rate at which the energy falls when the band first shows it (1.5 / half width after the onset), the
    mean of the modes' rates weighted by their energy then: −d/dt Σ|a|²e^(−2αt) / Σ|a|²e^(−2αt), without the beat.
    *Late* is the rate of the slower mode, if it falls at least 1.5 times slower and carries the sound before its end.
    They *cross* where both modes are equally strong, t = ln|a_fast/a_slow| / (α_fast − α_slow), if that is heard; the
    level there is that of either mode, against the partial at the onset. One damped sinusoid has one rate,
    the early one. A rate or a time with a standard error above half of itself is left out, and so is everything where
    the bands are cut short (what falls there is the end of the sound) or the fit of the modes has not settled.

    Where more than two modes are resolved, the aftersound is the slowest of them and takes over where it is as strong
    as all the others together.

    Standard errors follow from the covariance of the modes (first order); with three modes and more from their own
    errors taken as independent, which is too wide rather than too narrow. A second mode that was not found is not in
    the error of the one rate.
    """
    if found.bands.is_cut_short:
        return (Decay(early=None, late=None),) * found.partial.size
    decays = [
        two if is_double else one
        for one, two, is_double in zip(
            _one_stage(found), _two_stages(found.double, found.bands), found.is_double.tolist(), strict=True
        )
    ]
    for row, modes in (resolved or {}).items():
        if modes.onset.size > _TWO:
            decays[row] = _many_modes(
                decays[row].early, modes, level_db=float(found.level_db[row]), last_s=float(found.bands.time_s[-1])
            )
    return tuple(decays)


def _one_stage(found: MeasuredPartials) -> list[Decay]:
    """Return the decay of each partial if it is one mode; that it might yet be two is in the error."""
    rate = -found.single.exponent.real[:, 0]
    other, _ = _FastAndSlow.of(found.double).early_rate(float(found.bands.time_s[0]))
    sd = np.hypot(found.single.exponent_sd[:, 0], np.sqrt(found.share_of_two()) * (other - rate))
    return [Decay(early=_rate(*both), late=None) for both in zip(rate.tolist(), sd.tolist(), strict=True)]


def _two_stages(fit: ModeFit, bands: Bands) -> list[Decay]:
    """Return the decay of each partial in which two modes sound."""
    first_s, last_s = float(bands.time_s[0]), float(bands.time_s[-1])
    modes = _FastAndSlow.of(fit)
    alpha = -modes.pole.real
    early, early_sd = modes.early_rate(first_s)
    crossing_s, crossing_sd = modes.crossing()
    crossing_db, crossing_db_sd = modes.crossing_level(crossing_s)
    is_staged = (alpha[:, 0] > _TWO_STAGES_RATIO * alpha[:, 1]) & (crossing_s < last_s)
    decays = []
    for row, staged in enumerate(is_staged.tolist()):
        if not fit.is_settled[row]:
            decays.append(Decay(early=None, late=None))
            continue
        late = crossing = level = None
        if staged:
            late = _rate(alpha[row, 1], modes.pole_sd[row, 1])
            is_heard = late is not None and crossing_s[row] > first_s
            crossing = _rate(crossing_s[row], crossing_sd[row], unit=1.0) if is_heard else None
            level = None if crossing is None else Measured(float(crossing_db[row]), float(crossing_db_sd[row]))
        decays.append(Decay(early=_rate(early[row], early_sd[row]), late=late, crossing_s=crossing, crossing_db=level))
    return decays


def _many_modes(early: Measured | None, modes: PartialModes, *, level_db: float, last_s: float) -> Decay:
    """Return the decay of a partial in which more than two modes sound."""
    alpha, alpha_sd = -modes.pole_per_s.real, modes.pole_sd_per_s
    slow = int(np.argmin(alpha))
    rest = np.arange(alpha.size) != slow
    log_power = 2.0 * np.log(np.maximum(np.abs(modes.onset), 1e-150))

    def lead(time_s: Real) -> Real:
        """Return ln of the others' power over that of the slowest."""
        return np.asarray(
            np.logaddexp.reduce(log_power[rest, None] - 2.0 * alpha[rest, None] * time_s, axis=0)
            - log_power[slow]
            + 2.0 * alpha[slow] * time_s
        )

    time_s = np.linspace(0.0, last_s, _MOMENTS)
    ahead = lead(time_s)
    share = np.exp(log_power[rest] - np.logaddexp.reduce(log_power[rest]))
    if ahead[-1] > 0.0 or not float(share @ alpha[rest]) > _TWO_STAGES_RATIO * alpha[slow]:
        return Decay(early=early, late=None)
    late = _rate(alpha[slow], alpha_sd[slow])
    if late is None or ahead[0] < 0.0:
        return Decay(early=early, late=late)
    after = int(np.argmax(ahead < 0.0))
    part = ahead[after - 1] / (ahead[after - 1] - ahead[after])
    crossing_s = float(time_s[after - 1] + part * (time_s[1] - time_s[0]))
    share = np.exp(log_power[rest] - 2.0 * alpha[rest] * crossing_s)
    share /= share.sum()
    approach = float(share @ alpha[rest]) - alpha[slow]
    size_sd = modes.level_sd_db / DB_PER_NEPER
    others = np.hypot(share * size_sd[rest], share * crossing_s * alpha_sd[rest])
    own = np.hypot(size_sd[slow], crossing_s * alpha_sd[slow])
    crossing_sd = float(np.sqrt(others @ others + own**2)) / approach
    crossing = _rate(crossing_s, crossing_sd, unit=1.0)
    fall_db = DB_PER_NEPER * (0.5 * log_power[slow] - alpha[slow] * crossing_s) - level_db
    level = Measured(float(fall_db), DB_PER_NEPER * float(np.hypot(own, alpha[slow] * crossing_sd)))
    return Decay(early=early, late=late, crossing_s=crossing, crossing_db=None if crossing is None else level)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _FastAndSlow:
    """The two modes of k partials, the faster one first."""

    pole: Complex
    """Shape (k, 2)."""
    onset: Complex
    """Shape (k, 2)."""
    pole_sd: Real
    """Shape (k, 2)."""
    covariance: Complex
    """Shape (k, 4, 4), of the relative errors of `onset`, then of the errors of `pole`."""

    @classmethod
    def of(cls, fit: ModeFit) -> _FastAndSlow:
        order = np.argsort(fit.exponent.real, axis=1, kind="stable")
        unit = np.concatenate(
            [1.0 / np.where(fit.amplitude == 0.0, 1e-100, fit.amplitude), np.ones_like(order)], axis=1
        )
        relative = fit.covariance * unit[:, :, None] * unit.conj()[:, None, :]
        both = np.concatenate([order, order + 2], axis=1)
        return cls(
            pole=np.take_along_axis(fit.exponent, order, axis=1),
            onset=np.take_along_axis(fit.onset, order, axis=1),
            pole_sd=np.take_along_axis(fit.exponent_sd, order, axis=1),
            covariance=relative[np.arange(len(both))[:, None, None], both[:, :, None], both[:, None, :]],
        )

    def _sd(self, slope: Complex) -> Real:
        """Return the standard deviation of Re Σ slope·error, shape (k,)."""
        variance = np.einsum("ki,kij,kj->k", slope, self.covariance, slope.conj()).real
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def early_rate(self, first_s: float) -> tuple[Real, Real]:
        """Return −½·d ln(Σ|a|²e^(−2αt))/dt at `first_s`, per second, and its standard deviation."""
        alpha = -self.pole.real
        # In logarithms: the slower mode of a pair may outweigh the other by a hundred nepers.
        log_power = 2.0 * (np.log(np.maximum(np.abs(self.onset), 1e-150)) - alpha * first_s)
        power = np.exp(log_power - log_power.max(axis=1, keepdims=True))
        share = power / power.sum(axis=1, keepdims=True)
        mean = np.sum(share * alpha, axis=1)
        pull = 2.0 * share * (alpha - mean[:, None])
        slope = np.concatenate([pull, pull * first_s - share], axis=1)
        return mean, self._sd(slope.astype(np.complex128))

    def crossing(self) -> tuple[Real, Real]:
        """Return when both modes are equally strong, seconds, and its standard deviation.

        Before the blow, below 0, if the slower mode is the stronger one from the start.
        """
        apart = np.maximum(self.pole.real[:, 1] - self.pole.real[:, 0], 1e-9)
        size = np.log(np.maximum(np.abs(self.onset), 1e-150))
        time_s = (size[:, 0] - size[:, 1]) / apart
        slope = np.stack([1.0 / apart, -1.0 / apart, time_s / apart, -time_s / apart], axis=1)
        return time_s, self._sd(slope.astype(np.complex128))

    def crossing_level(self, time_s: Real) -> tuple[Real, Real]:
        """Return the level of either mode at `time_s` against the partial at the onset, dB, and its standard deviation.

        It is (α_f·ln|a_s| − α_s·ln|a_f|)/(α_f − α_s) − ln|a_f + a_s| in nepers.
        """
        alpha = -self.pole.real
        apart = np.maximum(alpha[:, 0] - alpha[:, 1], 1e-9)
        together = self.onset.sum(axis=1)
        together = np.where(together == 0.0, 1e-150, together)
        level = np.log(np.maximum(np.abs(self.onset[:, 1]), 1e-150)) - alpha[:, 1] * time_s - np.log(np.abs(together))
        share = self.onset / together[:, None]
        slope = np.stack(
            [
                -alpha[:, 1] / apart - share[:, 0],
                alpha[:, 0] / apart - share[:, 1],
                -alpha[:, 1] * time_s / apart,
                alpha[:, 0] * time_s / apart,
            ],
            axis=1,
        )
        return DB_PER_NEPER * level, DB_PER_NEPER * self._sd(slope)


def _rate(value: float, sd: float, *, unit: float = DB_PER_NEPER) -> Measured | None:
    """Return what is known to better than half of itself."""
    if not sd < _MOST_RELATIVE_SE * value:
        return None
    return Measured(unit * float(value), unit * float(sd))
