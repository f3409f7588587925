"""Which diameters notes have between two whose diameters are known: wire changes by gauge steps, not smoothly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtr

HALF_NUMBER_MM: Final = 0.0254
"""One step of music wire: half a number, 0.001 in by the rule 2N + 5 (metric wire: 0.025 mm)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SteppedDiameters:
    """The likeliest diameters of the notes between two measured ones."""

    diameter_mm: NDArray[np.float64]  # shape (m,)
    upper_share: NDArray[np.float64]  # shape (m,): how far each follows the upper of the two readings, 0 to 1
    moves_mm: NDArray[
        np.float64
    ]  # shape (m, m): moves @ moves.T is the mean square by which the steps may lie elsewhere
    n_steps: int
    """Steps of half a number between the two: 0 for one gauge."""


def diameters_between(keys: Sequence[int], *, below: tuple[int, float], above: tuple[int, float]) -> SteppedDiameters:
    """Return the likeliest diameters of notes between two measured ones, and how they may err together.

    Between notes of one gauge lies the same gauge, read twice. Else each step of half a number may lie at any place
    between, independently of the others: at the share p of the way, j of s steps are passed with binomial probability,
    and the likeliest j is stated. Notes of one gap err together: with the shares p < p' the numbers passed have the
    covariance ``s·p·(1 - p')``.

    Parameters
    ----------
    keys : sequence of int, length m
        Between the two keys, ascending.
    below, above : tuple of int and float
        Key and diameter in mm of the next measured note on either side.

    Returns
    -------
    SteppedDiameters
        Without the errors of the two readings.

    References
    ----------
    .. [1] Our reasoning: nothing is known of where the steps lie but that they lie between.

    Examples
    --------
    >>> between = diameters_between([41, 42, 47], below=(40, 1.0), above=(48, 0.975))
    >>> between.diameter_mm, between.n_steps
    (array([1.   , 1.   , 0.975]), 1)
    """
    (low_key, low_mm), (high_key, high_mm) = below, above
    change = high_mm - low_mm
    n = round(abs(change) / HALF_NUMBER_MM)
    if n == 0:
        half = np.full(len(keys), 0.5)
        return SteppedDiameters(
            diameter_mm=np.full(len(keys), (low_mm + high_mm) / 2.0),
            upper_share=half,
            moves_mm=np.zeros((len(keys), len(keys))),
            n_steps=0,
        )
    share = (np.asarray(keys, dtype=np.float64) - low_key) / (high_key - low_key)
    passed = np.arange(n + 1)
    chance = np.diff(bdtr(passed[None, :], n, share[:, None]), prepend=0.0, axis=1)
    likeliest = np.argmax(chance, axis=1)
    off = n * share - likeliest
    apart = n * np.minimum(share[:, None], share) * (1.0 - np.maximum(share[:, None], share))
    size, direction = np.linalg.eigh(apart + np.outer(off, off))
    return SteppedDiameters(
        diameter_mm=low_mm + change * likeliest / n,
        upper_share=likeliest / n,
        moves_mm=abs(change) / n * direction * np.sqrt(np.maximum(size, 0.0)),
        n_steps=n,
    )
