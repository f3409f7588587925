"""The middle of a few readings, with an error that holds however few they are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured


def scatter_for_few(values: ArrayLike) -> float:
    """Return the standard deviation of some values, widened so that 1.96 of it hold 95 of 100 for few values, too.

    Parameters
    ----------
    values : array_like of float
        Shape (n,); 0 is returned for one value, which cannot scatter.

    Notes
    -----
    Student's t for n - 1 degrees of freedom in place of 1.96.
    """
    figures = np.asarray(values, dtype=np.float64)
    n = len(figures)
    if n < 2:
        return 0.0
    return float(np.std(figures, ddof=1)) * float(stdtrit(n - 1, 0.975)) / HALF_WIDTHS_PER_SE


def median_of(values: Sequence[Measured]) -> Measured:
    """Return the median of readings, with the error of a median of values that scatter as these do.

    Parameters
    ----------
    values : sequence of Measured
        One or more; their own errors bound the scatter from below.

    Raises
    ------
    InputError
        If there is none.

    Notes
    -----
    The error of a median of n normal values is √(π/2) times that of their mean; of one or two it is their mean.

    Examples
    --------
    >>> median_of([Measured(46.0, 0.3), Measured(47.0, 0.3), Measured(46.2, 0.3)]).value
    46.2
    """
    if not values:
        raise InputError("there is no value to take the middle of", name="values")
    figures = np.array([one.value for one in values])
    own = float(np.sqrt(np.mean([one.se**2 for one in values])))
    factor = float(np.sqrt(np.pi / 2.0)) if len(values) > 2 else 1.0
    spread = max(own, scatter_for_few(figures))
    return Measured(float(np.median(figures)), factor * spread / float(np.sqrt(len(values))))
