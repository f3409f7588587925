"""How strings swing sideways, and what a loose bridge pin does: data for `strikeline.synthesis.unison`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Polarisation:
    """The horizontal motion of the strings of a note, across the blow and along the soundboard.

    The bridge gives way less sideways, so that this motion lasts longer and takes over as aftersound even where one
    string sounds alone (G. Weinreich 1977, from memory; Wogram 1981 and Yanagisawa 1984 as quoted by Nakamura 1989).
    The figures are invented: such that the aftersound of a single string starts 20 to 35 dB below its prompt sound.
    """

    admittance_db: float = -15.0
    """Admittance of the bridge sideways against that along the blow, dB."""
    blow_ratio: tuple[float, ...] = (0.2, 0.2, 0.2)
    """Sideways share of the blow on each string, against the share along it; either sign."""
    radiation_ratio: float = 0.25
    """Sound pressure of a sideways force on the bridge against that of the same force along the blow."""

    def __post_init__(self) -> None:
        if not self.admittance_db <= 0.0:
            raise InputError.of("admittance_db", self.admittance_db, "0 or below: the bridge is stiffer sideways")


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseBeat:
    """One string that beats with itself, for its bridge pin is loose and gives way in one direction.

    The pin is a mass on a spring at the end of the string. Across the loose direction the string keeps its pitch, along
    it the string is longer, by the same share at all partials far below the resonance of the pin and by more near it
    (after the abstract of B. Capleton, J. Acoust. Soc. Am. 115, 885 (2004): false beats come from an anisotropic
    admittance at the bridge; the pin as one mass on one spring is our own simplification).
    """

    string: int
    """Place of the string, from the left, 0 for the first."""
    rate_hz: float
    """Split of partial 1 that the pin alone would make, above 0. What sounds also depends on the bridge."""
    axis_rad: float = np.pi / 4.0
    """Direction in which the pin gives way, against that of the blow; neither 0 nor π/2, or only one motion sounds."""
    pin_resonance_hz: float = 5000.0
    pin_loss_ratio: float = 0.1
    """Damping of the pin: its resonance over its bandwidth, inverted."""

    def __post_init__(self) -> None:
        if not (self.rate_hz > 0.0 and self.pin_resonance_hz > 0.0 and self.pin_loss_ratio >= 0.0):
            raise InputError.of("rate_hz, pin_resonance_hz, pin_loss_ratio", self, "above 0, above 0, 0 or more")

    def coupling_per_s(self, frequency_hz: NDArray[np.float64], *, first_hz: float) -> NDArray[np.complex128]:
        """Return what the pin takes from the motion along its loose direction, shape of `frequency_hz` (k,).

        With `first_hz` for partial 1: ``i·2π·rate·(f/f_1)/(1 - (f/f_p)² + iη·f/f_p)``, the admittance of a mass on a
        spring, seen from the string. Its real part is never below 0.
        """
        near = frequency_hz / self.pin_resonance_hz
        slope = 2.0 * np.pi * self.rate_hz * frequency_hz / first_hz
        return np.asarray(1j * slope / (1.0 - near**2 + 1j * self.pin_loss_ratio * near))
