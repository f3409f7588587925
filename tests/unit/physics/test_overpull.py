"""Pitch and tension, and the overpull of common practice with its caps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.physics.overpull import (
    OLD_WIRE_CAP_CENTS,
    is_old_wire,
    overpull_cap,
    plan_pass,
    tension_ratio,
    usual_overpull,
    within_caps,
)

KEYS = np.arange(1, 89)
FACTOR = usual_overpull(KEYS, bass_ends=26, last_wound_key=30)


@given(cents=st.floats(-400, 400), more=st.floats(-400, 400))
def test_tension_goes_as_the_square_of_the_pitch(cents: float, more: float) -> None:
    assert_close(tension_ratio(cents), (2 ** (cents / 1200)) ** 2, rtol=1e-12, atol=0, why="rounding only")
    both = tension_ratio(cents) * tension_ratio(more)
    assert_close(tension_ratio(cents + more), both, rtol=1e-12, atol=0, why="rises add up")


def test_a_semitone_is_an_eighth_more_tension() -> None:
    """12.2 % for 100 cents and 0.1155 % for one, as calculated in the survey of trade facts."""
    assert_close(tension_ratio(100.0), 1.122, rtol=0, atol=5e-4, why="given to a tenth of a per cent")
    assert_close(tension_ratio(1.0), 1.001155, rtol=0, atol=1e-6, why="given to four figures")


def test_435_to_440_hz_is_19_8_cents_and_2_3_per_cent() -> None:
    cents = 1200 * np.log2(440 / 435)
    assert_close(cents, 19.8, rtol=0, atol=0.05, why="given to a tenth of a cent")
    assert_close(tension_ratio(cents) - 1, 0.023, rtol=0, atol=5e-4, why="given to a tenth of a per cent")


def test_overpulls_are_those_of_common_practice() -> None:
    assert 0.10 <= FACTOR[0] <= 0.12, "wound bass, tuners' article: 10 to 12 %"
    assert_close(FACTOR[27], 0.19, rtol=0, atol=1e-12, why="wound tenor, the same")
    assert_close(FACTOR[30], 0.29, rtol=0, atol=1e-12, why="first plain wire, the same")
    assert_close(FACTOR.max(), 0.38, rtol=0, atol=1e-12, why="treble, the same")
    assert_close(FACTOR[-1], 0.24, rtol=0, atol=1e-12, why="top note, the same")


def test_without_a_known_winding_the_tenor_counts_as_plain() -> None:
    plain = usual_overpull(KEYS, bass_ends=26, last_wound_key=None)
    assert_close(plain[26], 0.29, rtol=0, atol=1e-12, why="the first note above the bass")


@pytest.mark.parametrize("flat", [60.0, 90.0])
def test_a_very_flat_piano_is_first_brought_to_pitch_without_overpull(flat: float) -> None:
    plan = plan_pass(np.full(88, flat), factor=FACTOR, cap_cents=overpull_cap(KEYS, bass_ends=26, is_old=False))
    assert not plan.overpull_cents.any()
    assert "without overpull" in plan.why


@given(flat=st.floats(-40, 45), old=st.booleans())
def test_no_plan_ever_goes_beyond_its_caps(flat: float, old: bool) -> None:
    cap = overpull_cap(KEYS, bass_ends=26, is_old=old)
    plans = [plan_pass(np.full(88, flat), factor=2 * FACTOR, cap_cents=cap)]
    plans.append(within_caps(np.linspace(-200, 200, 88), flat_cents=np.full(88, flat), cap_cents=cap))
    for plan in plans:
        assert (np.abs(plan.overpull_cents) <= cap).all()
        if old:
            assert np.abs(plan.overpull_cents).max() <= OLD_WIRE_CAP_CENTS


def test_overpull_goes_by_the_flatness_about_a_note_not_by_its_own() -> None:
    flat = np.full(88, 20.0)
    odd = flat.copy()
    odd[40] = 35.0
    cap = overpull_cap(KEYS, bass_ends=26, is_old=False)
    even_plan, odd_plan = (plan_pass(one, factor=FACTOR, cap_cents=cap) for one in (flat, odd))
    assert_close(odd_plan.overpull_cents, even_plan.overpull_cents, rtol=0, atol=1e-12, why="a median of 13 notes")


def test_wire_of_an_unknown_year_counts_as_old() -> None:
    assert is_old_wire(None)
    assert is_old_wire(1905)
    assert not is_old_wire(1985)


def test_a_flat_note_is_never_set_below_its_target() -> None:
    cap = overpull_cap(KEYS, bass_ends=26, is_old=False)
    flat = np.full(88, -20.0)
    flat[40], flat[60] = 15.0, 0.5
    plans = [
        plan_pass(flat, factor=FACTOR, cap_cents=cap),
        within_caps(np.full(88, -12.0), flat_cents=flat, cap_cents=cap),
    ]
    for plan in plans:
        assert (plan.overpull_cents[[40, 60]] == 0.0).all()
        assert not plan.is_capped[[40, 60]].any()
        assert (plan.overpull_cents[flat < 0.0] < 0.0).all(), "what is sharp is let down as before"
