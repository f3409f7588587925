"""The median of a few numbers, without the checks that take `numpy.median` ten times as long as the sorting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[np.float64]) -> float:
    """Return the median of `values`, shape (n,), finite, n at least 1.

    Examples
    --------
    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([4.0, 1.0, 2.0, 3.0]))
    (2.0, 2.5)
    """
    ordered = np.sort(values)
    half = ordered.size // 2
    return float(ordered[half]) if ordered.size % 2 else 0.5 * float(ordered[half - 1] + ordered[half])
