"""The stiff-string law fitted to measured partials: f_n = n·f0·√(1 + B·n²) (H. Fletcher 1964).

Each partial scatters about the law by its own standard error and by how far real strings depart from it: soundboard
resonances push partials by a fraction of a cent in the plain strings and by several cents in the wound ones. That
second scatter is estimated from the partials themselves and is zero where they obey the law within their noise, so
that the fit is efficient for an ideal string and honest for a real one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.special
from numpy.typing import NDArray

from strikeline.acoustics.medians import median
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio

Real = NDArray[np.float64]

_TRUSTED_SIGMA: Final = 2.0
"""Partials nearer than this count fully, farther ones less and less (bounded influence; 97 % efficient if normal)."""
_KEPT_WEIGHT: Final = 0.5
_KEPT_SHARE: Final = 0.8
_FEWEST_WITH_OUTLIERS: Final = 5
_FEWEST_DOF: Final = 0.5
_NOISE_ALONE_QUANTILE: Final = 0.9999
_PRIOR_DOF: Final = 3.0
_SMALLEST_B: Final = 1e-6
_N_ROUNDS: Final = 25
_N_NOISE_ROUNDS: Final = 5
_N_ROUGH: Final = 5
_N_LOOSE: Final = 3
"""So many rounds with a generous scatter, until the law is near enough to tell outliers from a bad start."""
_N_NEWTON: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LawFit:
    """f0 and B of one string or unison."""

    f0_hz: float
    inharmonicity_b: float
    covariance: Real
    """Shape (2, 2): of (ln f0, B); already widened by Student's t where the scatter was estimated."""
    departure_cents: Real
    """Shape (k,): measured partial above the law."""
    weight: Real
    """Shape (k,): 1 for a partial that counts fully, towards 0 for one that does not fit."""
    scatter_cents: float
    """Standard deviation of the departures beyond noise; 0 if noise alone explains them."""

    @property
    def f0_se_hz(self) -> float:
        """Standard error of f0."""
        return self.f0_hz * float(np.sqrt(self.covariance[0, 0]))

    @property
    def b_se(self) -> float:
        """Standard error of B."""
        return float(np.sqrt(self.covariance[1, 1]))


def fit_law(
    partial: Real,
    *,
    f_hz: Real,
    se_cents: Real,
    f0_hz: float,
    inharmonicity_b: float,
    unruliness: Real | None = None,
    known_scatter_cents: float | None = None,
) -> LawFit:
    """Fit f0 and B to measured partials.

    Parameters
    ----------
    partial : ndarray of float, shape (k,)
        Partial numbers, k at least 2.
    f_hz, se_cents : ndarray of float, shape (k,)
        Measured frequencies and their standard errors in cents.
    f0_hz, inharmonicity_b : float
        Starting values.
    unruliness : ndarray of float, shape (k,), optional
        How far each partial may depart from the law relative to the others (1 for all if not given). It shares out
        the scatter beyond noise, and so has no effect where noise explains everything.
    known_scatter_cents : float, optional
        How far partials of such strings are known to depart; counts like `_PRIOR_DOF` further partials. Without it
        the scatter rests on these partials alone.

    Returns
    -------
    LawFit

    Notes
    -----
    Weighted least squares in cents. The extra variance is the root of Σ r²/(se² + τ²) = k − 2 (R. C. Paule &
    J. Mandel 1982, from memory), zero while noise alone explains the departures at the 99.99 % level. With τ estimated
    from few partials the errors are widened by Student's t so that ±1.96 se still holds 95 of 100.
    """
    series = _Series(partial, f_hz, se_cents, np.ones(partial.size) if unruliness is None else unruliness)
    state = _State(np.array([np.log(f0_hz), inharmonicity_b]), np.ones(partial.size))
    loose = _first_scatter(series, state.sought)
    for _ in range(_N_LOOSE):
        state = _robust_step(series, state, loose)
    if known_scatter_cents is None:
        by_noise = _noise_alone(series, state)
        if by_noise is not None:
            return _finished(series, by_noise, scatter=0.0, t_factor=1.0)
    scatter = loose
    for _ in range(_N_ROUNDS):
        before = state.sought
        scatter = _with_prior(_extra_scatter(series, state), state.weight, known_scatter_cents)
        state = _robust_step(series, state, scatter)
        if np.all(np.abs(state.sought - before) < (1e-8, 1e-6 * state.sought[1])):
            break
    return _finished(series, state, scatter=scatter, t_factor=_t_factor(state.weight, known_scatter_cents))


def rough_law(
    partial: Real, *, f_hz: Real, se_cents: Real, f0_hz: float, inharmonicity_b: float, typical_b: Measured
) -> tuple[float, float]:
    """Return f0 and B to within the scatter of the partials, quickly and proof against outliers.

    Only for finding further partials: a B that is typical of the key keeps a few partials, one of them pushed aside by
    a resonance, from sending the search astray.

    Parameters
    ----------
    partial : ndarray of float, shape (k,)
        Partial numbers, k at least 2.
    f_hz, se_cents : ndarray of float, shape (k,)
        Frequencies and their errors in cents.
    f0_hz, inharmonicity_b : float
        Starting values.
    typical_b : Measured
        B of such strings and its spread.
    """
    series = _Series(partial, f_hz, se_cents, np.ones(partial.size))
    state = _State(np.array([np.log(f0_hz), inharmonicity_b]), np.ones(partial.size))
    for round_number in range(_N_ROUGH):
        if round_number in (0, _N_ROUGH // 2):
            scatter = _first_scatter(series, state.sought)
        state = _robust_step(series, state, scatter, typical_b)
    return float(np.exp(state.sought[0])), float(state.sought[1])


@dataclass(frozen=True, slots=True, eq=False)
class _Series:
    partial: Real
    f_hz: Real
    se_cents: Real
    unruly: Real

    def departures(self, sought: Real) -> Real:
        # `partial_frequencies_hz` without its checks: this runs many times for every note
        law_hz = self.partial * np.exp(sought[0]) * np.sqrt(1.0 + sought[1] * self.square)
        return cents_from_ratio(self.f_hz / law_hz)

    @property
    def square(self) -> Real:
        return self.partial * self.partial

    def slopes(self, sought: Real) -> Real:
        """Return the change of the law in cents with ln f0 and with B, shape (k, 2)."""
        square = self.square
        slopes = np.empty((square.size, 2))
        slopes[:, 0] = CENTS_PER_NEPER
        slopes[:, 1] = 0.5 * CENTS_PER_NEPER * square / (1.0 + sought[1] * square)
        return slopes

    def sigma(self, scatter: float) -> Real:
        return np.sqrt(self.se_cents**2 + (scatter * self.unruly) ** 2)


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    sought: Real
    """ln f0 and B."""
    weight: Real


def _step(
    series: _Series,
    sought: Real,
    weight: Real,
    sigma: Real,
    typical_b: Measured | None = None,
    departure: Real | None = None,
) -> Real:
    """Return the next `sought`; `departure` is that of the present one, where it is known already."""
    slope = series.slopes(sought)
    scaled = slope * (weight / sigma**2)[:, None]
    (a, b), (_, d) = (scaled.T @ slope).tolist()
    p, q = (scaled.T @ (series.departures(sought) if departure is None else departure)).tolist()
    if typical_b is not None:
        d, q = d + 1.0 / typical_b.se**2, q + (typical_b.value - sought[1]) / typical_b.se**2
    determinant = a * d - b * b
    return np.array(
        [sought[0] + (d * p - b * q) / determinant, max(sought[1] + (a * q - b * p) / determinant, _SMALLEST_B)]
    )


def _robust_step(series: _Series, state: _State, scatter: float, typical_b: Measured | None = None) -> _State:
    sigma = series.sigma(scatter)
    departure = series.departures(state.sought)
    weight = _robust_weight(departure / sigma)
    return _State(_step(series, state.sought, weight, sigma, typical_b, departure), weight)


def _noise_alone(series: _Series, state: _State) -> _State | None:
    """Return the efficient fit of the partials that are not outliers, if noise explains what it leaves."""
    kept = (state.weight > _KEPT_WEIGHT).astype(np.float64)
    dof = float(kept.sum()) - 2.0
    if dof < 1.0 or (kept.sum() < kept.size and kept.sum() < max(_FEWEST_WITH_OUTLIERS, _KEPT_SHARE * kept.size)):
        return None
    sought = state.sought
    for _ in range(_N_NOISE_ROUNDS):
        sought = _step(series, sought, kept, series.se_cents)
    surprise = float(np.sum(kept * (series.departures(sought) / series.se_cents) ** 2))
    if surprise > scipy.special.chdtri(dof, 1.0 - _NOISE_ALONE_QUANTILE):
        return None
    return _State(sought, kept)


def _finished(series: _Series, state: _State, *, scatter: float, t_factor: float) -> LawFit:
    slope = series.slopes(state.sought)
    information = slope.T @ (slope * (state.weight / series.sigma(scatter) ** 2)[:, None])
    return LawFit(
        f0_hz=float(np.exp(state.sought[0])),
        inharmonicity_b=float(state.sought[1]),
        covariance=np.asarray(np.linalg.inv(information) * t_factor**2, dtype=np.float64),
        departure_cents=series.departures(state.sought),
        weight=state.weight,
        scatter_cents=float(scatter),
    )


def _first_scatter(series: _Series, sought: Real) -> float:
    departure = series.departures(sought)
    typical = median(np.abs(departure - median(departure)))
    return max(1.5 * typical, median(series.se_cents), 1e-3)


def _robust_weight(standardised: Real) -> Real:
    """Return 1 inside `_TRUSTED_SIGMA` and (trusted/|u|)² beyond."""
    return np.minimum(1.0, (_TRUSTED_SIGMA / np.maximum(np.abs(standardised), 1e-12)) ** 2)


def _extra_scatter(series: _Series, state: _State) -> float:
    """Return the scatter beyond noise by the moment equation, outliers held at their bounded influence."""
    dof = float(state.weight.sum()) - 2.0
    if dof < _FEWEST_DOF:
        return 0.0
    square = state.weight * series.departures(state.sought) ** 2
    variance = 0.0
    for _ in range(_N_NEWTON):  # convex and falling in the variance: Newton from 0 climbs to the root and stops there
        total = series.se_cents**2 + variance * series.unruly**2
        surplus = float(np.sum(square / total)) - dof
        if surplus < 0.01 * dof:
            break
        variance += surplus / float(np.sum(square * series.unruly**2 / total**2))
    return float(np.sqrt(variance))


def _with_prior(scatter: float, weight: Real, known_cents: float | None) -> float:
    """Return the scatter pooled with what is known of such strings, by degrees of freedom."""
    if known_cents is None:
        return scatter
    dof = max(float(weight.sum()) - 2.0, 0.0)
    return float(np.sqrt((dof * scatter**2 + _PRIOR_DOF * known_cents**2) / (dof + _PRIOR_DOF)))


def _t_factor(weight: Real, known_cents: float | None) -> float:
    """Return how much wider than the normal law Student's t is, for a scatter estimated from few partials."""
    dof = max(float(weight.sum()) - 2.0, 0.0) + (0.0 if known_cents is None else _PRIOR_DOF)
    return float(scipy.special.stdtrit(max(dof, 1.0), 0.975)) / 1.959964
