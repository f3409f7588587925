"""The shape of a worn hammer: what the string has cut away, what refacing takes, and what that moves.

A string that cuts into a round crown leaves a mark as long as its chord, so that the length of the mark tells its
depth. Refacing peels felt from shoulder to crown until the bottom of the mark is the new crown.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, zero_or_more


def cut_depth_mm(*, groove_length_mm: ArrayLike, crown_radius_mm: ArrayLike) -> NDArray[np.float64]:
    """Return how deep a straight string lies in a round crown, ``s = r - sqrt(r² - (l/2)²)``.

    Parameters
    ----------
    groove_length_mm : array_like of float
        Length of the mark from end to end (a chord), 0 or more, less than twice the radius.
    crown_radius_mm : array_like of float
        Radius of the crown beside the mark, above 0.

    Returns
    -------
    ndarray of float
        Depth at the middle of the mark: what refacing has to take off the crown beside it.

    Raises
    ------
    InputError
        If a value is not possible, or the mark is longer than the crown is wide.

    References
    ----------
    .. [1] Sagitta of a circle over a chord; elementary geometry.

    Examples
    --------
    >>> cut_depth_mm(groove_length_mm=[6.0, 12.0], crown_radius_mm=10.0).round(3)
    array([0.461, 2.   ])
    """
    half = zero_or_more("groove_length_mm", groove_length_mm) / 2.0
    radius = above_zero("crown_radius_mm", crown_radius_mm)
    if not (half < radius).all():
        advice = "a mark this long means that the crown is flat; measure the radius further round"
        raise InputError.of("groove_length_mm", groove_length_mm, "less than twice the crown radius", advice=advice)
    return np.asarray(radius - np.sqrt(radius**2 - half**2))


def groove_length_for_depth_mm(*, depth_mm: ArrayLike, crown_radius_mm: ArrayLike) -> NDArray[np.float64]:
    """Return how long the mark of a cut is, ``l = 2·sqrt(s·(2r - s))``; the inverse of `cut_depth_mm`.

    Parameters
    ----------
    depth_mm : array_like of float
        Depth of the cut, 0 or more, less than the radius.
    crown_radius_mm : array_like of float
        Radius of the crown, above 0.

    Returns
    -------
    ndarray of float
        Length of the mark.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(groove_length_for_depth_mm(depth_mm=2.0, crown_radius_mm=10.0))
    12.0
    """
    depth = zero_or_more("depth_mm", depth_mm)
    radius = above_zero("crown_radius_mm", crown_radius_mm)
    if not (depth < radius).all():
        raise InputError.of("depth_mm", depth_mm, "less than the crown radius")
    return np.asarray(2.0 * np.sqrt(depth * (2.0 * radius - depth)))


def felt_mass_g(
    *,
    depth_mm: ArrayLike,
    crown_radius_mm: ArrayLike,
    width_mm: ArrayLike,
    arc_deg: ArrayLike,
    density_g_per_cm3: ArrayLike,
) -> NDArray[np.float64]:
    """Return the mass of felt in the layer that refacing takes: a ring sector across the width of the hammer.

    Parameters
    ----------
    depth_mm : array_like of float
        Thickness of the layer, 0 or more, less than the radius.
    crown_radius_mm : array_like of float
        Radius before refacing, above 0.
    width_mm : array_like of float
        Width of the hammer along the keyboard, above 0.
    arc_deg : array_like of float
        Angle over which the layer is taken, from shoulder to shoulder; 180 for a half circle.
    density_g_per_cm3 : array_like of float
        Density of the felt, above 0.

    Returns
    -------
    ndarray of float
        Grams.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> layer = {"crown_radius_mm": 10.0, "width_mm": 11.0, "arc_deg": 180.0, "density_g_per_cm3": 0.7}
    >>> float(felt_mass_g(depth_mm=1.0, **layer).round(2))
    0.23
    """
    depth = zero_or_more("depth_mm", depth_mm)
    radius = above_zero("crown_radius_mm", crown_radius_mm)
    if not (depth < radius).all():
        raise InputError.of("depth_mm", depth_mm, "less than the crown radius")
    area_mm2 = np.deg2rad(above_zero("arc_deg", arc_deg)) / 2.0 * (radius**2 - (radius - depth) ** 2)
    volume_cm3 = area_mm2 * above_zero("width_mm", width_mm) * 1e-3
    return np.asarray(volume_cm3 * above_zero("density_g_per_cm3", density_g_per_cm3))


def strike_point_shift_mm(*, shortened_mm: float, hammer_length_mm: float, shank_length_mm: float) -> float:
    """Return how far the strike point moves along the string when a hammer has become shorter.

    The hammer stands square on its shank, and the shank is square to the string's distance when the hammer is new.
    With centre at the origin and the string at the height of the new hammer, the shorter one strikes at the angle φ for
    which ``S·sin φ + (H - x)·cos φ = H``, at ``S·cos φ - (H - x)·sin φ`` along the string.

    Parameters
    ----------
    shortened_mm : float
        What the hammer has lost, 0 or more, less than its length.
    hammer_length_mm : float
        New: middle of the shank to crown.
    shank_length_mm : float
        Centre pin to the middle of the hammer.

    Returns
    -------
    float
        Movement in millimetres, minus towards the centre pin. In an upright that is away from the bridge end for
        hammers that point up; look at the piano for which way it goes.

    Raises
    ------
    InputError
        If a length is not possible.

    Notes
    -----
    To first order ``-H·x/S``: 1.5 mm off a hammer of 50 mm on a shank of 130 mm moves the strike point by 0.58 mm.
    The geometry is elementary, its application our own.

    Examples
    --------
    >>> round(strike_point_shift_mm(shortened_mm=1.5, hammer_length_mm=50.0, shank_length_mm=130.0), 2)
    -0.57
    """
    length = float(above_zero("hammer_length_mm", hammer_length_mm))
    shank = float(above_zero("shank_length_mm", shank_length_mm))
    lost = float(zero_or_more("shortened_mm", shortened_mm))
    if not lost < length:
        raise InputError.of("shortened_mm", shortened_mm, "less than the length of the hammer")
    if lost == 0.0:
        return 0.0
    left = length - lost
    reach = float(np.hypot(shank, left))
    if reach <= length:
        raise InputError.of("shortened_mm", shortened_mm, "a hammer that still reaches the string")
    angle = brentq(lambda phi: shank * np.sin(phi) + left * np.cos(phi) - length, 0.0, float(np.arctan2(shank, left)))
    return float(shank * np.cos(angle) - left * np.sin(angle) - shank)
