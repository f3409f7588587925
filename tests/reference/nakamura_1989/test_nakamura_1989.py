"""Where double decay turns into beats, Nakamura (1989)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.unison import couple_strings
from strikeline.units import ratio_from_cents


def two_strings(mistuning_cents: float, *, impedance_ratio: float) -> NDArray[np.complex128]:
    """Return the poles of partial 1 of two strings on a bridge that is a pure resistance."""
    detune = float(ratio_from_cents(mistuning_cents / 2))
    strings = StringUnison(
        key=40,
        speaking_length_mm=650.0,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=(261.6 / detune, 261.6 * detune),
    )
    admittance = np.array([impedance_ratio / strings.impedance_kg_per_s], dtype=np.complex128)
    modes = couple_strings(strings, np.array([1]), admittance_s_per_kg=admittance, share=(1.0, 1.0))
    return np.asarray(modes.pole_per_s[0])


@pytest.mark.parametrize(("turn_cents", "impedance_ratio"), [(5.0, 1 / 346), (10.0, 1 / 173)])
def test_strings_lock_below_the_turning_point_and_beat_above(turn_cents: float, impedance_ratio: float) -> None:
    # "about" in the paper; for a pure resistance the turn lies at 2/π of its figure, so half and twice are clear
    close = two_strings(0.5 * turn_cents, impedance_ratio=impedance_ratio)
    wide = two_strings(2.0 * turn_cents, impedance_ratio=impedance_ratio)
    assert abs(np.diff(close.imag)[0]) < 1e-6 * abs(np.diff(close.real)[0]), "one pitch, two decays"
    assert abs(np.diff(wide.real)[0]) < 1e-6 * abs(np.diff(wide.imag)[0]), "two pitches, one decay"
