"""Narrow bands: what goes in comes out, where and when it says."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.bands import Bands, Spectrum
from strikeline.errors import InputError

RATE_HZ = 48_000.0
HALF_WIDTH_HZ = 40.0


def tone(f_hz: float, *, alpha_per_s: float = 0.0, duration_s: float = 2.0) -> NDArray[np.float64]:
    t = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    return np.asarray(np.exp(-alpha_per_s * t) * np.cos(2 * np.pi * f_hz * t + 0.3))


def turning(offset_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the exponents of steady tones beside the centre."""
    return np.asarray(2j * np.pi * offset_hz, dtype=np.complex128)


def band_of(sound: NDArray[np.float64], centre_hz: float, *, half_width_hz: float = HALF_WIDTH_HZ) -> Bands:
    return Spectrum(sound, sample_rate_hz=RATE_HZ).bands(np.array([centre_hz]), half_width_hz=half_width_hz)


@pytest.mark.parametrize("offset_hz", [-12.0, 0.0, 3.3, 20.0])
def test_a_tone_keeps_its_amplitude_but_for_the_taper(offset_hz: float) -> None:
    bands = band_of(0.25 * tone(1000.0 + offset_hz), 1000.0)
    expected = 0.25 * bands.gain_of(turning(1000.0 + offset_hz - bands.centre_hz))
    level = np.abs(bands.signal[0])
    assert_close(level, np.full(level.size, expected[0]), rtol=2e-3, atol=0, why="ends leak by 60 dB at most")


def test_a_damped_tone_turns_and_falls_at_its_own_rate() -> None:
    bands = band_of(tone(1005.0, alpha_per_s=3.0), 1000.0)
    turn = np.polyfit(bands.time_s, np.unwrap(np.angle(bands.signal[0])), 1)[0] / (2 * np.pi)
    fall = -np.polyfit(bands.time_s, np.log(np.abs(bands.signal[0])), 1)[0]
    assert_close(turn + bands.centre_hz[0], 1005.0, rtol=0, atol=1e-3, why="0.002 cent")
    assert_close(fall, 3.0, rtol=2e-3, atol=0, why="the step at the onset has settled")


def test_a_neighbouring_partial_stays_80_db_away() -> None:
    spacing_hz = HALF_WIDTH_HZ / 0.4
    bands = band_of(tone(1000.0 + spacing_hz), 1000.0)
    assert np.max(np.abs(bands.signal)) < 1e-4


@pytest.mark.parametrize("f_hz", [20.0, RATE_HZ / 2 - 15.0])
def test_a_band_reaching_beyond_the_spectrum_still_shows_its_tone(f_hz: float) -> None:
    bands = band_of(tone(f_hz), f_hz)
    assert_close(np.mean(np.abs(bands.signal)), 1.0, rtol=0.01, atol=0, why="mirror images lie outside")


def test_a_constant_offset_does_not_leak_into_the_lowest_partial() -> None:
    clean, offset = band_of(tone(27.5), 27.5, half_width_hz=11.0), band_of(tone(27.5) + 0.5, 27.5, half_width_hz=11.0)
    leak = np.abs(clean.signal - offset.signal)
    assert np.max(leak) < 1e-4, "80 dB below twice the offset: the step at the onset has settled"


@pytest.mark.parametrize(("offset_hz", "alpha_per_s"), [(0.0, 1.0), (4.0, 10.0), (-15.0, 20.0), (2.0, 40.0)])
def test_a_falling_mode_passes_as_gain_of_says(offset_hz: float, alpha_per_s: float) -> None:
    bands = band_of(tone(1000.0 + offset_hz, alpha_per_s=alpha_per_s), 1000.0)
    gain = bands.gain_of(np.array([-alpha_per_s + 2j * np.pi * (1000.0 + offset_hz - bands.centre_hz[0])]))
    early = slice(0, 3)
    at_onset = np.abs(bands.signal[0, early]) * np.exp(alpha_per_s * bands.time_s[early])
    assert_close(at_onset, np.full(3, gain[0]), rtol=2e-3, atol=0, why="60 dB of ringing; 20/s alone gains 3 %")


def test_time_begins_settled_and_ends_within_the_sound() -> None:
    bands = band_of(tone(1000.0, duration_s=1.0), 1000.0)
    assert_close(bands.time_s[0], 1.5 / bands.half_width_hz, rtol=1e-9, atol=0, why="the filter's main lobe")
    assert bands.time_s[-1] <= 1.0 - 1.5 / bands.half_width_hz
    assert not bands.is_cut_short


@pytest.mark.parametrize("duration_s", [0.05, 0.1, 0.15])
def test_a_sound_shorter_than_the_filter_says_so(duration_s: float) -> None:
    bands = band_of(tone(1000.0, duration_s=duration_s), 1000.0)
    assert bands.is_cut_short
    assert bands.signal.shape[1] >= 4


def test_white_noise_has_the_power_that_share_and_floor_say() -> None:
    noise = 0.1 * np.random.default_rng(3).standard_normal(96_000)
    spectrum = Spectrum(noise, sample_rate_hz=RATE_HZ)
    bands = spectrum.bands(np.arange(500.0, 20_000.0, 100.0), half_width_hz=HALF_WIDTH_HZ)
    untapered = 4.0 * 0.01 * bands.rate_hz / RATE_HZ
    power = np.mean(np.abs(bands.signal) ** 2)
    assert_close(power, untapered * bands.noise_share, rtol=0.05, atol=0, why="12 000 independent values: 4 sd")
    floor = spectrum.floor_variance(bands, half_width_hz=200.0)
    assert_close(np.mean(floor), untapered, rtol=0.05, atol=0, why="medians of 200 bins, 195 bands")


def test_a_line_does_not_move_the_floor() -> None:
    noise = 1e-3 * np.random.default_rng(3).standard_normal(96_000)
    spectrum = Spectrum(noise + tone(1000.0, alpha_per_s=1.0), sample_rate_hz=RATE_HZ)
    bands = spectrum.bands(np.array([1000.0]), half_width_hz=HALF_WIDTH_HZ)
    floor = spectrum.floor_variance(bands, half_width_hz=1000.0)[0]
    untapered = 4.0 * 1e-6 * bands.rate_hz / RATE_HZ
    assert 0.5 * untapered < floor < 1e-4, "the line has power 1; what is left is the skirt of its onset"


def test_taper_is_one_in_the_middle_and_nothing_at_the_edges() -> None:
    bands = band_of(tone(1000.0), 1000.0)
    at = bands.gain_of(turning(np.array([0.0, bands.half_width_hz, -2 * bands.half_width_hz])))
    assert_close(at, [1.0, 1e-6, 1e-6], rtol=0, atol=1e-12, why="Blackman window; a floor keeps quotients finite")


@pytest.mark.parametrize(
    "samples", [np.zeros(63), np.zeros((100, 2)), np.full(100, np.nan), np.r_[np.zeros(99), np.inf]]
)
def test_nonsense_is_refused(samples: NDArray[np.float64]) -> None:
    with pytest.raises(InputError, match="samples"):
        Spectrum(samples, sample_rate_hz=RATE_HZ)
