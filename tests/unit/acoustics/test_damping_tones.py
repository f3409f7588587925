"""Tones beside a damped note: found where they are, and not made of the note's own partials at low sample rates."""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from strikeline.acoustics.damping_tones import find_other_tones

RATE_HZ = 8000
OWN_HZ: Final = np.arange(400.0, 3700.0, 400.0)
"""As far as partials are followed at this rate: up to 3680 Hz."""


def after_the_landing(tone_hz: float) -> NDArray[np.float64]:
    """Return 1.3 s of a tone that stays, in faint noise; the damper lands at 0.1 s."""
    time_s = np.arange(round(1.3 * RATE_HZ)) / RATE_HZ
    noise = 1e-5 * np.random.default_rng(6).standard_normal(time_s.size)
    return np.asarray(0.01 * np.sin(2 * np.pi * tone_hz * time_s) + noise)


@pytest.mark.parametrize(("tone_hz", "is_found"), [(1000.0, True), (3500.0, True), (1200.0, False), (3900.0, False)])
def test_only_tones_between_known_partials_are_other_strings(tone_hz: float, is_found: bool) -> None:
    before = 1e-5 * np.random.default_rng(7).standard_normal(round(0.3 * RATE_HZ))
    found = find_other_tones(after_the_landing(tone_hz), before, sample_rate_hz=RATE_HZ, partial_hz=OWN_HZ, lands_s=0.1)
    assert [round(hz / 10.0) for hz in found] == ([round(tone_hz / 10.0)] if is_found else [])
