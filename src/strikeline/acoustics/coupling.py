r"""How strongly the bridge couples the strings of a note, from the modes of all of them and the poles of each alone.

In one partial the strings alone have the poles p_s: what the bridge takes from each by itself, κ, is in them already.
Together they obey ``da/dt = M·a`` with ``M = diag(p_s) − κ·(11ᵀ − I)`` (G. Weinreich, J. Acoust. Soc. Am. 62, 1474
(1977), from memory), and the modes λ_m that were measured are eigenvalues of M. Each of them by itself gives κ up to a
few candidates, as roots of ``det(λ − M) = 0``: with d_s = λ − p_s, ``d_1·d_2 = κ²`` for two strings, and
``d_1·d_2·d_3 − κ²·(d_1 + d_2 + d_3) + 2κ³ = 0`` for three. The candidate that explains all modes best, in place and
roughly in level, is then improved by least squares on the modes; its error follows from theirs and those of the p_s.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.units import DB_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_MOST_SURPRISE: Final = 25.0
"""A mode five standard deviations from its place, or farther, counts as not explained."""
_UNEVEN_DB: Final = 6.0
"""Standard deviation of the level of a mode about that of an even blow: a rough guide among candidates (no source)."""
_MOST_LEVEL_SURPRISE: Final = 9.0
_FAINT_DB: Final = 25.0
"""A mode that is fainter than this below the loudest may stay unexplained, and one that should be so, unfound."""
_UNEVEN_RATIO: Final = 0.25
"""Standard deviation of the share of the blow on a string (2 dB, no source)."""
_STRAY_RATIO: Final = 0.02
"""What sideways motion that was not found does to a mode, against κ: it is 30 to 40 dB fainter."""
_UNFOUND_FACTOR: Final = 3.0
"""Where a mode is missing: one that the evidence did not demand (a log-likelihood ratio of 30, see
`strikeline.acoustics.modes`) may have pulled the others by up to √(30/2) of their errors."""
_OTHER_SE: Final = 3.0
_RIVAL_COST: Final = 9.0
_N_STEPS: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poles:
    """Damped sinusoids of one partial."""

    pole_per_s: Complex
    """Shape (m,): −α + iω."""
    sd_per_s: Real
    """Shape (m,): standard deviation of the real part, and equally of the imaginary part."""
    level_db: Real
    """Shape (m,): at the onset."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CouplingFit:
    """κ of one partial."""

    kappa_per_s: complex
    se_per_s: float
    """Standard error of the real part, and equally of the imaginary part."""
    n_modes: int
    """Modes that were explained by it."""
    surprise: float
    """Their sum of squares over their errors; about 2·(n_modes − 1) where all is well."""


def estimate_coupling(alone: Poles, together: Poles) -> CouplingFit | None:
    """Return the coupling of the strings in one partial.

    Parameters
    ----------
    alone : Poles
        Two or three strings, one pole each.
    together : Poles
        What sounds of that partial with all strings; one mode or more.

    Returns
    -------
    CouplingFit or None
        ``None`` if no κ that a bridge can have explains the loud modes (its real part is neither below 0 nor above the
        decay of a string alone, of which it is a part), or if two of them do.
    """
    n_strings = alone.pole_per_s.size
    if n_strings < 2 or together.pole_per_s.size == 0:
        return None
    modes = _loudest(together, n_strings)
    if modes.pole_per_s.size < n_strings:
        modes = replace(modes, sd_per_s=modes.sd_per_s * _UNFOUND_FACTOR)
    found = [
        fit
        for start in _candidates(alone.pole_per_s, modes.pole_per_s)
        if (fit := _improved(alone, modes, complex(start))) is not None and _is_possible(fit, alone)
    ]
    if not found:
        return None
    best = min(found, key=lambda fit: fit.cost)
    return None if any(_is_rival(fit, best) for fit in found) else best.told


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    told: CouplingFit
    cost: float


def _loudest(poles: Poles, most: int) -> Poles:
    order = np.argsort(-poles.level_db, kind="stable")[:most]
    return Poles(pole_per_s=poles.pole_per_s[order], sd_per_s=poles.sd_per_s[order], level_db=poles.level_db[order])


def _candidates(alone: Complex, modes: Complex) -> list[complex]:
    """Return every κ for which one of the modes is exactly an eigenvalue."""
    found: list[complex] = []
    for mode in modes:
        off = mode - alone
        equation = [-1.0, 0.0, off.prod()] if off.size == 2 else [2.0, -off.sum(), 0.0, off.prod()]
        found += [complex(root) for root in np.roots(equation)]
    return found


def _is_rival(fit: _Fit, best: _Fit) -> bool:
    """Return whether another κ explains the modes about as well; of strings far apart, κ and -κ do."""
    se = float(np.hypot(fit.told.se_per_s, best.told.se_per_s))
    is_other = abs(fit.told.kappa_per_s - best.told.kappa_per_s) > _OTHER_SE * se
    return is_other and fit.cost < best.cost + _RIVAL_COST


def _hidden_pull(value: Complex, heard: Real, n_modes: int) -> Real:
    """Return how far modes that were not found may have pulled those that were: by their share of the distance."""
    share = heard[None, n_modes:] / heard[:n_modes, None]
    distance = np.abs(value[None, n_modes:] - value[:n_modes, None])
    return np.asarray(np.sqrt(((share * distance) ** 2).sum(axis=1)))


def _is_possible(fit: _Fit, alone: Poles) -> bool:
    kappa, se = fit.told.kappa_per_s.real, fit.told.se_per_s
    return -se <= kappa <= float((-alone.pole_per_s.real).min()) + _OTHER_SE * se


def _improved(alone: Poles, modes: Poles, kappa: complex) -> _Fit | None:
    """Return the best κ near a candidate: Gauss-Newton over the modes that it explains, the loudest among them."""
    for _ in range(_N_STEPS):
        state = _State.of(alone, modes, kappa)
        used = state.surprise() < _MOST_SURPRISE
        if not used.any():
            return None
        change = state.step(used)
        kappa += change
        if abs(change) < 1e-9 * (abs(kappa) + 1e-9):
            break
    state = _State.of(alone, modes, kappa)
    used = state.surprise() < _MOST_SURPRISE
    unexplained = ~used & (modes.level_db > modes.level_db[0] - _FAINT_DB)
    if unexplained.any() or not used[0] or state.misses_a_loud_mode():
        return None
    surprise = float(state.surprise()[used].sum())
    n_free = 2 * int(used.sum()) - 2
    widened = max(1.0, surprise / n_free) if n_free else 1.0
    told = CouplingFit(
        kappa_per_s=kappa,
        se_per_s=state.kappa_sd(used) * float(np.sqrt(widened)),
        n_modes=int(used.sum()),
        surprise=surprise,
    )
    cost = surprise + _MOST_SURPRISE * int((~used).sum()) + state.level_cost(modes)
    return _Fit(told, cost)


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """The modes at one κ, each measured mode beside the eigenvalue it is taken for."""

    error: Complex
    """Shape (m,): measured less expected."""
    slope: Complex
    """Shape (m,): dλ/dκ."""
    by_string: Complex
    """Shape (m, n): dλ/dp_s."""
    mode_sd: Real
    string_sd: Real
    level_db: Real
    """Shape (n,): expected of each mode, re the loudest; matched ones first, in their order."""

    @staticmethod
    def of(alone: Poles, modes: Poles, kappa: complex) -> _State:
        n = alone.pole_per_s.size
        centre = alone.pole_per_s.mean()
        matrix = np.diag(alone.pole_per_s - centre) - kappa * (np.ones((n, n)) - np.eye(n))
        value, vector = np.linalg.eig(matrix)
        value = value + centre
        n_modes = modes.pole_per_s.size
        distance = np.abs(modes.pole_per_s[:, None] - value[None, :]) / modes.sd_per_s[:, None]
        rows = np.arange(n_modes)
        order = min(permutations(range(n)), key=lambda one: float((distance[rows, list(one)[:n_modes]] ** 2).sum()))
        value, vector = value[list(order)], vector[:, list(order)]
        norm = (vector**2).sum(axis=0)  # M is symmetric: left and right eigenvectors are alike
        norm = np.where(np.abs(norm) > 1e-9, norm, 1e-9)
        summed = vector.sum(axis=0) ** 2
        uneven = np.abs(summed) + _UNEVEN_RATIO**2 * (np.abs(vector) ** 2).sum(axis=0)
        heard = np.sqrt(np.abs(summed) * uneven) / np.abs(norm) + 1e-12
        return _State(
            error=modes.pole_per_s - value[:n_modes],
            slope=(-(summed - norm) / norm)[:n_modes],
            by_string=np.asarray((vector**2) / norm, dtype=np.complex128).T[:n_modes],
            mode_sd=np.hypot(modes.sd_per_s, _hidden_pull(value, heard, n_modes) + _STRAY_RATIO * abs(kappa)),
            string_sd=alone.sd_per_s,
            level_db=DB_PER_NEPER * np.log(heard / heard.max()),
        )

    def variance(self) -> Real:
        """Return the variance of each error, per real part."""
        return np.asarray(self.mode_sd**2 + np.abs(self.by_string) ** 2 @ self.string_sd**2)

    def surprise(self) -> Real:
        """Return each squared error over its variance, both parts together."""
        return np.asarray(np.abs(self.error) ** 2 / self.variance())

    def _weights(self, used: NDArray[np.bool_]) -> Complex:
        """Return how κ follows from each error."""
        pull = np.where(used, self.slope.conj() / self.variance(), 0.0)
        return np.asarray(pull / max(float(np.real((pull * self.slope).sum())), 1e-300))

    def step(self, used: NDArray[np.bool_]) -> complex:
        return complex((self._weights(used) * self.error).sum())

    def kappa_sd(self, used: NDArray[np.bool_]) -> float:
        """Return the standard error of κ per real part; errors of the strings are common to the modes."""
        weight = self._weights(used)
        from_modes = float((np.abs(weight) ** 2 * self.mode_sd**2).sum())
        from_strings = float((np.abs(weight @ self.by_string) ** 2 * self.string_sd**2).sum())
        return float(np.sqrt(from_modes + from_strings))

    def misses_a_loud_mode(self) -> bool:
        """Return whether a mode should be loud that was not found: what was found is then a mixture."""
        return bool((self.level_db[self.error.size :] > -_FAINT_DB).any())

    def level_cost(self, modes: Poles) -> float:
        """Return how badly the levels fit those of a blow that is about even."""
        measured = modes.level_db - modes.level_db[0]
        expected = self.level_db[: measured.size] - self.level_db[0]
        return float(np.minimum(((measured - expected) / _UNEVEN_DB) ** 2, _MOST_LEVEL_SURPRISE).sum())
