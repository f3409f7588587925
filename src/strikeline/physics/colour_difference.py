"""How far two colours of photographs lie apart, with its error, and what that means to an eye."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.colour import difference_ciede2000
from strikeline.physics.colour_seen import SeenColours

PERCEPTIBLE_DE00: Final = 0.8
"""Half of 175 observers saw it on ceramics (Paravina et al., "Color difference thresholds in dentistry", abstract)."""
ACCEPTABLE_DE00: Final = 1.8
"""Half of the same observers found it acceptable."""
WOOD_CLASSES: Final = (
    (0.2, "invisible"),
    (2.0, "very small"),
    (3.0, "small"),
    (6.0, "medium"),
    (12.0, "large"),
    (np.inf, "another colour"),
)
"""Upper ends and names of classes of differences on wood (woodj.org 50-4-283, table 2); CIELAB 1976 in our reading."""
_CHI2_95_OF_3: Final = 7.815
"""Chi-square that three coordinates pass in 5 of 100 cases where nothing differs."""
_STEP: Final = 1e-3


class Seen(StrEnum):
    """Whether an eye tells two colours apart."""

    NOT_SEEN = "below what half of observers see"
    SEEN = "seen, and acceptable to half of observers"
    NOT_ACCEPTED = "above what half of observers accept"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourDifference:
    """Two patches against each other."""

    one: str
    other: str
    de00: Measured | None
    """CIEDE2000; ``None`` where the two cannot be told apart for sure."""
    at_most_de00: float
    """It is below that in 95 cases of 100."""
    lightness: Measured
    """Other less one, in L*: above 0 where the other is lighter."""
    redness: Measured
    """Other less one, in a*."""
    yellowness: Measured
    """Other less one, in b*."""
    de76: Measured | None
    """CIELAB 1976, only because the classes for wood are given in it."""
    seen: Seen
    wood_class: str
    """Class of a study on wood, or ``cannot tell``."""


def colour_difference(colours: SeenColours, one: str, other: str) -> ColourDifference:
    """Return how far two patches lie apart.

    Parameters
    ----------
    colours : SeenColours
        Of one photograph, or of two joined.
    one, other : str
        Names of the patches.

    Returns
    -------
    ColourDifference
        Noise alone makes differences greater, never smaller: what it adds on average is taken away again, and no
        figure is given unless all three coordinates together differ more than in 5 of 100 cases by chance, and the
        difference itself is surely above 0.

    Raises
    ------
    InputError
        If there is no patch of a name.
    """
    for name in (one, other):
        if name not in colours.names:
            raise InputError.of("patch", name, f"one of {', '.join(colours.names)}")
    i, j = colours.names.index(one), colours.names.index(other)
    apart = colours.lab[j] - colours.lab[i]
    cov = colours.covariance
    covariance = cov[i, :, i] + cov[j, :, j] - cov[i, :, j] - cov[j, :, i]
    errors = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    middle = (colours.lab[i] + colours.lab[j]) / 2.0
    noise = colours.noise[i] + colours.noise[j]
    seen00 = float(difference_ciede2000(colours.lab[i], colours.lab[j]))
    de00, top = _length(apart, covariance, noise, _metric(middle), seen00)
    de76, top76 = _length(apart, covariance, noise, np.eye(3), float(np.linalg.norm(apart)))
    is_apart = bool(apart @ np.linalg.solve(covariance + 1e-12 * np.eye(3), apart) > _CHI2_95_OF_3)
    is_told = is_apart and de00.value > HALF_WIDTHS_PER_SE * de00.se
    low00 = de00.value - HALF_WIDTHS_PER_SE * de00.se if is_told else 0.0
    low76 = max(0.0, de76.value - HALF_WIDTHS_PER_SE * de76.se) if is_told else 0.0
    return ColourDifference(
        one=one,
        other=other,
        de00=de00 if is_told else None,
        at_most_de00=top,
        lightness=Measured(float(apart[0]), float(errors[0])),
        redness=Measured(float(apart[1]), float(errors[1])),
        yellowness=Measured(float(apart[2]), float(errors[2])),
        de76=de76 if is_told else None,
        seen=_seen(low00, top),
        wood_class=_wood_class(low76, top76),
    )


def _metric(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the matrix G with ΔE00² ≈ dᵀ·G·d for a small difference d about a colour."""

    def squared(step: NDArray[np.float64]) -> float:
        return float(difference_ciede2000(lab - step / 2.0, lab + step / 2.0)) ** 2 / _STEP**2

    metric = np.zeros((3, 3))
    steps = _STEP * np.eye(3)
    for k in range(3):
        metric[k, k] = squared(steps[k])
    for k, m in ((0, 1), (0, 2), (1, 2)):
        metric[k, m] = metric[m, k] = (squared(steps[k] + steps[m]) - squared(steps[k] - steps[m])) / 4.0
    return metric


def _length(
    apart: NDArray[np.float64],
    covariance: NDArray[np.float64],
    noise: NDArray[np.float64],
    metric: NDArray[np.float64],
    seen: float,
) -> tuple[Measured, float]:
    """Return a distance freed of what noise adds to it, and what it stays below in 95 cases of 100.

    Along the difference, noise moves the distance both ways; across it, noise only lengthens: E[d²] = d² + tr(G·C).
    Only the noise of the patches is taken away: what a camera does wrong may just as well shorten.
    """
    length = float(np.sqrt(max(float(apart @ metric @ apart), 0.0)))
    values, vectors = np.linalg.eigh(metric)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    errors, noise = root @ covariance @ root, root @ noise @ root
    widest = float(np.sqrt(max(float(np.linalg.norm(errors, 2)), 0.0)))
    if length <= 0.0:
        return Measured(0.0, widest), HALF_WIDTHS_PER_SE * widest
    direction = root @ apart / length
    # The distance over larger differences is not quite the metric at their middle: errors scale along.
    along = float(np.sqrt(max(0.0, float(direction @ errors @ direction)))) * seen / length
    across = max(0.0, float(np.trace(noise) - direction @ noise @ direction))
    freed = float(np.sqrt(max(0.0, seen**2 - across)))
    return Measured(freed, along), seen + 1.645 * (along if seen > 2.0 * widest else widest)


def _seen(low: float, high: float) -> Seen:
    if high < PERCEPTIBLE_DE00:
        return Seen.NOT_SEEN
    if low > ACCEPTABLE_DE00:
        return Seen.NOT_ACCEPTED
    return Seen.SEEN if low > PERCEPTIBLE_DE00 and high < ACCEPTABLE_DE00 else Seen.CANNOT_TELL


def _wood_class(low: float, high: float) -> str:
    """Return the class in which both ends lie."""
    names = [next(name for end, name in WOOD_CLASSES if value < end) for value in (max(0.0, low), high)]
    return names[0] if names[0] == names[1] else "cannot tell"


def passes(difference: ColourDifference, most_de00: float) -> bool | None:
    """Return whether a difference stays within a limit for sure; ``None`` where it cannot be told.

    Parameters
    ----------
    difference : ColourDifference
        Two patches.
    most_de00 : float
        Largest CIEDE2000 wanted.
    """
    if difference.at_most_de00 <= most_de00:
        return True
    low = 0.0 if difference.de00 is None else difference.de00.value - HALF_WIDTHS_PER_SE * difference.de00.se
    return False if low > most_de00 else None
