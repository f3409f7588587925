"""Damped sinusoids fitted by maximum likelihood, against the truth and against the Cramér-Rao bound."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.bands import Bands, Spectrum
from strikeline.acoustics.modes import ModeFit, fit_double_modes, fit_single_modes, needs_more_modes
from strikeline.physics.cramer_rao import damped_tone_bound

RATE_HZ = 48_000.0
N_SAMPLES = 96_000
CENTRES_HZ = np.arange(300.0, 18_300.0, 90.0)
"""200 tones far enough apart to be 200 experiments in one sound."""
NOISE_SD = 1e-2
AMPLITUDE = 0.02
ALPHA_PER_S = 3.0


def tones(f_hz: NDArray[np.float64], *, alpha_per_s: float, seed: int = 0) -> NDArray[np.float64]:
    """Return the sum of equal damped tones; adjoining tones are one term apart in phase at random."""
    t = np.arange(N_SAMPLES) / RATE_HZ
    phase = np.random.default_rng(seed).uniform(0, 2 * np.pi, f_hz.size)
    total = np.zeros(N_SAMPLES)
    for f, shift in zip(f_hz, phase, strict=True):
        total += np.cos(2 * np.pi * f * t + shift)
    return np.asarray(total * np.exp(-alpha_per_s * t))


def bands_of(sound: NDArray[np.float64], *, half_width_hz: float = 36.0) -> Bands:
    return Spectrum(sound, sample_rate_hz=RATE_HZ).bands(CENTRES_HZ, half_width_hz=half_width_hz)


def noise(seed: int = 1) -> NDArray[np.float64]:
    return NOISE_SD * np.random.default_rng(seed).standard_normal(N_SAMPLES)


@pytest.fixture(scope="module")
def offsets_hz() -> NDArray[np.float64]:
    return np.random.default_rng(2).uniform(-3.0, 3.0, CENTRES_HZ.size)


@pytest.fixture(scope="module")
def single(offsets_hz: NDArray[np.float64]) -> tuple[Bands, ModeFit]:
    bands = bands_of(AMPLITUDE * tones(CENTRES_HZ + offsets_hz, alpha_per_s=ALPHA_PER_S) + noise())
    return bands, fit_single_modes(bands)


def found_hz(bands: Bands, fit: ModeFit) -> NDArray[np.float64]:
    return np.asarray(bands.centre_hz[:, None] + fit.exponent.imag / (2 * np.pi))


def test_one_damped_tone_is_found_near_the_bound(
    single: tuple[Bands, ModeFit], offsets_hz: NDArray[np.float64]
) -> None:
    bands, fit = single
    bound = damped_tone_bound(
        amplitude=AMPLITUDE,
        decay_per_s=ALPHA_PER_S,
        noise_sd=NOISE_SD,
        sample_rate_hz=RATE_HZ,
        n_samples=N_SAMPLES,
    )
    error_hz = found_hz(bands, fit)[:, 0] - CENTRES_HZ - offsets_hz
    ratio = np.sqrt(np.mean(error_hz**2)) / bound.frequency_sd_hz[0]
    # The band is heard from 1.5/36 s on: at 3/s the bound itself grows by exp(3·1.5/36) = 1.13.
    assert 0.95 < ratio < 1.13 * 1.15, f"{ratio:.3f} times the bound; 200 trials scatter by 5 %"


def test_the_claimed_errors_are_those_that_happen(
    single: tuple[Bands, ModeFit], offsets_hz: NDArray[np.float64]
) -> None:
    bands, fit = single
    f_off = 2 * np.pi * (found_hz(bands, fit)[:, 0] - CENTRES_HZ - offsets_hz) / fit.exponent_sd[:, 0]
    alpha_off = (-fit.exponent.real[:, 0] - ALPHA_PER_S) / fit.exponent_sd[:, 0]
    passed = bands.gain_of(np.asarray(2j * np.pi * offsets_hz, dtype=np.complex128))
    level_off = (np.abs(fit.amplitude[:, 0]) / passed / AMPLITUDE - 1.0) / fit.amplitude_rel_sd[:, 0]
    for off in (f_off, alpha_off, level_off):
        assert_close(np.std(off), 1.0, rtol=0, atol=0.2, why="200 trials: 4 standard deviations of a sample's sd")


def test_the_noise_is_what_was_put_in(single: tuple[Bands, ModeFit]) -> None:
    bands, fit = single
    expected = 4.0 * NOISE_SD**2 * bands.rate_hz / RATE_HZ
    assert_close(np.mean(fit.noise_variance), expected, rtol=0.05, atol=0, why="200 bands of 140 samples")


def test_a_quieter_recording_has_the_same_relative_errors(offsets_hz: NDArray[np.float64]) -> None:
    sound = (AMPLITUDE * tones(CENTRES_HZ + offsets_hz, alpha_per_s=ALPHA_PER_S) + noise()).astype(np.float32)
    loud, quiet = bands_of(sound.astype(np.float64)), bands_of(sound.astype(np.float64) * 2.0**-20)
    one, other = fit_single_modes(loud), fit_single_modes(quiet)
    assert_close(other.exponent_sd, one.exponent_sd, rtol=1e-4, atol=0, why="float32 through and through")
    assert_close(other.exponent.imag, one.exponent.imag, rtol=0, atol=1e-4, why="20 µHz")
    assert_close(other.amplitude_rel_sd, one.amplitude_rel_sd, rtol=1e-4, atol=0, why="float32 through and through")


def test_one_tone_seldom_asks_for_a_second(single: tuple[Bands, ModeFit]) -> None:
    bands, fit = single
    assert needs_more_modes(bands, residual=fit.residual, more=fit_double_modes(bands, fit)).sum() == 0


def test_pure_noise_seldom_asks_for_two_tones() -> None:
    n_asked = 0
    for seed in range(3):
        bands = bands_of(noise(seed))
        one = fit_single_modes(bands)
        n_asked += int(needs_more_modes(bands, residual=one.residual, more=fit_double_modes(bands, one)).sum())
    assert n_asked <= 1, "600 bands of noise; one in 10 000 is claimed"


@pytest.mark.parametrize("apart_hz", [0.8, 2.0, 6.0])
def test_two_strings_are_told_apart(apart_hz: float) -> None:
    low = CENTRES_HZ - apart_hz / 2
    sound = AMPLITUDE * (tones(low, alpha_per_s=1.0) + tones(low + apart_hz, alpha_per_s=2.0, seed=5))
    bands = bands_of(sound + 0.1 * noise())
    one = fit_single_modes(bands)
    two = fit_double_modes(bands, one)
    assert needs_more_modes(bands, residual=one.residual, more=two).all()
    order = np.argsort(two.exponent.imag, axis=1)
    f_hz = np.take_along_axis(found_hz(bands, two), order, axis=1)
    sd_hz = np.take_along_axis(two.exponent_sd, order, axis=1) / (2 * np.pi)
    off = (f_hz - np.stack([low, low + apart_hz], axis=1)) / sd_hz
    assert_close(np.mean(np.abs(off) < 1.96), 0.95, rtol=0, atol=0.045, why="400 values: 4 sd of a share of 95 %")


def test_a_prompt_sound_and_an_aftersound_at_one_pitch_are_told_apart() -> None:
    sound = AMPLITUDE * (tones(CENTRES_HZ, alpha_per_s=8.0) + 0.3 * tones(CENTRES_HZ, alpha_per_s=0.8, seed=5))
    bands = bands_of(sound + 0.1 * noise())
    one = fit_single_modes(bands)
    two = fit_double_modes(bands, one)
    asked = needs_more_modes(bands, residual=one.residual, more=two)
    assert asked.mean() > 0.95
    alpha = np.sort(-two.exponent.real[asked], axis=1)
    assert_close(np.median(alpha, axis=0), [0.8, 8.0], rtol=0.03, atol=0, why="200 bands, each known to about 10 %")


def test_silence_is_fitted_without_complaint() -> None:
    bands = bands_of(np.zeros(N_SAMPLES))
    one = fit_single_modes(bands)
    two = fit_double_modes(bands, one)
    for fit in (one, two):
        assert np.isfinite(fit.exponent).all()
        assert_close(fit.noise_variance, np.zeros(CENTRES_HZ.size), rtol=0, atol=0, why="nothing is nothing")
    assert not needs_more_modes(bands, residual=one.residual, more=two).any()


@pytest.mark.parametrize("n_samples", [3_900, 5_000, 8_000])
def test_the_shortest_sounds_are_fitted_without_complaint(n_samples: int) -> None:
    sound = AMPLITUDE * tones(CENTRES_HZ, alpha_per_s=1.0)[:n_samples] + noise()[:n_samples]
    for half_width_hz in (8.0, 11.0, 40.0, 200.0):
        bands = bands_of(sound, half_width_hz=half_width_hz)
        fit = fit_double_modes(bands, fit_single_modes(bands))
        assert np.isfinite(fit.exponent_sd).all()
