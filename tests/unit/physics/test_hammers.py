"""Marks, refacing, and reface or replace."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.hammer_shape import (
    cut_depth_mm,
    felt_mass_g,
    groove_length_for_depth_mm,
    strike_point_shift_mm,
)
from strikeline.physics.hammer_wear import Remedy, WornHammer, judge_hammer, judge_section


@given(radius=st.floats(4.0, 25.0), share=st.floats(0.01, 0.95))
def test_the_depth_of_a_cut_is_the_sagitta_of_its_chord(radius: float, share: float) -> None:
    length = 2.0 * radius * share
    depth = float(cut_depth_mm(groove_length_mm=length, crown_radius_mm=radius))
    # Intersecting chords: (l/2)² = s·(2r - s).
    assert_close(depth * (2 * radius - depth), (length / 2) ** 2, rtol=1e-9, atol=1e-12, why="rounding only")
    back = groove_length_for_depth_mm(depth_mm=depth, crown_radius_mm=radius)
    assert_close(back, length, rtol=1e-6, atol=0, why="rounding, magnified where the cut is shallow")


def test_the_layer_of_a_whole_circle_weighs_what_a_tube_weighs() -> None:
    mass = felt_mass_g(depth_mm=2.0, crown_radius_mm=10.0, width_mm=10.0, arc_deg=360.0, density_g_per_cm3=1.0)
    assert_close(mass, np.pi * (10.0**2 - 8.0**2) * 10.0 / 1000.0, rtol=1e-12, atol=0, why="rounding only")


@given(lost=st.floats(0.0, 5.0), length=st.floats(40.0, 65.0), shank=st.floats(90.0, 150.0))
def test_a_shorter_hammer_strikes_nearer_to_its_centre(lost: float, length: float, shank: float) -> None:
    shift = strike_point_shift_mm(shortened_mm=lost, hammer_length_mm=length, shank_length_mm=shank)
    first_order = -length * lost / shank
    assert shift <= 1e-12
    assert_close(shift, first_order, rtol=0, atol=0.75 * lost**2 / shank + 1e-9, why="the next order, x²/S")


def test_marks_longer_than_the_crown_are_refused() -> None:
    with pytest.raises(InputError, match="the crown is flat"):
        cut_depth_mm(groove_length_mm=21.0, crown_radius_mm=10.0)


def hammer(key: int = 40, *, length: float = 9.0, felt: float = 8.0, **others: object) -> WornHammer:
    given_ = {
        "groove_length_mm": Measured(length, 0.25),
        "crown_radius_mm": Measured(10.0, 0.3),
        "felt_mm": Measured(felt, 0.2),
    }
    return WornHammer(key=key, **(given_ | others))  # type: ignore[arg-type]  # the tests change one at a time


@pytest.mark.parametrize(
    ("worn", "remedy", "reason"),
    [
        (hammer(), Remedy.REFACE, "7.9 mm of felt would be left, 4.5 mm are needed"),
        (hammer(felt=3.5), Remedy.REPLACE, "3.4 mm of felt would be left"),
        (hammer(felt=4.6), Remedy.CANNOT_TELL, "too near to say"),
        (hammer(length=4.0), Remedy.LEAVE, "the marks are light"),
        (hammer(length=4.0, is_condemned="moth"), Remedy.REPLACE, "moth"),
        (hammer(length=15.0, winding_mm=Measured(2.5, 0.02)), Remedy.REPLACE, "deeper than the wound string"),
        (hammer(length=13.0, winding_mm=Measured(2.5, 0.02)), Remedy.REFACE, "would be left"),
        (hammer(length=4.0, groove_depth_mm=Measured(2.0, 0.05)), Remedy.CANNOT_TELL, "do not agree"),
        (hammer(length=4.0, felt=2.0), Remedy.CANNOT_TELL, "thinner than a hammer needs"),
        (hammer(felt_mm=None), Remedy.CANNOT_TELL, "the felt over the moulding was not read"),
        (hammer(groove_length_mm=None), Remedy.CANNOT_TELL, "neither length nor depth"),
        (hammer(length=20.0), Remedy.CANNOT_TELL, "the crown is flat"),
        (hammer(groove_depth_mm=Measured(2.0, 0.05)), Remedy.REFACE, "do not agree"),
    ],
)
def test_each_hammer_gets_a_remedy_with_its_reason(worn: WornHammer, remedy: Remedy, reason: str) -> None:
    verdict = judge_hammer(worn, usual_radius_mm=None)
    assert verdict.remedy is remedy
    assert any(reason in one for one in verdict.reasons), verdict.reasons


def test_a_radius_that_was_not_read_comes_from_the_neighbours() -> None:
    bare = hammer(crown_radius_mm=None)
    assert judge_hammer(bare, usual_radius_mm=None).depth_mm is None
    own, borrowed = (judge_hammer(one, usual_radius_mm=Measured(10.0, 1.0)).depth_mm for one in (hammer(), bare))
    assert own is not None
    assert borrowed is not None
    assert borrowed.value == own.value
    assert borrowed.se > own.se


def test_a_remedy_is_wrong_no_more_often_than_it_says() -> None:
    """Hammers about the limit: those told to be refaced hold enough felt in 95 of 100, and the reverse."""
    rng = np.random.default_rng(88)
    told = {Remedy.REFACE: 0, Remedy.REPLACE: 0}
    wrong = dict(told)
    for _ in range(3000):
        true = rng.uniform(3.6, 5.6)
        verdict = judge_hammer(hammer(felt=float(rng.normal(true, 0.2))), usual_radius_mm=None)
        if verdict.remedy in told:
            told[verdict.remedy] += 1
            wrong[verdict.remedy] += (true - 0.1 >= 4.5) is not (verdict.remedy is Remedy.REFACE)
    for remedy, n in told.items():
        assert n > 500
        assert wrong[remedy] / n < 0.05


def test_a_section_is_judged_by_the_share_that_falls_short() -> None:
    sound = [judge_hammer(hammer(key), usual_radius_mm=None) for key in range(30, 50)]
    short = [judge_hammer(hammer(key, felt=3.0), usual_radius_mm=None) for key in range(30, 50)]
    light = [judge_hammer(hammer(key, length=3.0), usual_radius_mm=None) for key in range(30, 50)]
    verdict = judge_section(30, 49, sound)
    assert (verdict.remedy, verdict.is_sure) == (Remedy.REFACE, True)
    verdict = judge_section(30, 49, short[:10] + sound[10:])
    assert (verdict.remedy, verdict.is_sure, verdict.n_short) == (Remedy.REPLACE, True, 10)
    verdict = judge_section(30, 49, short[:1] + sound[1:])
    assert verdict.remedy is Remedy.REFACE
    assert any("replace those singly" in why for why in verdict.reasons)
    assert judge_section(30, 49, light).remedy is Remedy.LEAVE
    assert judge_section(30, 49, sound[:2]).remedy is Remedy.CANNOT_TELL
    assert not judge_section(30, 49, sound[:3]).is_sure
