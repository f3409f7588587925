"""Strings of Bensa, Bilbao, Kronland-Martinet & Smith (2003), Table I."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz, key_from_name
from strikeline.physics.strings import (
    STEEL_DENSITY_KG_PER_M3,
    STEEL_YOUNG_MODULUS_PA,
    fundamental_hz,
    partial_frequencies_hz,
    plain_inharmonicity_b,
    plain_linear_density_kg_per_m,
)
from strikeline.synthesis.ideal import damped_string
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.unison import string_decay_per_s

ROWS = {row["note"]: row for row in csv.DictReader((Path(__file__).parent / "strings.csv").read_text().splitlines())}
NOTES = sorted(ROWS)


def published(note: str) -> tuple[float, float, float, float, float]:
    row = ROWS[note]
    names = ("length_m", "wave_speed_m_per_s", "stiffness_m2_per_s", "b1_per_s", "b2_m2_per_s")
    length_m, c, kappa, b1, b2 = (float(row[name]) for name in names)
    return length_m, c, kappa, b1, b2


def steel_string(note: str) -> dict[str, float]:
    """Return the steel string that has the published wave speed and stiffness: κ = (d/4)·√(E/ρ), T = c²·μ."""
    length_m, c, kappa, _, _ = published(note)
    diameter_mm = 4e3 * kappa * np.sqrt(STEEL_DENSITY_KG_PER_M3 / STEEL_YOUNG_MODULUS_PA)
    density = float(plain_linear_density_kg_per_m(diameter_mm=diameter_mm))
    return {
        "diameter_mm": float(diameter_mm),
        "length_mm": length_m * 1e3,
        "tension_n": c**2 * density,
        "linear_density_kg_per_m": density,
    }


@pytest.mark.parametrize("note", NOTES)
def test_the_string_sounds_the_note_it_is_named_after(note: str) -> None:
    string = steel_string(note)
    f0_hz = fundamental_hz(
        length_mm=string["length_mm"],
        tension_n=string["tension_n"],
        linear_density_kg_per_m=string["linear_density_kg_per_m"],
    )
    expected = equal_tempered_hz(key_from_name(note), a4_hz=440.0)
    assert_close(f0_hz, expected, rtol=4e-4, atol=0, why="c is printed to 4 figures, half a unit is up to 3e-4")


@pytest.mark.parametrize("note", NOTES)
def test_b_from_wire_and_tension_equals_b_from_wave_speed_and_stiffness(note: str) -> None:
    length_m, c, kappa, _, _ = published(note)
    string = steel_string(note)
    b = plain_inharmonicity_b(
        diameter_mm=string["diameter_mm"],
        length_mm=string["length_mm"],
        tension_n=string["tension_n"],
        young_modulus_pa=STEEL_YOUNG_MODULUS_PA,
    )
    assert_close(b, (np.pi * kappa / (c * length_m)) ** 2, rtol=1e-12, atol=0, why="the same law, two derivations")


@pytest.mark.parametrize("note", NOTES)
def test_partials_solve_the_published_wave_equation(note: str) -> None:
    length_m, c, kappa, _, _ = published(note)
    n = np.arange(1, 13)
    k = n * np.pi / length_m
    omega = np.sqrt(c**2 * k**2 + kappa**2 * k**4)  # y_tt = c²·y_xx - κ²·y_xxxx on pinned ends
    b = (np.pi * kappa / (c * length_m)) ** 2
    law_hz = partial_frequencies_hz(n, f0_hz=c / (2 * length_m), inharmonicity_b=b)
    assert_close(law_hz, omega / (2 * np.pi), rtol=1e-12, atol=0, why="the same law, two derivations")


@pytest.mark.parametrize("note", NOTES)
def test_our_string_losses_follow_the_published_ones_in_shape(note: str) -> None:
    length_m, c, _, _, b2 = published(note)
    unison = StringUnison(
        key=key_from_name(note),
        speaking_length_mm=length_m * 1e3,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=(c / (2 * length_m),),
    )
    first, second = string_decay_per_s(np.array([1, 2]), unison)
    growth = (second - first) / (3 * (np.pi / length_m) ** 2)
    assert_close(growth, 0.3 * b2, rtol=0.01, atol=0, why="fit b2(f0) returns the table's b2 to 1 %; 0.3 is our share")


@pytest.mark.parametrize("note", NOTES)
def test_a_fourier_transform_finds_the_partials_of_the_rendered_string(note: str) -> None:
    length_m, c, kappa, b1, b2 = published(note)
    f0_hz, b = c / (2 * length_m), (np.pi * kappa / (c * length_m)) ** 2
    n = np.arange(1, 5)
    duration_s, rate_hz = 3.0, 24_000.0
    samples = damped_string(
        f0_hz=f0_hz,
        inharmonicity_b=b,
        level_db=np.zeros(4),
        decay_per_s=b1 + b2 * (n * np.pi / length_m) ** 2,
        phase_rad=np.zeros(4),
        sample_rate_hz=rate_hz,
        duration_s=duration_s,
    )
    law_hz = partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=b)
    assert_close(
        peaks_near(samples, law_hz, rate_hz),
        law_hz,
        rtol=3e-6,
        atol=0.02 / duration_s,
        why="a parabola over a zero-padded Hann window finds a lone tone within 2 % of the resolution",
    )


def peaks_near(samples: NDArray[np.float64], near_hz: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Return the interpolated spectral peaks next to some frequencies."""
    n_fft = 8 * samples.size
    log_spectrum = np.log(np.abs(np.fft.rfft(samples * np.hanning(samples.size), n_fft)))
    found = []
    for hz in near_hz:
        centre, reach = round(hz * n_fft / rate_hz), round(10.0 * n_fft / rate_hz)
        at = centre - reach + int(np.argmax(log_spectrum[centre - reach : centre + reach]))
        left, middle, right = log_spectrum[at - 1 : at + 2]
        found.append((at + 0.5 * (left - right) / (left - 2 * middle + right)) * rate_hz / n_fft)
    return np.array(found)
