"""Coupled strings: closed forms, then the two stages as heard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.synthesis.hammer import strike_strings
from strikeline.synthesis.instrument import SynthesisedPiano, upright_1920s
from strikeline.synthesis.note import note_modes, render_note
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.unison import couple_strings, string_decay_per_s
from strikeline.units import ratio_from_cents

PARTIAL = np.arange(1, 6)


def strings(*cents: float) -> StringUnison:
    return StringUnison(
        key=40,
        speaking_length_mm=650.0,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=tuple(261.6 * float(ratio_from_cents(c)) for c in cents),
    )


def resistance(ratio: float, unison: StringUnison) -> NDArray[np.complex128]:
    return np.full(PARTIAL.size, ratio / unison.impedance_kg_per_s, dtype=np.complex128)


def test_on_a_rigid_bridge_each_string_keeps_its_own_pitch_and_decay() -> None:
    unison = strings(-2.0, 0.0, 3.0)
    modes = couple_strings(unison, PARTIAL, admittance_s_per_kg=resistance(0.0, unison), share=(1.0, 1.0, 1.0))
    stiff = PARTIAL[:, None] * np.sqrt(1 + unison.inharmonicity_b * PARTIAL[:, None] ** 2)
    expected_hz = np.sort(stiff * np.array(unison.f0_hz), axis=1)
    found_hz = np.sort(modes.pole_per_s.imag, axis=1) / (2 * np.pi)
    assert_close(found_hz, expected_hz, rtol=1e-6, atol=0, why="strings are split by 0.001 cent, 6e-7")
    decay = np.repeat(string_decay_per_s(PARTIAL, unison)[:, None], 3, axis=1)
    assert_close(-modes.pole_per_s.real, decay, rtol=1e-9, atol=0, why="rounding only")


@pytest.mark.parametrize("mistuning_cents", [0.3, 2.0, 12.0])
def test_two_strings_follow_the_closed_form(mistuning_cents: float) -> None:
    unison = strings(-mistuning_cents / 2, mistuning_cents / 2)
    ratio = 1 / 346
    modes = couple_strings(unison, PARTIAL, admittance_s_per_kg=resistance(ratio, unison), share=(1.0, 1.0))
    coupling = 2 * unison.mean_f0_hz * ratio
    stretch = PARTIAL * np.sqrt(1 + unison.inharmonicity_b * PARTIAL**2)
    half = np.pi * stretch * (unison.f0_hz[1] - unison.f0_hz[0])
    centre = 2j * np.pi * stretch * unison.mean_f0_hz - string_decay_per_s(PARTIAL, unison) - coupling
    root = np.sqrt(coupling**2 - half**2 + 0j)
    expected = np.stack([centre - root, centre + root], axis=1)
    distance = np.abs(modes.pole_per_s[:, :, None] - expected[:, None, :]).min(axis=2)
    assert_close(distance, np.zeros_like(distance), rtol=0, atol=0.01, why="the split of 0.001 cent moves the roots")


def test_the_modes_start_with_the_force_of_all_strings() -> None:
    unison = strings(-1.0, 0.5, 0.5)
    share = (0.9, 1.0, 1.1)
    modes = couple_strings(unison, PARTIAL, admittance_s_per_kg=resistance(1 / 300, unison), share=share)
    assert_close(modes.weight.sum(axis=1).real, np.full(5, 3.0), rtol=1e-9, atol=0, why="sum of shares; rounding")
    assert_close(modes.weight.sum(axis=1).imag, np.zeros(5), rtol=0, atol=1e-9, why="all start in phase")


def test_the_force_on_the_bridge_obeys_the_equation_of_motion() -> None:
    """Follow three strings step by step and compare."""
    unison = strings(-1.5, 0.0, 1.0)
    ratio = (1 + 0.4j) / 400
    admittance = np.full(PARTIAL.size, ratio / unison.impedance_kg_per_s)
    share = (1.0, 0.8, 1.2)
    modes = couple_strings(unison, PARTIAL, admittance_s_per_kg=admittance, share=share)
    n = 3
    stiff = n * np.sqrt(1 + unison.inharmonicity_b * n**2)
    omega = 2 * np.pi * stiff * np.array(unison.f0_hz)
    reference = omega.mean()  # followed in the frame that turns with the mean string
    own = 1j * (omega - reference) - string_decay_per_s(np.array([n]), unison)[0]
    matrix = np.diag(own) - 2 * unison.mean_f0_hz * ratio * np.ones((3, 3))
    time_s, steps = 0.5, 2000
    h = time_s / steps * matrix
    step = np.eye(3) + h @ (np.eye(3) + h @ (np.eye(3) / 2 + h @ (np.eye(3) / 6 + h / 24)))  # Runge-Kutta, 4th order
    followed = (np.linalg.matrix_power(step, steps) @ np.array(share)).sum()
    found = (modes.weight[n - 1] * np.exp((modes.pole_per_s[n - 1] - 1j * reference) * time_s)).sum()
    assert_close(
        [found.real, found.imag],
        [followed.real, followed.imag],
        rtol=0,
        atol=1e-3,
        why="strings are split by 0.001 cent",
    )


def slopes_db_per_s(piano: SynthesisedPiano, key: int) -> tuple[float, float]:
    """Return the early and the late slope of partial 1 of a rendered note."""
    state, rate_hz = piano[key], 8000.0
    pulses = strike_strings([state.unison], [state.hammer], speed_m_per_s=np.array([2.5]))
    modes = note_modes(piano, key, pulses, blow=0, sample_rate_hz=rate_hz)
    modes = modes.where(modes.partial == 1)
    sound = render_note(
        modes, hold_s=6.0, damper_t60_s=None, contact_s=0.002, sample_rate_hz=rate_hz, longest_s=6.0
    ).astype(np.float64)
    t = np.arange(sound.size) / rate_hz
    turned = sound * np.exp(-2j * np.pi * state.unison.mean_f0_hz * t)
    block = 800
    level_db = 20 * np.log10(np.abs(turned[: turned.size // block * block].reshape(-1, block).mean(axis=1)))
    return float((level_db[1] - level_db[4]) / 0.3), float((level_db[-11] - level_db[-1]) / 1.0)


def test_two_coupled_strings_decay_in_two_stages_and_one_string_in_one() -> None:
    piano = upright_1920s(7)
    f0_hz = piano[52].unison.mean_f0_hz
    close = tuple(f0_hz * float(ratio_from_cents(c)) for c in (-0.3, 0.3))  # three would beat slowly at the end
    coupled = piano.replacing(replace(piano[52], unison=replace(piano[52].unison, f0_hz=close)))
    single = piano.replacing(replace(piano[52], unison=replace(piano[52].unison, f0_hz=(f0_hz,))))
    early, late = slopes_db_per_s(coupled, 52)
    assert early > 4 * late > 0
    early, late = slopes_db_per_s(single, 52)
    assert_close(early, late, rtol=0.03, atol=0, why="one mode, one slope; block edges and the rise leave 3 %")
