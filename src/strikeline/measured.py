"""A value with its standard error: the only form in which strikeline states what it measured."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError

HALF_WIDTHS_PER_SE: Final = 1.96
"""Standard errors in the half-width that holds the truth in 95 cases of 100 (normal distribution)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured value with one standard error, both in the same unit.

    The unit is in the name of the field that holds it (``f0_hz: Measured``). The truth lies within 1.96 ``se`` of
    ``value`` in 95 cases of 100; a number that cannot be told is absent (``None``), never a `Measured` with a guess.

    Raises
    ------
    InputError
        If ``value`` or ``se`` is not finite, or ``se`` is negative.
    """

    value: float
    se: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise InputError.of("value", self.value, "a finite number")
        if not (math.isfinite(self.se) and self.se >= 0.0):
            raise InputError.of("se", self.se, "a finite number, 0 or more")

    @property
    def half_width(self) -> float:
        """How far to either side the truth lies in 95 cases of 100."""
        return HALF_WIDTHS_PER_SE * self.se

    def differs_from(self, other: Measured | float, *, by_se: float = 1.96) -> bool:
        """Return whether two values differ by more than ``by_se`` standard errors of their difference."""
        if isinstance(other, Measured):
            return abs(self.value - other.value) > by_se * math.hypot(self.se, other.se)
        return abs(self.value - other) > by_se * self.se


def carried(
    function: Callable[..., ArrayLike], inputs: Mapping[str, Measured | float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Carry the standard errors of independent inputs through a function.

    Each input is moved by one standard error up and down; half the difference is its share of the result's error. For
    a straight line that is the law of propagation of uncertainty; for a gentle curve it is closer to the truth than the
    derivative at the middle. Strong curvature over two standard errors makes it wrong: keep errors small.

    Parameters
    ----------
    function : callable
        Takes the inputs by keyword as plain numbers and returns a number or an array of any shape.
    inputs : mapping of str to Measured or float
        Arguments by name; plain numbers are exact.

    Returns
    -------
    tuple of ndarray
        The result of the values as they are, in the function's shape, and the shares of the error, shape
        ``(n_inputs, *shape)``: signed, so that results that share an input stay tied. `measured_from` squares them.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), section 5.1.2; the moved inputs are the numerical form of its note to 5.1.3
       (from memory).

    Examples
    --------
    >>> value, shares = carried(lambda a, b: a * b, {"a": Measured(2.0, 0.125), "b": Measured(4.0, 0.25)})
    >>> float(value), shares
    (8.0, array([0.5, 0.5]))
    """
    plain = {name: one.value if isinstance(one, Measured) else float(one) for name, one in inputs.items()}
    value = np.asarray(function(**plain), dtype=np.float64)
    shares = np.zeros((len(inputs), *value.shape))
    for row, (name, one) in enumerate(inputs.items()):
        if isinstance(one, Measured) and one.se > 0:
            up = np.asarray(function(**plain | {name: one.value + one.se}), dtype=np.float64)
            down = np.asarray(function(**plain | {name: one.value - one.se}), dtype=np.float64)
            shares[row] = (up - down) / 2.0
    return value, shares


def measured_from(value: ArrayLike, shares: NDArray[np.float64]) -> Measured:
    """Return one number with the root of the sum of squares of its shares, as `carried` gives them."""
    return Measured(float(value), float(np.sqrt(np.sum(np.square(shares)))))  # type: ignore[arg-type]  # shape ()


def carry(function: Callable[..., ArrayLike], **inputs: Measured | float) -> Measured:
    """Return a function of independent measured inputs, with its standard error; see `carried`.

    Examples
    --------
    >>> carry(lambda a, b: a / b, a=Measured(1.0, 0.25), b=2.0)
    Measured(value=0.5, se=0.125)
    """
    return measured_from(*carried(function, inputs))
