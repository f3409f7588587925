"""Wrest pins (tuning pins): what grip each has, what that is called, and how the whole field stands.

A torque wrench turns the pin until it just creeps. Turned sharp, it overcomes the grip of the plank and the string;
turned flat, the string helps. So one direction alone reads grip plus or minus the string's own moment, about 2 to 4
N·m, and only readings of one direction, taken with one tool, compare with each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, gammaln

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.ranges import above_zero
from strikeline.units import UNITS

_IN_LB: Final = UNITS["in-lb"].factor
IF_IT_STAYS: Final = "The other view, as old as the torque wrench: if it stays in tune, it is tight enough."
"""Technicians' mailing-list archive, 2000-12, quoted there; to be shown beside every class."""


class StringSide(StrEnum):
    """Which string of a note a pin holds, seen from the keys."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


class Direction(StrEnum):
    """Which way the pin was turned when the torque was read."""

    SHARP = "sharp"
    """Clockwise, tightening the string: grip plus the string's moment."""
    FLAT = "flat"
    """Anticlockwise: grip minus the string's moment."""
    BOTH = "both"
    """Half the sum of both: the grip itself, whatever the tension."""


class GripClass(StrEnum):
    """What a torque is called. The limits are common words of the trade, not a standard."""

    FAILING = "failing"
    MARGINAL = "marginal"
    SERVICEABLE = "serviceable"
    FIRM = "firm"
    TOO_TIGHT = "too tight to set finely"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassLimit:
    """Where a class of grip ends."""

    grip: GripClass
    below_in_lb: float
    """Upper end in inch-pounds, as the trade has it; infinity for the last."""
    source: str

    @property
    def below_nm(self) -> float:
        """Upper end in newton metres, a hair less, so that a pin read as 50 in-lb is not below 50 in-lb by rounding."""
        return self.below_in_lb * _IN_LB * (1.0 - 1e-9)


CLASS_LIMITS: Final = (
    ClassLimit(grip=GripClass.FAILING, below_in_lb=30.0, source="a supplier's film on pins that slip"),
    ClassLimit(
        grip=GripClass.MARGINAL,
        below_in_lb=50.0,
        source="technicians' mailing-list archive, 2000-12: tell the owner; under 40 % of a new pin's 120",
    ),
    ClassLimit(
        grip=GripClass.SERVICEABLE, below_in_lb=80.0, source="the same supplier: 50 to 70 still decent; rounded to 80"
    ),
    ClassLimit(
        grip=GripClass.FIRM,
        below_in_lb=150.0,
        source="the same supplier: 80 to 120 when new, up to 140 or 150 still good",
    ),
    ClassLimit(
        grip=GripClass.TOO_TIGHT, below_in_lb=np.inf, source="from memory, and an owner's notes: more is too tight"
    ),
)
"""From the weakest to the tightest. A maker's own figure for the piano at hand overrides them."""
WEAK_BELOW_NM: Final = CLASS_LIMITS[1].below_nm
"""Pins under this are looked at together: failing and marginal."""


def grip_class(torque_nm: float) -> GripClass:
    """Return what a torque is called.

    Examples
    --------
    >>> [grip_class(in_lb * 0.112985).value for in_lb in (25, 40, 60, 100, 200)]
    ['failing', 'marginal', 'serviceable', 'firm', 'too tight to set finely']
    """
    return next(limit.grip for limit in CLASS_LIMITS if torque_nm < limit.below_nm)


def string_moment_nm(
    *, tension_n: ArrayLike, pin_diameter_mm: ArrayLike, wire_diameter_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the moment with which a string turns its pin, ``M = T·(D + d)/2``.

    Parameters
    ----------
    tension_n, pin_diameter_mm, wire_diameter_mm : array_like of float
        All above 0; tension as it arrives at the pin, which friction at the bearing points makes a little less or more
        than that of the speaking length.

    Returns
    -------
    ndarray of float
        Newton metres.

    Raises
    ------
    InputError
        If a value is not above 0.

    Examples
    --------
    >>> float(string_moment_nm(tension_n=700.0, pin_diameter_mm=7.0, wire_diameter_mm=1.0).round(2))
    2.8
    """
    arm_mm = 0.5 * (above_zero("pin_diameter_mm", pin_diameter_mm) + above_zero("wire_diameter_mm", wire_diameter_mm))
    return np.asarray(above_zero("tension_n", tension_n) * arm_mm * 1e-3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """One wrest pin as it was read."""

    key: int
    string: StringSide
    torque_nm: Measured
    """In the direction of the survey; of one turned flat, the grip that `grip_of_flat` tells."""
    row: int | None = None
    """Row of the pin in the field, 1 next to the player or as the workshop counts; ``None`` where it was not noted."""
    is_at_frame: bool | None = None
    """Whether the pin stands in the row along the flange of the frame; ``None`` where it was not noted."""
    diameter_mm: Measured | None = None

    @property
    def place(self) -> tuple[int, StringSide]:
        """What tells it from every other pin."""
        return self.key, self.string


def grip_of_both(sharp_nm: Measured, flat_nm: Measured) -> Measured:
    """Return the grip from a reading turned sharp and one turned flat, half their sum.

    Half their difference is the string's moment; see `string_moment_nm`.

    Parameters
    ----------
    sharp_nm : Measured
        Torque at which the pin creeps clockwise.
    flat_nm : Measured
        Torque at which it creeps anticlockwise, above 0 though it turns the other way.
    """
    return carry(lambda sharp, flat: 0.5 * (sharp + flat), sharp=sharp_nm, flat=flat_nm)


FLAT_ADDS_NM: Final = Measured(3.0, 1.0 / HALF_WIDTHS_PER_SE)
"""Moment of a string on its pin, from `string_moment_nm`: 2 N·m for a thin high string on a thin pin, 4 for a bass
string on a thick one (our reasoning from tensions of 600 to 1000 N and 7 mm pins)."""


def grip_of_flat(flat_nm: Measured) -> Measured:
    """Return the grip from a reading turned flat alone: the reading and the moment of a string, 3 ± 1 N·m.

    The classes of grip are not those of what a wrench shows when the string helps it, so the string's part is put
    back, with the error of not knowing it for the pin at hand.

    Examples
    --------
    >>> grip_of_flat(Measured(4.0, 0.0)).value
    7.0
    """
    return carry(lambda flat, moment: flat + moment, flat=flat_nm, moment=FLAT_ADDS_NM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Share of the pins below a limit, with the range that holds the truth in 95 cases of 100."""

    below_nm: float
    n_below: int
    n_on_limit: int
    """Pins whose reading error reaches across the limit, so that they may belong to the other side."""
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """How a field of pins stands as a whole."""

    n: int
    n_in_piano: int | None
    """Pins the piano has, where it was told; the shares then know how many were left out."""
    median_nm: Measured | None
    """``None`` below six pins, of which no median has an error in 95 of 100."""
    lowest_nm: float
    highest_nm: float
    quartiles_nm: tuple[float, float]
    classes: Mapping[GripClass, int]
    shares: tuple[Share, ...]
    """Below 30 and below 50 in-lb, in newton metres."""


def describe_field(pins: Sequence[Pin], *, n_in_piano: int | None = None) -> Field:
    """Return how the pins of a survey stand.

    Parameters
    ----------
    pins : sequence of Pin
        At least one.
    n_in_piano : int, optional
        All pins of the piano; ``None`` takes the survey for a sample of very many.

    Returns
    -------
    Field

    Raises
    ------
    InputError
        If there is no pin, or fewer in the piano than in the survey.
    """
    if not pins:
        raise InputError.of("pins", 0, "one pin or more")
    if n_in_piano is not None and n_in_piano < len(pins):
        raise InputError.of("pins in the piano", n_in_piano, f"{len(pins)} or more, the pins that were read")
    torque = np.array([pin.torque_nm.value for pin in pins])
    low, high = np.percentile(torque, [25.0, 75.0])
    return Field(
        n=len(pins),
        n_in_piano=n_in_piano,
        median_nm=_median(torque, float(np.median([pin.torque_nm.se for pin in pins]))),
        lowest_nm=float(torque.min()),
        highest_nm=float(torque.max()),
        quartiles_nm=(float(low), float(high)),
        classes={limit.grip: sum(grip_class(t) is limit.grip for t in torque.tolist()) for limit in CLASS_LIMITS},
        shares=tuple(_share_below(pins, limit.below_nm, n_in_piano=n_in_piano) for limit in CLASS_LIMITS[:2]),
    )


def _median(torque: NDArray[np.float64], reading_se: float) -> Measured | None:
    """Return the median with an error from the order of the readings, which asks for no shape of distribution.

    The ranks between which the median of the field lies in 95 cases of 100 are those of the binomial with 1/2; the
    normal approximation of their distance, 1.96·√n/2, is within one rank of it from six pins on. The error of one
    reading is added: a wrench read in steps of 5 in-lb makes many pins alike.
    """
    n = len(torque)
    if n < _FEWEST_FOR_MEDIAN:
        return None
    half = int(np.ceil(0.98 * np.sqrt(n)))
    ordered = np.sort(torque)
    low, high = ordered[max(0, n // 2 - half)], ordered[min(n - 1, (n - 1) // 2 + half)]
    by_order = float(high - low) / (2.0 * HALF_WIDTHS_PER_SE)
    return Measured(float(np.median(torque)), float(np.hypot(by_order, reading_se)))


_FEWEST_FOR_MEDIAN: Final = 6


def _share_below(pins: Sequence[Pin], below_nm: float, *, n_in_piano: int | None) -> Share:
    n_below = sum(pin.torque_nm.value < below_nm for pin in pins)
    on_limit = sum(not pin.torque_nm.differs_from(below_nm) for pin in pins if pin.torque_nm.se > 0)
    low, high = share_interval(n_below, len(pins), n_in_all=n_in_piano)
    return Share(below_nm=below_nm, n_below=n_below, n_on_limit=on_limit, share=n_below / len(pins), low=low, high=high)


def share_interval(n_below: int, n: int, *, n_in_all: int | None = None) -> tuple[float, float]:
    """Return the exact range of a share, which holds the truth in at least 95 cases of 100.

    Clopper and Pearson's range for a sample of very many; where all are known to be `n_in_all`, the same inversion of
    the hypergeometric distribution, which shrinks to the share itself when every pin was read.

    Parameters
    ----------
    n_below : int
        How many of the sample are below the limit.
    n : int
        Size of the sample, 1 or more.
    n_in_all : int, optional
        Size of the whole.

    Returns
    -------
    tuple of float
        Lower and upper end, 0 to 1.

    Raises
    ------
    InputError
        If the counts do not fit each other.

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson, Biometrika 26, 404-413 (1934) (from memory); checked against its defining
       tail sums in the tests.

    Examples
    --------
    >>> [round(end, 3) for end in share_interval(3, 20)], share_interval(3, 20, n_in_all=20)
    ([0.032, 0.379], (0.15, 0.15))
    """
    if not 0 <= n_below <= n or n < 1:
        raise InputError.of("n_below", n_below, f"0 to {n}")
    if n_in_all is None:
        low = 0.0 if n_below == 0 else float(betaincinv(n_below, n - n_below + 1, _TAIL))
        high = 1.0 if n_below == n else float(betaincinv(n_below + 1, n - n_below, 1.0 - _TAIL))
        return low, high
    if n_in_all < n:
        raise InputError(f"{n_in_all} in all is fewer than the {n} that were read", name="n_in_all", value=n_in_all)
    possible = range(n_below, n_in_all - (n - n_below) + 1)
    kept = [k for k in possible if min(_tails(n_below, k, n, n_in_all)) > _TAIL]
    return kept[0] / n_in_all, kept[-1] / n_in_all


_TAIL: Final = 0.025


def _tails(n_below: int, k: int, n: int, n_in_all: int) -> tuple[float, float]:
    """Return the chance of n_below or more, and of n_below or fewer, weak ones among n drawn from all with k weak."""
    i = np.arange(max(0, n - (n_in_all - k)), min(k, n) + 1)
    whole = log_choose(n_in_all, n)
    chance = np.exp(log_choose(k, i) + log_choose(n_in_all - k, n - i) - whole)
    return float(chance[i >= n_below].sum()), float(chance[i <= n_below].sum())


def log_choose(n: ArrayLike, k: ArrayLike) -> NDArray[np.float64]:
    """Return the natural logarithm of the binomial coefficient of n over k, for 0 <= k <= n."""
    top, part = np.asarray(n, dtype=np.float64), np.asarray(k, dtype=np.float64)
    return np.asarray(gammaln(top + 1.0) - gammaln(part + 1.0) - gammaln(top - part + 1.0))
