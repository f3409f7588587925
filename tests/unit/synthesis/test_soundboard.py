from __future__ import annotations

import numpy as np
from tests.closeness import assert_close

from strikeline.synthesis.soundboard import build_soundboard

BOARD = build_soundboard(3)
HZ = np.linspace(30.0, 9000.0, 4000)


def test_the_bridge_never_gives_energy_back() -> None:
    for key in (1, 30, 49, 88):
        assert (BOARD.admittance_s_per_kg(key, HZ).real > 0).all()


def test_the_mean_resistance_is_as_designed() -> None:
    middle = (HZ > 500) & (HZ < 6000)
    conductance = np.mean([BOARD.admittance_s_per_kg(key, HZ[middle]).real.mean() for key in range(1, 89, 3)])
    assert_close(1 / conductance, 2500.0, rtol=0.1, atol=0, why="30 places on a board of random modes")


def test_below_its_lowest_mode_the_bridge_is_a_spring() -> None:
    admittance = BOARD.admittance_s_per_kg(20, np.array([20.0, 40.0]))
    assert (admittance.imag > 5 * admittance.real).all()


def test_the_same_seed_is_the_same_board() -> None:
    again = build_soundboard(3).admittance_s_per_kg(49, HZ)
    assert (again == BOARD.admittance_s_per_kg(49, HZ)).all()
    assert not (build_soundboard(4).admittance_s_per_kg(49, HZ) == again).any()
