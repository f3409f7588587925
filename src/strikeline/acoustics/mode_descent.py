"""Damped sinusoids improved by Levenberg-Marquardt steps, all bands of a strike at once.

The complex amplitudes enter linearly and are eliminated (variable projection, G. H. Golub & V. Pereyra 1973, from
memory); the complex exponents are found by steps with Kaufman's simplified Jacobian. Because the signal depends on them
analytically, the step is one small complex linear system per band.
"""

from __future__ import annotations

from collections.abc import Sequence
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

    Time is counted in samples from the first one; so are exponents and amplitudes. All of it lies in one array, so that
    bands are picked out and put back in one go.
    """

    whole: Complex
    """Shape (k, 3n + 4n² + 2)."""
    n_modes: int

    @classmethod
    def of(cls, stretch: Stretch, exponent: Complex) -> ModeSums:
        """Return the sums for modes of given exponents, shape (k, n), per sample."""
        n_bands, n = exponent.shape
        if n == 1:
            return cls._of_one(stretch, exponent)
        sums = cls(np.empty((n_bands, 3 * n + 4 * n**2 + 2), dtype=np.complex128), n)
        heard = stretch.with_signal(exponent)
        moments = stretch.with_each_other(exponent, out=sums.moments)
        diagonal = sums.whole[:, 3 * n : 3 * n + n**2 : n + 1]
        own = diagonal.real.copy()
        # What is kept from zero is the size at the onset: a mode that is over before the first sample stays unheard.
        since = np.exp(np.maximum((2.0 * stretch.start) * exponent.real, _LEAST_LOG))
        ridge = ridge_of(own * since)[:, None] / since
        diagonal += ridge
        plain = heard[:, :, 0]
        solved = solve(moments[:, 0], np.concatenate([heard[:, :, :1], moments[:, 1]], axis=2))
        amplitude = solved[:, :, 0]
        square = amplitude.real**2 + amplitude.imag**2
        # With (G + r)a = b, the squares left are E − 2·Re aᴴb + aᴴGa = E − Re aᴴb − r·aᴴa.
        explained = np.vecdot(amplitude, plain).real + np.vecdot(ridge, square)
        sums.exponent[...] = exponent
        sums.amplitude[...] = amplitude
        sums.timed[...] = heard[:, :, 1]
        sums.carried[...] = solved[:, :, 1:]
        np.maximum(stretch.energy - explained, 0.0, out=sums.cost)
        np.add(stretch.energy, np.vecdot(square, own), out=sums.size)
        return sums

    @classmethod
    def _of_one(cls, stretch: Stretch, exponent: Complex) -> ModeSums:
        """Return the same for one mode in each band, whose sums with itself are real."""
        growth = exponent.real[:, 0]
        heard = stretch.with_signal(exponent)[:, 0]
        own, first, second = stretch.of_product(2.0 * growth)
        since = np.exp(np.maximum((2.0 * stretch.start) * growth, _LEAST_LOG))
        ridge = _RIDGE * own + _TINY / since
        gram = own + ridge
        amplitude = heard[:, 0] / gram
        square = amplitude.real**2 + amplitude.imag**2
        whole = np.empty((growth.size, 9), dtype=np.complex128)
        whole[:, 0] = exponent[:, 0]
        whole[:, 1] = amplitude
        whole[:, 2] = heard[:, 1]
        whole[:, 3] = gram
        whole[:, 4] = first
        whole[:, 5] = second
        whole[:, 6] = first / gram
        whole[:, 7] = np.maximum(stretch.energy - square * (gram + ridge), 0.0)
        whole[:, 8] = stretch.energy + square * own
        return cls(whole, 1)

    @property
    def exponent(self) -> Complex:
        """Shape (k, n), per sample."""
        return self.whole[:, : self.n_modes]

    @property
    def amplitude(self) -> Complex:
        """Shape (k, n), at the first sample."""
        return self.whole[:, self.n_modes : 2 * self.n_modes]

    @property
    def timed(self) -> Complex:
        """Shape (k, n): inner products of the modes, weighted by j, with the signal."""
        return self.whole[:, 2 * self.n_modes : 3 * self.n_modes]

    @property
    def moments(self) -> Complex:
        """Shape (k, 3, n, n): inner products of the modes weighted by 1, j and j²."""
        n = self.n_modes
        return self.whole[:, 3 * n : 3 * n + 3 * n**2].reshape(-1, 3, n, n)

    @property
    def carried(self) -> Complex:
        """Shape (k, n, n): what of j times each mode the modes themselves can follow."""
        n = self.n_modes
        return self.whole[:, -(n**2) - 2 : -2].reshape(-1, n, n)

    @property
    def cost(self) -> Real:
        """Shape (k,): sum of squares left."""
        return self.whole[:, -2].real

    @property
    def size(self) -> Real:
        """Shape (k,): of the terms whose difference the cost is."""
        return self.whole[:, -1].real

    def step(self, damping: Real) -> Complex:
        """Return the Levenberg-Marquardt step of the exponents, shape (k, n), for a damping of shape (k,).

        The Jacobian is how the modelled signal moves with each exponent, less what the amplitudes can follow; only its
        inner products are needed.
        """
        if self.n_modes == 1:
            return self._step_of_one(damping)
        n, a, moments = self.n_modes, self.amplitude, self.moments
        back = a.conj()
        first = moments[:, 1]
        curvature = moments[:, 2] - first @ self.carried
        curvature *= back[:, :, None] * a[:, None, :]
        left = self.timed - (first @ a[:, :, None])[:, :, 0]
        diagonal = curvature.reshape(-1, n * n)[:, :: n + 1]
        own = diagonal.real
        diagonal += own * damping[:, None] + (1e-11 * own.max(axis=1) + _TINY)[:, None]
        return solve(curvature, (back * left)[:, :, None])[:, :, 0]

    def _step_of_one(self, damping: Real) -> Complex:
        amplitude, timed, _, first, second, carried = self.whole[:, 1:7].T
        square = amplitude.real**2 + amplitude.imag**2
        curvature = (second.real - first.real * carried.real) * square
        left = timed - first * amplitude
        step = amplitude.conj() * left / (curvature * (damping + (1.0 + 1e-11)) + _TINY)
        return np.asarray(step[:, None], dtype=np.complex128)


def descend(
    stretch: Stretch, starts: Sequence[Complex], *, slowest: float, widest: float, n_steps: int
) -> tuple[ModeSums, NDArray[np.bool_]]:
    """Improve the modes of all bands together; those that have settled are left alone while the others go on.

    Parameters
    ----------
    stretch : Stretch
        k bands.
    starts : sequence of ndarray of complex, shape (k, n)
        Exponents to start from, per sample; each band starts from those that leave least.
    slowest : float
        Smallest fall allowed, nepers per sample, above 0.
    widest : float
        Largest distance from the centre of the band, radians per sample.
    n_steps : int
        How many steps at most.

    Returns
    -------
    ModeSums
        At the best exponents found.
    ndarray of bool, shape (k,)
        Whether another step would have changed nothing.
    """
    now, *others = (ModeSums.of(stretch, within(start, slowest=slowest, widest=widest)) for start in starts)
    for other in others:
        nearer = other.cost <= now.cost
        now.whole[nearer] = other.whole[nearer]
    best, active, damping = now.whole.copy(), np.arange(stretch.energy.size), np.full(stretch.energy.size, 1e-3)
    is_settled = np.ones(active.size, dtype=bool)
    for _ in range(n_steps):
        new = ModeSums.of(stretch, within(now.exponent + now.step(damping), slowest=slowest, widest=widest))
        cost, rounding = now.cost, _ROUNDING * (now.size + new.size)
        gain = cost - new.cost
        better = gain > -rounding
        goes_on = np.abs(gain) > _SETTLED * cost + rounding
        damping = damping * np.where(better, 0.2, 8.0)
        if np.count_nonzero(better) < better.size:
            new.whole[~better] = now.whole[~better]
        now = new
        (rows,) = goes_on.nonzero()
        if rows.size < active.size:
            best[active] = now.whole
            if rows.size == 0:
                break
            active, damping, stretch = active[rows], damping[rows], stretch.of_rows(rows)
            now = ModeSums(now.whole[rows], now.n_modes)
    else:
        best[active] = now.whole
        is_settled[active] = False
    return ModeSums(best, now.n_modes), is_settled


def solve(matrix: Complex, right: Complex) -> Complex:
    """Solve k systems, shapes (k, n, n) and (k, n, r); one unknown without the cost of a general solver."""
    if matrix.shape[1] == 1:
        return right / matrix
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.complex128)


def ridge_of(diagonal: Real) -> Real:
    """Return what to add to the diagonals, shape (k, n), of k matrices of inner products to keep them regular."""
    return np.asarray(_RIDGE * diagonal.max(axis=1) + _TINY)


def within(exponent: Complex, *, slowest: float, widest: float) -> Complex:
    """Return the nearest exponents that are allowed.

    Parameters
    ----------
    exponent : ndarray of complex, shape (k, n)
        Per sample.
    slowest : float
        Smallest fall, nepers per sample.
    widest : float
        Largest distance from the centre of the band, radians per sample.
    """
    bounded = np.empty_like(exponent)
    np.minimum(exponent.real, -slowest, out=bounded.real)
    np.maximum(exponent.imag, -widest, out=bounded.imag)
    np.minimum(bounded.imag, widest, out=bounded.imag)
    return bounded
