"""Seat and desk: closed forms and what they must obey."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.seat import (
    ELBOW_SCATTER_MM,
    elbow_from_stature_mm,
    leg_cut_mm,
    leg_top_mm,
    look_down_deg,
    seat_height_mm,
)


@given(key=st.floats(600, 900), elbow=st.floats(150, 320), rise=st.floats(-20, 40))
def test_on_the_seat_the_elbow_stands_where_it_was_wanted(key: float, elbow: float, rise: float) -> None:
    seat = seat_height_mm(key_top_mm=key, elbow_above_seat_mm=elbow, elbow_above_keys_mm=rise)
    assert_close(float(seat) + elbow - key, rise, rtol=0, atol=1e-9, why="sum of heights; rounding only")


@given(by=st.floats(1, 200), splay=st.floats(0, 45))
def test_what_comes_off_a_splayed_leg_lowers_it_by_what_was_wanted(by: float, splay: float) -> None:
    cut = float(leg_cut_mm(lower_by_mm=by, splay_deg=splay))
    assert_close(cut * math.cos(math.radians(splay)), by, rtol=1e-12, atol=0, why="height of a slanting length")
    assert cut >= by * (1 - 1e-12)


def test_known_triangles() -> None:
    # 60 degrees: the leg is twice as long as it is high is out of range; 45: root two. 3-4-5 for the eyes.
    assert_close(leg_cut_mm(lower_by_mm=10.0, splay_deg=45.0), 10.0 * math.sqrt(2), rtol=1e-12, atol=0, why="exact")
    down = look_down_deg(eye_mm=1300.0, page_mm=1000.0, distance_mm=400.0)
    assert_close(down, math.degrees(math.asin(3 / 5)), rtol=1e-12, atol=0, why="3-4-5 triangle")
    with pytest.raises(InputError, match="splay_deg"):
        leg_cut_mm(lower_by_mm=10.0, splay_deg=60.0)


@given(eye=st.floats(900, 1500), page=st.floats(700, 1300), far=st.floats(300, 1000), more=st.floats(1, 200))
def test_a_higher_desk_or_a_longer_way_bends_the_neck_less(eye: float, page: float, far: float, more: float) -> None:
    look = float(look_down_deg(eye_mm=eye, page_mm=page, distance_mm=far))
    assert float(look_down_deg(eye_mm=eye, page_mm=page + more, distance_mm=far)) < look
    assert abs(float(look_down_deg(eye_mm=eye, page_mm=page, distance_mm=far + more))) <= abs(look)


@given(seat=st.floats(350, 700), knee=st.floats(350, 520), leg=st.floats(80, 200))
def test_the_leg_lies_between_knee_and_seat(seat: float, knee: float, leg: float) -> None:
    ends = [float(leg_top_mm(seat_mm=seat, knee_mm=knee, share=share, leg_mm=leg)) for share in (0.0, 1.0, 0.5)]
    assert_close(ends[:2], [knee + leg, seat + leg], rtol=1e-12, atol=0, why="ends of the line")
    assert_close(ends[2], (ends[0] + ends[1]) / 2, rtol=1e-12, atol=0, why="its middle")


def test_the_stature_gives_the_elbow_of_the_tables_with_their_scatter() -> None:
    # Bodyspace (2006), as quoted: 240 mm at the middle; women's 5th centile 189 mm, men's 95th 294 mm.
    elbow = elbow_from_stature_mm(Measured(1675.0, 5.0))
    assert elbow.value == pytest.approx(240.0)
    assert elbow.se == pytest.approx(ELBOW_SCATTER_MM, rel=0.01)
    assert elbow.value - 1.96 * elbow.se < 189.0
    assert elbow.value + 1.96 * elbow.se > 294.0
    with pytest.raises(InputError, match="stature_mm"):
        elbow_from_stature_mm(Measured(175.0, 1.0))
