"""sRGB, XYZ, CIELAB and adaptation against IEC 61966-2-1 and colour-science."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.photographs import colour_science

from strikeline.errors import InputError
from strikeline.physics.colour import (
    WHITE_D50,
    WHITE_D65,
    XYZ_FROM_LINEAR,
    adapted_xyz,
    difference_ciede2000,
    lab_from_xyz,
    linear_from_srgb,
    srgb_from_linear,
    xyz_from_lab,
)

CODES = np.arange(256) / 255.0
SOME = np.random.default_rng(3).uniform(0.0, 1.0, (200, 3)) @ XYZ_FROM_LINEAR.T


def test_the_curve_of_srgb_is_that_of_colour_science() -> None:
    expected = colour_science().models.eotf_sRGB(CODES)
    assert_close(linear_from_srgb(CODES), expected, rtol=1e-12, atol=0, why="the same formula")


def test_the_curve_of_srgb_meets_itself_at_its_knee_as_closely_as_the_standard_has_it() -> None:
    below, above = linear_from_srgb([0.04045, 0.0404501])
    assert_close(above, below, rtol=1e-4, atol=0, why="IEC 61966-2-1 rounds its constants")


def test_each_code_comes_back_from_linear_light() -> None:
    assert (np.round(255 * srgb_from_linear(linear_from_srgb(CODES))) == np.arange(256)).all()


def test_the_matrix_of_srgb_is_that_of_the_standard_in_colour_science() -> None:
    standard = colour_science().models.RGB_COLOURSPACE_sRGB.matrix_RGB_to_XYZ
    assert_close(XYZ_FROM_LINEAR, standard, rtol=0, atol=5e-5, why="the standard gives four decimals")


@pytest.mark.parametrize("name", ["D65", "D50"])
def test_whites_are_those_of_colour_science(name: str) -> None:
    colour = colour_science()
    xy = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    expected = colour.xy_to_XYZ(xy)
    assert_close(
        {"D65": WHITE_D65, "D50": WHITE_D50}[name], expected, rtol=0, atol=3e-4, why="chromaticities have 4 decimals"
    )


def test_cielab_is_that_of_colour_science() -> None:
    colour = colour_science()
    expected = colour.XYZ_to_Lab(SOME, colour.XYZ_to_xy(WHITE_D65))
    assert_close(lab_from_xyz(SOME), expected, rtol=0, atol=1e-8, why="the same formula")


def test_cielab_and_back_is_where_it_began() -> None:
    dark = np.vstack([SOME, 1e-3 * SOME])
    assert_close(xyz_from_lab(lab_from_xyz(dark)), dark, rtol=1e-9, atol=1e-15, why="rounding only")


def test_adaptation_is_that_of_colour_science() -> None:
    matrix = colour_science().adaptation.matrix_chromatic_adaptation_VonKries(
        WHITE_D50, WHITE_D65, transform="Bradford"
    )
    told = adapted_xyz(SOME, from_white=WHITE_D50, to_white=WHITE_D65)
    assert_close(told, SOME @ matrix.T, rtol=0, atol=1e-9, why="the same transform")


def test_a_white_is_adapted_to_the_other_white() -> None:
    told = adapted_xyz(WHITE_D50, from_white=WHITE_D50, to_white=WHITE_D65)
    assert_close(told, WHITE_D65, rtol=1e-12, atol=0, why="that is what adaptation is")


def test_differences_are_those_of_colour_science() -> None:
    lab = lab_from_xyz(SOME)
    expected = colour_science().delta_E(lab[:100], lab[100:], method="CIE 2000")
    assert_close(difference_ciede2000(lab[:100], lab[100:]), expected, rtol=1e-9, atol=1e-9, why="the same formula")


@pytest.mark.parametrize("wrong", [-0.1, 1.1, np.nan])
def test_values_outside_the_scale_are_refused(wrong: float) -> None:
    with pytest.raises(InputError, match="encoded"):
        linear_from_srgb([0.5, wrong])
