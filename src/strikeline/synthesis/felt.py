"""A string with felt resting on it at one point: how every partial is damped and moved, exactly.

An ideal string (impedance Z, round trip 1/f0) with a lumped mechanical impedance F(s) at the share a of its length
sounds at the roots of ``sinh θ + (F/Z)·sinh aθ·sinh (1-a)θ = 0``, θ = s/(2·f0) (derived here from the two half strings
and the jump of force between them). For light felt this is the first-order law: partial n is damped by
``(R/Z)·2·f0·sin²(nπa)`` per second, so that a partial with a node at the felt rings on. For heavy felt it is not: the
felt then holds the string fast, and what sounds is the longer part of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError

_STEPS: Final = 40
"""The felt is laid on in so many steps, so that each root is followed from the free string."""
_NEWTON_ROUNDS: Final = 4
_MOST_RESISTANCE: Final = 1.0
"""Beyond it the felt holds fast rather than damps: at R = 2·Z in the middle of a string the even waves die at once and
the roots have no names any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Felt:
    """Felt against one string."""

    resistance_ratio: float
    """R over the impedance of the string, 0 (not touching) to 1."""
    stiffness_ratio: float
    """Stiffness of the felt over ``2·f0·Z``, 0 or more: it raises the pitch."""
    strike_ratio: float
    """Where it touches, as a share of the speaking length, 0 to 0.5."""
    width_ratio: float
    """Width of the contact over the speaking length: a node is a point, felt is not."""

    def __post_init__(self) -> None:
        if not (0.0 <= self.resistance_ratio <= 1.0 and self.stiffness_ratio >= 0.0):
            raise InputError.of("resistance_ratio", self.resistance_ratio, "0 to 1, and a stiffness of 0 or more")
        if not 0.0 < self.strike_ratio <= 0.5:
            raise InputError.of("strike_ratio", self.strike_ratio, "above 0 and up to 0.5")


def felt_shift_per_s(partial: NDArray[np.int64], felt: Felt, *, f0_hz: float) -> NDArray[np.complex128]:
    """Return what the felt adds to the pole of each partial: minus its damping, plus i times its rise of pitch.

    Parameters
    ----------
    partial : ndarray of int, shape (k,)
        Partial numbers.
    felt : Felt
        The felt.
    f0_hz : float
        Fundamental of the string, above 0.

    Returns
    -------
    ndarray of complex, shape (k,)
        Exact for the ideal string with a point contact; the width of the contact adds
        ``(R/Z)·f0·cos(2nπa)·(1 - sinc(n·w/L))`` to the damping (first order: the mean of sin² over the contact).
    """
    n = partial.astype(np.float64)
    a = felt.strike_ratio
    start = np.asarray(1j * np.pi * n, dtype=np.complex128)
    theta: NDArray[np.complex128] = start.copy()
    for step in np.arange(1, _STEPS + 1) / _STEPS:
        for _ in range(_NEWTON_ROUNDS):
            value, slope = _characteristic(theta, felt, a, step)
            theta = np.asarray(theta - value / slope, dtype=np.complex128)
    damping = felt.resistance_ratio * f0_hz * np.cos(2.0 * np.pi * n * a) * (1.0 - np.sinc(n * felt.width_ratio))
    return np.asarray((theta - start) * 2.0 * f0_hz - np.maximum(damping, 0.0))


def _characteristic(
    theta: NDArray[np.complex128], felt: Felt, a: float, step: float
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Return the characteristic function and its derivative, the felt laid on by the share `step`."""
    load = step * (felt.resistance_ratio + felt.stiffness_ratio / theta)
    load_slope = -step * felt.stiffness_ratio / theta**2
    near, far = np.sinh(a * theta), np.sinh((1.0 - a) * theta)
    product = near * far
    product_slope = a * np.cosh(a * theta) * far + (1.0 - a) * near * np.cosh((1.0 - a) * theta)
    return np.sinh(theta) + load * product, np.cosh(theta) + load_slope * product + load * product_slope


def light_felt(t60_s: float, *, f0_hz: float, strike_ratio: float, width_ratio: float, stiffness_ratio: float) -> Felt:
    """Return felt that would take partial 1 down by 60 dB in `t60_s` by the first-order law.

    Parameters
    ----------
    t60_s : float
        Above 0. Short times cannot be reached in the bass: the resistance stops at the string's impedance,
        for beyond it felt holds fast instead of damping.
    f0_hz, strike_ratio, width_ratio, stiffness_ratio : float
        See `Felt`.
    """
    if not t60_s > 0.0:
        raise InputError.of("t60_s", t60_s, "above 0 s")
    resistance = float(np.log(1000.0)) / t60_s / (2.0 * f0_hz * np.sin(np.pi * strike_ratio) ** 2)
    return Felt(
        resistance_ratio=min(resistance, _MOST_RESISTANCE),
        stiffness_ratio=stiffness_ratio,
        strike_ratio=strike_ratio,
        width_ratio=width_ratio,
    )
