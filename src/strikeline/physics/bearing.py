"""Downbearing: how far each string is bent over the bridge, and with what force it presses the bridge down.

Front is the speaking length, from agraffe or pressure bar to the bridge; back is the length behind it, to the aliquot,
hitch pin or back rest. A string that falls away from the bridge on both sides presses it down; one that rises lifts it.
Numbers say where to look, never whether a board is good: see `TONE_FIRST`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.between_notes import FEWEST_NOTES, BetweenNotes, between_notes
from strikeline.physics.ranges import above_zero, finite

TONE_FIRST: Final = (
    "Tone first: crown and bearing are independent of each other, and good pianos exist with a flat board or negative "
    "bearing. These numbers say where to look and listen; they condemn nothing."
)
"""Technicians' mailing-list archive, 1997-03: what every table of bearing has to carry."""
SET_BY_REBUILDERS_DEG: Final = (0.5, 1.5)
"""Bend that rebuilders set, from low tenor and bass to treble; others 1.5° in the middle and 0.5° at the ends.
Technicians' mailing-list archive, 2001-06. Not a limit: the same post tells of a board set to 1.5° unstrung that stood
at 0° once the strings were up."""
BACK_TENSION_SE_RATIO: Final = 0.045
"""Standard error of the tension behind the bridge as a share of the speaking tension. Friction at the bridge pins holds
until the speaking length is 50 to 100 cents off (technicians' mailing-list archive, 2004-04), which is 6 to 12 % of
tension; read as limits of ±9 % for 95 in 100 (our reasoning)."""
_MOST_DEG: Final = 30.0


class Sign(StrEnum):
    """Which way a string is bent at the bridge, as far as the reading can tell."""

    POSITIVE = "positive"
    NEGATIVE = "negative"
    NONE_TOLD = "none beyond the reading"
    """Zero lies within the error: it may be slightly positive, none, or slightly negative."""


def slope_deg(height_mm: ArrayLike, *, length_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the angle at which a string falls away from the bridge, ``atan(h/L)``.

    Parameters
    ----------
    height_mm : array_like of float
        How much higher the string is at the bridge than at the other end of the length; below 0 where it rises.
    length_mm : array_like of float
        Length from the bridge to that end, above 0.

    Returns
    -------
    ndarray of float
        Degrees, above 0 where the string presses the bridge down.

    Raises
    ------
    InputError
        If a value leaves its range.

    Examples
    --------
    >>> slope_deg([1.0, -1.0], length_mm=100.0).round(4)
    array([ 0.5729, -0.5729])
    """
    return np.asarray(np.degrees(np.arctan(finite("height_mm", height_mm) / above_zero("length_mm", length_mm))))


def press_n(tension_n: ArrayLike, *, angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Return the force with which one side of a string presses the bridge down, ``F = T·sin(angle)``.

    Parameters
    ----------
    tension_n : array_like of float
        Tension of that side, above 0.
    angle_deg : array_like of float
        `slope_deg` of that side, within 30°: anything more is a slip of the pen.

    Returns
    -------
    ndarray of float
        Newtons at right angles to the level that the heights were measured from; below 0 where it lifts.

    Raises
    ------
    InputError
        If a value leaves its range.

    Examples
    --------
    >>> float(press_n(700.0, angle_deg=1.0).round(2))
    12.22
    """
    angle = finite("angle_deg", angle_deg)
    if not (np.abs(angle) <= _MOST_DEG).all():
        raise InputError.of("angle_deg", angle_deg, f"within {_MOST_DEG:g}°", advice="is it in millimetres?")
    return np.asarray(above_zero("tension_n", tension_n) * np.sin(np.radians(angle)))


def side_press_n(tension_n: ArrayLike, *, stagger_mm: ArrayLike, pin_spacing_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the force with which a string leans against each of its two bridge pins.

    The pins stand `stagger_mm` out of the line of the string over `pin_spacing_mm` along it: at each the string turns
    by ``atan(stagger/spacing)``, one way and back.

    Parameters
    ----------
    tension_n : array_like of float
        Above 0.
    stagger_mm : array_like of float
        Sideways step of the string between the pins, 0 or more.
    pin_spacing_mm : array_like of float
        Distance of the pins along the string, above 0.

    Returns
    -------
    ndarray of float
        Newtons at each pin, across the string.

    Raises
    ------
    InputError
        If a value leaves its range.
    """
    return press_n(tension_n, angle_deg=slope_deg(stagger_mm, length_mm=pin_spacing_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class StringBearing:
    """The bend of the strings of one note at the bridge. A side that was not measured is ``None``."""

    front_deg: Measured | None
    back_deg: Measured | None
    total_deg: Measured
    """Front and back together: how far the string turns over the bridge."""
    front_sign: Sign | None
    back_sign: Sign | None
    total_sign: Sign
    front_n: Measured | None
    """Force of one string on the front edge of the bridge; ``None`` where no tension is known."""
    back_n: Measured | None
    total_n: Measured | None
    """Force of one string on the bridge."""
    side_deg: Measured | None
    """Turn at each bridge pin; ``None`` where the stagger was not measured."""
    side_n: Measured | None


def sign_of(angle_deg: Measured) -> Sign:
    """Return which way an angle goes, if its error leaves that open or not."""
    if not angle_deg.differs_from(0.0):
        return Sign.NONE_TOLD
    return Sign.POSITIVE if angle_deg.value > 0 else Sign.NEGATIVE


def string_bearing(
    *,
    front_deg: Measured | None,
    back_deg: Measured | None,
    total_deg: Measured | None = None,
    tension_n: Measured | float | None = None,
    side_deg: Measured | None = None,
) -> StringBearing:
    """Return bend and forces of one string from its angles and its tension.

    Parameters
    ----------
    front_deg, back_deg : Measured or None
        `slope_deg` of the speaking length and of the length behind the bridge.
    total_deg : Measured, optional
        The whole bend, where only that was measured (half of it is then taken to lie behind the bridge); or beside both
        sides, where their errors hang together, as those of three heights do. Left out, it is the sum of two sides
        measured apart.
    tension_n : Measured or float, optional
        Tension of the speaking length; without it there are no forces. The tension behind the bridge is the same within
        `BACK_TENSION_SE_RATIO`.
    side_deg : Measured, optional
        Turn at each bridge pin.

    Returns
    -------
    StringBearing

    Raises
    ------
    InputError
        If there is neither the whole nor both sides, or one side only.
    """
    sides = _present({"front": front_deg, "back": back_deg})
    if len(sides) == 1 or (not sides and total_deg is None):
        raise InputError("a bend needs front and back, or the whole alone; give one of the two", name="total_deg")
    total = total_deg if total_deg is not None else carry(lambda front, back: front + back, **sides)
    behind_deg = back_deg if back_deg is not None else Measured(0.5 * total.value, 0.5 * total.se)
    return StringBearing(
        front_deg=front_deg,
        back_deg=back_deg,
        total_deg=total,
        front_sign=None if front_deg is None else sign_of(front_deg),
        back_sign=None if back_deg is None else sign_of(back_deg),
        total_sign=sign_of(total),
        front_n=_pressed(tension_n, front_deg),
        back_n=_pressed(tension_n, back_deg, behind_deg=back_deg),
        total_n=_pressed(tension_n, total, behind_deg=behind_deg),
        side_deg=side_deg,
        side_n=_pressed(tension_n, side_deg),
    )


def _pressed(
    tension_n: Measured | float | None, angle_deg: Measured | None, *, behind_deg: Measured | None = None
) -> Measured | None:
    """Return the force of a bend, with the error of the tension behind the bridge for the part that lies there."""
    if tension_n is None or angle_deg is None:
        return None
    force = carry(lambda tension, angle: press_n(tension, angle_deg=angle), tension=tension_n, angle=angle_deg)
    if behind_deg is None:
        return force
    pull = tension_n.value if isinstance(tension_n, Measured) else tension_n
    behind = BACK_TENSION_SE_RATIO * float(press_n(pull, angle_deg=behind_deg.value))
    return Measured(force.value, float(np.hypot(force.se, behind)))


def _present(angles: Mapping[str, Measured | None]) -> dict[str, Measured]:
    return {name: angle for name, angle in angles.items() if angle is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeLoad:
    """What all strings of one bridge press it down with, from its lowest to its highest measured note."""

    first_key: int
    last_key: int
    n_measured: int
    n_between: int
    """Notes between measured ones whose bend is a guess."""
    n_strings: int
    force_n: Measured | None
    """``None`` where it cannot be told; `cannot_tell` says why."""
    cannot_tell: str | None = None


def bridge_load(
    bends_deg: Mapping[int, Measured],
    *,
    tensions_n: Mapping[int, Measured] | Measured,
    strings: Mapping[int, int],
) -> BridgeLoad:
    """Return the load of one bridge: every string between its outermost measured notes, measured or not.

    ``F = Σ n(k)·T(k)·sin(bend(k))`` over the keys k, bend and tension told for unmeasured notes by `between_notes`.
    Half of the bend is taken to lie behind the bridge, where the tension is less sure (`BACK_TENSION_SE_RATIO`). The
    sine of the whole bend stands for the sum of the sines of its two sides: below 3° they differ by less than 0.1 %.

    Parameters
    ----------
    bends_deg : mapping of int to Measured
        Whole bend by key number.
    tensions_n : mapping of int to Measured, or Measured
        Tension of one string by key number, or one figure for all, whose error is then shared by all.
    strings : mapping of int to int
        Strings of each key from the lowest to the highest measured one.

    Returns
    -------
    BridgeLoad

    Raises
    ------
    InputError
        If no note was measured, or a count of strings is missing.
    """
    if not bends_deg:
        raise InputError.of("bends_deg", {}, "one measured note or more")
    first, last = min(bends_deg), max(bends_deg)
    missing = [key for key in range(first, last + 1) if key not in strings]
    if missing:
        raise InputError.of("strings", sorted(strings), f"a count for every key from {first} to {last}")
    n = np.array([strings[key] for key in range(first, last + 1)], dtype=np.float64)
    untold = BridgeLoad(
        first_key=first,
        last_key=last,
        n_measured=len(bends_deg),
        n_between=last - first + 1 - len(bends_deg),
        n_strings=int(n.sum()),
        force_n=None,
        cannot_tell=_too_few(bends_deg, tensions_n),
    )
    if untold.cannot_tell is not None:
        return untold
    sines = between_notes(
        {key: carry(lambda angle: np.sin(np.radians(angle)), angle=bend) for key, bend in bends_deg.items()}
    )
    behind_ratio = 0.5 * BACK_TENSION_SE_RATIO  # shared by all strings: they were all pulled up the same way
    if isinstance(tensions_n, Measured):
        tension, ratio = np.full(n.shape, tensions_n.value), tensions_n.se / tensions_n.value
        spread = np.zeros((len(n), len(n)))
    else:
        pulls = _stretch(between_notes(tensions_n), first, last)
        tension, ratio, spread = pulls.value, 0.0, pulls.covariance
    force = float(np.sum(n * tension * sines.value))
    by_sine, by_tension = n * tension, n * sines.value
    variance = by_sine @ sines.covariance @ by_sine + by_tension @ spread @ by_tension
    variance += float(np.sum(np.outer(n, n) * sines.covariance * spread))
    variance += force**2 * (ratio**2 + behind_ratio**2)
    return replace(untold, force_n=Measured(force, float(np.sqrt(variance))))


def _too_few(bends: Mapping[int, Measured], tensions: Mapping[int, Measured] | Measured) -> str | None:
    """Return why a load cannot be summed up, or ``None``."""
    if len(bends) < FEWEST_NOTES:
        return f"bend was measured on {len(bends)} of its notes; a sum over the notes between needs {FEWEST_NOTES}"
    if isinstance(tensions, Measured):
        return None
    if len(tensions) < FEWEST_NOTES or min(tensions) > min(bends) or max(tensions) < max(bends):
        return f"tension needs {FEWEST_NOTES} notes that reach as far as the bends, or one figure for all"
    return None


def _stretch(told: BetweenNotes, first: int, last: int) -> BetweenNotes:
    """Cut what was told to the keys wanted."""
    part = slice(first - int(told.keys[0]), last - int(told.keys[0]) + 1)
    return BetweenNotes(keys=told.keys[part], value=told.value[part], covariance=told.covariance[part, part])
