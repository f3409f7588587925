"""Every partial of a strike: frequency, level and error."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.struck import Struck, in_noise, struck_string

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.partials import MeasuredPartials, measure_partials
from strikeline.acoustics.strikes import Strike
from strikeline.physics.strings import partial_frequencies_hz

RATE_HZ = 48_000.0
N = np.arange(1, 11)
F0_HZ, B = 220.0, 2.4e-4
F_HZ = partial_frequencies_hz(N, f0_hz=F0_HZ, inharmonicity_b=B)


def measured(strike: Strike, f_hz: NDArray[np.float64], *, spacing_hz: float, off_hz: float = 0.0) -> MeasuredPartials:
    spectrum = Spectrum(strike.samples[strike.onset_sample :], sample_rate_hz=strike.sample_rate_hz)
    return measure_partials(spectrum, np.arange(1, f_hz.size + 1), expected_hz=f_hz + off_hz, spacing_hz=spacing_hz)


def of_string(struck: Struck, *, off_hz: float = 0.0) -> MeasuredPartials:
    return measured(struck.strike, struck.f_hz, spacing_hz=struck.f0_hz, off_hz=off_hz)


def unison(apart_cents: float, *, noise_sd: float = 1e-4, seed: int = 1) -> Strike:
    t = np.arange(round(3.0 * RATE_HZ)) / RATE_HZ
    rng = np.random.default_rng(seed)
    sound = np.zeros(t.size)
    for f in F_HZ:
        for part, alpha in ((-0.5, 1.0), (0.5, 1.6)):
            turn = 2 * np.pi * f * np.exp2(part * apart_cents / 1200.0) * t + rng.uniform(0, 2 * np.pi)
            sound += 0.01 * np.exp(-alpha * t) * np.cos(turn)
    return in_noise(sound, sample_rate_hz=RATE_HZ, noise_sd=noise_sd, seed=seed)


@pytest.mark.parametrize("key", [1, 16, 28, 40, 52, 64])
def test_frequencies_and_levels_lie_within_their_errors(key: int) -> None:
    struck = struck_string(key)
    found = of_string(struck)
    assert not found.is_double.any()
    clear = found.signal_to_noise_db > 20.0
    assert clear.sum() >= 3
    f_off = (found.f_hz - struck.f_hz)[clear] / found.se_hz[clear]
    level_off = (found.level_db - struck.level_db)[clear] / found.level_se_db[clear]
    assert np.max(np.abs(f_off)) < 4.0
    assert np.max(np.abs(level_off)) < 4.0
    assert_close(found.se_cents[clear], 1731.2 * (found.se_hz / found.f_hz)[clear], rtol=1e-3, atol=0, why="1st order")


def test_a_few_cents_of_wrong_start_change_nothing() -> None:
    struck = struck_string(40)
    near, far = of_string(struck), of_string(struck, off_hz=1.5)
    clear = near.signal_to_noise_db > 20.0
    assert_close(
        (far.f_hz - near.f_hz)[clear] / near.se_hz[clear],
        np.zeros(clear.sum()),
        rtol=0,
        atol=0.5,
        why="the band's taper moves, the sound does not: well within its error",
    )


def test_signal_to_noise_is_energy_over_density() -> None:
    struck = struck_string(40, snr_db=-5.0, n_partials=1)
    found = of_string(struck)
    level, alpha = 10.0 ** (struck.level_db[0] / 20.0), struck.decay_per_s[0]
    noise_variance = 10.0 ** (-(23.0 - 5.0) / 10.0)
    heard_s = found.bands.time_s[[0, -1]]
    energy = level**2 * (np.exp(-2 * alpha * heard_s[0]) - np.exp(-2 * alpha * heard_s[1])) / (2 * alpha)
    expected_db = 10.0 * np.log10(energy * RATE_HZ / (4.0 * noise_variance))
    assert_close(
        found.signal_to_noise_db[0], expected_db, rtol=0, atol=1.5, why="a median of 400 bins, and the tone in it"
    )


@pytest.mark.parametrize("apart_cents", [2.0, 4.0])
def test_a_unison_of_two_is_several_modes_and_its_error_spans_them(apart_cents: float) -> None:
    found = measured(unison(apart_cents), F_HZ, spacing_hz=F0_HZ)
    assert found.is_double[2:].all(), "partials whose strings lie 1 Hz or more apart"
    off_cents = 1731.2 * (found.f_hz / F_HZ - 1.0)
    assert np.max(np.abs(off_cents)) < apart_cents
    double = found.is_double
    assert np.all(found.se_hz[double] > found.noise_se_hz[double])
    assert np.all(np.abs(off_cents[double]) < 3.0 * found.se_cents[double])


def test_the_mean_of_a_unison_lies_within_its_error_nineteen_times_in_twenty() -> None:
    off = []
    for seed in range(12):
        found = measured(unison(4.0, seed=seed), F_HZ, spacing_hz=F0_HZ)
        off += list(((found.f_hz - F_HZ) / found.se_hz)[found.is_double])
    share = np.mean(np.abs(off) < 1.96)
    assert share > 0.90, f"{share:.2f} of {len(off)}; 4 standard deviations below 95 %"


def test_silence_has_partials_of_no_energy() -> None:
    silence = in_noise(np.zeros(96_000), sample_rate_hz=RATE_HZ, noise_sd=0.0, seed=1)
    found = measured(silence, F_HZ, spacing_hz=F0_HZ)
    assert np.all(found.signal_to_noise_db <= 0.0)
    assert not found.is_double.any()
