"""Tail probabilities that verdicts rest on, without the half second that scipy.stats takes to load."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, ndtri, stdtr


def student_tail(t: ArrayLike, dof: ArrayLike) -> NDArray[np.float64]:
    """Return the chance that Student's t with `dof` degrees of freedom lies above `t`.

    Examples
    --------
    >>> float(student_tail(2.0, 10).round(4))
    0.0367
    """
    return np.asarray(stdtr(_floats(dof), -_floats(t)), dtype=np.float64)


def chi2_tail(chi2: ArrayLike, dof: ArrayLike) -> NDArray[np.float64]:
    """Return the chance that chi-squared with `dof` degrees of freedom lies above `chi2`.

    Examples
    --------
    >>> float(chi2_tail(7.815, 3).round(3))
    0.05
    """
    return np.asarray(chdtrc(_floats(dof), _floats(chi2)), dtype=np.float64)


def normal_quantile_above(chance: ArrayLike) -> NDArray[np.float64]:
    """Return what a standard normal value exceeds with a chance.

    Examples
    --------
    >>> float(normal_quantile_above(0.025).round(2))
    1.96
    """
    return np.asarray(-ndtri(_floats(chance)), dtype=np.float64)


def ranks(values: ArrayLike) -> NDArray[np.int64]:
    """Return the rank of each value, 0 for the smallest; values that are equal rank in their order.

    Examples
    --------
    >>> ranks([3.0, 1.0, 2.0])
    array([2, 0, 1])
    """
    return np.asarray(np.argsort(np.argsort(np.asarray(values), kind="stable"), kind="stable"))


def _floats(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
