"""The Hann window, kept once computed."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray


@lru_cache(maxsize=16)
def hann(n_samples: int) -> NDArray[np.float32]:
    """Return a Hann window without its two zero ends, shape (n_samples,), read-only.

    Examples
    --------
    >>> hann(3)
    array([0.5, 1. , 0.5], dtype=float32)
    """
    window = np.hanning(n_samples + 2)[1:-1].astype(np.float32)
    window.flags.writeable = False
    return window
