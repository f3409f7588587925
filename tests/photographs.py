"""Simulated photographs: spectra of light, paint and camera that colour-science ships; noise and codes as cameras make.

The known patches are spectra, too, so that the truth is their colour under D65, and the camera sees them as cameras do:
with sensitivities that are not those of the eye.
"""

from __future__ import annotations

import functools
import warnings
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeline.physics.colour import WHITE_D65, XYZ_FROM_LINEAR, lab_from_xyz, srgb_from_linear
from strikeline.physics.colour_card import CardPatch
from strikeline.physics.colour_patch import read_patch
from strikeline.physics.colour_seen import Patch

CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
"""Sensitivities measured by a national laboratory, under the names colour-science keeps them."""
CHART = "BabelColor Average"
"""Mean reflectances of 24 paints, under the name colour-science keeps them."""
SIDE_PX = 48
WAVELENGTHS_NM = np.arange(400, 701, 10)


@functools.cache
def colour_science() -> ModuleType:
    """Return colour-science.

    Its word about a plotting library that is not there is of no use here, and its way to print arrays, which it sets
    for everybody, would break the examples of other modules.
    """
    with warnings.catch_warnings(), np.printoptions():
        warnings.simplefilter("ignore")
        import colour
    return colour


def _sampled(distribution: Any) -> NDArray[np.float64]:
    shape = colour_science().SpectralShape(400, 700, 10)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return np.asarray(distribution.copy().align(shape).values)


@functools.cache
def light(name: str) -> NDArray[np.float64]:
    """Return the spectrum of an illuminant of the CIE."""
    return _sampled(colour_science().SDS_ILLUMINANTS[name])


@functools.cache
def camera(name: str) -> NDArray[np.float64]:
    """Return a camera's sensitivities, shape (31, 3)."""
    return _sampled(colour_science().MSDS_CAMERA_SENSITIVITIES[name])


@functools.cache
def chart() -> dict[str, NDArray[np.float64]]:
    """Return the reflectance of the chart's paints by name."""
    return {name: _sampled(one) for name, one in colour_science().SDS_COLOURCHECKERS[CHART].items()}


@functools.cache
def things() -> NDArray[np.float64]:
    """Return reflectances of 99 things and paints (colour evaluation samples of CIE 224:2017), shape (99, 31)."""
    colour = colour_science()  # first, for it keeps the import quiet
    from colour.quality.cfi2017 import load_TCS_CIE2017

    whole = np.asarray(load_TCS_CIE2017(colour.SpectralShape(380, 780, 5)).values).T
    return np.array([np.interp(WAVELENGTHS_NM, np.arange(380, 781, 5), one) for one in whole])


def wood(lightness: float, *, yellowing: float = 1.0) -> NDArray[np.float64]:
    """Return an invented reflectance as wood under polish has it: rising smoothly from violet to red."""
    place = (WAVELENGTHS_NM - 400) / 300.0
    return lightness * (0.25 + 0.75 * place ** (1.2 * yellowing)) / 0.6


def xyz(reflectance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return XYZ under D65 by the 2° observer, scaled so that a perfect white has exactly sRGB's white."""
    observer = _sampled(colour_science().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    seen = (reflectance * light("D65")) @ observer
    return np.asarray(seen / (light("D65") @ observer) * WHITE_D65)


def lab(reflectance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the true CIELAB under D65."""
    return lab_from_xyz(xyz(reflectance))


@functools.cache
def developing(name: str) -> NDArray[np.float64]:
    """Return the matrix to linear sRGB that a maker would fit for daylight; white stays white."""
    sensor = np.array([(one * light("D65")) @ camera(name) for one in things()]) / (light("D65") @ camera(name))
    wanted = np.array([np.linalg.inv(XYZ_FROM_LINEAR) @ xyz(one) for one in things()])
    # Rows that add up to 1 keep white: fit how far each channel leaves green.
    apart = sensor[:, [0, 2]] - sensor[:, [1]]
    slopes, *_ = np.linalg.lstsq(apart, wanted - sensor[:, [1]], rcond=None)
    return np.array([[red, 1.0 - red - blue, blue] for red, blue in slopes.T])


@dataclass(frozen=True)
class Shot:
    """How a photograph is taken."""

    illuminant: str = "D65"
    noise: float = 0.01
    """Standard deviation of a white pixel, relative; it falls with the root of the light, to a fifth at black."""
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """How far the camera's own white balance is off."""
    exposure: float = 0.8
    contrast: float = 1.0
    """Exponent on top of sRGB."""
    falls_off: float = 0.0
    """Relative loss of light from the left to the right side of the picture."""
    camera: str = CAMERAS[0]
    is_developed: bool = True
    """Whether the camera's own matrix for daylight made sRGB of what its sensor saw."""

    def recorded(self, reflectance: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return linear light in the camera's channels, balanced on a perfect white, shape (3,)."""
        light_here = light(self.illuminant)
        seen = ((reflectance * light_here) @ camera(self.camera)) / (light_here @ camera(self.camera))
        if self.is_developed:
            seen = np.maximum(developing(self.camera) @ seen, 0.0)
        return np.asarray(seen * self.exposure * self.balance)

    def codes(self, reflectance: NDArray[np.float64], at: float, rng: np.random.Generator) -> NDArray[np.uint8]:
        """Return the pixels of an even patch whose centre is `at` of the picture's width."""
        across = at + (np.arange(SIDE_PX) - SIDE_PX / 2) * 1e-3
        fall = (1.0 - self.falls_off * across)[None, :, None]
        flat = self.recorded(reflectance) * fall * np.ones((SIDE_PX, SIDE_PX, 3))
        sd = self.noise * np.sqrt(np.maximum(flat, 0.0) + 0.04)
        noisy = np.clip(flat + sd * rng.normal(size=flat.shape), 0.0, 1.0)
        return np.round(255.0 * srgb_from_linear(noisy**self.contrast)).astype(np.uint8)

    def card_patch(self, name: str, reflectance: NDArray[np.float64], at: float, rng: np.random.Generator) -> CardPatch:
        """Return a patch of a card as it was photographed, its values known to the last digit."""
        return CardPatch(
            name=name,
            xyz=xyz(reflectance),
            xyz_se_ratio=0.0,
            light=read_patch(self.codes(reflectance, at, rng)),
            at=np.array([at, 0.2]),
            size=np.full(2, SIDE_PX * 1e-3),
        )

    def chart(self, rng: np.random.Generator) -> list[CardPatch]:
        """Return the whole chart as photographed, from 0.1 to 0.4 of the picture's width."""
        places = np.tile(np.linspace(0.1, 0.4, 6), 4)
        return [
            self.card_patch(name, one, float(at), rng) for (name, one), at in zip(chart().items(), places, strict=True)
        ]

    def patch(self, name: str, reflectance: NDArray[np.float64], at: float, rng: np.random.Generator) -> Patch:
        """Return a patch to be told."""
        return Patch(name=name, light=read_patch(self.codes(reflectance, at, rng)), at=np.array([at, 0.5]))
