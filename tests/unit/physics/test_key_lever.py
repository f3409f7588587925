"""Papers under a key, and keys counted."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import Compass, is_white
from strikeline.physics.key_lever import balance_paper_mm, capstan_rise_mm, front_rise_mm, possible_compasses

arms = st.floats(100, 400)
papers = st.floats(-2, 2)


@given(paper=papers, front=arms, back=arms, capstan=st.floats(20, 90))
def test_a_paper_raises_the_key_as_a_turn_about_the_back_rail_does(
    paper: float, front: float, back: float, capstan: float
) -> None:
    # Exact coordinates: the key turns about the back rail until it stands on the paper.
    slope = paper / back
    front_mm = front_rise_mm(balance_paper_mm=paper, front_arm_mm=front, back_arm_mm=back)
    assert_close(front_mm, (front + back) * slope, rtol=1e-12, atol=1e-12, why="similar triangles; rounding only")
    capstan_mm = capstan_rise_mm(balance_paper_mm=paper, capstan_arm_mm=capstan, back_arm_mm=back)
    assert_close(capstan_mm, (back - capstan) * slope, rtol=1e-12, atol=1e-12, why="similar triangles; rounding only")
    turned = math.hypot(front + back, 0.0) * math.sin(math.atan(slope))
    assert_close(front_mm, turned, rtol=3e-4, atol=1e-12, why="small turn: cosine of 2 mm in 100 mm")


@given(rise=papers, front=arms, back=arms)
def test_the_paper_for_a_rise_gives_the_rise(rise: float, front: float, back: float) -> None:
    paper = balance_paper_mm(front_rise_mm=rise, front_arm_mm=front, back_arm_mm=back)
    again = front_rise_mm(balance_paper_mm=paper, front_arm_mm=front, back_arm_mm=back)
    assert_close(again, rise, rtol=1e-12, atol=1e-12, why="inverse; rounding only")


def test_the_compasses_of_most_pianos_have_the_known_counts() -> None:
    # 88 is A0-C8 with 52 naturals and 36 sharps; 85 is A0-A7, exactly seven octaves, with 50 and 35.
    for n, name, naturals, sharps in ((88, "A0-C8", 52, 36), (85, "A0-A7", 50, 35)):
        found = {str(one.compass): one for one in possible_compasses(n, n_naturals=None, lowest_letter="a")}
        assert (found[name].n_naturals, found[name].n_sharps) == (naturals, sharps)


@given(lowest=st.integers(-8, 20), n=st.integers(13, 70))
def test_a_compass_is_among_those_of_its_own_counts(lowest: int, n: int) -> None:
    compass = Compass(lowest, lowest + n - 1)
    naturals = sum(is_white(key) for key in compass)
    letter = str(compass).partition("-")[0].rstrip("0123456789")
    found = possible_compasses(n, n_naturals=naturals, lowest_letter=letter)
    assert compass in [one.compass for one in found]
    assert {(one.compass.lowest - lowest) % 12 for one in found} == {0}, "letter and count fix all but the octave"


def test_counts_that_no_keyboard_has_are_refused_or_empty() -> None:
    assert possible_compasses(88, n_naturals=30, lowest_letter=None) == ()
    with pytest.raises(InputError, match="count = 7"):
        possible_compasses(7, n_naturals=None, lowest_letter=None)
