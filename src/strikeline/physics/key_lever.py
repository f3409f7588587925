"""Papers under a key: what one at the balance rail or the front rail does to its height, its dip and its capstan.

A key at rest stands on the balance rail and, behind it, on the back rail. A paper at the balance rail turns it about
the back rail, so all follows from similar triangles; the arms are measured from the balance pin along the key.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, Compass, is_white
from strikeline.physics.ranges import above_zero, finite, zero_or_more


def front_rise_mm(
    *, balance_paper_mm: ArrayLike, front_arm_mm: ArrayLike, back_arm_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return how much a paper under the balance washer raises the key front, ``t·(1 + f/b)``.

    The front rail stays, so the dip grows by as much.

    Parameters
    ----------
    balance_paper_mm : array_like of float
        Thickness put in, minus for one taken out.
    front_arm_mm : array_like of float
        Balance pin to the key front, above 0.
    back_arm_mm : array_like of float
        Balance pin to where the key rests on the back rail, above 0.

    Returns
    -------
    ndarray of float
        Millimetres, plus upwards.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(front_rise_mm(balance_paper_mm=0.25, front_arm_mm=220.0, back_arm_mm=220.0))
    0.5
    """
    arms = above_zero("front_arm_mm", front_arm_mm) / above_zero("back_arm_mm", back_arm_mm)
    return np.asarray(finite("balance_paper_mm", balance_paper_mm) * (1.0 + arms))


def balance_paper_mm(
    *, front_rise_mm: ArrayLike, front_arm_mm: ArrayLike, back_arm_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the paper that raises the key front by an amount; the inverse of `front_rise_mm`.

    Parameters
    ----------
    front_rise_mm : array_like of float
        Wanted, minus downwards.
    front_arm_mm, back_arm_mm : array_like of float
        As for `front_rise_mm`.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(balance_paper_mm(front_rise_mm=0.5, front_arm_mm=220.0, back_arm_mm=220.0))
    0.25
    """
    arms = above_zero("front_arm_mm", front_arm_mm) / above_zero("back_arm_mm", back_arm_mm)
    return np.asarray(finite("front_rise_mm", front_rise_mm) / (1.0 + arms))


def capstan_rise_mm(
    *, balance_paper_mm: ArrayLike, capstan_arm_mm: ArrayLike, back_arm_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return how much a paper under the balance washer raises the capstan at rest, ``t·(1 - c/b)``.

    That much lost motion goes at the capstan; where nothing was lost, the hammer now stands off its rail.

    Parameters
    ----------
    balance_paper_mm : array_like of float
        Thickness put in, minus for one taken out.
    capstan_arm_mm : array_like of float
        Balance pin to the capstan, 0 or more.
    back_arm_mm : array_like of float
        Balance pin to where the key rests on the back rail, above 0.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> float(capstan_rise_mm(balance_paper_mm=0.4, capstan_arm_mm=110.0, back_arm_mm=220.0))
    0.2
    """
    arms = zero_or_more("capstan_arm_mm", capstan_arm_mm) / above_zero("back_arm_mm", back_arm_mm)
    return np.asarray(finite("balance_paper_mm", balance_paper_mm) * (1.0 - arms))


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedCompass:
    """A compass that has the keys that were counted."""

    compass: Compass
    n_naturals: int
    n_sharps: int


def possible_compasses(n_keys: int, *, n_naturals: int | None, lowest_letter: str | None) -> tuple[CountedCompass, ...]:
    """Return every compass with so many keys, from the lowest up.

    The order of naturals and sharps tells the letters apart, but no count tells the octave: a compass an octave higher
    has the same keys.

    Parameters
    ----------
    n_keys : int
        Naturals and sharps together, 13 to the largest keyboard known.
    n_naturals : int or None
        Naturals among them, where they were counted.
    lowest_letter : str or None
        Name of the lowest key without its octave, such as ``"A"`` or ``"F"``, where it was seen.

    Returns
    -------
    tuple of CountedCompass

    Raises
    ------
    InputError
        If the count is not possible.

    Examples
    --------
    >>> [str(one.compass) for one in possible_compasses(85, n_naturals=50, lowest_letter="A")]
    ['A0-A7', 'A1-A8']
    """
    most = HIGHEST_KEY - LOWEST_KEY + 1
    if not 13 <= n_keys <= most:
        raise InputError.of("count", n_keys, f"13 to {most} keys")
    letter = None if lowest_letter is None else lowest_letter.strip().upper().replace("♯", "#")
    found = list[CountedCompass]()
    for lowest in range(LOWEST_KEY, HIGHEST_KEY - n_keys + 2):
        compass = Compass(lowest, lowest + n_keys - 1)
        naturals = sum(is_white(key) for key in compass)
        if n_naturals is not None and naturals != n_naturals:
            continue
        if letter is not None and str(compass).partition("-")[0].rstrip("0123456789") != letter:
            continue
        found.append(CountedCompass(compass=compass, n_naturals=naturals, n_sharps=n_keys - naturals))
    return tuple(found)
