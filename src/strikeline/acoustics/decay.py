"""Early and late decay of each partial and where they cross, read from its fitted modes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
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
_HIDDEN_RATIO: Final = 0.25
"""Relative standard deviation of a late rate read from two modes where three sound: of 85 such partials of generated
three-string notes 5 to 95 of 100 lay between 0.72 and 1.66 of the true rate at their end."""
_MOMENTS: Final = 200
"""Between which the crossing of more than two modes is looked for, up to the end of the sound."""


def estimate_decays(
    found: MeasuredPartials, resolved: Mapping[int, PartialModes] | None = None, *, n_strings: int = _TWO
) -> tuple[Decay, ...]:
    """Return the decay of every partial, in order.

    Parameters
    ----------
    found : MeasuredPartials
        k partials.
    resolved : mapping of int to PartialModes, optional
        Modes of strong partials by row, see `unison_modes.resolve_modes`.
    n_strings : int
        How many strings the note has, or may have.

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

    Where more than two modes are resolved, *late* is their mean rate weighted by their energy at the end of the sound,
    and the aftersound are those that fall at most 1.5 times faster.

    Standard errors follow from the covariance of the modes (first order); with three modes and more from their own
    errors taken as independent. Where the note may have more strings than modes were found, the third mode hides in the
    second, and `_HIDDEN_RATIO` is added. A second mode that was not found is not in the error of the one rate.
    """
    if found.bands.is_cut_short:
        return (Decay(early=None, late=None),) * found.partial.size
    decays = [
        two if is_double else one
        for one, two, is_double in zip(
            _one_stage(found), _two_stages(found.double, found.bands), found.is_double.tolist(), strict=True
        )
    ]
    last_s = float(found.bands.time_s[-1])
    for row, decay in enumerate(decays):
        modes = (resolved or {}).get(row)
        if modes is not None and modes.onset.size > _TWO:
            decays[row] = _many_modes(decay.early, modes, level_db=float(found.level_db[row]), last_s=last_s)
        elif n_strings > _TWO:
            decays[row] = _with_hidden_mode(decay)
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
    size_sd = modes.level_sd_db / DB_PER_NEPER
    log_power = 2.0 * np.log(np.maximum(np.abs(modes.onset), 1e-150))
    share = _shares(log_power - 2.0 * alpha * last_s)
    rate = float(share @ alpha)
    by_rate = share * (1.0 - 2.0 * last_s * (alpha - rate))
    pull = 2.0 * share * (alpha - rate)
    late = _rate(rate, float(np.hypot(np.linalg.norm(by_rate * alpha_sd), np.linalg.norm(pull * size_sd))))
    is_slow = alpha < _TWO_STAGES_RATIO * rate
    prompt = _shares(log_power) @ alpha
    if late is None or is_slow.all() or not prompt > _TWO_STAGES_RATIO * rate:
        return Decay(early=early, late=None)
    time_s = np.linspace(0.0, last_s, _MOMENTS)
    level = log_power[:, None] - 2.0 * alpha[:, None] * time_s
    ahead = np.logaddexp.reduce(level[~is_slow], axis=0) - np.logaddexp.reduce(level[is_slow], axis=0)
    if ahead[0] < 0.0 or ahead[-1] > 0.0:
        return Decay(early=early, late=late if ahead[-1] <= 0.0 else None)
    after = int(np.argmax(ahead < 0.0))
    crossing_s = float(time_s[after] + ahead[after] / (ahead[after - 1] - ahead[after]) * (time_s[1] - time_s[0]))
    at = log_power - 2.0 * alpha * crossing_s
    slow, fast = (np.where(group, _shares(np.where(group, at, -np.inf)), 0.0) for group in (is_slow, ~is_slow))
    own_sd = np.linalg.norm([slow * size_sd, slow * crossing_s * alpha_sd])
    fast_sd = np.linalg.norm([fast * size_sd, fast * crossing_s * alpha_sd])
    crossing_sd = float(np.hypot(own_sd, fast_sd) / max(float((fast - slow) @ alpha), 1e-9))
    crossing = _rate(crossing_s, crossing_sd, unit=1.0)
    if crossing is None:
        return Decay(early=early, late=late)
    fall_db = 0.5 * DB_PER_NEPER * float(np.logaddexp.reduce(at[is_slow])) - level_db
    fall_sd = DB_PER_NEPER * float(np.hypot(own_sd, float(slow @ alpha) * crossing_sd))
    return Decay(early=early, late=late, crossing_s=crossing, crossing_db=Measured(fall_db, fall_sd))


def _shares(log_power: Real) -> Real:
    """Return each power over their sum, from natural logarithms."""
    return np.asarray(np.exp(log_power - np.logaddexp.reduce(log_power)))


def _with_hidden_mode(decay: Decay) -> Decay:
    """Return the stages of a partial that may hold another mode, which two modes stand for as well as they can."""
    late, crossing = (
        None if one is None else _within_half(one.value, float(np.hypot(one.se, _HIDDEN_RATIO * one.value)))
        for one in (decay.late, decay.crossing_s)
    )
    return replace(decay, late=late, crossing_s=crossing, crossing_db=None if crossing is None else decay.crossing_db)


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
    return _within_half(unit * float(value), unit * float(sd))


def _within_half(value: float, sd: float) -> Measured | None:
    """Return what is known to better than half of itself."""
    return Measured(value, sd) if sd < _MOST_RELATIVE_SE * value else None
