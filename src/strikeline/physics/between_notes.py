"""A quantity measured on some notes, told for the notes between them, with the error that the guess deserves.

The quantity is taken to wander from note to note (a random walk); how much it wanders is learnt from the measured
notes themselves. Half-way between two measured notes the guess is least sure, beyond the last one there is none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured

FEWEST_NOTES: Final = 4
"""Measured notes from which the wandering can be learnt at all."""
_STEPS: Final = 41


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BetweenNotes:
    """One quantity on every key of a stretch, measured or not."""

    keys: NDArray[np.int64]  # shape (k,)
    """From the lowest to the highest measured key."""
    value: NDArray[np.float64]  # shape (k,)
    covariance: NDArray[np.float64]  # shape (k, k)
    """Errors of neighbours hang together, which a sum over many notes has to know."""

    def at(self, key: int) -> Measured:
        """Return the value of one key.

        Raises
        ------
        InputError
            If the key lies outside the stretch.
        """
        place = key - int(self.keys[0])
        if not 0 <= place < len(self.keys):
            raise InputError.of("key", key, f"{self.keys[0]} to {self.keys[-1]}, between measured notes")
        return Measured(float(self.value[place]), float(np.sqrt(self.covariance[place, place])))


def between_notes(measured: Mapping[int, Measured]) -> BetweenNotes:
    """Return a measured quantity for every key from the lowest to the highest measured one.

    With x the quantity, ``x(k+1) - x(k)`` is normal with standard deviation q; the best guess is then the straight line
    between measured notes, smoothed where their errors are larger than what they differ by. q is not known: all q are
    tried, each weighed by how well it explains the measured notes (restricted likelihood, even prior in q), so that
    the error holds that ignorance, too.

    Parameters
    ----------
    measured : mapping of int to Measured
        By key number; at least `FEWEST_NOTES`.

    Returns
    -------
    BetweenNotes

    Raises
    ------
    InputError
        If there are too few notes.

    References
    ----------
    .. [1] C. E. Rasmussen and C. K. I. Williams, "Gaussian Processes for Machine Learning", MIT Press (2006), section
       2.7 for the unknown mean (from memory); the even prior on q after A. Gelman, "Prior distributions for variance
       parameters in hierarchical models", Bayesian Analysis 1, 515-534 (2006) (from memory).
    """
    if len(measured) < FEWEST_NOTES:
        raise InputError.of("measured", len(measured), f"{FEWEST_NOTES} notes or more")
    at = np.array(sorted(measured))
    y = np.array([measured[key].value for key in at.tolist()])
    noise = np.diag([measured[key].se ** 2 for key in at.tolist()])
    keys = np.arange(at[0], at[-1] + 1)
    guesses = [_guess(at, y, noise, keys, q) for q in _wanders(at, y, noise)]
    weight = np.exp(np.array([one[0] for one in guesses]) - max(one[0] for one in guesses))
    weight /= weight.sum()
    value = np.sum([w * one[1] for w, one in zip(weight, guesses, strict=True)], axis=0)
    covariance = np.sum(
        [w * (one[2] + np.outer(one[1] - value, one[1] - value)) for w, one in zip(weight, guesses, strict=True)],
        axis=0,
    )
    return BetweenNotes(keys=keys, value=value, covariance=np.asarray(covariance))


def _wanders(at: NDArray[np.int64], y: NDArray[np.float64], noise: NDArray[np.float64]) -> Sequence[float]:
    """Return the wanders to try, evenly spaced so that each stands for the same stretch of q.

    They reach well beyond what the readings show and what their errors could hide; where readings without error agree
    to the last digit, nothing was shown, and a tenth of the quantity itself is tried.
    """
    steps, apart = np.diff(y), np.diff(at)
    hidden = np.diag(noise)[1:] + np.diag(noise)[:-1]
    shown = float(np.sqrt(np.mean((steps**2 + hidden) / apart))) or 0.1 * float(np.abs(y).max()) or 1.0
    return [float(q) for q in np.linspace(0.0, 4.0 * shown, _STEPS)[1:]]


def _guess(
    at: NDArray[np.int64], y: NDArray[np.float64], noise: NDArray[np.float64], keys: NDArray[np.int64], q: float
) -> tuple[float, NDArray[np.float64], NDArray[np.float64]]:
    """Return restricted log-likelihood, guess and covariance of one wander q."""
    start = at[0]

    def walk(a: NDArray[np.int64], b: NDArray[np.int64]) -> NDArray[np.float64]:
        return np.asarray(q**2 * np.minimum.outer(a - start, b - start), dtype=np.float64)

    total = walk(at, at) + noise + 1e-12 * q**2 * np.eye(len(at))
    inverse = np.linalg.inv(total)
    ones = np.ones(len(at))
    precision = float(ones @ inverse @ ones)
    level = float(ones @ inverse @ y) / precision
    rest = y - level
    likelihood = -0.5 * (np.linalg.slogdet(total)[1] + np.log(precision) + float(rest @ inverse @ rest))
    across = walk(keys, at)
    value = level + across @ inverse @ rest
    unsure = 1.0 - across @ inverse @ ones
    covariance = walk(keys, keys) - across @ inverse @ across.T + np.outer(unsure, unsure) / precision
    return float(likelihood), value, covariance
