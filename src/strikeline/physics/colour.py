"""Colour: sRGB codes, linear light, CIE XYZ, CIELAB and the difference CIEDE2000.

Linear light is a share of the light a perfect white would send, so 1 is that white. XYZ has Y = 1 for it, and its white
is that of sRGB, D65.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.physics.ranges import finite

XYZ_FROM_LINEAR: Final = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Linear sRGB to XYZ (IEC 61966-2-1:1999, section 5.2, as shipped by colour-science)."""
WHITE_D65: Final = XYZ_FROM_LINEAR.sum(axis=1)
"""XYZ of sRGB's white: (0.9505, 1, 1.0890), so that equal red, green and blue are exactly neutral."""
WHITE_D50: Final = np.array([0.9642, 1.0, 0.8251])
"""XYZ of D50 for the 2° observer, for which card values are usually given (CIE 15; checked against colour-science)."""
_ENCODED_KNEE, _LINEAR_KNEE, _SLOPE, _OFFSET, _EXPONENT = 0.04045, 0.0031308, 12.92, 0.055, 2.4
_BRADFORD: Final = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone responses of the Bradford transform (Lam 1985, from memory; checked against colour-science)."""
_DELTA: Final = 6.0 / 29.0
"""Where CIELAB's cube root gives way to a straight line (CIE 15)."""


def linear_from_srgb(encoded: ArrayLike) -> NDArray[np.float64]:
    """Return linear light for sRGB values, 0 to 1 for black to white.

    Parameters
    ----------
    encoded : array_like of float, any shape
        Encoded values from 0 to 1: an 8-bit code divided by 255.

    Raises
    ------
    InputError
        If a value is not finite or leaves 0 to 1.

    References
    ----------
    .. [1] IEC 61966-2-1:1999, section 5.2 (constants as shipped by colour-science 0.4).

    Examples
    --------
    >>> linear_from_srgb([0.0, 0.5, 1.0]).round(4)
    array([0.   , 0.214, 1.   ])
    """
    value = finite("encoded", encoded)
    if (value < 0.0).any() or (value > 1.0).any():
        raise InputError.of("encoded", float(value.flat[np.argmax(np.abs(value - 0.5))]), "0 to 1")
    return np.where(value <= _ENCODED_KNEE, value / _SLOPE, ((value + _OFFSET) / (1.0 + _OFFSET)) ** _EXPONENT)


def srgb_from_linear(linear: ArrayLike) -> NDArray[np.float64]:
    """Return sRGB values from 0 to 1 for linear light; the inverse of `linear_from_srgb`, light outside is cut off."""
    value = np.clip(finite("linear", linear), 0.0, 1.0)
    curved = (1.0 + _OFFSET) * np.maximum(value, _LINEAR_KNEE) ** (1.0 / _EXPONENT) - _OFFSET
    return np.where(value <= _LINEAR_KNEE, value * _SLOPE, curved)


def lab_from_xyz(xyz: ArrayLike, *, white: ArrayLike = WHITE_D65) -> NDArray[np.float64]:
    """Return CIELAB coordinates of XYZ.

    Parameters
    ----------
    xyz : array_like of float, shape (..., 3)
        Y is 1 for the white. Values below 0, which noise can make, follow the straight part.
    white : array_like of float, shape (3,)
        XYZ of the white that the eye is adapted to.

    Returns
    -------
    ndarray of float, shape (..., 3)
        L* (0 black, 100 white), a* (+ red), b* (+ yellow).

    References
    ----------
    .. [1] CIE 15:2004, section 8.2.1 (constants as in colour-science 0.4).

    Examples
    --------
    >>> lab_from_xyz(0.184 * WHITE_D65).round(2) + 0.0
    array([49.98,  0.  ,  0.  ])
    """
    ratio = finite("xyz", xyz) / np.asarray(white, dtype=np.float64)
    f = np.where(ratio > _DELTA**3, np.cbrt(ratio), ratio / (3.0 * _DELTA**2) + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def xyz_from_lab(lab: ArrayLike, *, white: ArrayLike = WHITE_D65) -> NDArray[np.float64]:
    """Return XYZ of CIELAB coordinates, the inverse of `lab_from_xyz`.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        L*, a*, b*.
    white : array_like of float, shape (3,)
        XYZ of the white that the coordinates are given for.
    """
    value = finite("lab", lab)
    y = (value[..., 0] + 16.0) / 116.0
    f = np.stack([y + value[..., 1] / 500.0, y, y - value[..., 2] / 200.0], axis=-1)
    ratio = np.where(f > _DELTA, f**3, 3.0 * _DELTA**2 * (f - 4.0 / 29.0))
    return ratio * np.asarray(white, dtype=np.float64)


def adapted_xyz(xyz: ArrayLike, *, from_white: ArrayLike, to_white: ArrayLike) -> NDArray[np.float64]:
    """Return XYZ of the colour that looks the same under another white (Bradford transform).

    Parameters
    ----------
    xyz : array_like of float, shape (..., 3)
        Under the first white.
    from_white, to_white : array_like of float, shape (3,)
        The two whites in XYZ.
    """
    cones_from = _BRADFORD @ np.asarray(from_white, dtype=np.float64)
    cones_to = _BRADFORD @ np.asarray(to_white, dtype=np.float64)
    matrix = np.linalg.inv(_BRADFORD) @ np.diag(cones_to / cones_from) @ _BRADFORD
    return np.asarray(finite("xyz", xyz) @ matrix.T)


def difference_ciede2000(lab: ArrayLike, other: ArrayLike) -> NDArray[np.float64]:
    """Return colour differences CIEDE2000 with all three weights 1, as scikit-image computes them.

    Parameters
    ----------
    lab, other : array_like of float, shape (..., 3)
        CIELAB coordinates.

    References
    ----------
    .. [1] CIE 142:2001; G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes,
       supplementary test data, and mathematical observations", Color Res. Appl. 30, 21-30 (2005).

    Examples
    --------
    >>> round(float(difference_ciede2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485])), 4)
    2.0425
    """
    from skimage.color import deltaE_ciede2000  # noqa: PLC0415  # loaded where a colour is wanted, by nobody else

    difference = deltaE_ciede2000(finite("lab", lab), finite("other", other))  # type: ignore[no-untyped-call]
    return np.asarray(difference, dtype=np.float64)
