"""One comparison for all numeric tests: both tolerances and a reason, shapes equal, NaN never equal."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def assert_close(actual: ArrayLike, expected: ArrayLike, *, rtol: float, atol: float, why: str) -> None:
    """Assert that two arrays agree within ``atol + rtol·|expected|``; `why` is the reason for the tolerance."""
    assert why, "say why this tolerance"
    actual_array, expected_array = np.asarray(actual, dtype=float), np.asarray(expected, dtype=float)
    assert actual_array.shape == expected_array.shape, f"shape {actual_array.shape} is not {expected_array.shape}"
    np.testing.assert_allclose(actual_array, expected_array, rtol=rtol, atol=atol, equal_nan=False, err_msg=why)
