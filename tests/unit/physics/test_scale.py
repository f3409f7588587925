"""The load of a scale: shared errors add up, own errors average out, and the quick strings are the slow ones."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.scales import plain_row, smooth_length_mm, stepped_diameter_mm, wound_row

from strikeline.errors import InputError
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.scale import scale_state
from strikeline.physics.scale_strings import carried_in_scale
from strikeline.physics.stringing import carried_string

KEYS = range(40, 80)


def test_the_load_is_the_sum_over_all_strings() -> None:
    state = scale_state([*(plain_row(key) for key in KEYS), wound_row(20)])
    by_hand = sum(note.state.tension_n.value * note.row.n_strings for note in state.notes)
    assert_close(state.load.tension_n.value, by_hand, rtol=1e-12, atol=0, why="a sum")
    assert state.load.n_strings == 3 * len(KEYS) + 2
    parts = sum(load.tension_n.value for load in state.load_by_section.values())
    assert_close(parts, by_hand, rtol=1e-12, atol=0, why="the same sum by section")
    assert_close(state.load.tonnes_force.value, by_hand / 9806.65, rtol=1e-12, atol=0, why="1 tonne-force is 9806.65 N")


def test_a_shared_zero_of_the_micrometer_does_not_average_out_over_notes() -> None:
    zero = {"core_diameter_mm": {"zero of the micrometer": 0.005}}
    shared = scale_state([plain_row(key, ties=zero) for key in KEYS]).load
    own = scale_state([plain_row(key) for key in KEYS]).load
    diameter = np.array([stepped_diameter_mm(key) for key in KEYS])
    pulls = np.array([note.tension_of_note_n.value for note in scale_state([plain_row(key) for key in KEYS]).notes])
    by_hand = float(np.sum(pulls * 2.0 * 0.005 / diameter))  # dT/T = 2·dd/d, all notes at once
    density = own.shared_se_n  # what both share: the density of steel
    assert_close(np.hypot(by_hand, density), shared.shared_se_n, rtol=1e-3, atol=0, why="second order of 0.5 %")
    assert shared.shared_se_n > 5 * np.sqrt(len(KEYS)) * own.own_se_n / len(KEYS)
    assert shared.own_se_n < own.own_se_n


def test_the_error_of_the_load_is_what_a_thousand_remeasured_pianos_scatter_by() -> None:
    zero_mm, tape_mm = 0.003, 0.2
    ties = {"core_diameter_mm": {"zero of the micrometer": zero_mm}, "length_mm": {"zero of the tape": tape_mm}}
    errors = float(np.hypot(tape_mm, 0.25)), float(np.hypot(zero_mm, 0.005))
    load = scale_state([plain_row(key, errors_mm=errors, ties=ties) for key in KEYS]).load
    rng = np.random.default_rng(4)
    n, keys = 4000, np.array(KEYS)
    length = np.array([smooth_length_mm(key) for key in KEYS]) + rng.normal(0, 0.25, (n, len(keys)))
    length += rng.normal(0, tape_mm, (n, 1))
    diameter = np.array([stepped_diameter_mm(key) for key in KEYS]) + rng.normal(0, 0.005, (n, len(keys)))
    diameter += rng.normal(0, zero_mm, (n, 1))
    density = rng.normal(7850.0, 70.0 / np.sqrt(12.0), (n, 1))
    f0 = equal_tempered_hz(keys, a4_hz=440.0)
    total = np.sum(3.0 * np.pi / 4.0 * density * (diameter * 1e-3) ** 2 * (2e-3 * length * f0) ** 2, axis=1)
    # the sd of 4000 draws is known to 1.1 %
    assert_close(load.tension_n.se, float(total.std()), rtol=0.035, atol=0, why="three errors of the Monte Carlo")
    assert_close(load.tension_n.value, float(total.mean()), rtol=1e-3, atol=0, why="1 % over sqrt(4000), and curvature")


@pytest.mark.parametrize("key", [16, 22, 28])
def test_strings_with_bare_ends_are_calculated_quickly_and_alike(key: int) -> None:
    row = wound_row(key)
    assert row.strength is not None
    strength = row.strength.stress_mpa
    quick = carried_in_scale(row.dimensions, f0_hz=row.f0_hz, strength_mpa=strength)
    slow = carried_string(row.dimensions, f0_hz=row.f0_hz, strength_mpa=strength)
    assert quick.fields == slow.fields
    for field in (
        "tension_n",
        "stress_mpa",
        "impedance_kg_per_s",
        "breaking_share",
        "inharmonicity_b",
        "stiffness_b",
        "winding_b",
    ):
        one, other = quick.measured(field), slow.measured(field)
        assert_close(one.value, other.value, rtol=1e-9, atol=0, why=f"{field}: the same solution")
        assert_close(one.se, other.se, rtol=0.06, atol=0, why=f"{field}: first order in the bare ends")


def test_a_note_twice_and_no_note_are_refused() -> None:
    with pytest.raises(InputError, match="each note once"):
        scale_state([plain_row(40), plain_row(40)])
    with pytest.raises(InputError, match="no note"):
        scale_state([])
