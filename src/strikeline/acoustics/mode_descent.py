"""Damped sinusoids improved by Levenberg-Marquardt steps, all bands of a strike at once.

The complex amplitudes enter linearly and are eliminated (variable projection, G. H. Golub & V. Pereyra 1973, from
memory); the complex exponents are found by steps with Kaufman's simplified Jacobian. Because the signal depends on them
analytically, the step is one small complex linear system per band.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.mode_sums import Stretch

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_SETTLED: Final = 1e-6
"""Relative gain of the sum of squares: with 200 samples it moves an exponent by a hundredth of its error."""
_ROUNDING: Final = 1e-15
"""A few steps of double precision: costs nearer to each other than this, relative to their terms, are equal."""
_RIDGE: Final = 1e-9
"""Relative to the largest diagonal element: keeps two modes that fall together from dividing by zero."""
_TINY: Final = 1e-30
_LEAST_LOG: Final = -400.0
"""What has fallen by more nepers is not there; keeps a division by it finite."""


@dataclass(slots=True, eq=False)
class ModeSums:
    """Some bands, their modes at given exponents, the best amplitudes for them, and what a step needs.

    Time is counted in samples from the first one; so are exponents and amplitudes.
    """

    exponent: Complex
    """Shape (k, n), per sample."""
    amplitude: Complex
    """Shape (k, n), at the first sample."""
    moments: Complex
    """Shape (k, 3, n, n): inner products of the modes weighted by 1, j and j²."""
    carried: Complex
    """Shape (k, n, n): what of j times each mode the modes themselves can follow."""
    timed: Complex
    """Shape (k, n): inner products of the modes, weighted by j, with the signal."""
    cost: Real
    """Shape (k,): sum of squares left."""
    size: Real
    """Shape (k,): of the terms whose difference the cost is."""
    energy: Real
    """Shape (k,): sum of squares of the signal."""

    @classmethod
    def of(cls, stretch: Stretch, exponent: Complex) -> ModeSums:
        """Return the sums for modes of given exponents, shape (k, n), per sample."""
        n = exponent.shape[1]
        heard = stretch.with_signal(exponent)
        moments = stretch.with_each_other(exponent)
        diagonal = moments[:, 0].reshape(-1, n * n)[:, :: n + 1]
        own = diagonal.real.copy()
        # What is kept from zero is the size at the onset: a mode that is over before the first sample stays unheard.
        since = np.exp(np.maximum(2.0 * stretch.start * exponent.real, _LEAST_LOG))
        ridge = ridge_of(own * since)[:, None] / since
        diagonal += ridge
        plain = heard[:, :, 0]
        solved = solve(moments[:, 0], np.concatenate([plain[:, :, None], moments[:, 1]], axis=2))
        amplitude = solved[:, :, 0]
        square = amplitude.real**2 + amplitude.imag**2
        # With (G + r)a = b, the squares left are E − 2·Re aᴴb + aᴴGa = E − Re aᴴb − r·aᴴa.
        explained = (amplitude.real * plain.real + amplitude.imag * plain.imag + ridge * square).sum(axis=1)
        cost = np.maximum(stretch.energy - explained, 0.0)
        size = stretch.energy + (square * own).sum(axis=1)
        return cls(exponent, amplitude, moments, solved[:, :, 1:], heard[:, :, 1], cost, size, stretch.energy)

    def rows(self, chosen: NDArray[np.intp]) -> ModeSums:
        """Return some of the bands."""
        return ModeSums(*(getattr(self, name)[chosen] for name in self.__slots__))

    def replaced(self, chosen: NDArray[np.bool_], new: ModeSums) -> ModeSums:
        """Return `new` for the chosen bands."""
        if chosen.all():
            return new
        for name in self.__slots__:
            getattr(self, name)[chosen] = getattr(new, name)[chosen]
        return self

    def with_rows(self, rows: NDArray[np.intp], new: ModeSums) -> ModeSums:
        """Return these sums with `new` for some of the bands."""
        if rows.size == self.cost.size:
            return new
        for name in self.__slots__:
            getattr(self, name)[rows] = getattr(new, name)
        return self

    def step(self, damping: Real) -> Complex:
        """Return the Levenberg-Marquardt step of the exponents, shape (k, n), for a damping of shape (k,).

        The Jacobian is how the modelled signal moves with each exponent, less what the amplitudes can follow; only its
        inner products are needed.
        """
        a = self.amplitude
        first, second = self.moments[:, 1], self.moments[:, 2]
        curvature = (second - first @ self.carried) * (a.conj()[:, :, None] * a[:, None, :])
        left = self.timed - (first @ a[:, :, None])[:, :, 0]
        n = a.shape[1]
        diagonal = curvature.reshape(-1, n * n)[:, :: n + 1]
        own = diagonal.real
        diagonal += own * damping[:, None] + (1e-11 * own.max(axis=1) + _TINY)[:, None]
        return solve(curvature, (a.conj() * left)[:, :, None])[:, :, 0]


def descend(
    stretch: Stretch, start: Complex, *, slowest: float, widest: float, n_steps: int
) -> tuple[ModeSums, NDArray[np.bool_]]:
    """Improve the modes of all bands together; those that have settled are left alone while the others go on.

    Parameters
    ----------
    stretch : Stretch
        k bands.
    start : ndarray of complex, shape (k, n)
        Exponents to start from, per sample.
    slowest : float
        Smallest fall allowed, nepers per sample, above 0.
    widest : float
        Largest distance from the centre of the band, radians per sample.
    n_steps : int
        How many steps at most.

    Returns
    -------
    ModeSums
        The best found.
    ndarray of bool, shape (k,)
        Whether another step would have changed nothing.
    """
    best = now = ModeSums.of(stretch, within(start, slowest=slowest, widest=widest))
    active = np.arange(stretch.energy.size)
    damping = np.full(active.size, 1e-3)
    is_settled = np.ones(active.size, dtype=bool)
    for _ in range(n_steps):
        new = ModeSums.of(stretch, within(now.exponent + now.step(damping), slowest=slowest, widest=widest))
        rounding = _ROUNDING * (now.size + new.size)
        better = new.cost < now.cost + rounding
        goes_on = np.abs(now.cost - new.cost) > _SETTLED * now.cost + rounding
        now = now.replaced(better, new)
        damping = np.where(better, damping * 0.2, damping * 8.0)
        rows = np.flatnonzero(goes_on)
        if rows.size < active.size:
            best = best.with_rows(active, now)
            if rows.size == 0:
                break
            active, now, damping, stretch = active[rows], now.rows(rows), damping[rows], stretch.of_rows(rows)
    else:
        best = best.with_rows(active, now)
        is_settled[active] = False
    return best, is_settled


def solve(matrix: Complex, right: Complex) -> Complex:
    """Solve k systems, shapes (k, n, n) and (k, n, r); one or two unknowns without the cost of a general solver."""
    n = matrix.shape[1]
    if n == 1:
        return right / matrix
    if n > 2:
        return np.asarray(np.linalg.solve(matrix, right), dtype=np.complex128)
    a, b, c, d = matrix[:, :1, :1], matrix[:, :1, 1:], matrix[:, 1:, :1], matrix[:, 1:, 1:]
    top, bottom = right[:, :1], right[:, 1:]
    return np.concatenate([d * top - b * bottom, a * bottom - c * top], axis=1) / (a * d - b * c)


def ridge_of(diagonal: Real) -> Real:
    """Return what to add to the diagonals, shape (k, n), of k matrices of inner products to keep them regular."""
    return np.asarray(_RIDGE * diagonal.max(axis=1) + _TINY)


def within(exponent: Complex, *, slowest: float, widest: float) -> Complex:
    """Return exponents that fall at least by `slowest` and lie within ±`widest` of the centre of the band."""
    bounded = np.empty_like(exponent)
    np.minimum(exponent.real, -slowest, out=bounded.real)
    np.maximum(exponent.imag, -widest, out=bounded.imag)
    np.minimum(bounded.imag, widest, out=bounded.imag)
    return bounded
