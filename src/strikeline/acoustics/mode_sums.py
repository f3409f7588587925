"""Inner products of damped sinusoids with each other and with a signal, without making the sinusoids.

At equal steps of time, Σ e^(qt), Σ t·e^(qt) and Σ t²·e^(qt) are geometric series with closed forms. Those with the
signal are taken block by block: a power within the block times a power across blocks, so that only a short piece of
each sinusoid is ever computed. A step of a fit then costs a fraction of what it does with whole sinusoids.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """k signals on one time axis, cut into blocks."""

    block: Complex
    """Shape (k, blocks, samples), filled up with zeros."""
    energy: Real
    """Shape (k,)."""
    start_s: float
    step_s: float
    n_samples: int

    @classmethod
    def of(cls, signal: Complex, time_s: Real) -> Stretch:
        """Return the stretch of `signal`, shape (k, m), at `time_s`, shape (m,), in equal steps."""
        n_signals, n_samples = signal.shape
        size = max(2, round(n_samples**0.5))
        n_blocks = -(-n_samples // size)
        block = np.zeros((n_signals, n_blocks * size), dtype=np.complex128)
        block[:, :n_samples] = signal
        return cls(
            block=block.reshape(n_signals, n_blocks, size),
            energy=np.einsum("km,km->k", signal.real, signal.real) + np.einsum("km,km->k", signal.imag, signal.imag),
            start_s=float(time_s[0]),
            step_s=float(time_s[1] - time_s[0]),
            n_samples=n_samples,
        )

    def of_rows(self, rows: NDArray[np.bool_]) -> Stretch:
        """Return some of the signals."""
        if rows.all():
            return self
        return Stretch(self.block[rows], self.energy[rows], self.start_s, self.step_s, self.n_samples)

    def with_signal(self, exponent: Complex) -> tuple[Complex, Complex]:
        """Return Σ conj(e^(st))·y and Σ t·conj(e^(st))·y for exponents s, shape (k, n) each."""
        _, n_blocks, size = self.block.shape
        within_s = self.step_s * np.arange(size)
        across_s = self.start_s + self.step_s * size * np.arange(n_blocks)
        piece = np.exp(exponent.conj()[..., None] * np.concatenate([within_s, across_s]))
        fine, coarse = piece[..., :size], piece[..., size:]
        inner = np.concatenate([fine, within_s * fine], axis=1) @ self.block.swapaxes(1, 2)
        n = exponent.shape[1]
        plain, timed = coarse * inner[:, :n], coarse * inner[:, n:]
        return plain.sum(axis=2), plain @ across_s + timed.sum(axis=2)

    def with_each_other(self, exponent: Complex) -> tuple[Complex, Complex, Complex]:
        """Return Σ conj(e^(s_i·t))·t^p·e^(s_l·t) for p = 0, 1, 2, shape (k, n, n) each.

        The exponents must fall, or the series would have no such form.
        """
        q = (exponent.conj()[:, :, None] + exponent[:, None, :]) * self.step_s
        m = self.n_samples
        u, v = -np.expm1(q), -np.expm1(q * m)
        z, z_to_m = 1.0 - u, 1.0 - v
        p0 = v / u
        p1 = (z * p0 - m * z_to_m) / u
        p2 = (z * (1.0 + z) * v / u**2 - 2.0 * m * z_to_m * z / u - m**2 * z_to_m) / u
        at_start: Complex = np.exp(q * (self.start_s / self.step_s))
        t, d = self.start_s, self.step_s
        plain: Complex = at_start * p0
        first: Complex = at_start * (t * p0 + d * p1)
        second: Complex = at_start * (t**2 * p0 + 2.0 * t * d * p1 + d**2 * p2)
        return plain, first, second
