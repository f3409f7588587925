"""Inner products of damped sinusoids with each other and with a signal, without making the sinusoids.

At equal steps of time, Σ z^j, Σ j·z^j and Σ j²·z^j are geometric series with closed forms. Those with the signal are
taken block by block: a power within the block times a power across blocks, so that only a short piece of each sinusoid
is ever computed. A step of a fit then costs a fraction of what it does with whole sinusoids.

Time is counted in samples from the first one, and exponents are per sample: a fit does not care where time begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]
T = TypeVar("T", Complex, Real)


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """k signals on one time axis, cut into blocks."""

    weighted: Complex
    """Shape (k, 2·blocks, samples): the signal, filled up with zeros, and the same times j."""
    energy: Real
    """Shape (k,)."""
    n_samples: int
    start: float
    """How long after the onset the first sample is, in samples."""

    @classmethod
    def of(cls, signal: Complex, *, start: float) -> Stretch:
        """Return the stretch of `signal`, shape (k, m), at equal steps of time from `start` samples after the onset."""
        n_signals, n_samples = signal.shape
        size = max(2, round(n_samples**0.5))
        n_blocks = -(-n_samples // size)
        weighted = np.zeros((n_signals, 2, n_blocks * size), dtype=np.complex128)
        weighted[:, 0, :n_samples] = signal
        np.multiply(signal, np.arange(n_samples, dtype=np.float64), out=weighted[:, 1, :n_samples])
        return cls(
            weighted=weighted.reshape(n_signals, 2 * n_blocks, size),
            energy=np.einsum("km,km->k", signal.real, signal.real) + np.einsum("km,km->k", signal.imag, signal.imag),
            n_samples=n_samples,
            start=start,
        )

    def of_rows(self, rows: NDArray[np.intp]) -> Stretch:
        """Return some of the signals."""
        return Stretch(self.weighted[rows], self.energy[rows], self.n_samples, self.start)

    def with_signal(self, exponent: Complex) -> Complex:
        """Return Σ_j conj(e^(s·j))·j^p·y_j for exponents s, shape (k, n), and p = 0, 1; shape (k, n, 2)."""
        n_signals, n_modes = exponent.shape
        _, n_weighted, size = self.weighted.shape
        n_blocks = n_weighted // 2
        factor = np.exp(exponent.conj())
        within = _powers(factor, size)
        across = _powers(within[:, :, -1] * factor, n_blocks)
        inner = within @ self.weighted.swapaxes(1, 2)
        sums = (inner.reshape(n_signals, n_modes, 2, n_blocks) @ across[..., None])[..., 0]
        sums[:, :, 1] += self.start * sums[:, :, 0]
        return np.asarray(sums)

    def with_each_other(self, exponent: Complex, *, out: Complex | None = None) -> Complex:
        """Return Σ_j conj(e^(s_i·j))·j^p·e^(s_l·j) for p = 0, 1, 2, shape (k, 3, n, n), in `out` if that is given."""
        n_signals, n = exponent.shape
        sums = np.empty((n_signals, 3, n, n), dtype=np.complex128) if out is None else out
        sums[:, 0], sums[:, 1], sums[:, 2] = self.of_product(exponent.conj()[:, :, None] + exponent[:, None, :])
        return sums

    def of_product(self, q: T) -> tuple[T, T, T]:
        """Return Σ_j j^p·e^(q·j) for p = 0, 1, 2, each of the shape of `q`, which is real or complex.

        The products must fall, Re q < 0, or the series would have no such form.
        """
        m = float(self.n_samples)
        one: T = np.expm1(q)
        whole: T = np.expm1(m * q)
        inverse, last = 1.0 / one, m * (whole + 1.0)
        plain = whole * inverse
        inverse_z = inverse * (one + 1.0)
        first = last * inverse - plain * inverse_z
        second = (m * last - inverse_z * (2.0 * last - (one + 2.0) * plain)) * inverse
        from_start = self.start * plain
        return plain, first + from_start, second + self.start * (2.0 * first + from_start)


def _powers(factor: Complex, n: int) -> Complex:
    """Return 1, factor, …, factor^(n − 1) along a new last axis."""
    powers = np.empty((*factor.shape, n), dtype=np.complex128)
    powers[...] = factor[..., None]
    powers[..., 0] = 1.0
    np.multiply.accumulate(powers, axis=-1, out=powers)
    return powers
