"""Wire of former times: tests that did not go into the table of periods lie within it."""

from __future__ import annotations

import math

import pytest
from tests.closeness import assert_close

from strikeline.physics.wire_strength import WireGrade, grade_for_year, wire_strength

LBF_N, TON_PER_IN2_MPA = 4.4482216, 15.444256


def broke_mpa(diameter_in: float, load_lbf: float) -> float:
    return load_lbf * LBF_N / (math.pi * (diameter_in * 25.4) ** 2 / 4)


@pytest.mark.parametrize(
    ("number", "loads_lbf"),
    [(13, (231, 221)), (14, (242, 242)), (15, (253, 242)), (16, (287, 287)), (17, (331, 320)), (18, (374, 331))],
)
def test_the_other_wires_of_the_test_of_1876_lie_between_its_weakest_and_strongest(
    number: int, loads_lbf: tuple[float, ...]
) -> None:
    diameter_in = (2 * number + 5) / 1000
    strength = wire_strength(diameter_in * 25.4, grade=grade_for_year(1876))
    for load_lbf in loads_lbf:
        assert strength.low_mpa <= broke_mpa(diameter_in, load_lbf) <= strength.high_mpa


@pytest.mark.parametrize(("diameter_in", "load_lbf"), [(0.029, 225.0), (0.052, 650.0)])
def test_english_wire_of_an_encyclopaedia_lies_within_its_period(diameter_in: float, load_lbf: float) -> None:
    strength = wire_strength(diameter_in * 25.4, grade=grade_for_year(1910))
    assert strength.low_mpa <= broke_mpa(diameter_in, load_lbf) <= strength.high_mpa


def test_the_strongest_wire_that_a_later_discussion_knew_is_that_of_the_jury() -> None:
    strength = wire_strength(0.031 * 25.4, grade=grade_for_year(1876))
    assert_close(strength.high_mpa, 154 * TON_PER_IN2_MPA, rtol=0.05, atol=0, why="another wire, another machine")


def test_wire_of_1871_that_a_laboratory_broke_is_as_weak_as_the_weakest_of_its_period() -> None:
    strength = wire_strength(1.0, grade=grade_for_year(1871))
    assert_close(strength.low_mpa, 1500.0, rtol=0.08, atol=0, why="told as 1500 N/mm², with modern wire no stronger")


@pytest.mark.parametrize(("number", "load_lbf"), [(13, 290), (13.5, 303), (14, 355), (16, 398), (18, 487)])
def test_modern_wire_that_technicians_broke_is_stronger_than_the_standard_asks(number: float, load_lbf: float) -> None:
    diameter_in = (2 * number + 5) / 1000
    found_mpa = broke_mpa(diameter_in, load_lbf)
    assert found_mpa > wire_strength(diameter_in * 25.4, grade=WireGrade.ASTM_A228).high_mpa
    tested = wire_strength(diameter_in * 25.4, grade=WireGrade.PIANO_WIRE)
    assert tested.low_mpa * (1 - 0.03) <= found_mpa <= tested.high_mpa * (1 + 0.03)
