"""Two and three strings on one bridge, Weinreich (1977, from memory) and the wave equation itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.synthesis.instrument import upright_1920s
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.unison import UnisonModes, couple_strings, string_decay_per_s
from strikeline.units import DB_PER_NEPER, ratio_from_cents

FIRST = np.array([1])
F0_HZ = 311.1
"""E flat 4."""


def strings(*cents: float) -> StringUnison:
    return StringUnison(
        key=43,
        speaking_length_mm=560.0,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=tuple(F0_HZ * float(ratio_from_cents(c)) for c in cents),
    )


def on_bridge(unison: StringUnison, kappa_per_s: complex, share: tuple[float, ...] = (1.0, 1.0, 1.0)) -> UnisonModes:
    """Return partial 1 of strings whose coupling to the bridge is `kappa_per_s` each."""
    admittance = np.array([kappa_per_s / (2.0 * unison.mean_f0_hz * unison.impedance_kg_per_s)])
    return couple_strings(unison, FIRST, admittance_s_per_kg=admittance, share=share)


def two_apart(epsilon: float, kappa_per_s: complex) -> NDArray[np.complex128]:
    """Return the poles of two strings 2·epsilon (rad/s) apart in partial 1, about their mean, their own loss taken off.

    The higher frequency comes first, of equal ones the slower decay.
    """
    stiff = float(np.sqrt(1.0 + strings(0.0).inharmonicity_b))
    half_hz = epsilon / (2.0 * np.pi * stiff)
    unison = replace(strings(0.0, 0.0), f0_hz=(F0_HZ - half_hz, F0_HZ + half_hz))
    mean = 2j * np.pi * F0_HZ * stiff - string_decay_per_s(FIRST, unison)[0]
    pole = on_bridge(unison, kappa_per_s).pole_per_s[0] - mean
    return np.asarray(pole[np.lexsort((-pole.real, -np.round(pole.imag, 3)))])


@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.9])
def test_below_the_coupling_a_resistance_locks_the_frequencies_and_parts_the_decays(ratio: float) -> None:
    kappa = 2.0
    slow, fast = two_apart(ratio * kappa, kappa)
    apart = kappa * np.sqrt(1.0 - ratio**2)
    assert_close([slow.imag, fast.imag], [0.0, 0.0], rtol=0, atol=2e-3, why="one pitch; strings split by 0.001 cent")
    assert_close([slow.real, fast.real], [apart - kappa, -apart - kappa], rtol=0, atol=3e-3, why="0.001 cent")


@pytest.mark.parametrize("ratio", [1.1, 2.0, 5.0])
def test_above_the_coupling_a_resistance_leaves_two_pitches_drawn_together_and_one_decay(ratio: float) -> None:
    kappa = 2.0
    high, low = two_apart(ratio * kappa, kappa)
    half = kappa * np.sqrt(ratio**2 - 1.0)
    assert half < ratio * kappa, "attracted"
    assert_close([high.imag, low.imag], [half, -half], rtol=3e-3, atol=0, why="0.001 cent is 1e-3 of the smallest")
    assert_close([high.real, low.real], [-kappa, -kappa], rtol=0, atol=3e-3, why="0.001 cent")


@pytest.mark.parametrize("ratio", [0.0, 0.3, 1.0, 4.0])
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_spring_or_a_mass_drives_the_frequencies_apart(ratio: float, sign: float) -> None:
    kappa = 2.0
    high, low = two_apart(ratio * kappa, 1j * sign * kappa)
    half = kappa * np.sqrt(ratio**2 + 1.0)
    expected = [-sign * kappa + half, -sign * kappa - half]
    assert_close([high.imag, low.imag], expected, rtol=0, atol=3e-3, why="0.001 cent")
    assert_close([high.real, low.real], [0.0, 0.0], rtol=0, atol=1e-6, why="nothing is lost in a spring")


@pytest.mark.parametrize("cents", [(0.0,), (-0.1, 0.1), (-4.0, 4.0), (-1.0, 0.3, 0.8)])
def test_strings_struck_alike_fall_at_first_by_the_sum_of_their_couplings(cents: tuple[float, ...]) -> None:
    kappa, unison = 1.5, strings(*cents)
    modes = on_bridge(unison, kappa)
    weight, pole = modes.weight[0], modes.pole_per_s[0]
    at_once = float(-((weight * pole).sum() / weight.sum()).real)
    own = float(string_decay_per_s(FIRST, unison)[0])
    assert_close(at_once - own, len(cents) * kappa, rtol=1e-6, atol=0, why="N times one string; rounding")


def test_the_prompt_sound_of_his_e_flat_is_among_those_of_invented_pianos() -> None:
    """What one E flat 4 loses to its bridge differs from piano to piano."""
    early = []
    for seed in range(40):
        piano = upright_1920s(seed)
        unison = piano[43].unison
        near = replace(
            unison, f0_hz=tuple(unison.mean_f0_hz * float(ratio_from_cents(cents)) for cents in (-0.3, 0.0, 0.3))
        )
        admittance = piano.soundboard.admittance_s_per_kg(43, np.array([near.mean_f0_hz]))
        modes = couple_strings(near, FIRST, admittance_s_per_kg=admittance, share=(1.0, 1.0, 1.0))
        rate = -DB_PER_NEPER * modes.pole_per_s[0].real
        early.append(float(rate[np.argmax(np.abs(modes.weight[0]))]))
    assert np.quantile(early, 0.1) < 8.0 < np.quantile(early, 0.9)


def test_an_uneven_blow_gives_a_stronger_aftersound() -> None:
    def aftersound(share: tuple[float, float]) -> float:
        modes = on_bridge(strings(-0.05, 0.05), 1.0, share)
        slow = int(np.argmax(modes.pole_per_s[0].real))
        return float(np.abs(modes.weight[0, slow]))

    even, uneven = aftersound((1.0, 1.0)), aftersound((1.2, 0.8))
    assert uneven > 1.5 * even


@pytest.mark.parametrize("kappa", [1.5, 0.6 + 1.2j, 0.3 - 0.8j])
@pytest.mark.parametrize("cents", [(-0.4, 0.4), (-3.0, 2.0), (-1.5, 0.0, 1.0)])
def test_the_modes_solve_the_wave_equation_of_strings_that_end_on_one_bridge(
    cents: tuple[float, ...], kappa: complex
) -> None:
    r"""Without loss and stiffness, string s holds sin(kx), and the bridge moves with v = Y·ΣF.

    F = -T·y' and v = ∂y/∂t at the bridge give F/v = i·Z·cot(π·ω/ω_s), so that Σ cot(π·ω/ω_s) = -i/(Y·Z); derived here.
    """
    unison = strings(*cents)
    stiff = float(np.sqrt(1.0 + unison.inharmonicity_b))
    omega_s = 2.0 * np.pi * np.array(unison.f0_hz) * stiff  # strings whose partial 1 lies where ours does
    modes = on_bridge(unison, kappa)
    pole = modes.pole_per_s[0] + string_decay_per_s(FIRST, unison)[0]
    target = -1j / (kappa / (2.0 * unison.mean_f0_hz))
    for start in pole:
        omega = start / 1j
        for _ in range(50):  # Newton
            tangent = np.tan(np.pi * omega / omega_s)
            slope = -np.pi / omega_s * (1.0 + 1.0 / tangent**2)
            omega = omega - ((1.0 / tangent).sum() - target) / slope.sum()
        near = abs(1j * omega - start)
        assert near < 0.006 * abs(kappa), "first order in κ/f0 (0.5 %) and 0.001 cent; a wrong sign would give 100 %"


@pytest.mark.parametrize("kappa", [0.0, 1.5, 2j, 0.2 - 3j])
@pytest.mark.parametrize("share", [(1.0, 1.0, 1.0), (1.4, 0.5, 1.1)])
def test_energy_never_grows(kappa: complex, share: tuple[float, float, float]) -> None:
    modes = on_bridge(strings(-1.5, 0.2, 1.1), kappa, share)
    t = np.linspace(0.0, 3.0, 400)
    amplitude = np.einsum(
        "sm,mt->st", modes.motion[0], modes.start[0][:, None] * np.exp(np.outer(modes.pole_per_s[0], t))
    )
    energy = (np.abs(amplitude) ** 2).sum(axis=0)
    assert (np.diff(energy) < 0.0).all()
