"""Seat and music desk: how high a player sits at given keys, whether the thighs fit, and where the eyes look.

Heights are above the floor where the player sits. The rule is that of keyboard teaching: forearm level, elbow at or
slightly above the keys, feet flat. How much "slightly" is, and the comfortable look down, are our reasoning.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.ranges import above_zero, finite

ELBOW_ABOVE_KEYS_MM: Final = (0.0, 20.0)
"""Elbow at or slightly above the key tops (keyboard pages, as read in a secondary survey); 20 mm is our reasoning."""
ELBOW_PER_STATURE: Final = 240.0 / 1675.0
"""Seat to elbow over stature: medians of British adults (S. Pheasant and C. Haslegrave, Bodyspace, 3rd ed. 2006, as
quoted in a public source file)."""
ELBOW_SCATTER_MM: Final = 28.0
"""Standard deviation of single people about that: 5 % of women are below 189 mm, 5 % of men above 294 mm (the same
work, as quoted in another public file), which is 32 mm in all; that stature explains little of it is our reasoning."""
KNEE_PER_STATURE: Final = 420.0 / 1675.0
"""Floor to the hollow of the knee, barefoot, over stature (Pheasant and Haslegrave, as quoted)."""
KNEE_SCATTER_MM: Final = 18.0
"""Standard deviation about that (from memory)."""
SHOE_MM: Final = Measured(25.0, 8.0)
"""Under the heel (Pheasant and Haslegrave, as quoted: 25 mm; scatter our reasoning)."""
LEG_MM: Final = Measured(125.0, 13.0)
"""Thickness of an adult's leg where it goes beneath the keys: between knee (100 mm) and thigh (155 mm), from memory."""
LEG_SHARE_UNDER: Final = Measured(0.3, 0.1)
"""Where that is, from the knee (0) to the hip (1): a player sits on the front of the seat with the knees beneath the
keys (our reasoning)."""
EYE_PER_STATURE: Final = 0.455
"""Seat to eye over stature (from memory)."""
EYE_SCATTER_MM: Final = 22.0
"""Standard deviation about that (from memory)."""
LOOK_DOWN_DEG: Final = (10.0, 35.0)
"""Comfortable look at a page, below level (from memory of advice on screens; no source for music desks was found)."""
PAGE_MIDDLE_MM: Final = 150.0
"""Middle of a page above its lower edge: half of 297 mm, ISO 216 A4."""


def elbow_from_stature_mm(stature_mm: Measured) -> Measured:
    """Return seat to elbow of a player of whom only the stature is known: low confidence, so measure.

    Parameters
    ----------
    stature_mm : Measured
        900 to 2300 mm.

    Raises
    ------
    InputError
        If the stature is not possible.

    Examples
    --------
    >>> elbow_from_stature_mm(Measured(1675.0, 5.0)).value
    240.0
    """
    return _from_stature(stature_mm, ELBOW_PER_STATURE, ELBOW_SCATTER_MM)


def knee_from_stature_mm(stature_mm: Measured) -> Measured:
    """Return floor to the hollow of the knee, barefoot, from the stature; as for `elbow_from_stature_mm`."""
    return _from_stature(stature_mm, KNEE_PER_STATURE, KNEE_SCATTER_MM)


def eye_from_stature_mm(stature_mm: Measured) -> Measured:
    """Return seat to eye from the stature; as for `elbow_from_stature_mm`."""
    return _from_stature(stature_mm, EYE_PER_STATURE, EYE_SCATTER_MM)


def _from_stature(stature_mm: Measured, share: float, scatter_mm: float) -> Measured:
    if not 900.0 <= stature_mm.value <= 2300.0:
        raise InputError.of("stature_mm", stature_mm.value, "900 to 2300 mm")
    return Measured(share * stature_mm.value, math.hypot(share * stature_mm.se, scatter_mm))


def seat_height_mm(
    *, key_top_mm: ArrayLike, elbow_above_seat_mm: ArrayLike, elbow_above_keys_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the height of the seat that brings the elbow to a height over the keys, ``key + rise - elbow``.

    Parameters
    ----------
    key_top_mm : array_like of float
        Top of a natural above the floor, above 0.
    elbow_above_seat_mm : array_like of float
        Of the player, arm hanging, above 0.
    elbow_above_keys_mm : array_like of float
        Wanted.

    Returns
    -------
    ndarray of float
        Seat above the floor with the player on it.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(seat_height_mm(key_top_mm=740.0, elbow_above_seat_mm=240.0, elbow_above_keys_mm=10.0))
    510.0
    """
    high = above_zero("key_top_mm", key_top_mm) + finite("elbow_above_keys_mm", elbow_above_keys_mm)
    return np.asarray(high - above_zero("elbow_above_seat_mm", elbow_above_seat_mm))


def leg_cut_mm(*, lower_by_mm: ArrayLike, splay_deg: ArrayLike) -> NDArray[np.float64]:
    """Return what comes off each leg, along the leg, to lower a seat: ``h/cos θ``.

    Parameters
    ----------
    lower_by_mm : array_like of float
        By how much the seat is to sink.
    splay_deg : array_like of float
        Angle of the legs from upright, 0 to 45.

    Returns
    -------
    ndarray of float
        Millimetres along the leg; minus where blocks are to be put under.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(leg_cut_mm(lower_by_mm=30.0, splay_deg=0.0))
    30.0
    """
    angle = finite("splay_deg", splay_deg)
    if not ((angle >= 0.0) & (angle <= 45.0)).all():
        raise InputError.of("splay_deg", splay_deg, "0 to 45 degrees from upright")
    return np.asarray(finite("lower_by_mm", lower_by_mm) / np.cos(np.radians(angle)))


def look_down_deg(*, eye_mm: ArrayLike, page_mm: ArrayLike, distance_mm: ArrayLike) -> NDArray[np.float64]:
    """Return how far below level the eyes look at the middle of a page, ``atan((eye - page)/distance)``.

    Parameters
    ----------
    eye_mm : array_like of float
        Eye above the floor.
    page_mm : array_like of float
        Middle of the page above the floor.
    distance_mm : array_like of float
        Level distance from eye to page, above 0.

    Returns
    -------
    ndarray of float
        Degrees; minus for a look upwards.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(look_down_deg(eye_mm=1270.0, page_mm=1070.0, distance_mm=200.0).round(6))
    45.0
    """
    down = finite("eye_mm", eye_mm) - finite("page_mm", page_mm)
    return np.asarray(np.degrees(np.arctan(down / above_zero("distance_mm", distance_mm))))


def leg_top_mm(*, seat_mm: ArrayLike, knee_mm: ArrayLike, share: ArrayLike, leg_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the height of the leg where it goes beneath the keys, ``knee + share·(seat - knee) + leg``.

    The underside of the thigh is a straight line from the hollow of the knee to the seat.

    Parameters
    ----------
    seat_mm : array_like of float
        Seat above the floor, above 0.
    knee_mm : array_like of float
        Hollow of the knee above the floor, in shoes or on a foot rest, above 0.
    share : array_like of float
        Place along the thigh, 0 at the knee and 1 at the hip.
    leg_mm : array_like of float
        Thickness of the leg there, above 0.

    Returns
    -------
    ndarray of float
        Millimetres above the floor.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(leg_top_mm(seat_mm=510.0, knee_mm=450.0, share=0.5, leg_mm=125.0))
    605.0
    """
    knee = above_zero("knee_mm", knee_mm)
    slope = finite("share", share) * (above_zero("seat_mm", seat_mm) - knee)
    return np.asarray(knee + slope + above_zero("leg_mm", leg_mm))
