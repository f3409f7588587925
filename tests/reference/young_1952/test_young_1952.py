"""The formula for the inharmonicity of plain piano strings as R. W. Young (1952) prints it."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.stringing import StringDimensions, string_state
from strikeline.physics.wire import WireMaterial
from strikeline.units import cents_from_ratio

WIRE = WireMaterial("Young's wire", Measured(25.5e6 * 7850.0, 0.0), Measured(7850.0, 0.0), "Q/ρ = 25.5e10 cm²/s²")


@pytest.mark.parametrize(("length_cm", "diameter_cm", "f0_hz"), [(65.7, 0.1006, 261.6), (40.4, 0.0947, 440.0)])
def test_the_cents_of_a_partial_are_those_of_his_formula(length_cm: float, diameter_cm: float, f0_hz: float) -> None:
    string = StringDimensions(Measured(10 * length_cm, 0.0), Measured(10 * diameter_cm, 0.0), WIRE)
    b = string_state(string, f0_hz=f0_hz, strength=None).inharmonicity_b.value
    n = np.array([2.0, 4.0])
    cents = cents_from_ratio(np.sqrt(1 + b * n**2))
    his = 3.4e13 * n**2 * diameter_cm**2 / (f0_hz**2 * length_cm**4)
    assert_close(cents, his, rtol=0.02, atol=0, why="3.4 has two figures; his law is the first term of ours")
