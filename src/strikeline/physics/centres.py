"""Friction of centres: torque from a gram gauge and its arm and torque from swings."""

from __future__ import annotations

import functools
import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.ranges import above_zero, zero_or_more

HOURS_PER_CENTRE: Final = (1.5 / 60.0, 2.7 / 60.0, 5.0 / 60.0)
"""Repinning one hammer centre, fewest, likely and most: a published labour guide has up to 4 hours for 88, which is 2.7
minutes each; the ends are our reasoning, to be replaced by the workshop's own diary."""


def flange_torque_gf_mm(*, force_gf: ArrayLike, arm_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the friction torque of a centre, force times arm: grams without the arm mean nothing.

    Parameters
    ----------
    force_gf : array_like of float
        Half the difference of what moves it up and down at a steady slow pace, 0 or more.
    arm_mm : array_like of float
        From the centre pin to where the gauge pushes, above 0.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(flange_torque_gf_mm(force_gf=3.0, arm_mm=25.0))
    75.0
    """
    return np.asarray(zero_or_more("force_gf", force_gf) * above_zero("arm_mm", arm_mm))


def swings_of(*, torque_gf_mm: float, weight_g: float, arm_mm: float) -> float:
    """Return how often a hammer swings to and fro, let go from level, before friction holds it.

    Between one turning point and the next, friction takes what the hammer falls short of in height:
    ``m·g·l·(cos θ' - cos θ) = M·(θ' + θ)``. It stops where the weight can no longer overcome friction. One swing is
    there and back; the last one is counted in part.

    Parameters
    ----------
    torque_gf_mm : float
        Friction torque, above 0, the same at every speed and angle.
    weight_g : float
        Mass of shank and hammer, above 0.
    arm_mm : float
        From the centre pin to their centre of mass, above 0.

    Raises
    ------
    InputError
        If a value is not above 0.

    Notes
    -----
    Our derivation. For small friction the amplitude falls by 4·M/(m·g·l) a swing near the end.

    Examples
    --------
    >>> round(swings_of(torque_gf_mm=85.0, weight_g=8.0, arm_mm=110.0), 1)
    3.5
    """
    moment = float(above_zero("weight_g", weight_g)) * float(above_zero("arm_mm", arm_mm))
    share = float(above_zero("torque_gf_mm", torque_gf_mm)) / moment
    angle, halves = math.pi / 2.0, 0.0
    while math.sin(angle) > share and halves < 1000:
        reached = _next_turn(angle, share)
        if reached <= 0.0:
            # It stops before it has come back up: the part of a half swing that it made.
            return (halves + min(1.0, angle / (2.0 * math.pi))) / 2.0
        angle, halves = reached, halves + 1.0
    return halves / 2.0


def _next_turn(angle: float, share: float) -> float:
    """Return the angle of the other turning point, 0 or less where friction stops the hammer on its way."""

    def left_over(other: float) -> float:
        return math.cos(other) - math.cos(angle) - share * (other + angle)

    return 0.0 if left_over(0.0) <= 0.0 else float(brentq(left_over, 0.0, angle))


def torque_from_swings_gf_mm(*, swings: Measured, weight_g: float, arm_mm: float) -> Measured:
    """Return the friction torque that makes a hammer swing this often; the inverse of `swings_of`.

    Parameters
    ----------
    swings : Measured
        Counted, with the error of the count, above 0.
    weight_g : float
        Mass of shank and hammer.
    arm_mm : float
        From the centre pin to their centre of mass.

    Returns
    -------
    Measured
        Torque in gf·mm; its error is that of the count, half a swing at least.

    Raises
    ------
    InputError
        If the count is not above 0 or above 200.

    Examples
    --------
    >>> round(torque_from_swings_gf_mm(swings=Measured(3.5, 0.5), weight_g=8.0, arm_mm=110.0).value, -1)
    80.0
    """
    if not 0.0 < swings.value <= 200.0:
        raise InputError.of("swings", swings.value, "above 0 and up to 200")
    error = max(0.5, swings.se)
    middle, fewer, more = (
        _torque_for(max(0.1, swings.value + sign * error), weight_g=weight_g, arm_mm=arm_mm) for sign in (0, -1, 1)
    )
    return Measured(middle, (fewer - more) / 2.0)


def _torque_for(swings: float, *, weight_g: float, arm_mm: float) -> float:
    # The count falls in steps as friction grows; the middle of the range that gives this count is what it tells.
    shares, counts = _counts_by_share()
    nearest = np.abs(counts - swings)
    return weight_g * arm_mm * float(np.exp(np.mean(np.log(shares[nearest <= nearest.min() + 1e-9]))))


@functools.cache
def _counts_by_share() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return shares of friction in the hammer's moment, and the swings each allows."""
    shares = np.geomspace(1.5e-3, 0.99, 240)
    return shares, np.array([swings_of(torque_gf_mm=float(share), weight_g=1.0, arm_mm=1.0) for share in shares])
