"""When a damper leaves its strings: what a shift of its start is in hammer and key travel, and how even a set is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.ranges import above_zero, finite

HALF_BLOW_SHARE: Final = (1.0 / 2.0, 2.0 / 3.0)
"""What the half-blow pedal leaves of the blow (from memory)."""


def later_hammer_mm(*, start_pct: ArrayLike, wanted_pct: ArrayLike, blow_mm: ArrayLike) -> NDArray[np.float64]:
    """Return by how much hammer travel a damper is to start later, ``(wanted - start)·blow/100``.

    Parameters
    ----------
    start_pct, wanted_pct : array_like of float
        Share of the blow that the hammer has travelled when the damper begins to move: read and wanted, 0 to 100.
    blow_mm : array_like of float
        Blow distance, above 0.

    Returns
    -------
    ndarray of float
        Millimetres of hammer travel; minus for earlier.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(later_hammer_mm(start_pct=30.0, wanted_pct=50.0, blow_mm=45.0))
    9.0
    """
    shares = [finite(name, value) for name, value in (("start_pct", start_pct), ("wanted_pct", wanted_pct))]
    for name, share in zip(("start_pct", "wanted_pct"), shares, strict=True):
        if not ((share >= 0.0) & (share <= 100.0)).all():
            raise InputError.of(name, share.tolist(), "0 to 100 % of the blow")
    return np.asarray((shares[1] - shares[0]) * above_zero("blow_mm", blow_mm) / 100.0)


def key_travel_mm(*, hammer_mm: ArrayLike, ratio: ArrayLike) -> NDArray[np.float64]:
    """Return the key travel that goes with a hammer travel, ``hammer/R``.

    Parameters
    ----------
    hammer_mm : array_like of float
        Hammer travel, of either sign.
    ratio : array_like of float
        Hammer travel over key travel, above 0.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(key_travel_mm(hammer_mm=9.0, ratio=5.0))
    1.8
    """
    return np.asarray(finite("hammer_mm", hammer_mm) / above_zero("ratio", ratio))


def own_scatter(values: Sequence[Measured], *, about: Sequence[float], n_fitted: int) -> Measured | None:
    """Return how much things themselves scatter about a run, the scatter of reading them taken away.

    Parameters
    ----------
    values : sequence of Measured
        Readings with the error of reading.
    about : sequence of float
        The run at each.
    n_fitted : int
        Coefficients of the run that were found from these readings.

    Returns
    -------
    Measured or None
        Standard deviation of the things and its standard error; ``None`` with fewer than five readings more than
        coefficients.

    Notes
    -----
    ``σ² = Σ(y - run)²/m - mean(se²)``, at least 0, with m the readings less the coefficients; the error follows from
    that of a sum of m squares of normal deviates, ``2·(σ² + se²)²/m`` (our derivation), widened by Student's t for few
    readings; how often the truth lies within is tested.

    Examples
    --------
    >>> read = [Measured(value, 0.1) for value in (1.0, -1.0, 1.0, -1.0, 1.0, -1.0)]
    >>> round(own_scatter(read, about=6 * [0.0], n_fitted=0).value, 3)
    0.995
    """
    n, m = len(values), len(values) - n_fitted
    if m < 5:
        return None
    whole = sum((one.value - run) ** 2 for one, run in zip(values, about, strict=True)) / m
    reading = sum(one.se**2 for one in values) / n
    square = max(0.0, whole - reading)
    square_se = math.sqrt(2.0 * max(whole, reading) ** 2 / m)
    scatter = math.sqrt(square)
    few = float(stdtrit(m, 0.975)) / HALF_WIDTHS_PER_SE
    return Measured(scatter, few * square_se / max(2.0 * scatter, math.sqrt(square_se)))
