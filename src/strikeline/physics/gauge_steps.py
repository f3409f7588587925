"""Which diameter a note has between two whose diameters are known: wire changes by gauge steps, not smoothly."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.special import bdtr

from strikeline.measured import Measured

HALF_NUMBER_MM: Final = 0.0254
"""One step of music wire: half a number, 0.001 in by the rule 2N + 5 (metric wire: 0.025 mm)."""


def diameter_between(key: int, *, below: tuple[int, Measured], above: tuple[int, Measured]) -> tuple[Measured, int]:
    """Return the likeliest diameter of a note between two measured ones, and how many gauge steps lie between them.

    Between notes of one gauge lies the same gauge. Else the steps of half a number may lie at any place between,
    independently: j of s steps are passed with the binomial probability at the share of the way, the likeliest j is
    stated, and the standard error holds the others.

    Parameters
    ----------
    key : int
        Between the two keys.
    below, above : tuple of int and Measured
        Key and diameter in mm of the next measured note on either side.

    Returns
    -------
    tuple of Measured and int
        Diameter in mm, and the steps between the two notes: 0 for one gauge.

    References
    ----------
    .. [1] Our reasoning: nothing is known of where the steps lie but that they lie between.

    Examples
    --------
    >>> read = Measured(1.0, 0.005), Measured(0.975, 0.005)
    >>> diameter, n_steps = diameter_between(42, below=(40, read[0]), above=(48, read[1]))
    >>> diameter.value, round(diameter.se, 3), n_steps
    (1.0, 0.013, 1)
    """
    (low_key, low), (high_key, high) = below, above
    change = high.value - low.value
    n_steps = round(abs(change) / HALF_NUMBER_MM)
    reading = max(low.se, high.se)
    if n_steps == 0:
        return Measured((low.value + high.value) / 2.0, reading), 0
    passed = np.arange(n_steps + 1)
    chance = np.diff(bdtr(passed, n_steps, (key - low_key) / (high_key - low_key)), prepend=0.0)
    likeliest = int(np.argmax(chance))
    spread = float(chance @ ((passed - likeliest) * change / n_steps) ** 2)
    return Measured(low.value + change * likeliest / n_steps, math.hypot(reading, math.sqrt(spread))), n_steps
