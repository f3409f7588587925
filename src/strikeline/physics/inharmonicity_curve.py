"""B over the whole compass from the notes that were measured, section by section, with an error for every note.

ln B of a note is the typical piano's (`stretch.typical_inharmonicity_b`) and three departures: of the whole piano, of
the note's section (a level, a slope, and a smooth wander), and of its own string. The first two are what a scale
designer chose; the last is what wire, winding and a replaced string do. All are taken as normal with the spreads below,
the last as Student's t, so that a single odd string keeps its own B and does not bend its neighbours' curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, finite, zero_or_more
from strikeline.physics.stretch import typical_inharmonicity_b

_PIANO_LEVEL_SD: Final = 0.3
_SECTION_LEVEL_SD: Final = 0.5
_SECTION_SLOPE_SD: Final = 0.02
"""Per semitone. The three: our reasoning, from the spread of the four grands and the model in tests/reference (within
12 % at A4, a factor of 5 in the bass)."""
_WANDER_KEYS: Final = 10.0
"""Length over which the smooth wander turns, keys (our reasoning: sections are two to four octaves)."""
_LIKELY_WANDER: Final = (0.10, 0.7)
_LIKELY_SCATTER: Final = (0.04, 0.5)
"""Median, and standard deviation of the logarithm, that a few notes are judged by. The scatter of B from string to
string on a well-kept grand is 3 to 5 % (tests/reference/recorded_grands, our own readings)."""
_TAIL_DOF: Final = 5.0
_ROUNDS: Final = 6
_LARGEST_RELATIVE_SE: Final = 0.5
"""A value of B that is not known to better than this tells nothing that the curve does not know better."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InharmonicityCurve:
    """B of every key, and the smooth curve behind it."""

    key: NDArray[np.int64]  # shape (k,), ascending
    inharmonicity_b: NDArray[np.float64]
    """B of the note's own string, shape (k,): measured ones keep nearly their own value."""
    log_shares: NDArray[np.float64]
    """Signed shares of the error of ln B, shape (k, s): independent in the second index, each of one standard error."""
    smooth_b: NDArray[np.float64]
    """The curve of the section at this key, shape (k,)."""
    smooth_log_shares: NDArray[np.float64]
    """Shares of the error of its logarithm, shape (k, s), tied to `log_shares`."""
    is_measured: NDArray[np.bool_]
    """Whether the key's own B went in, shape (k,)."""
    scatter: float
    """Spread of ln B from string to string about the curve, the bulk without its tails."""
    section: NDArray[np.int64]
    """Number of the section, 0 for the lowest, shape (k,)."""

    @property
    def relative_se(self) -> NDArray[np.float64]:
        """Relative standard error of B, shape (k,)."""
        return np.asarray(np.sqrt(np.sum(self.log_shares**2, axis=1)))

    @property
    def departure(self) -> NDArray[np.float64]:
        """How far the string's own ln B lies above the curve, shape (k,)."""
        return np.asarray(np.log(self.inharmonicity_b / self.smooth_b))


def exact_curve(key: ArrayLike, *, inharmonicity_b: ArrayLike) -> InharmonicityCurve:
    """Return B of every key as it is given, without error; it counts as smooth. For what-if and for checks.

    Parameters
    ----------
    key : array_like of int, shape (k,)
        All keys, ascending.
    inharmonicity_b : array_like of float, shape (k,)
        B, 0 or more.
    """
    keys, b = np.asarray(key, dtype=np.int64), zero_or_more("inharmonicity_b", inharmonicity_b)
    if b.shape != keys.shape:
        raise InputError.of("inharmonicity_b", b.shape, f"the shape of key, {keys.shape}")
    none = np.zeros((keys.size, 1))
    return InharmonicityCurve(
        key=keys,
        inharmonicity_b=b,
        log_shares=none,
        smooth_b=b,
        smooth_log_shares=none,
        is_measured=np.ones(keys.size, dtype=np.bool_),
        scatter=0.0,
        section=np.zeros(keys.size, dtype=np.int64),
    )


def inharmonicity_curve(
    key: ArrayLike,
    *,
    measured_key: ArrayLike,
    measured_b: ArrayLike,
    measured_b_se: ArrayLike,
    sections_end_after: Sequence[int] = (),
) -> InharmonicityCurve:
    """Return B of every key from the keys where it was measured.

    Parameters
    ----------
    key : array_like of int, shape (k,)
        All keys of the piano, ascending.
    measured_key : array_like of int, shape (m,)
        Keys with a measured B, each once, all among `key`.
    measured_b, measured_b_se : array_like of float, shape (m,)
        B and its standard error; values that are not above 0, or known worse than to 50 %, are left out.
    sections_end_after : sequence of int
        Last keys below a change of strings: the break, the end of the winding. B may jump there.

    Returns
    -------
    InharmonicityCurve
        Errors hold for the B of the string itself: for a key that was not measured they contain the scatter from
        string to string, and grow with the distance from keys that were.

    Raises
    ------
    InputError
        If no usable B is left, or shapes or keys do not fit.

    References
    ----------
    .. [1] C. E. Rasmussen and C. K. I. Williams, "Gaussian Processes for Machine Learning" (2006), equations 2.25,
       2.26 and 5.8 (from memory): posterior of a smooth function, and its spreads from the marginal likelihood.
    .. [2] K. Lange, R. Little and J. Taylor, J. Am. Stat. Assoc. 84, 881-896 (1989) (from memory): Student's t by
       weights (ν + 1)/(ν + r²/s²), and the information (ν + 1)/(ν + 3) of its centre.
    """
    keys = np.asarray(key, dtype=np.int64)
    places, log_b, log_se = _usable(keys, measured_key, measured_b, measured_b_se)
    section = np.searchsorted(np.array(sorted(sections_end_after), dtype=np.float64) + 0.5, keys).astype(np.int64)
    typical = np.log(typical_inharmonicity_b(keys))
    fit = _Fit(_rigid(keys, section), _wander(keys, section), places, log_b - typical[places], log_se)
    wander, scatter, weight = fit.spreads()
    smooth_prior = fit.rigid + wander**2 * fit.wander
    mean = _posterior(smooth_prior, scatter**2 / weight, places=places, log_se=log_se, scatter=scatter)
    smooth, strings = np.split(np.tile(typical, 2) + mean.gain @ fit.excess, 2)
    # Weights found from the values themselves make these look surer than they are: Student's t tells of its centre
    # (ν + 1)/(ν + 3) of what as many normal values would.
    unsure = (_TAIL_DOF + 3.0) / (_TAIL_DOF + 1.0) * scatter**2 / weight
    spread = _posterior(smooth_prior, unsure, places=places, log_se=log_se, scatter=scatter)
    smooth_shares, shares = np.split(_root(spread.covariance), 2)
    is_measured = np.zeros(keys.size, dtype=np.bool_)
    is_measured[places] = True
    return InharmonicityCurve(
        key=keys,
        inharmonicity_b=np.exp(strings),
        log_shares=shares,
        smooth_b=np.exp(smooth),
        smooth_log_shares=smooth_shares,
        is_measured=is_measured,
        scatter=scatter,
        section=section,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Posterior:
    """What the values say of curve and strings: the curve in the first half of the rows, the strings in the second."""

    gain: NDArray[np.float64]  # shape (2k, m)
    covariance: NDArray[np.float64]  # shape (2k, 2k)


def _posterior(
    smooth_prior: NDArray[np.float64],
    own_variance: NDArray[np.float64],
    *,
    places: NDArray[np.int64],
    log_se: NDArray[np.float64],
    scatter: float,
) -> _Posterior:
    """Return curve and strings given the values: both at once, so that their errors stay tied."""
    own = np.full(smooth_prior.shape[0], scatter**2 * _TAIL_DOF / (_TAIL_DOF - 2.0))
    own[places] = own_variance
    factor = cho_factor(smooth_prior[np.ix_(places, places)] + np.diag(own_variance + log_se**2))
    with_own = smooth_prior + np.diag(own)
    prior = np.block([[smooth_prior, smooth_prior], [smooth_prior, with_own]])
    to_data = np.vstack([smooth_prior[:, places], with_own[:, places]])
    gain = cho_solve(factor, to_data.T).T
    return _Posterior(gain=gain, covariance=prior - gain @ to_data.T)


def _usable(
    keys: NDArray[np.int64], measured_key: ArrayLike, measured_b: ArrayLike, measured_b_se: ArrayLike
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the places among `keys`, ln B and its error of the values that say something."""
    found = np.asarray(measured_key, dtype=np.int64)
    b, se = finite("measured_b", measured_b), finite("measured_b_se", measured_b_se)
    if not found.shape == b.shape == se.shape:
        raise InputError.of("measured_b", b.shape, f"the shape of measured_key, {found.shape}")
    if np.unique(found).size < found.size or not np.isin(found, keys).all():
        raise InputError.of("measured_key", list(found), "keys of the piano, each once")
    with np.errstate(divide="ignore", invalid="ignore"):
        usable = (b > 0) & (se <= _LARGEST_RELATIVE_SE * b)
    if not usable.any():
        raise InputError(
            "no note has a usable B: the stretch of this piano cannot be told; record notes that ring for two seconds",
            name="measured_b",
        )
    b, se = above_zero("measured_b", b[usable]), se[usable]
    return np.searchsorted(keys, found[usable]), np.log(b), np.maximum(se / b, 1e-6)


def _rigid(keys: NDArray[np.int64], section: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the prior covariance of level and slope, shape (k, k)."""
    same = section[:, None] == section[None, :]
    middle = np.array([keys[section == number].mean() for number in section])
    x = keys - middle
    slope = _SECTION_SLOPE_SD**2 * x[:, None] * x[None, :]
    return np.asarray(_PIANO_LEVEL_SD**2 + same * (_SECTION_LEVEL_SD**2 + slope))


def _wander(keys: NDArray[np.int64], section: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the correlation of the smooth wander, a Matérn function of order 5/2, shape (k, k)."""
    away = np.sqrt(5.0) * np.abs(keys[:, None] - keys[None, :]) / _WANDER_KEYS
    return np.asarray((section[:, None] == section[None, :]) * (1.0 + away + away**2 / 3.0) * np.exp(-away))


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Covariances on all keys, and the measured excess of ln B over the typical piano."""

    rigid: NDArray[np.float64]
    wander: NDArray[np.float64]
    places: NDArray[np.int64]
    excess: NDArray[np.float64]
    log_se: NDArray[np.float64]

    def spreads(self) -> tuple[float, float, NDArray[np.float64]]:
        """Return the spread of the wander, that from string to string, and the weights of Student's t, shape (m,)."""
        weight = np.ones(self.places.size)
        logs = np.log([_LIKELY_WANDER[0], _LIKELY_SCATTER[0]])
        for _ in range(_ROUNDS):
            logs = minimize(self._badness, logs, args=(weight,), method="L-BFGS-B", bounds=((-7.0, 0.7), (-7.0, 0.0))).x
            wander, scatter = np.exp(logs)
            smooth = self._smooth(wander) + np.diag(scatter**2 / weight + self.log_se**2)
            fitted = self._smooth(wander) @ np.linalg.solve(smooth, self.excess)
            square = (self.excess - fitted) ** 2
            weight = (_TAIL_DOF + 1.0) / (_TAIL_DOF + square / (scatter**2 + self.log_se**2))
        return float(wander), float(scatter), weight

    def _smooth(self, wander: float) -> NDArray[np.float64]:
        pick = np.ix_(self.places, self.places)
        return np.asarray(self.rigid[pick] + wander**2 * self.wander[pick])

    def _badness(self, logs: NDArray[np.float64], weight: NDArray[np.float64]) -> float:
        """Return minus the logarithm of the posterior of both spreads."""
        wander, scatter = np.exp(logs)
        whole = self._smooth(wander) + np.diag(scatter**2 / weight + self.log_se**2)
        factor = cho_factor(whole, lower=True)
        likely = np.array([_LIKELY_WANDER, _LIKELY_SCATTER])
        prior = np.sum(((logs - np.log(likely[:, 0])) / likely[:, 1]) ** 2)
        value = self.excess @ cho_solve(factor, self.excess) + 2.0 * np.sum(np.log(np.diag(factor[0]))) + prior
        return 0.5 * float(value)


def _root(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a matrix whose product with its own transpose is `covariance`."""
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
