"""Laws that hold for every string."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.physics.cramer_rao import damped_tone_bound
from strikeline.physics.strings import fundamental_hz, partial_frequencies_hz, plain_inharmonicity_b

lengths_mm = st.floats(40, 1100)
tensions_n = st.floats(300, 1500)
coefficients_b = st.floats(0, 0.03)


@given(length_mm=lengths_mm, tension_n=tensions_n)
def test_doubling_the_length_lowers_the_pitch_one_octave(length_mm: float, tension_n: float) -> None:
    high_hz = fundamental_hz(length_mm=length_mm, tension_n=tension_n, linear_density_kg_per_m=6e-3)
    low_hz = fundamental_hz(length_mm=2 * length_mm, tension_n=tension_n, linear_density_kg_per_m=6e-3)
    interval_cents = 1200 * np.log2(high_hz / low_hz)
    assert_close(interval_cents, 1200.0, rtol=0, atol=1e-9, why="f0 goes as 1/L; rounding only")


@given(length_mm=lengths_mm, tension_n=tensions_n, factor=st.floats(0.25, 4))
def test_pitch_goes_as_the_root_of_the_tension(length_mm: float, tension_n: float, factor: float) -> None:
    before = fundamental_hz(length_mm=length_mm, tension_n=tension_n, linear_density_kg_per_m=6e-3)
    after = fundamental_hz(length_mm=length_mm, tension_n=factor * tension_n, linear_density_kg_per_m=6e-3)
    assert_close(after, before * np.sqrt(factor), rtol=1e-12, atol=0, why="Mersenne; rounding only")


@given(length_mm=lengths_mm, tension_n=tensions_n, scale=st.floats(0.5, 2))
def test_a_string_scaled_in_all_lengths_and_its_tension_with_the_section_keeps_its_b(
    length_mm: float, tension_n: float, scale: float
) -> None:
    def b(factor: float) -> NDArray[np.float64]:
        return plain_inharmonicity_b(
            diameter_mm=factor, length_mm=factor * length_mm, tension_n=factor**2 * tension_n, young_modulus_pa=2.02e11
        )

    assert_close(b(scale), b(1.0), rtol=1e-12, atol=0, why="B has no dimension; rounding only")


@given(f0_hz=st.floats(20, 5000), b=coefficients_b, factor=st.floats(0.5, 2))
def test_partials_scale_with_f0(f0_hz: float, b: float, factor: float) -> None:
    n = np.arange(1, 30)
    once = partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=b)
    scaled = partial_frequencies_hz(n, f0_hz=factor * f0_hz, inharmonicity_b=b)
    assert_close(scaled, factor * once, rtol=1e-12, atol=0, why="rounding only")


@given(f0_hz=st.floats(20, 5000), b=st.floats(1e-6, 0.03))
def test_partials_rise_and_their_distance_grows(f0_hz: float, b: float) -> None:
    distance = np.diff(partial_frequencies_hz(np.arange(1, 60), f0_hz=f0_hz, inharmonicity_b=b))
    assert (distance > 0).all()
    assert (np.diff(distance) > 0).all()


@given(amplitude=st.floats(0.01, 1), decay=st.floats(0.1, 50), gain=st.floats(0.1, 10))
def test_the_bound_does_not_depend_on_gain_when_the_noise_grows_too(
    amplitude: float, decay: float, gain: float
) -> None:
    def bound(factor: float) -> NDArray[np.float64]:
        return damped_tone_bound(
            amplitude=factor * amplitude,
            decay_per_s=decay,
            noise_sd=factor * 0.01,
            sample_rate_hz=4000.0,
            n_samples=400,
        ).frequency_sd_hz

    assert_close(bound(gain), bound(1.0), rtol=1e-9, atol=0, why="only the ratio counts; rounding only")
