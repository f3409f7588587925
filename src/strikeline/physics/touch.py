"""Touch weights: balance and friction from what takes a key down and what it lifts, and what lead does.

Friction works against either movement, so it adds to the down weight and takes from the up weight; half their sum is
the balance weight, half their difference the friction (technicians' teaching sheets and mailing-list archive 2003-12).
Springs in upright actions work along the whole way and break this simple sum: there the figures are indicative only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carried, measured_from
from strikeline.physics.ranges import above_zero, finite, zero_or_more


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchNote:
    """Touch of one key."""

    key: int
    down_weight_g: Measured
    up_weight_g: Measured
    balance_weight_g: Measured
    friction_g: Measured


def touch_of(key: int, *, down_weight_g: Measured, up_weight_g: Measured) -> TouchNote:
    """Return balance weight and friction of a key.

    Parameters
    ----------
    key : int
        Key number.
    down_weight_g : Measured
        Smallest mass that takes the key slowly down, damper pedal down.
    up_weight_g : Measured
        Largest mass that the key still lifts; not above the down weight by more than both errors allow.

    Returns
    -------
    TouchNote

    Raises
    ------
    InputError
        If the up weight exceeds the down weight: they have been swapped, or one was misread.

    Examples
    --------
    >>> note = touch_of(40, down_weight_g=Measured(52.0, 1.0), up_weight_g=Measured(28.0, 1.0))
    >>> note.balance_weight_g.value, note.friction_g.value
    (40.0, 12.0)
    """
    difference = up_weight_g.value - down_weight_g.value
    if difference > HALF_WIDTHS_PER_SE * float(np.hypot(up_weight_g.se, down_weight_g.se)):
        given = f"down {down_weight_g.value:g}, up {up_weight_g.value:g}"
        raise InputError.of("weights in g", given, "an up weight below the down weight; were they swapped?")
    value, shares = carried(
        lambda down, up: np.array([(down + up) / 2.0, (down - up) / 2.0]), {"down": down_weight_g, "up": up_weight_g}
    )
    balance, friction = (measured_from(value[place], shares[:, place]) for place in (0, 1))
    return TouchNote(
        key=key,
        down_weight_g=down_weight_g,
        up_weight_g=up_weight_g,
        balance_weight_g=balance,
        friction_g=friction,
    )


def weights_for(
    *, balance_weight_g: ArrayLike, friction_g: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return down and up weight of a key with a balance weight and a friction; the inverse of `touch_of`.

    Parameters
    ----------
    balance_weight_g : array_like of float
        Half the sum of down and up weight.
    friction_g : array_like of float
        Half their difference, 0 or more.

    Raises
    ------
    InputError
        If a value is not finite or the friction is below 0.

    Examples
    --------
    >>> [float(weight) for weight in weights_for(balance_weight_g=40.0, friction_g=12.0)]
    [52.0, 28.0]
    """
    balance = finite("balance_weight_g", balance_weight_g)
    friction = zero_or_more("friction_g", friction_g)
    return np.asarray(balance + friction), np.asarray(balance - friction)


def lead_at_front_g(*, lead_g: ArrayLike, from_balance_mm: ArrayLike, front_arm_mm: ArrayLike) -> NDArray[np.float64]:
    """Return what a lead in the key weighs at its front: mass times its arm over the front arm.

    One gram of it takes one gram off the balance weight (technicians' teaching sheet).

    Parameters
    ----------
    lead_g : array_like of float
        Mass of the lead, above 0.
    from_balance_mm : array_like of float
        From the balance pin to the lead, plus towards the player, minus behind the pin.
    front_arm_mm : array_like of float
        From the balance pin to where the touch weights stand, above 0.

    Returns
    -------
    ndarray of float
        Grams at the key front; minus for a lead behind the balance pin.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(lead_at_front_g(lead_g=12.0, from_balance_mm=110.0, front_arm_mm=220.0))
    6.0
    """
    arm = finite("from_balance_mm", from_balance_mm) / above_zero("front_arm_mm", front_arm_mm)
    return np.asarray(above_zero("lead_g", lead_g) * arm)


def friction_at_key_g(*, torque_gf_mm: ArrayLike, turn_rad_per_mm: ArrayLike) -> NDArray[np.float64]:
    """Return what the friction of a centre weighs at the key front, ``F = M·dφ/dx``.

    The work that friction takes in a small movement is the same at the centre and at the key.

    Parameters
    ----------
    torque_gf_mm : array_like of float
        Friction torque of the centre, 0 or more.
    turn_rad_per_mm : array_like of float
        How far the centre turns for a millimetre of key: for a hammer, the ratio of the action over the distance of
        the crown from its centre pin.

    Returns
    -------
    ndarray of float
        Grams at the key front.

    Raises
    ------
    InputError
        If a value is below 0 or not finite.

    Examples
    --------
    A hammer centre of 80 gf·mm, ratio 5, crown 130 mm from its pin:

    >>> float(friction_at_key_g(torque_gf_mm=80.0, turn_rad_per_mm=5.0 / 130.0).round(2))
    3.08
    """
    torque = zero_or_more("torque_gf_mm", torque_gf_mm)
    return np.asarray(torque * zero_or_more("turn_rad_per_mm", turn_rad_per_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A key whose figure leaves those of its neighbours."""

    key: int
    value: Measured
    expected: float
    by_scatters: float


def find_outliers(keys: Sequence[int], values: Sequence[Measured], *, least: float) -> tuple[Outlier, ...]:
    """Return keys whose figure leaves the run of the others by more than scatter and errors explain.

    The run is a straight line through the medians of all pairs (Theil and Sen), which a quarter of wild values cannot
    bend; the scatter about it comes from the median absolute residual.

    Parameters
    ----------
    keys : sequence of int
        Key numbers, ascending.
    values : sequence of Measured
        One for each key.
    least : float
        Departure, in the values' unit, below which nobody would mind.

    Returns
    -------
    tuple of Outlier
        Farthest first; empty with fewer than six keys, where no run can be told.

    References
    ----------
    .. [1] P. K. Sen, J. Am. Stat. Assoc. 63, 1379-1389 (1968) (from memory): slope as median over pairs.

    Examples
    --------
    >>> weights = [Measured(value, 0.5) for value in (52, 51, 52, 50, 63, 51, 50, 49)]
    >>> [one.key for one in find_outliers(range(40, 48), weights, least=3.0)]
    [44]
    """
    if len(keys) < 6:
        return ()
    x, y = np.asarray(keys, dtype=np.float64), np.array([one.value for one in values])
    first, second = np.triu_indices(len(x), k=1)
    apart = x[second] != x[first]
    slope = float(np.median((y[second] - y[first])[apart] / (x[second] - x[first])[apart]))
    line = slope * x + float(np.median(y - slope * x))
    away = y - line
    # 1.4826 makes the median absolute residual a standard deviation where residuals are normal.
    scatter = 1.4826 * float(np.median(np.abs(away)))
    # A line through few keys lies nearer to them than to others.
    fewness = float(np.sqrt(len(x) / (len(x) - 2.0)))
    found = list[Outlier]()
    for place, value in enumerate(values):
        spread = max(fewness * float(np.hypot(scatter, value.se)), 1e-9)
        # 3.3 standard deviations: a false outlier in one of ten sets, few keys or many (our reasoning, tested).
        if abs(away[place]) > max(least, 3.3 * spread):
            found.append(
                Outlier(
                    key=int(x[place]), value=value, expected=float(line[place]), by_scatters=float(away[place] / spread)
                )
            )
    return tuple(sorted(found, key=lambda one: -abs(one.by_scatters)))
