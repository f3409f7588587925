"""One damper as its strings feel it: where and how broadly the felt lies, how hard it presses, and when it lands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError

LAST_DAMPED_KEY: Final = 68
"""E6: dampers end between E6 and G6 (secondary survey, low confidence)."""
_STEEPEST: Final = 4.0
_LN_1000: Final = float(np.log(1000.0))
_USUAL_PLACE_RATIO: Final = 0.13
_USUAL_FELT_MM: Final = 38.0
_WIDEST_SHARE: Final = 0.1
"""Place and length of the felt are invented: near the hammer, 38 mm long, shorter towards the top."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Damper:
    """One damper; the felt is a resistance spread evenly over its length.

    A resistance r per length takes from partial n at the rate r/(2·density)·2·<sin²(nπx)>, the mean taken over the
    felt (energy lost over energy held, for a mode sin(nπx)). Near a node of the partial little is taken: it leaks.
    Left out: the felt's stiffness and mass, the partials it couples, and the string's bending beside it.
    """

    t60_s: float
    """Time in which the felt takes partial 1 of the strings it touches down by 60 dB; weak felt or spring: longer."""
    place_ratio: float
    """Middle of the felt over the speaking length, from the near end; 0 to 1."""
    width_ratio: float
    """Length of the felt that touches, over the speaking length."""
    lands_after_s: float = 0.03
    """From the key's release until the felt is half pressed on; late: longer."""
    presses_s: float = 0.015
    """How long the felt takes to press on, evenly, half of it before and half after the landing."""
    misses: tuple[int, ...] = ()
    """Places of strings that the felt does not touch, from the left, 0 for the first."""

    def __post_init__(self) -> None:
        if not (self.t60_s > 0.0 and self.presses_s > 0.0 and self.lands_after_s >= self.presses_s / 2.0):
            raise InputError.of(
                "t60_s, presses_s, lands_after_s",
                (self.t60_s, self.presses_s, self.lands_after_s),
                "above 0; it lands half the pressing time after the release or later",
            )
        if not 0.0 < self.width_ratio / 2.0 <= min(self.place_ratio, 1.0 - self.place_ratio):
            raise InputError.of(
                "place_ratio, width_ratio", (self.place_ratio, self.width_ratio), "a felt on the string"
            )

    def grip(self, partial: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the mean of 2·sin²(nπx) over the felt for each partial, shape (k,): 0 at a node, 2 at a belly."""
        spread = np.sinc(partial * self.width_ratio)
        return np.asarray(1.0 - np.cos(2.0 * np.pi * partial * self.place_ratio) * spread)

    def decay_per_s(self, partial: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return what the felt adds to the amplitude decay of each partial of a string it touches, 1/s, shape (k,)."""
        relative = self.grip(partial) / self.grip(np.array([1]))
        return np.asarray(_LN_1000 / self.t60_s * relative * felt_steepness(partial))


def felt_steepness(partial: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return how much faster felt takes high partials than partial 1, up to four times (invented)."""
    return np.asarray(np.minimum(1.0 + 0.15 * (partial - 1), _STEEPEST))


def usual_damper_t60_s(key: int) -> float | None:
    """Return the T60 of partial 1 under a sound damper: 0.86 s (A0), 0.49 (A2), 0.25 (A4) to 0.17 s (E6), then none.

    The figures are those of a secondary survey, which calls them of low confidence.
    """
    if key > LAST_DAMPED_KEY:
        return None
    return float(np.interp(key, [1, 25, 49, 68], [0.86, 0.49, 0.25, 0.17]))


def usual_damper(
    key: int, *, speaking_length_mm: float, strength_ratio: float = 1.0, lands_after_s: float = 0.03
) -> Damper:
    """Return a damper of usual place and size for a key.

    Parameters
    ----------
    key : int
        Key number, at most `LAST_DAMPED_KEY`.
    speaking_length_mm : float
        Of its strings.
    strength_ratio : float
        1 for sound felt and spring; half of it doubles the T60.
    lands_after_s : float
        See `Damper`.

    Raises
    ------
    InputError
        If the key usually has no damper.
    """
    t60_s = usual_damper_t60_s(key)
    if t60_s is None:
        raise InputError.of("key", key, f"at most {LAST_DAMPED_KEY}, the last damped key")
    width = min(_USUAL_FELT_MM / speaking_length_mm, _WIDEST_SHARE)
    return Damper(
        t60_s=t60_s / strength_ratio,
        place_ratio=_USUAL_PLACE_RATIO,
        width_ratio=width,
        lands_after_s=lands_after_s,
    )
