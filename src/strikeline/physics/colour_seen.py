"""Colours of patches in one photograph, with all their errors and what those errors have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.physics.colour import lab_from_xyz
from strikeline.physics.colour_card import (
    HUE_SE_DEG,
    LIGHTNESS_SE_PER_CHROMA,
    LIKENESS_LAB,
    OWN_RATIO,
    SATURATION_SE,
    Correction,
    chroma_scale,
)
from strikeline.physics.colour_patch import PatchLight


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """A patch of a photograph to be told."""

    name: str
    light: PatchLight
    at: NDArray[np.float64]  # shape (2,)
    """Centre in widths of the picture, from its upper left corner."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenColours:
    """CIELAB under D65 of several patches."""

    names: tuple[str, ...]
    lab: NDArray[np.float64]  # shape (n, 3)
    covariance: NDArray[np.float64]  # shape (n, 3, n, 3)
    """Of all coordinates with each other: errors of light and camera move patches together."""
    noise: NDArray[np.float64]  # shape (n, 3, 3)
    """The part of it that scatter and rounding within the patches make."""
    spread: NDArray[np.float64]  # shape (n, 3)
    """Standard deviation of L*, a*, b* from one part of a patch to the next."""


def seen_colours(correction: Correction, patches: Sequence[Patch]) -> SeenColours:
    """Return the colours of patches in the photograph that a correction was made for.

    Parameters
    ----------
    correction : Correction
        From this photograph's card.
    patches : sequence of Patch
        At least one, each fit to be read.

    Returns
    -------
    SeenColours
        The errors carried are: scatter and rounding in the patch, gains and contrast, hue and saturation where no
        chart tells them, light that changes between card and patch, and a chart's leave-one-out errors, of which two
        patches have 0.9·exp(−d/20) in common at a distance d in CIELAB.
    """
    lights = np.array([one.light.linear for one in patches])
    labs = lab_from_xyz(correction.xyz(lights))
    of_patches = _of_the_patches(correction, patches)
    shares = [
        *of_patches,
        *_of_the_tone(correction, lights),
        *_of_the_light(correction, patches, lights),
    ]
    if not correction.is_chart:
        shares += _of_the_rendering(labs)
    moved = np.array(shares).reshape(len(shares), -1)
    total = moved.T @ moved + _of_the_matrix(correction, labs)
    return SeenColours(
        names=tuple(one.name for one in patches),
        lab=labs,
        covariance=total.reshape(*labs.shape, *labs.shape),
        noise=np.einsum("kia,kib->iab", np.array(of_patches), np.array(of_patches)),
        spread=_spread(correction, patches),
    )


def _half(up: NDArray[np.float64], down: NDArray[np.float64]) -> NDArray[np.float64]:
    return (lab_from_xyz(up) - lab_from_xyz(down)) / 2.0


def _roots(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return vectors of one standard error along each axis of a covariance, as rows."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))).T)


def _of_the_patches(correction: Correction, patches: Sequence[Patch]) -> list[NDArray[np.float64]]:
    shares = list[NDArray[np.float64]]()
    for place, one in enumerate(patches):
        for step in _roots(one.light.covariance):
            share = np.zeros((len(patches), 3))
            up, down = (np.maximum(one.light.linear + sign * step, 0.0) for sign in (1.0, -1.0))
            share[place] = _half(correction.xyz(up), correction.xyz(down))
            shares.append(share)
    return shares


def _of_the_tone(correction: Correction, lights: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    if correction.is_chart:  # leave-one-out errors hold them already
        return []
    return [
        _half(correction.xyz(lights, step), correction.xyz(lights, -step))
        for step in _roots(correction.tone.covariance)
    ]


def _of_the_light(
    correction: Correction, patches: Sequence[Patch], lights: NDArray[np.float64]
) -> list[NDArray[np.float64]]:
    away = np.array([one.at for one in patches]) - correction.at
    xyz = correction.xyz(lights)
    return [_half(xyz * np.exp(step)[:, None], xyz * np.exp(-step)[:, None]) for step in (away * correction.light_se).T]


def _of_the_rendering(labs: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return what a camera's own way with saturation, hue and the lightness of colours does to them."""
    grown, turned, lighter = np.zeros_like(labs), np.zeros_like(labs), np.zeros_like(labs)
    grown[:, 1:] = SATURATION_SE * labs[:, 1:]
    turn = np.radians(HUE_SE_DEG)
    turned[:, 1], turned[:, 2] = -turn * labs[:, 2], turn * labs[:, 1]
    lighter[:, 0] = LIGHTNESS_SE_PER_CHROMA * np.hypot(labs[:, 1], labs[:, 2])
    return [grown, turned, lighter]


def _of_the_matrix(correction: Correction, labs: NDArray[np.float64]) -> NDArray[np.float64]:
    distance = np.linalg.norm(labs[:, None] - labs[None], axis=-1)
    scale = chroma_scale(labs).reshape(-1)
    common = (1.0 - OWN_RATIO) * np.exp(-distance / LIKENESS_LAB) + OWN_RATIO * np.eye(len(labs))
    return np.asarray(np.kron(common, correction.left_lab) * np.outer(scale, scale))


def _spread(correction: Correction, patches: Sequence[Patch]) -> NDArray[np.float64]:
    rows = list[NDArray[np.float64]]()
    for one in patches:
        steps = [
            _half(
                correction.xyz(np.maximum(one.light.linear + step, 0.0)),
                correction.xyz(np.maximum(one.light.linear - step, 0.0)),
            )
            for step in _roots(one.light.scatter)
        ]
        rows.append(np.sqrt(np.sum(np.square(steps), axis=0)))
    return np.array(rows)


def joined(
    one: SeenColours, other: SeenColours, *, same_setup: tuple[Correction, Correction] | None = None
) -> SeenColours:
    """Return the colours of two photographs together.

    Parameters
    ----------
    one, other : SeenColours
        Each with its own card.
    same_setup : tuple of Correction, optional
        Their corrections, if camera, card and light were the same: then what the camera does to a colour is taken to be
        the same in both. Otherwise their errors have nothing in common.
    """
    n, m = len(one.names), len(other.names)
    labs = np.vstack([one.lab, other.lab])
    covariance = np.zeros((n + m, 3, n + m, 3))
    covariance[:n, :, :n] = one.covariance
    covariance[n:, :, n:] = other.covariance
    if same_setup is not None and same_setup[0].is_chart == same_setup[1].is_chart:
        shared = _shared(labs, same_setup).reshape(n + m, 3, n + m, 3)
        covariance[:n, :, n:] = shared[:n, :, n:]
        covariance[n:, :, :n] = shared[n:, :, :n]
    return SeenColours(
        names=(*one.names, *other.names),
        lab=labs,
        covariance=covariance,
        noise=np.concatenate([one.noise, other.noise]),
        spread=np.vstack([one.spread, other.spread]),
    )


def _shared(labs: NDArray[np.float64], corrections: tuple[Correction, Correction]) -> NDArray[np.float64]:
    """Return what the errors of two photographs taken alike have in common, shape (3n, 3n)."""
    if corrections[0].is_chart:
        # The smaller of both: the greater one's surplus is its own.
        lesser = min(corrections, key=lambda correction: float(np.trace(correction.left_lab)))
        return _of_the_matrix(lesser, labs)
    moved = np.array(_of_the_rendering(labs)).reshape(-1, labs.size)
    return np.asarray(moved.T @ moved)
