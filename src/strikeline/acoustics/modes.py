r"""Damped sinusoids fitted to many partials at once, by maximum likelihood.

Model of one band: y(t) = Σ_k a_k exp(s_k t) + noise, s_k = −α_k + i·2π(f_k − centre). The complex amplitudes a_k enter
linearly and are eliminated (variable projection, G. H. Golub & V. Pereyra 1973, from memory); the complex exponents
s_k are found by Levenberg-Marquardt steps with Kaufman's simplified Jacobian. Because y depends on s_k analytically,
the step is one small complex linear system per band, and all bands of a strike are solved together.

In white noise of variance σ² per complex sample the covariance of the exponents is σ² (Jᴴ J)⁻¹, half of it in the real
and half in the imaginary part: the Cramér-Rao bound of the damped tone with unknown amplitude and phase.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands
from strikeline.acoustics.mode_descent import ModeSums, descend, ridge_of, solve
from strikeline.acoustics.mode_sums import Stretch

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_SLOWEST_PER_S: Final = 0.02
"""Smallest decay rate α allowed: 0.17 dB/s, slower than any piano string."""
_USED_SHARE: Final = 0.6
"""Modes are looked for within this share of the band's half width; beyond, the taper lets a fifth of a mode pass, and
less."""
_LONGEST_LAG: Final = 12
"""Rows of the covariance of the subspace start: 0.3 s of the decimated band."""
_START_RATE_HZ: Final = 40.0
_FINE_RATE_HZ: Final = 12.0
_FINE_LAG: Final = 24
"""Three modes and more within a hertz need a start that sees 2 s at once."""
_LONGER_STEPS: Final = 25
_LEAST_LOG: Final = -200.0
"""Nepers: what has fallen further before the band begins is not there; keeps a division by it finite."""
_DIFFERENCE_TELLS: Final = 1e-9
_START_SHARE: Final = 0.3
_SMALLEST_CURVATURE: Final = 1e-200
_INVERSE_RIDGE: Final = 1e-11
_MODE_EVIDENCE: Final = 30.0
"""Another mode costs four real parameters. BIC asks 2·ln(M) ≈ 10 for them; the rest pays for searching the best of
many places for the mode (of 12 000 bands of pure noise none passed)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeFit:
    """`n_modes` damped sinusoids in each of k bands."""

    exponent: Complex
    """Shape (k, n_modes): −α + i·2π·(f − centre), per second."""
    amplitude: Complex
    """Shape (k, n_modes): complex amplitude at the onset (t = 0)."""
    onset: Complex
    """Shape (k, n_modes): the same before the taper of the band took its share."""
    onset_together: Real
    """Shape (k,): size of the sum of the modes at the onset, the taper undone. A blow starts all strings in step."""
    onset_together_sd: Real
    """Shape (k,): its standard deviation. Two modes that nearly cancel are uncertain each, but not their sum."""
    exponent_sd: Real
    """Shape (k, n_modes): standard deviation of the real part, and equally of the imaginary part, per second."""
    amplitude_rel_sd: Real
    """Shape (k, n_modes): standard deviation of ``abs(amplitude)`` relative to itself."""
    covariance: Complex
    """Shape (k, 2·n_modes, 2·n_modes): of `amplitude` and then `exponent`; the real part of each error, and equally its
    imaginary part, has the variance on the diagonal. The variance of Re Σ v·error is v·C·vᴴ."""
    gram: Complex
    """Shape (k, n_modes, n_modes): inner products of the unit modes over the time heard."""
    residual: Real
    """Shape (k,): sum of squares left."""
    energy: Real
    """Shape (k,): sum of squares of the signal."""
    noise_variance: Real
    """Shape (k,): variance per complex sample of an untapered band, from what is left."""
    is_settled: NDArray[np.bool_]
    """Shape (k,): whether another step would have changed nothing; if not, the errors are too small."""

    def of_rows(self, rows: NDArray[np.int64]) -> ModeFit:
        """Return the fits of some of the bands."""
        return ModeFit(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})


def fit_single_modes(bands: Bands, *, start: Complex | None = None) -> ModeFit:
    """Fit one damped sinusoid to each band.

    It starts from `start`, exponents of shape (k, 1), or else from the highest peak of the band's middle.
    """
    return _refine(bands, [_single_start(bands) if start is None else start], n_steps=10)


def fit_double_modes(bands: Bands, single: ModeFit) -> ModeFit:
    """Fit two damped sinusoids to each band: two strings, two polarisations, or prompt sound and aftersound."""
    # The other start splits the single mode into a fast and a slow one; each band takes the better of the two.
    split = single.exponent.real * [2.0, 0.4] + 1j * single.exponent.imag
    return _refine(bands, [_subspace_start(bands, n_modes=2), split], n_steps=7)


def refit_modes(bands: Bands, start: Complex) -> ModeFit:
    """Fit the modes that were fitted to other stretches of the same sound, from their exponents, shape (k, n_modes)."""
    return _refine(bands, [start], n_steps=5)


def settle_modes(bands: Bands, fit: ModeFit, *, most: int) -> ModeFit:
    """Return a fit in which the strongest `most` of the bands that have not settled go on for longer.

    Two modes that fall almost alike lie in a long, flat valley, and their starts are seldom near its bottom.

    Parameters
    ----------
    bands : Bands
        k bands.
    fit : ModeFit
        Fit of some modes to them.
    most : int
        How many bands at most.
    """
    rows = np.flatnonzero(~fit.is_settled)
    rows = rows[np.argsort(-fit.energy[rows], kind="stable")][:most]
    if rows.size == 0:
        return fit
    on = _refine(bands.of_rows(rows), [fit.exponent[rows]], n_steps=_LONGER_STEPS)
    changed = {field.name: getattr(fit, field.name).copy() for field in fields(fit)}
    for name, values in changed.items():
        values[rows] = getattr(on, name)
    return ModeFit(**changed)


def fit_one_more_mode(bands: Bands, fewer: ModeFit) -> ModeFit:
    """Fit one damped sinusoid more than `fewer` has to each band.

    It starts from the signal subspace, or from `fewer` and the highest peak of what that leaves, whichever is nearer.
    """
    known = _project(bands.signal, bands.time_s, fewer.exponent)
    n_fft = scipy.fft.next_fast_len(2 * bands.time_s.size)
    left = np.abs(scipy.fft.fft(known.error, n_fft, axis=1))
    offset_hz = np.fft.fftfreq(n_fft, 1.0 / bands.rate_hz)
    left[:, np.abs(offset_hz) > _USED_SHARE * bands.half_width_hz] = 0.0
    peak = fewer.exponent.real.max(axis=1) + 2j * np.pi * offset_hz[np.argmax(left, axis=1)]
    added = np.concatenate([fewer.exponent, peak[:, None]], axis=1)
    subspace = _subspace_start(bands, n_modes=added.shape[1], rate_hz=_FINE_RATE_HZ, longest=_FINE_LAG)
    return _refine(bands, [subspace, added], n_steps=8)


def needs_more_modes(
    bands: Bands, *, residual: Real, more: ModeFit, n_more: int | NDArray[np.int64] = 1
) -> NDArray[np.bool_]:
    """Return for each band whether the evidence demands `more` modes.

    The log-likelihood ratio of the two fits is held against `_MODE_EVIDENCE` for each mode added.

    Parameters
    ----------
    bands : Bands
        k bands.
    residual : ndarray of float, shape (k,)
        Sum of squares that fewer modes leave.
    more : ModeFit
        Fit of more modes.
    n_more : int or ndarray of int, shape (k,)
        How many more.

    Returns
    -------
    ndarray of bool, shape (k,)
    """
    n_effective = bands.time_s.size * bands.noise_share
    ratio = n_effective * np.log(np.maximum(residual, 1e-300) / np.maximum(more.residual, 1e-300))
    return np.asarray(ratio > _MODE_EVIDENCE * n_more)


def _refine(bands: Bands, starts: Sequence[Complex], *, n_steps: int) -> ModeFit:
    step_s = 1.0 / bands.rate_hz
    stretch = Stretch.of(bands.signal, start=float(bands.time_s[0]) * bands.rate_hz)
    found, is_settled = descend(
        stretch,
        [start * step_s for start in starts],
        slowest=_SLOWEST_PER_S * step_s,
        widest=2.0 * np.pi * bands.half_width_hz * _USED_SHARE * step_s,
        n_steps=n_steps,
    )
    return _finished(bands, stretch.energy, found, is_settled)


@dataclass(frozen=True, slots=True, eq=False)
class _Projection:
    """Some bands, their modes at given exponents, and the best amplitudes for them."""

    signal: Complex
    """Shape (k, m)."""
    exponent: Complex
    """Shape (k, n)."""
    basis: Complex
    """Shape (k, n, m)."""
    gram: Complex
    """Shape (k, n, n)."""
    amplitude: Complex
    """Shape (k, n)."""
    error: Complex
    """Shape (k, m)."""
    cost: Real
    """Shape (k,)."""


def _project(signal: Complex, time_s: Real, exponent: Complex) -> _Projection:
    basis = _geometric(exponent, time_s)
    gram = basis.conj() @ basis.swapaxes(1, 2)
    gram = gram + ridge_of(_diagonal(gram))[:, None, None] * np.eye(gram.shape[1])
    amplitude = solve(gram, basis.conj() @ signal[..., None])[..., 0]
    error = signal - (amplitude[:, None, :] @ basis)[:, 0]
    cost = np.einsum("km,km->k", error.real, error.real) + np.einsum("km,km->k", error.imag, error.imag)
    return _Projection(signal, exponent, basis, gram, amplitude, error, cost)


def _geometric(exponent: Complex, time_s: Real) -> Complex:
    """Return exp(exponent·time), shape (k, n, m), by products of two short progressions instead of m exponentials."""
    step_s = time_s[1] - time_s[0]
    n_fine = max(2, int(np.sqrt(time_s.size)))
    n_coarse = -(-time_s.size // n_fine)
    fine = np.exp(exponent[..., None] * (step_s * np.arange(n_fine)))
    coarse = np.exp(exponent[..., None] * (time_s[0] + step_s * n_fine * np.arange(n_coarse)))
    whole = (coarse[..., :, None] * fine[..., None, :]).reshape(*exponent.shape, -1)
    return np.ascontiguousarray(whole[..., : time_s.size])


def _finished(bands: Bands, energy: Real, found: ModeSums, is_settled: NDArray[np.bool_]) -> ModeFit:
    n_modes, start_s, step_s = found.exponent.shape[1], float(bands.time_s[0]), 1.0 / bands.rate_hz
    exponent = found.exponent * bands.rate_hz
    # The sums count time from the first sample on, what is told counts it from the onset on.
    since = np.exp(np.maximum(start_s * exponent.real, _LEAST_LOG) + 1j * (start_s * exponent.imag))
    amplitude = found.amplitude / since
    to_onset = since.conj()[:, :, None] * since[:, None, :]
    gram, first, second = (to_onset * found.moments[:, power] * step_s**power for power in range(3))
    residual = _exact_cost(bands, found)
    noise_variance = residual / max(bands.time_s.size * bands.noise_share - 2 * n_modes, 1.0)
    covariance = _inverse(_information(amplitude, gram, first, second)) * (noise_variance / 2)[:, None, None]
    variance = np.maximum(_diagonal(covariance), 0.0)
    gain = bands.gain_of(exponent)
    onset = amplitude / gain
    of_sum = np.real(np.einsum("ki,kij,kj->k", 1.0 / gain, covariance[:, :n_modes, :n_modes], 1.0 / gain))
    return ModeFit(
        exponent=exponent,
        amplitude=amplitude,
        onset=onset,
        onset_together=np.abs(onset.sum(axis=1)),
        onset_together_sd=np.sqrt(np.maximum(of_sum, 0.0)),
        exponent_sd=np.sqrt(variance[:, n_modes:]),
        amplitude_rel_sd=np.sqrt(variance[:, :n_modes]) / np.maximum(np.abs(amplitude), 1e-100),
        covariance=covariance,
        gram=gram,
        residual=residual,
        energy=energy,
        noise_variance=noise_variance,
        is_settled=is_settled,
    )


def _information(a: Complex, gram: Complex, first: Complex, second: Complex) -> Complex:
    """Return the inner products of how the signal moves with amplitudes and with exponents, shape (k, 2n, 2n)."""
    n = a.shape[1]
    whole = np.empty((a.shape[0], 2 * n, 2 * n), dtype=np.complex128)
    whole[:, :n, :n] = gram
    whole[:, :n, n:] = first * a[:, None, :]
    whole[:, n:, :n] = whole[:, :n, n:].conj().swapaxes(1, 2)
    whole[:, n:, n:] = a.conj()[:, :, None] * second * a[:, None, :]
    return whole


def _exact_cost(bands: Bands, found: ModeSums) -> Real:
    """Return the sums of squares left; where the difference of large sums would not tell them, from what is left."""
    cost = found.cost.copy()
    rows = np.flatnonzero(cost < _DIFFERENCE_TELLS * found.size)
    if rows.size:
        cost[rows] = _project(bands.signal[rows], bands.time_s, found.exponent[rows] * bands.rate_hz).cost
    return cost


def _diagonal(matrices: Complex) -> Real:
    return np.diagonal(matrices, axis1=1, axis2=2).real


def _inverse(information: Complex) -> Complex:
    """Return the inverse of each matrix.

    Each parameter is first measured in its own unit, so that the ridge that keeps the inverse finite is as small beside
    a faint mode as beside a loud one.
    """
    unit = np.sqrt(np.maximum(_diagonal(information), _SMALLEST_CURVATURE))
    own = information / (unit[:, :, None] * unit[:, None, :])
    inverse = np.linalg.inv(own + _INVERSE_RIDGE * np.eye(own.shape[1]))
    return np.asarray(inverse / (unit[:, :, None] * unit[:, None, :]))


def _single_start(bands: Bands) -> Complex:
    n_fft = scipy.fft.next_fast_len(4 * bands.time_s.size)
    spectrum = np.abs(scipy.fft.fft(bands.signal, n_fft, axis=1))
    offset_hz = np.fft.fftfreq(n_fft, 1.0 / bands.rate_hz)
    spectrum[:, np.abs(offset_hz) > _START_SHARE * bands.half_width_hz] = 0.0
    peak_hz = offset_hz[np.argmax(spectrum, axis=1)]
    half = bands.time_s.size // 2
    early, late = (np.vecdot(part, part).real for part in (bands.signal[:, :half], bands.signal[:, half:]))
    fall = np.log(np.maximum(early, 1e-300) / np.maximum(late, 1e-300)) / (2 * half / bands.rate_hz)
    return np.asarray((-np.clip(fall, 0.05, 0.2 * bands.rate_hz) + 2j * np.pi * peak_hz)[:, None])


def _subspace_start(
    bands: Bands, *, n_modes: int, rate_hz: float = _START_RATE_HZ, longest: int = _LONGEST_LAG
) -> Complex:
    """Return starting exponents by rotational invariance of the signal subspace.

    ESPRIT (Roy & Kailath 1989, from memory) on a short covariance matrix of the decimated band, so that all bands cost
    one small eigenproblem each.
    """
    step = max(1, min(int(bands.rate_hz // rate_hz), bands.time_s.size // (n_modes + 2)))
    slow = bands.signal
    if step > 1:
        usable = slow.shape[1] // step * step
        slow = slow[:, :usable].reshape(slow.shape[0], -1, step).mean(axis=2)
    order = int(np.clip(slow.shape[1] // 3, n_modes + 2, longest))
    lagged = sliding_window_view(slow, order, axis=1)
    covariance = lagged.swapaxes(1, 2) @ lagged.conj()
    _, vectors = np.linalg.eigh(covariance)
    strongest = vectors[:, :, -n_modes:]
    upper, lower = strongest[:, :-1], strongest[:, 1:]
    adjoint = upper.conj().swapaxes(1, 2)
    rotation = np.linalg.solve(adjoint @ upper + 1e-9 * np.eye(n_modes), adjoint @ lower)
    pole = np.linalg.eigvals(rotation)
    exponent = np.log(np.where(np.abs(pole) < 1e-6, 1e-6, pole)) * (bands.rate_hz / step)
    return np.asarray(np.clip(exponent.real, -0.3 * bands.rate_hz, -0.05) + 1j * exponent.imag)
