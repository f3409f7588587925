"""A photograph as its codes, upright and in sRGB, however the file held it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photograph:
    """A picture that colours are read from."""

    name: str
    """What the user calls it: its file's name."""
    codes: NDArray[np.uint8] | NDArray[np.uint16]  # shape (height, width, 3)
    """Red, green and blue in sRGB."""
    notices: tuple[str, ...] = ()
    """What was done to the file's numbers, or what is known to be amiss with them, in sentences."""

    @property
    def height_ratio(self) -> float:
        """Height in widths."""
        return float(self.codes.shape[0] / self.codes.shape[1])
