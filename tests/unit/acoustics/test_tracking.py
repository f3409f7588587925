"""Partials found one after another: the numbers must be right."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.struck import Struck, struck_string

from strikeline.acoustics.tracking import PartialTrack, track_partials
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.synthesis.ideal import white_noise
from strikeline.units import cents_from_ratio, ratio_from_cents


def track(
    key: int, struck: Struck, *, start_cents: float = 0.0, highest_hz: float = 10_000.0, most: int = 60
) -> PartialTrack | None:
    strike = struck.strike
    return track_partials(
        strike.samples[strike.onset_sample + 2000 :],
        sample_rate_hz=strike.sample_rate_hz,
        key=key,
        f0_hz=struck.f0_hz * float(ratio_from_cents(start_cents)),
        highest_hz=highest_hz,
        most=most,
    )


@pytest.mark.parametrize("start_cents", [-20.0, 0.0, 20.0])
@pytest.mark.parametrize("b_ratio", [0.6, 1.0, 1.6])
@pytest.mark.parametrize("key", [1, 13, 28, 40, 52, 64, 76])
def test_every_partial_found_bears_its_own_number(key: int, b_ratio: float, start_cents: float) -> None:
    b = b_ratio * float(typical_inharmonicity_b(key))
    struck = struck_string(key, inharmonicity_b=b, n_partials=40, duration_s=1.6)
    found = track(key, struck, start_cents=start_cents)
    assert found is not None
    known = found.partial[found.partial <= struck.f_hz.size]
    off_cents = cents_from_ratio(found.f_hz[: known.size] / struck.f_hz[known - 1])
    assert_close(off_cents, np.zeros(known.size), rtol=0, atol=4.0, why="a neighbour lies 40 cents away at least")
    assert known.size >= min(3, struck.f_hz.size)
    if known.size >= 5:  # with fewer, f0 stays rough on purpose: the search leans on the B that is typical of the key
        assert_close(found.f0_hz, struck.f0_hz, rtol=6e-4, atol=0, why="one cent")


def test_numbering_stands_where_the_lowest_partials_are_missing() -> None:
    key = 4
    struck = struck_string(key, n_partials=40)
    strike = struck.strike
    spectrum = np.fft.rfft(strike.samples)
    spectrum[: round(3.5 * struck.f0_hz * strike.samples.size / strike.sample_rate_hz)] = 0.0
    samples = np.fft.irfft(spectrum, strike.samples.size).astype(np.float32)
    found = track_partials(
        samples[strike.onset_sample + 2000 :],
        sample_rate_hz=strike.sample_rate_hz,
        key=key,
        f0_hz=struck.f0_hz * 1.005,
        highest_hz=10_000.0,
        most=40,
    )
    assert found is not None
    assert found.partial.size >= 30
    off_cents = cents_from_ratio(found.f_hz / struck.f_hz[found.partial - 1])
    assert_close(off_cents, np.zeros(found.partial.size), rtol=0, atol=2.0, why="a neighbour lies 40 cents away")


def test_nothing_is_found_in_noise() -> None:
    samples = white_noise(n_samples=96_000, noise_sd=0.1, seed=3)
    n_false = 0
    for key, f0_hz in ((1, 27.5), (40, 261.6), (64, 1046.5), (88, 4186.0)):
        found = track_partials(
            samples, sample_rate_hz=48_000.0, key=key, f0_hz=f0_hz, highest_hz=10_000.0, most=min(90, int(1e4 / f0_hz))
        )
        n_false += 0 if found is None else found.partial.size
    assert n_false <= 1, "a peak 14 dB over the median of its band: exp(-25·ln 2) = 3e-8 a bin"


def test_silence_has_no_partials() -> None:
    silence = np.zeros(48_000, dtype=np.float32)
    assert track_partials(silence, sample_rate_hz=48_000.0, key=40, f0_hz=261.6, highest_hz=10_000.0, most=30) is None


def test_a_note_above_the_recordings_band_is_not_found() -> None:
    struck = struck_string(88, n_partials=1)
    assert track(88, struck, highest_hz=3680.0, most=1) is None


def test_no_partial_beyond_the_limits_is_looked_for() -> None:
    struck = struck_string(28, n_partials=30)
    few, low = track(28, struck, most=5), track(28, struck, highest_hz=1000.0)
    assert few is not None
    assert low is not None
    assert few.partial.max() <= 5
    assert low.f_hz.max() < 1000.0


def test_one_partial_moves_f0_and_leaves_b_typical() -> None:
    struck = struck_string(80, n_partials=1)
    found = track(80, struck, start_cents=10.0)
    assert found is not None
    assert found.partial.tolist() == [1]
    assert found.inharmonicity_b == float(typical_inharmonicity_b(80))
    assert_close(found.f0_hz, struck.f0_hz, rtol=3e-4, atol=0, why="half a cent")
