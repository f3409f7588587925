"""Where double decay turns into beats, Nakamura (1989)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from strikeline.synthesis.polarisation import Polarisation
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.unison import UnisonModes, couple_strings
from strikeline.units import ratio_from_cents


def two_unison(mistuning_cents: float) -> StringUnison:
    """Return two strings about C4."""
    detune = float(ratio_from_cents(mistuning_cents / 2))
    return StringUnison(
        key=40,
        speaking_length_mm=650.0,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=(261.6 / detune, 261.6 * detune),
    )


def two_strings(mistuning_cents: float, *, impedance_ratio: float) -> UnisonModes:
    """Return partial 1 of two strings on a bridge that is a pure resistance, struck alike."""
    strings = two_unison(mistuning_cents)
    admittance = np.array([impedance_ratio / strings.impedance_kg_per_s], dtype=np.complex128)
    return couple_strings(strings, np.array([1]), admittance_s_per_kg=admittance, share=(1.0, 1.0))


@pytest.mark.parametrize(("turn_cents", "impedance_ratio"), [(5.0, 1 / 346), (10.0, 1 / 173)])
def test_strings_lock_below_the_turning_point_and_beat_above(turn_cents: float, impedance_ratio: float) -> None:
    # "about" in the paper; for a pure resistance the turn lies at 2/π of its figure, so half and twice are clear
    close = two_strings(0.5 * turn_cents, impedance_ratio=impedance_ratio).pole_per_s[0]
    wide = two_strings(2.0 * turn_cents, impedance_ratio=impedance_ratio).pole_per_s[0]
    assert abs(np.diff(close.imag)[0]) < 1e-6 * abs(np.diff(close.real)[0]), "one pitch, two decays"
    assert abs(np.diff(wide.real)[0]) < 1e-6 * abs(np.diff(wide.imag)[0]), "two pitches, one decay"


def level_db(mistuning_cents: float, *, impedance_ratio: float) -> NDArray[np.float64]:
    """Return the level of partial 1 over 8 s, both strings struck alike."""
    modes = two_strings(mistuning_cents, impedance_ratio=impedance_ratio)
    t = np.linspace(0.0, 8.0, 4000)
    pole = modes.pole_per_s[0]
    envelope = np.exp(np.outer(t, pole - 1j * pole.imag.mean())) @ modes.weight[0]
    return np.asarray(20.0 * np.log10(np.abs(envelope)))


@pytest.mark.parametrize(("turn_cents", "impedance_ratio"), [(5.0, 1 / 346), (10.0, 1 / 173)])
def test_the_level_falls_in_two_stages_below_the_turning_point_and_beats_above(
    turn_cents: float, impedance_ratio: float
) -> None:
    close = level_db(0.2 * turn_cents, impedance_ratio=impedance_ratio)
    wide = level_db(2.0 * turn_cents, impedance_ratio=impedance_ratio)
    # struck alike, the aftersound starts against the prompt sound: the level may dip once where it takes over
    assert swells(close) <= 1, "no beat"
    fall = -np.diff(close)
    assert fall[0] > 4.0 * fall[-1] > 0.0, "double decay"
    assert swells(wide) >= 2, "beats"


def swells(level: NDArray[np.float64]) -> int:
    """Return how often the level turns from falling to rising."""
    rises = np.diff(level) > 0.0
    return int(np.count_nonzero(rises[1:] & ~rises[:-1]))


def test_one_string_alone_decays_in_two_stages_where_it_also_swings_sideways() -> None:
    """Wogram (1981) and Yanagisawa (1984), as quoted on his page 290: double decay is no proof of two strings."""
    string = replace(two_unison(0.0), f0_hz=(261.6,), polarisation=Polarisation())
    admittance = np.array([1 / 346 / string.impedance_kg_per_s], dtype=np.complex128)
    modes = couple_strings(string, np.array([1]), admittance_s_per_kg=admittance, share=(1.0,))
    t = np.linspace(0.0, 8.0, 4000)
    pole = modes.pole_per_s[0]
    fall = -np.diff(np.log(np.abs(np.exp(np.outer(t, pole - 1j * pole[0].imag)) @ modes.weight[0])))
    assert fall[0] > 3.0 * fall[-1] > 0.0
