r"""Damped sinusoids fitted to many partials at once, by maximum likelihood.

Model of one band: y(t) = Σ_k a_k exp(s_k t) + noise, s_k = −α_k + i·2π(f_k − centre). The complex amplitudes a_k enter
linearly and are eliminated (variable projection, G. H. Golub & V. Pereyra 1973, from memory); the complex exponents
s_k are found by Levenberg-Marquardt steps with Kaufman's simplified Jacobian. Because y depends on s_k analytically,
the step is one small complex linear system per band, and all bands of a strike are solved together.

In white noise of variance σ² per complex sample the covariance of the exponents is σ² (Jᴴ J)⁻¹, half of it in the real
and half in the imaginary part: the Cramér-Rao bound of the damped tone with unknown amplitude and phase.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_SLOWEST_PER_S: Final = 0.02
"""Smallest decay rate α allowed: 0.17 dB/s, slower than any piano string."""
_USED_SHARE: Final = 0.6
"""Modes are looked for within this share of the band's half width, where the taper is flat or nearly so."""
_START_SHARE: Final = 0.3
_RIDGE: Final = 1e-9
"""Relative to the largest diagonal element: keeps two modes that fall together from dividing by zero."""
_TINY: Final = 1e-30
_TWO_MODE_EVIDENCE: Final = 30.0
"""A second mode costs four real parameters. BIC asks 2·ln(M) ≈ 10 for them; the rest pays for searching the best of
many places for the mode (about one in 10⁴ bands of pure noise passes, measured with `benchmarks`)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeFit:
    """`n_modes` damped sinusoids in each of k bands."""

    exponent: Complex
    """Shape (k, n_modes): −α + i·2π·(f − centre), per second."""
    amplitude: Complex
    """Shape (k, n_modes): complex amplitude at the onset (t = 0)."""
    exponent_sd: Real
    """Shape (k, n_modes): standard deviation of the real part, and equally of the imaginary part, per second."""
    amplitude_rel_sd: Real
    """Shape (k, n_modes): standard deviation of ``abs(amplitude)`` relative to itself."""
    gram: Complex
    """Shape (k, n_modes, n_modes): inner products of the unit modes over the time heard."""
    residual: Real
    """Shape (k,): sum of squares left."""
    energy: Real
    """Shape (k,): sum of squares of the signal."""
    noise_variance: Real
    """Shape (k,): variance per complex sample of an untapered band, from what is left."""


def fit_single_modes(bands: Bands, *, start: Complex | None = None) -> ModeFit:
    """Fit one damped sinusoid to each band.

    It starts from `start`, exponents of shape (k, 1), or else from the highest peak of the band's middle.
    """
    return _refine(bands, _single_start(bands) if start is None else start, n_steps=10)


def fit_double_modes(bands: Bands, single: ModeFit) -> ModeFit:
    """Fit two damped sinusoids to each band: two strings, two polarisations, or prompt sound and aftersound."""
    start = _subspace_start(bands, n_modes=2)
    fit = _refine(bands, start, n_steps=14)
    # Where the subspace start led nowhere, split the single mode into a fast and a slow one.
    split = np.stack([single.exponent[:, 0] * 1.0, single.exponent[:, 0]], axis=1)
    split = np.stack([split.real * [2.0, 0.4], split.imag], axis=0)
    worse = fit.residual > single.residual
    if not worse.any():
        return fit
    other = _refine(bands, split[0] + 1j * split[1], n_steps=14)
    return _choose(other.residual < fit.residual, other, fit)


def needs_second_mode(bands: Bands, single: ModeFit, double: ModeFit) -> NDArray[np.bool_]:
    """Return for each band whether the evidence demands two modes (likelihood ratio against `_TWO_MODE_EVIDENCE`)."""
    n_effective = bands.time_s.size * bands.noise_share
    ratio = n_effective * np.log(np.maximum(single.residual, 1e-300) / np.maximum(double.residual, 1e-300))
    return np.asarray(2.0 * ratio > 2.0 * _TWO_MODE_EVIDENCE)


def _refine(bands: Bands, exponent: Complex, *, n_steps: int) -> ModeFit:
    signal, time_s = bands.signal, bands.time_s
    widest = 2 * np.pi * bands.half_width_hz * _USED_SHARE
    exponent = _within(exponent, widest)
    damping = np.full(signal.shape[0], 1e-3)
    basis, gram, amplitude, error, cost = _project(signal, time_s, exponent)
    for _ in range(n_steps):
        jacobian = _jacobian(time_s, basis, gram, amplitude)
        curvature = jacobian.conj().swapaxes(1, 2) @ jacobian
        slope = jacobian.conj().swapaxes(1, 2) @ error[..., None]
        tried = _within(exponent + np.linalg.solve(_damped(curvature, damping), slope)[..., 0], widest)
        new = _project(signal, time_s, tried)
        better = new[4] < cost
        settled = np.abs(cost - new[4]) <= 1e-10 * cost
        exponent = np.where(better[:, None], tried, exponent)
        basis = np.where(better[:, None, None], new[0], basis)
        gram = np.where(better[:, None, None], new[1], gram)
        amplitude = np.where(better[:, None], new[2], amplitude)
        error = np.where(better[:, None], new[3], error)
        cost = np.where(better, new[4], cost)
        damping = np.where(better, damping * 0.2, damping * 8.0)
        if settled.all():
            break
    return _finished(bands, exponent, basis, gram, amplitude, cost)


def _finished(
    bands: Bands, exponent: Complex, basis: Complex, gram: Complex, amplitude: Complex, cost: Real
) -> ModeFit:
    n_modes = exponent.shape[1]
    dof = max(bands.time_s.size * bands.noise_share - 2 * n_modes, 1.0)
    noise_variance = cost / dof
    full = np.concatenate([basis, bands.time_s[:, None] * basis * amplitude[:, None, :]], axis=2)
    information = full.conj().swapaxes(1, 2) @ full
    variance = np.real(np.einsum("kii->ki", np.linalg.inv(_damped(information, np.zeros(cost.size)))))
    variance = np.maximum(variance, 0.0) * noise_variance[:, None] / 2
    return ModeFit(
        exponent=exponent,
        amplitude=amplitude,
        exponent_sd=np.sqrt(variance[:, n_modes:]),
        amplitude_rel_sd=np.sqrt(variance[:, :n_modes]) / np.maximum(np.abs(amplitude), 1e-300),
        gram=gram,
        residual=cost,
        energy=np.sum(np.abs(bands.signal) ** 2, axis=1),
        noise_variance=noise_variance,
    )


def _project(signal: Complex, time_s: Real, exponent: Complex) -> tuple[Complex, Complex, Complex, Complex, Real]:
    """Return modes, their Gram matrix, the best amplitudes, what they leave, and its energy."""
    basis = np.exp(exponent[:, None, :] * time_s[None, :, None])
    adjoint = basis.conj().swapaxes(1, 2)
    gram = adjoint @ basis
    diagonal = np.real(np.einsum("kii->ki", gram))
    ridge = _RIDGE * diagonal.max(axis=1) + _TINY
    ridged = gram + ridge[:, None, None] * np.eye(gram.shape[1])
    amplitude = np.linalg.solve(ridged, adjoint @ signal[..., None])[..., 0]
    error = signal - (basis @ amplitude[..., None])[..., 0]
    return basis, ridged, amplitude, error, np.sum(np.abs(error) ** 2, axis=1)


def _jacobian(time_s: Real, basis: Complex, gram: Complex, amplitude: Complex) -> Complex:
    """Return how the modelled signal moves with each exponent, less what the amplitudes can follow."""
    moved = time_s[None, :, None] * basis * amplitude[:, None, :]
    return moved - basis @ np.linalg.solve(gram, basis.conj().swapaxes(1, 2) @ moved)


def _damped(curvature: Complex, damping: Real) -> Complex:
    diagonal = np.real(np.einsum("kii->ki", curvature))
    lift = diagonal * damping[:, None] + 1e-11 * diagonal.max(axis=1, keepdims=True) + _TINY
    return curvature + lift[:, :, None] * np.eye(curvature.shape[1])


def _within(exponent: Complex, widest_rad_per_s: float) -> Complex:
    fall = np.maximum(-exponent.real, _SLOWEST_PER_S)
    return -fall + 1j * np.clip(exponent.imag, -widest_rad_per_s, widest_rad_per_s)


def _single_start(bands: Bands) -> Complex:
    n_fft = scipy.fft.next_fast_len(4 * bands.time_s.size)
    spectrum = np.abs(scipy.fft.fft(bands.signal, n_fft, axis=1))
    offset_hz = np.fft.fftfreq(n_fft, 1.0 / bands.rate_hz)
    spectrum[:, np.abs(offset_hz) > _START_SHARE * bands.half_width_hz] = 0.0
    peak_hz = offset_hz[np.argmax(spectrum, axis=1)]
    half = bands.time_s.size // 2
    early = np.sum(np.abs(bands.signal[:, :half]) ** 2, axis=1)
    late = np.sum(np.abs(bands.signal[:, half:]) ** 2, axis=1)
    fall = np.log(np.maximum(early, 1e-300) / np.maximum(late, 1e-300)) / (2 * half / bands.rate_hz)
    return (-np.clip(fall, 0.05, 0.2 * bands.rate_hz) + 2j * np.pi * peak_hz)[:, None]


def _subspace_start(bands: Bands, *, n_modes: int) -> Complex:
    """Return starting exponents by rotational invariance of the signal subspace.

    ESPRIT (Roy & Kailath 1989, from memory) on a short covariance matrix of the decimated band, so that all bands cost
    one small eigenproblem each.
    """
    step = max(1, int(bands.rate_hz // 40.0))
    slow = bands.signal
    if step > 1:
        usable = slow.shape[1] // step * step
        slow = slow[:, :usable].reshape(slow.shape[0], -1, step).mean(axis=2)
    order = int(np.clip(slow.shape[1] // 3, n_modes + 2, 18))
    lagged = sliding_window_view(slow, order, axis=1)
    covariance = lagged.swapaxes(1, 2) @ lagged.conj()
    _, vectors = np.linalg.eigh(covariance)
    strongest = vectors[:, :, -n_modes:]
    upper, lower = strongest[:, :-1], strongest[:, 1:]
    adjoint = upper.conj().swapaxes(1, 2)
    rotation = np.linalg.solve(adjoint @ upper + 1e-9 * np.eye(n_modes), adjoint @ lower)
    pole = np.linalg.eigvals(rotation)
    exponent = np.log(np.where(np.abs(pole) < 1e-6, 1e-6, pole)) * (bands.rate_hz / step)
    return np.clip(exponent.real, -0.3 * bands.rate_hz, -0.05) + 1j * exponent.imag


def _choose(first: NDArray[np.bool_], one: ModeFit, other: ModeFit) -> ModeFit:
    def pick(a: NDArray[np.generic], b: NDArray[np.generic]) -> NDArray[np.generic]:
        return np.where(first.reshape(first.shape + (1,) * (a.ndim - 1)), a, b)

    return ModeFit(**{name: pick(getattr(one, name), getattr(other, name)) for name in ModeFit.__slots__})
