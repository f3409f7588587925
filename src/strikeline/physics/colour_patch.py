"""A patch of a photograph: its mean in linear light, how well that mean is known, and whether it is fit to be read."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.physics.colour import linear_from_srgb

LEAST_SIDE_PX: Final = 32
"""Pixels along the shorter side: two blocks of the colour channels of a usual JPEG, 16 pixels each (our reasoning)."""
MOST_CLIPPED: Final = 0.01
"""Share of pixels at the ends of the scale above which a mean is wrong by more than it says (our reasoning)."""
MOST_PIXELS: Final = 1_000_000
"""Pixels that a mean is taken of; of a larger patch every second, third … line and column is read."""
_CELLS: Final = 5
_MOST_ALIKE: Final = 0.96
"""Correlation of neighbouring cells up to which it can be told from a slope (our reasoning)."""
_T_OVER_NORMAL: Final = 2.064 / 1.96
"""Student's t with 24 degrees of freedom against the normal, for 95 of 100: the scatter itself comes from 25 cells."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatchLight:
    """What a patch sends, as the camera recorded it."""

    linear: NDArray[np.float64]  # shape (3,)
    """Mean red, green and blue in linear light."""
    covariance: NDArray[np.float64]  # shape (3, 3)
    """Of that mean."""
    scatter: NDArray[np.float64]  # shape (3, 3)
    """Covariance from one part of the patch (a fifth of it each way) to the next: figure of the wood, shadows."""
    slope: NDArray[np.float64]  # shape (2,)
    """Relative change of the light from left to right and from top to bottom of the patch."""
    slope_se: NDArray[np.float64]  # shape (2,)
    n_pixels: int
    """That were read."""
    short_side_px: int
    clipped_ratio: float
    """Share of pixels with a channel at an end of its scale."""

    @property
    def unfit(self) -> str:
        """Why it cannot be read, empty if it can."""
        if self.short_side_px < LEAST_SIDE_PX:
            return f"it is {self.short_side_px} pixels across, needed are {LEAST_SIDE_PX}; go nearer or mark more of it"
        if self.clipped_ratio > MOST_CLIPPED:
            share = f"{100.0 * self.clipped_ratio:.0f} %" if self.clipped_ratio < 0.995 else "all"
            return f"{share} of it is clipped, too light or too dark for the camera; expose anew"
        return ""


def read_patch(codes: NDArray[np.uint8] | NDArray[np.uint16]) -> PatchLight:
    """Return the mean of a patch in linear light, with its error.

    The patch is cut into 5 by 5 cells. The scatter of their means gives the error of the whole mean, widened by what
    neighbouring cells have in common, for grain and uneven light reach further than one cell. What the steps of the
    codes hide is added: on an even patch half a step does not average out.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16, shape (height, width, 3)
        sRGB codes as they stand in the picture.

    Returns
    -------
    PatchLight

    Raises
    ------
    InputError
        If it is no picture with three channels, or smaller than 5 by 5 pixels.
    """
    if codes.ndim != 3 or codes.shape[2] != 3 or min(codes.shape[:2]) < _CELLS or codes.dtype.kind != "u":
        raise InputError.of("codes", codes.shape, f"codes of shape (height, width, 3), {_CELLS} pixels or more a side")
    short_side_px = int(min(codes.shape[:2]))
    every = int(np.ceil(np.sqrt(codes.shape[0] * codes.shape[1] / MOST_PIXELS)))
    codes = codes[::every, ::every]
    top = int(np.iinfo(codes.dtype).max)
    linear = linear_from_srgb(np.arange(top + 1) / top)[codes]
    # Two in 255 are left at either end: compression moves clipped pixels by a code or so.
    margin = top // 255 * 2
    is_clipped = ((codes >= top - margin) | (codes <= margin // 2)).any(axis=2)
    cells = np.array([
        [cell.mean(axis=(0, 1)) for cell in np.array_split(row, _CELLS, axis=1)]
        for row in np.array_split(linear, _CELLS, axis=0)
    ])  # fmt: skip
    mean = linear.mean(axis=(0, 1))
    slope, slope_se = _slope(cells)
    return PatchLight(
        linear=mean,
        covariance=_covariance_of_mean(cells) + np.diag(_step_variance(mean, _fast_noise(linear), top)),
        scatter=np.cov(cells.reshape(-1, 3), rowvar=False),
        slope=slope,
        slope_se=slope_se,
        n_pixels=int(is_clipped.size),
        short_side_px=short_side_px,
        clipped_ratio=float(is_clipped.mean()),
    )


def _covariance_of_mean(cells: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the covariance of the mean over cells of which neighbours are alike."""
    left = cells - cells.mean(axis=(0, 1))
    scatter = np.einsum("ijk,ijl->kl", left, left) / (_CELLS * _CELLS - 1)
    total = np.trace(scatter)
    if total <= 0.0:
        return np.zeros((3, 3))
    together = (np.sum(left[1:] * left[:-1]) + np.sum(left[:, 1:] * left[:, :-1])) / (2 * _CELLS * (_CELLS - 1))
    likeness, of_the_mean = _likeness_table()
    return np.asarray(scatter * np.interp(together / total, likeness, of_the_mean) * _T_OVER_NORMAL**2)


def _fast_noise(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the standard deviation from one pixel to the next but one, which neither grain nor slope reaches."""
    return np.asarray((linear[:, 2:] - linear[:, :-2]).std(axis=(0, 1)) / np.sqrt(2.0))


@functools.cache
def _likeness_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what neighbours are seen to have in common, and the variance of the mean over the scatter seen.

    Cells at distance d are taken to be correlated by c to the power d. Both columns are the expectations for that, the
    mean already taken away, so that nothing is lost by its being estimated from the same cells.
    """
    n = _CELLS * _CELLS
    at = np.stack(np.meshgrid(np.arange(_CELLS), np.arange(_CELLS), indexing="ij"), axis=-1).reshape(n, 2)
    distance = np.sqrt(((at[:, None] - at[None]) ** 2).sum(axis=-1))
    is_beside = np.isclose(distance, 1.0)
    centring = np.eye(n) - 1.0 / n
    seen, variance = list[float](), list[float]()
    for c in np.linspace(0.0, _MOST_ALIKE, 97):
        together = c**distance
        left = centring @ together @ centring
        scatter = np.trace(left) / (n - 1)
        seen.append(float(left[is_beside].mean() / scatter))
        variance.append(float(together.mean() / scatter))
    return np.array(seen), np.array(variance)


def _step_variance(mean: NDArray[np.float64], noise: NDArray[np.float64], top: int) -> NDArray[np.float64]:
    """Return the variance that rounding to codes leaves in a mean, in linear light.

    Half a step either way on an even patch, a variance of 1/12 step². Noise of s steps smooths the staircase: its n-th
    harmonic, of amplitude 1/(πn) steps, is left exp(−2π²n²s²) of it (Fourier series of rounding; our derivation).
    """
    codes = linear_from_srgb(np.arange(top + 1) / top)
    place = np.clip(np.searchsorted(codes, mean), 1, top)
    step = codes[place] - codes[place - 1]
    n = np.arange(1, 201)[:, None]
    harmonics = np.exp(-4.0 * np.pi**2 * n**2 * (noise / step) ** 2) / (2.0 * np.pi**2 * n**2)
    return np.asarray(step**2 * harmonics.sum(axis=0))


def _slope(cells: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the relative change of light over the patch in both directions, by a plane through the cells."""
    light = cells.sum(axis=2)
    if light.mean() <= 0.0:
        return np.zeros(2), np.full(2, np.inf)
    ratio = (light / light.mean() - 1.0).ravel()
    at = (np.arange(_CELLS) + 0.5) / _CELLS - 0.5
    down, across = (one.ravel() for one in np.meshgrid(at, at, indexing="ij"))
    slopes = np.array([ratio @ across, ratio @ down]) / float(across @ across)
    left = ratio - slopes[0] * across - slopes[1] * down
    se = float(np.sqrt(left @ left / (ratio.size - 3) / (across @ across)))
    return slopes, np.full(2, se)
