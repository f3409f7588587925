from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import gamma
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.synthesis.hammer import Hammer, strike_strings, typical_hammer
from strikeline.synthesis.instrument import upright_1920s
from strikeline.synthesis.scale import StringUnison

WALL = StringUnison(
    key=1, speaking_length_mm=1e5, core_diameter_mm=300.0, wrap_diameter_mm=None, f0_hz=(10.0,)
)  # heavier than any string: it does not move
C4 = upright_1920s(1)[40]


@pytest.mark.parametrize(
    ("mass_kg", "stiffness", "exponent", "speed"), [(0.008, 5.8e9, 2.42, 2.0), (0.003, 1e11, 3.0, 3.0)]
)
def test_contact_with_a_wall_lasts_as_long_as_the_closed_form_says(
    mass_kg: float, stiffness: float, exponent: float, speed: float
) -> None:
    # m·x'' = -K·x^p from speed v, q = 1/(p+1): x_max = ((p+1)·m·v²/2K)^q, contact = (x_max/v)·2√π·Γ(1+q)/Γ(1/2+q)
    q = 1 / (exponent + 1)
    deepest = ((exponent + 1) * mass_kg * speed**2 / (2 * stiffness)) ** q
    expected = deepest / speed * 2 * np.sqrt(np.pi) * gamma(1 + q) / gamma(0.5 + q)
    hammer = Hammer(mass_kg=mass_kg, stiffness_n=stiffness * 3e-4**exponent, exponent=exponent, strike_ratio=0.12)
    pulses = strike_strings([WALL], [hammer], speed_m_per_s=np.array([speed]))
    assert_close(pulses.contact_s[0], expected, rtol=0.005, atol=4e-6, why="steps of 4 µs")
    momentum = pulses.spectrum_n_s(0, np.array([0.0]))[0].real
    assert_close(momentum, 2 * mass_kg * speed, rtol=1e-3, atol=0, why="an elastic wall sends the hammer back")


def test_a_string_takes_between_one_and_two_times_the_momentum() -> None:
    pulses = strike_strings([C4.unison], [C4.hammer], speed_m_per_s=np.array([2.0]))
    momentum = pulses.spectrum_n_s(0, np.array([0.0]))[0].real
    assert C4.hammer.mass_kg * 2.0 < momentum < 2 * C4.hammer.mass_kg * 2.0


def brightness_hz(hammer: Hammer, speed: float) -> float:
    pulses = strike_strings([C4.unison], [hammer], speed_m_per_s=np.array([speed]))
    hz = C4.unison.mean_f0_hz * np.arange(1.0, 25.0, dtype=np.float64)
    level = np.abs(pulses.spectrum_n_s(0, hz))
    return float((hz * level).sum() / level.sum())


def test_wear_brightens_and_needling_dulls() -> None:
    hammers = [replace(C4.hammer, wear=0.0, softness=softness) for softness in (1.0, 0.5, 0.0)]
    hammers += [replace(C4.hammer, wear=wear) for wear in (0.5, 1.0)]
    assert (np.diff([brightness_hz(hammer, 2.0) for hammer in hammers]) > 0).all()


def test_a_harder_blow_is_brighter_and_shorter() -> None:
    assert brightness_hz(C4.hammer, 4.0) > brightness_hz(C4.hammer, 1.0)
    soft, loud = (
        strike_strings([C4.unison], [C4.hammer], speed_m_per_s=np.array([speed])).contact_s[0] for speed in (1.0, 4.0)
    )
    assert loud < soft


def test_blows_do_not_disturb_each_other() -> None:
    piano = upright_1920s(1)
    states = [piano[key] for key in (5, 40, 80)]
    speeds = np.array([1.0, 2.0, 3.0])
    together = strike_strings([s.unison for s in states], [s.hammer for s in states], speed_m_per_s=speeds)
    alone = strike_strings([C4.unison], [C4.hammer], speed_m_per_s=speeds[1:2])
    hz = np.array([261.6, 1046.5])
    assert_close(
        np.abs(together.spectrum_n_s(1, hz)), np.abs(alone.spectrum_n_s(0, hz)), rtol=1e-12, atol=0, why="same sums"
    )


def test_a_hammer_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="wear"):
        typical_hammer(40, wear=1.2)
    with pytest.raises(InputError, match="softness"):
        replace(typical_hammer(40), softness=-0.1)
    with pytest.raises(InputError, match="strike_ratio"):
        replace(typical_hammer(40), strike_ratio=0.0)


def test_a_hammer_that_does_not_move_is_refused() -> None:
    with pytest.raises(InputError, match="speed_m_per_s"):
        strike_strings([C4.unison], [C4.hammer], speed_m_per_s=np.array([0.0]))
