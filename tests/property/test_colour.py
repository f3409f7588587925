"""Laws of colour, patches and polish."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
from hypothesis import given, settings
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.colour import (
    WHITE_D50,
    WHITE_D65,
    adapted_xyz,
    difference_ciede2000,
    lab_from_xyz,
    linear_from_srgb,
    srgb_from_linear,
    xyz_from_lab,
)
from strikeline.physics.colour_patch import read_patch
from strikeline.physics.finish import Gallon, drying_factor, polish_needed, shellac_g_per_l

LABS = st.tuples(st.floats(1, 99), st.floats(-60, 60), st.floats(-60, 60))
SHARES = st.floats(0.0, 1.0)


@given(LABS, LABS)
def test_a_difference_is_the_same_both_ways_and_nothing_differs_from_itself(
    one: tuple[float, float, float], other: tuple[float, float, float]
) -> None:
    there, back = difference_ciede2000(one, other), difference_ciede2000(other, one)
    # Where hues stand opposite each other the formula's branch may differ by rounding; both are then right.
    if abs(abs(np.arctan2(one[2], one[1]) - np.arctan2(other[2], other[1])) - np.pi) > 1e-3:
        assert_close(there, back, rtol=1e-6, atol=1e-9, why="rounding only")
    assert float(difference_ciede2000(one, one)) == 0.0
    assert there >= 0


@given(LABS)
def test_lab_and_xyz_and_whites_there_and_back(lab: tuple[float, float, float]) -> None:
    xyz = xyz_from_lab(lab)
    assert_close(lab_from_xyz(xyz), lab, rtol=0, atol=1e-9, why="rounding only")
    there = adapted_xyz(xyz, from_white=WHITE_D65, to_white=WHITE_D50)
    back = adapted_xyz(there, from_white=WHITE_D50, to_white=WHITE_D65)
    assert_close(back, xyz, rtol=0, atol=1e-12, why="rounding only")


@given(SHARES, SHARES)
def test_more_light_is_a_higher_code(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert srgb_from_linear(low) <= srgb_from_linear(high)
    assert linear_from_srgb(low) <= linear_from_srgb(high)


@given(SHARES)
def test_equal_channels_are_neutral(share: float) -> None:
    from strikeline.physics.colour import XYZ_FROM_LINEAR

    lab = lab_from_xyz(XYZ_FROM_LINEAR @ np.full(3, share))
    assert_close(lab[1:], [0.0, 0.0], rtol=0, atol=1e-9, why="white is that of sRGB")


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 1000), st.integers(40, 90), st.integers(40, 90))
def test_a_patch_turned_or_mirrored_has_the_same_mean(seed: int, height: int, width: int) -> None:
    codes = np.random.default_rng(seed).integers(20, 230, (height, width, 3)).astype(np.uint8)
    one = read_patch(codes)
    for other in (codes[::-1], codes[:, ::-1], codes.transpose(1, 0, 2)):
        assert_close(read_patch(other).linear, one.linear, rtol=1e-12, atol=0, why="the order of pixels is no matter")


@given(st.floats(10.0, 31.0), st.floats(15.0, 75.0))
def test_warmer_air_dries_faster(degc: float, rh: float) -> None:
    assert drying_factor(degc + 1.0, rh_pct=rh) < drying_factor(degc, rh_pct=rh)


@given(st.floats(0.1, 10.0), st.floats(0.0, 40.0), st.floats(0.5, 3.0), st.floats(0.0, 1.0))
def test_polish_grows_in_proportion_to_the_area(area: float, coats: float, cut: float, waste: float) -> None:
    def litres(times: float) -> float:
        return polish_needed(
            Measured(times * area, 0.0),
            brushed_coats=Measured(1.0, 0.0),
            rubbed_coats=Measured(coats, 0.0),
            g_per_l=shellac_g_per_l(cut, gallon=Gallon.US),
            waste_ratio=waste,
        ).polish_l.value

    assert_close(litres(3.0), 3.0 * litres(1.0), rtol=1e-9, atol=0, why="proportion")
