"""How far the strings of a note lie apart, from what each of its partials says of it.

Partials disagree by more than their errors: no string is quite uniform, and each strays from its law in its own way
(random effects). How much is one unknown, the scatter τ, and few partials tell it badly; so no single value is taken.
Each τ on a grid counts by how well it explains the partials (restricted likelihood, which allows for the mean having
been fitted to them; H. D. Patterson & R. Thompson 1971, from memory), with a prior that is even in log τ, and the
standard error is that of the mixture: the half width that holds 95 of 100, over 1.96.

Strings of one note may also differ in B, by `_B_APART` of itself: an offset then moves with the square of the partial's
number, alike in all partials, and the errors are correlated accordingly (generalised least squares).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.special
from numpy.typing import NDArray

from strikeline.acoustics.unison_strings import PartialStrings
from strikeline.units import CENTS_PER_NEPER

Real = NDArray[np.float64]

_B_APART: Final = 0.02
"""Standard deviation of ln B between strings of one note: a wire 0.2 % thicker, a string 0.4 % longer on a slanting
bridge (B as 1/L⁴ at one pitch), both of which workshops know (common practice, no source)."""
_ALIKE_CENTS: Final = 0.01
"""What is left out (strings that do not lose alike, a bridge that tilts) moves an offset by about so much: the scatter
of generated notes that have it."""
_SCATTER_CENTS: Final = np.geomspace(0.003, 0.3, 16)
"""From what no real string is more uniform than, to where partials no longer speak of the same strings (invented)."""
_NORMAL_95: Final = 1.959964
_HALF_WIDTHS: Final = np.linspace(0.3, 3.5, 33)
"""Trial values of the half width, over 1.96 standard deviations of the mixture."""


@dataclass(frozen=True, slots=True, eq=False)
class MeanOffsets:
    """What the partials together say of the strings' offsets from their mean."""

    cents: Real
    """Shape (n_strings,), ascending."""
    se_cents: float
    """Of each string."""
    scatter_cents: float
    """Between partials, beyond their errors: the middle of what explains them."""


def mean_offsets(partials: Sequence[PartialStrings], *, inharmonicity_b: float) -> MeanOffsets:
    """Return the offsets that the partials agree on, with an error that allows for how little few partials tell.

    Parameters
    ----------
    partials : sequence of PartialStrings
        One or more, of one number of strings.
    inharmonicity_b : float
        Of the note: how much strings that differ in B part from each other as partials rise.
    """
    offset = np.array([one.offset_cents.real for one in partials])
    sd = np.array([one.offset_sd_cents for one in partials])
    bend = 0.5 * CENTS_PER_NEPER * _B_APART * inharmonicity_b * np.array([one.partial for one in partials]) ** 2.0
    variance = sd**2 + _SCATTER_CENTS[:, None] ** 2
    covariance = variance[:, :, None] * np.eye(sd.size) + np.outer(bend, bend)
    inverse = np.linalg.inv(covariance)
    information = inverse.sum(axis=(1, 2))
    mean = inverse.sum(axis=1) @ offset / information[:, None]
    left = offset - mean[:, None, :]
    squares = (left * (inverse @ left)).sum(axis=(1, 2))
    # Offsets add up to nothing: of n strings, n − 1 are free.
    log_size = np.linalg.slogdet(covariance)[1] + np.log(information)
    log_likelihood = -0.5 * ((offset.shape[1] - 1) * log_size + squares)
    weight = np.exp(log_likelihood - log_likelihood.max())
    weight /= weight.sum()
    # The outermost strings are what is asked for: their distance has twice the variance of one offset.
    apart = (mean[:, -1] - mean[:, 0]) / np.sqrt(2.0)
    sd_cents = _mixture_sd(weight, apart - weight @ apart, information**-0.5)
    return MeanOffsets(
        cents=weight @ mean,
        se_cents=float(np.hypot(sd_cents, _ALIKE_CENTS)),
        scatter_cents=float(np.exp(weight @ np.log(_SCATTER_CENTS))),
    )


def _mixture_sd(weight: Real, centre: Real, sd: Real) -> float:
    """Return the half width about 0 that holds 95 of 100 of a mixture of normal distributions, over 1.96."""
    half_width = _NORMAL_95 * _HALF_WIDTHS * float(np.sqrt(weight @ (sd**2 + centre**2)))
    upper = scipy.special.ndtr((half_width - centre[:, None]) / sd[:, None])
    lower = scipy.special.ndtr((-half_width - centre[:, None]) / sd[:, None])
    return float(np.interp(0.95, weight @ (upper - lower), half_width)) / _NORMAL_95
