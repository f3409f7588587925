"""Readings far from their neighbours."""

import numpy as np

from strikeline.measured import Measured
from strikeline.physics.far_reading import far_readings


def test_a_lost_decimal_mark_is_found_on_a_falling_run() -> None:
    keys = list(range(28, 76, 4))
    lengths = [1400.0 * 2 ** (-(key - 28) / 13) for key in keys]
    lengths[5] /= 10
    found = far_readings(keys, [Measured(one, 1.0) for one in lengths], half_width=2.0)
    assert [one.key for one in found] == [keys[5]]


def test_worn_keys_among_even_ones_are_left_alone() -> None:
    values = [Measured(one, 0.25) for one in (46.0, 46.5, 47.0, 50.0, 46.0, 45.0, 52.0, 46.0, 46.5)]
    assert far_readings(range(40, 49), values, half_width=0.5) == ()


def test_values_that_scatter_are_seldom_called_far() -> None:
    rng = np.random.default_rng(20261125)
    n_false = 0
    for _survey in range(200):
        values = [Measured(float(one), 0.05) for one in 2.0 * np.exp(rng.normal(0.0, 0.25, 40))]
        n_false += bool(far_readings(range(20, 60), values, half_width=0.1))
    assert n_false <= 20, "3.3 standard deviations and a factor of 1.6: some one in twenty at a scatter of 25 %"


def test_fewer_than_six_say_nothing() -> None:
    assert far_readings([1, 2, 3], [Measured(one, 0.1) for one in (1.0, 1.0, 10.0)], half_width=0.1) == ()


def test_angles_of_either_sign_count_by_their_difference() -> None:
    angles = [Measured(one, 0.05) for one in (0.4, -0.1, 0.3, 0.5, 7.0, 0.2, 0.4, 0.1)]
    assert [one.key for one in far_readings(range(8), angles, half_width=0.1)] == [4]
