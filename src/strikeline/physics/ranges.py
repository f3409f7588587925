"""Refuse numbers outside their physical range, with the sentence the error tree wants."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError


def above_zero(name: str, value: ArrayLike, *, advice: str = "") -> NDArray[np.float64]:
    """Return `value` as float array, or raise `InputError` unless all of it is finite and above 0."""
    array = np.asarray(value, dtype=np.float64)
    if not (np.isfinite(array) & (array > 0)).all():
        raise InputError.of(name, value, "finite and above 0", advice=advice)
    return array


def zero_or_more(name: str, value: ArrayLike, *, advice: str = "") -> NDArray[np.float64]:
    """Return `value` as float array, or raise `InputError` unless all of it is finite and 0 or more."""
    array = np.asarray(value, dtype=np.float64)
    if not (np.isfinite(array) & (array >= 0)).all():
        raise InputError.of(name, value, "finite and 0 or more", advice=advice)
    return array


def finite(name: str, value: ArrayLike, *, advice: str = "") -> NDArray[np.float64]:
    """Return `value` as float array, or raise `InputError` unless all of it is finite."""
    array = np.asarray(value, dtype=np.float64)
    if not np.isfinite(array).all():
        raise InputError.of(name, value, "finite", advice=advice)
    return array
