"""The mean of a patch and its error."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.colour import linear_from_srgb, srgb_from_linear
from strikeline.physics.colour_patch import read_patch


def codes_of(linear: NDArray[np.float64]) -> NDArray[np.uint8]:
    return np.round(255.0 * srgb_from_linear(linear)).astype(np.uint8)


@pytest.mark.parametrize("grain_px", [0, 2, 5])
def test_the_error_holds_the_truth_in_95_of_100_whatever_the_grain(grain_px: int) -> None:
    rng = np.random.default_rng(17 + grain_px)
    n, inside = 240, 0
    for _ in range(n):
        field = gaussian_filter(rng.normal(size=(160, 160, 3)), (grain_px, grain_px, 0))[30:130, 30:130]
        patch = read_patch(codes_of(0.2 + 0.03 * field / field.std()))
        inside += abs(patch.linear[1] - 0.2) < 1.96 * np.sqrt(patch.covariance[1, 1])
    # Three standard deviations of a count of 95 in 100; the scale of the field is itself estimated.
    assert inside / n > 0.95 - 3 * np.sqrt(0.95 * 0.05 / n)


@pytest.mark.parametrize("level", [0.03, 0.2, 0.6])
def test_what_rounding_hides_is_in_the_error_of_an_even_patch(level: float) -> None:
    patch = read_patch(codes_of(np.full((60, 60, 3), level)))
    assert abs(patch.linear[0] - level) < 1.96 * np.sqrt(patch.covariance[0, 0])
    assert patch.covariance[0, 0] > 0


def test_the_mean_is_taken_in_linear_light_and_not_in_codes() -> None:
    codes = np.full((60, 60, 3), 50, np.uint8)
    codes[:, ::2] = 200
    expected = linear_from_srgb([50 / 255, 200 / 255]).mean()
    assert_close(read_patch(codes).linear, [expected] * 3, rtol=1e-12, atol=0, why="the definition")
    assert not np.isclose(expected, linear_from_srgb(125 / 255), rtol=0.2)


def test_sixteen_bits_are_read_as_well() -> None:
    codes = np.full((60, 60, 3), 20000, np.uint16)
    expected = linear_from_srgb([20000 / 65535] * 3)
    assert_close(read_patch(codes).linear, expected, rtol=1e-12, atol=0, why="the definition")


def test_a_slope_of_the_light_is_seen() -> None:
    across = 0.3 * (1.0 + 0.2 * (np.linspace(0.0, 1.0, 100) - 0.5))
    patch = read_patch(codes_of(np.broadcast_to(across[None, :, None], (100, 100, 3))))
    assert_close(patch.slope, [0.2, 0.0], rtol=0.03, atol=0.005, why="rounding to codes")


def test_clipped_and_small_patches_are_called_unfit() -> None:
    fit = np.full((60, 60, 3), 128, np.uint8)
    assert read_patch(fit).unfit == ""
    light, dark = fit.copy(), fit.copy()
    light[:10, :, 0] = 254
    dark[:10, :, 2] = 1
    assert "17 % of it is clipped" in read_patch(light).unfit
    assert "clipped" in read_patch(dark).unfit
    assert "31 pixels across" in read_patch(fit[:, :31]).unfit


def test_a_patch_of_many_millions_of_pixels_is_thinned_out() -> None:
    codes = np.broadcast_to(np.array([100, 120, 140], np.uint8), (4000, 3000, 3))
    patch = read_patch(codes)
    assert patch.n_pixels <= 1_100_000
    assert patch.short_side_px == 3000
    expected = linear_from_srgb(np.array([100, 120, 140]) / 255)
    assert_close(patch.linear, expected, rtol=1e-9, atol=0, why="a million sums are rounded")


def test_what_is_no_patch_is_refused() -> None:
    with pytest.raises(InputError, match="codes"):
        read_patch(np.zeros((4, 40, 3), np.uint8))
