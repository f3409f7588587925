"""Every partial of one strike measured: frequency, level, early and late decay, each with its standard error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import SETTLING, Bands, Spectrum
from strikeline.acoustics.modes import ModeFit, fit_double_modes, fit_single_modes, needs_more_modes, settle_modes
from strikeline.units import DB_PER_NEPER, cents_from_ratio

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_SPREAD_SHARE: Final = 0.5
"""Where a partial is several modes, the mean frequency of the strings is known only to within their spread. If every
division of the energy between two strings is equally likely, the variance of the energy-weighted mean about the plain
mean is Δ²/12 and the expected variance of the modes about their mean is Δ²/6: one half of it."""
_SPACING_SHARE: Final = 0.4
"""Half width of a band relative to the distance of the partials, at most."""
_WIDE_SHARE: Final = 0.2
_DECAY_HZ: Final = 40.0
"""Half width in which decays are fitted: settles in 40 ms and passes a prompt sound of 300 dB/s, a line 11 Hz wide."""
_NARROW_HZ: Final = 8.0
"""Half width of the band in which the frequency of a many-moded partial is averaged: wider than any unison worth the
name (8 Hz is 31 cents at A4), narrow enough to exclude the blow after 0.2 s."""
_NARROW_CYCLES: Final = 3.0
_MOST_SETTLED: Final = 12
"""Partials whose two modes are followed until they settle: their decays are told, and what is told must be right."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredPartials:
    """k partials of one strike; arrays of shape (k,) unless stated."""

    partial: NDArray[np.int64]
    f_hz: Real
    """Frequency averaged over the energy heard."""
    noise_se_hz: Real
    """Standard error of `f_hz` from noise alone."""
    se_hz: Real
    """The same with the spread of the modes."""
    level_db: Real
    """At the onset, modes added as they sound there, dB re full scale."""
    level_se_db: Real
    signal_to_noise_db: Real
    """Energy of the partial over the density of what lies beside it in its band, whatever model fits it."""
    floor_variance: Real
    """That density, as variance per complex sample of `bands` without their taper."""
    is_double: NDArray[np.bool_]
    """Whether one damped sinusoid does not explain the partial."""
    single: ModeFit
    double: ModeFit
    bands: Bands
    """The bands that `single` and `double` were fitted to."""

    def chosen(self) -> tuple[tuple[ModeFit, NDArray[np.bool_]], ...]:
        """Return each fit with the partials, shape (k,), that it was chosen for; every partial is in one of them."""
        return (self.single, ~self.is_double), (self.double, self.is_double)

    def sounding_modes(self) -> tuple[Complex, Complex]:
        """Return exponents, per second with the whole frequency, and onset amplitudes of all modes, shape (j,)."""
        poles, amplitudes = [], []
        for fit, rows in self.chosen():
            poles.append((fit.exponent[rows] + 2j * np.pi * self.bands.centre_hz[rows, None]).ravel())
            amplitudes.append(fit.onset[rows].ravel())
        return np.concatenate(poles), np.concatenate(amplitudes)

    def share_of_two(self) -> Real:
        """Return how likely each partial is two modes rather than one, shape (k,), by Schwarz's criterion.

        Four more parameters cost half of 4·ln(looks). A partial is called double only on stronger evidence, so there
        are partials that are more likely two modes and not called so.
        """
        n_looks = max(self.bands.time_s.size * self.bands.noise_share, 1.0)
        left = np.log(np.maximum([self.single.residual, self.double.residual], 1e-300))
        against = 2.0 * np.log(n_looks) - n_looks * (left[0] - left[1])
        return np.asarray(1.0 / (1.0 + np.exp(np.clip(against, -50.0, 50.0))))

    @property
    def se_cents(self) -> Real:
        """Standard errors of the frequencies in cents."""
        return cents_from_ratio(1.0 + self.se_hz / self.f_hz)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frequencies:
    f_hz: Real
    noise_se_hz: Real
    spread_hz: Real


def measure_partials(
    spectrum: Spectrum, partial: NDArray[np.int64], *, expected_hz: Real, spacing_hz: float
) -> MeasuredPartials:
    """Measure the partials expected at given frequencies.

    Parameters
    ----------
    spectrum : Spectrum
        The strike from its onset on.
    partial : ndarray of int, shape (k,)
        Partial numbers.
    expected_hz : ndarray of float, shape (k,)
        Within a few cents of the truth.
    spacing_hz : float
        Distance of neighbouring partials, about f0.

    Notes
    -----
    A partial that one damped sinusoid explains down to the noise is measured in the widest band that its neighbours
    allow, which loses next to nothing of the sound: the estimate then is the maximum likelihood one. Where several
    modes sound, its frequency is the average over the energy of the aftersound in a narrow band, because the prompt
    sound is short, broad and mixed with the blow.
    """
    bands = spectrum.bands(expected_hz, half_width_hz=min(_SPACING_SHARE * spacing_hz, _DECAY_HZ))
    single = fit_single_modes(bands)
    double = settle_modes(bands, fit_double_modes(bands, single), most=_MOST_SETTLED)
    is_double = needs_more_modes(bands, residual=single.residual, more=double)
    found = _frequencies(bands, single, double, is_double)
    widest_hz = min(_SPACING_SHARE * spacing_hz, max(_DECAY_HZ, _WIDE_SHARE * spacing_hz))
    if widest_hz > bands.half_width_hz * 1.05 and not is_double.all():
        wide = spectrum.bands(expected_hz[~is_double], half_width_hz=widest_hz)
        moved = bands.centre_hz[~is_double] - wide.centre_hz
        one = fit_single_modes(wide, start=single.exponent[~is_double] + 2j * np.pi * moved[:, None])
        found = _replaced(found, ~is_double, _frequencies(wide, one, one, np.zeros(wide.centre_hz.size, dtype=bool)))
    if is_double.any():
        narrow_hz = _narrow_hz(spectrum, -single.exponent.real[is_double, 0])
        if narrow_hz < bands.half_width_hz:
            narrow = spectrum.bands(expected_hz[is_double], half_width_hz=narrow_hz)
            one = fit_single_modes(narrow)
            two = fit_double_modes(narrow, one)
            found = _replaced(
                found,
                is_double,
                _frequencies(narrow, one, two, needs_more_modes(narrow, residual=one.residual, more=two)),
            )
    onset = [np.where(is_double, d, s) for s, d in zip(_onset_power(single), _onset_power(double), strict=True)]
    floor_variance = spectrum.floor_variance(bands, half_width_hz=_SPACING_SHARE * spacing_hz)
    return MeasuredPartials(
        partial=partial,
        f_hz=found.f_hz,
        noise_se_hz=found.noise_se_hz,
        se_hz=np.hypot(found.noise_se_hz, np.sqrt(_SPREAD_SHARE) * found.spread_hz),
        level_db=10.0 * np.log10(onset[0]),
        level_se_db=onset[1],
        signal_to_noise_db=_signal_to_noise_db(bands, single.energy, floor_variance),
        floor_variance=floor_variance,
        is_double=is_double,
        single=single,
        double=double,
        bands=bands,
    )


def _narrow_hz(spectrum: Spectrum, decay_per_s: Real) -> float:
    """Return the half width of the narrow band: it must settle before the partials have fallen by 6 dB."""
    settles_hz = SETTLING * float(np.median(decay_per_s)) / float(np.log(2.0))
    return max(_NARROW_HZ, _NARROW_CYCLES / spectrum.duration_s, settles_hz)


def _frequencies(bands: Bands, single: ModeFit, double: ModeFit, is_double: NDArray[np.bool_]) -> _Frequencies:
    one, two = _mean_frequency(single), _mean_frequency(double)
    return _Frequencies(
        f_hz=bands.centre_hz + np.where(is_double, two[0], one[0]),
        noise_se_hz=np.where(is_double, two[1], one[1]),
        spread_hz=np.where(is_double, two[2], 0.0),
    )


def _signal_to_noise_db(bands: Bands, energy: Real, floor_variance: Real) -> Real:
    floor = np.maximum(floor_variance, 1e-300)
    signal = energy - floor * bands.noise_share * bands.time_s.size
    return np.asarray(10.0 * np.log10(np.maximum(signal / floor, 1e-3)))


def _replaced(old: _Frequencies, rows: NDArray[np.bool_], new: _Frequencies) -> _Frequencies:
    def merged(name: str) -> Real:
        values: Real = getattr(old, name).copy()
        values[rows] = getattr(new, name)
        return values

    return _Frequencies(**{name: merged(name) for name in _Frequencies.__slots__})


def _mean_frequency(fit: ModeFit) -> tuple[Real, Real, Real]:
    """Return the energy-weighted mean frequency offset, its standard error from noise, and the spread of the modes.

    With y = Σ a_k exp(s_k t), the mean of the frequency over the energy is Σ_kl ā_k a_l ω_l G_kl / Σ_kl ā_k a_l G_kl,
    cross terms included, so that two modes that nearly cancel do no harm.
    """
    pair = fit.amplitude.conj()[:, :, None] * fit.gram * fit.amplitude[:, None, :]
    energy = np.maximum(np.real(pair.sum(axis=(1, 2))), 1e-300)
    omega = fit.exponent.imag
    mean = np.real(np.einsum("kij,kj->k", pair, omega.astype(np.complex128))) / energy
    about = omega - mean[:, None]
    variance = np.real(np.einsum("kij,ki,kj->k", pair, about.astype(np.complex128), about.astype(np.complex128)))
    share = np.abs(np.real(pair.sum(axis=2))) / energy[:, None]
    noise_se = np.sqrt(np.sum((share * fit.exponent_sd) ** 2, axis=1))
    spread = np.sqrt(np.maximum(variance / energy, 0.0))
    return mean / (2 * np.pi), noise_se / (2 * np.pi), spread / (2 * np.pi)


def _onset_power(fit: ModeFit) -> tuple[Real, Real]:
    """Return the power of a partial at the onset, its modes in step, and its standard error in decibels."""
    size = np.maximum(fit.onset_together, 1e-150)
    return size**2, DB_PER_NEPER * fit.onset_together_sd / size
