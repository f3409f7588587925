"""Pitch and tension, and the overpull of common practice: how far above the target to set, by section, and its caps.

The factors and caps are those of tuners: an article on pitch raising by section, and a technicians' mailing-list
archive, 2000-01, 2004-01 and 2006-01, as read in a survey. They are common practice, no measurement; `tension_give`
fits the piano's own answer as soon as one pass is done.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.physics.ranges import above_zero, finite

Floats = NDArray[np.float64]

_WOUND_BASS, _WOUND_TENOR = 0.11, 0.19
_FIRST_PLAIN, _HIGHEST, _TOP = 0.29, 0.38, 0.24
_HIGHEST_KEY: Final = 76
"""Where the treble reaches its highest factor: C7 (the sources say "rising"; the place is our reasoning)."""
_USUAL_BASS_END: Final = 26
"""A♯2, where the bass is taken to end if the break is not known (common practice, no source: F2 to E3)."""
OLD_WIRE_CAP_CENTS: Final = 10.0
"""Old wire never more than 10 to 15 cents sharp, extra passes instead; the careful end of it."""
BASS_CAP_CENTS: Final = 25.0
PLAIN_CAP_CENTS: Final = 50.0 / 3.0
"""One beat sharp for three flat, but not beyond about 50 cents flat."""
TOO_FLAT_CENTS: Final = 45.0
"""If flatter than 40 to 50 cents: the first pass to pitch without overpull."""
OLD_WIRE_BEFORE: Final = 1950
"""Strings put on before this year, or in a year unknown, count as old wire (our reasoning: the archive speaks of 80
years and more)."""
FINE_CENTS: Final = 5.0
"""Within this of the target the rest is fine tuning (common practice, no source)."""


def tension_ratio(cents: ArrayLike) -> Floats:
    """Return how the tension of a string grows with a rise in pitch, ``T2/T1 = (f2/f1)² = 2^(cents/600)``.

    Parameters
    ----------
    cents : array_like of float
        Rise in pitch; below 0 for a fall.

    Examples
    --------
    435 to 440 Hz is 19.8 cents, and 2.3 % more tension:

    >>> cents = 1200 * np.log2(440 / 435)
    >>> float(cents.round(1)), float(tension_ratio(cents).round(4))
    (19.8, 1.0231)
    """
    return np.asarray(np.exp2(finite("cents", cents) / 600.0))


def usual_overpull(key: ArrayLike, *, bass_ends: int | None, last_wound_key: int | None) -> Floats:
    """Return the overpull of common practice, as a share of the flatness.

    Wound bass 0.11 (tuners say 10 to 16 %), wound tenor 0.19, the first plain wire 0.29, rising to 0.38 in the treble,
    the top note 0.24. Common practice; the sources differ by half as much again.

    Parameters
    ----------
    key : array_like of int, shape (k,)
        Keys, ascending; the last one is the top note.
    bass_ends : int or None
        Last key on the bass bridge, A♯2 if ``None``.
    last_wound_key : int or None
        Last key with wound strings; ``None`` takes the tenor as plain.

    Returns
    -------
    ndarray of float
        Shares, shape (k,).
    """
    keys = np.asarray(key, dtype=np.float64)
    bass = _USUAL_BASS_END if bass_ends is None else bass_ends
    first_plain = max(bass, last_wound_key or bass) + 1
    top = float(keys.max(initial=_HIGHEST_KEY + 1.0))
    plain = np.interp(keys, [first_plain, _HIGHEST_KEY, max(top, _HIGHEST_KEY + 1.0)], [_FIRST_PLAIN, _HIGHEST, _TOP])
    return np.asarray(np.where(keys <= bass, _WOUND_BASS, np.where(keys < first_plain, _WOUND_TENOR, plain)))


def is_old_wire(year: int | None) -> bool:
    """Return whether strings of a year count as old wire; those of an unknown year do, to be careful."""
    return year is None or year < OLD_WIRE_BEFORE


def overpull_cap(key: ArrayLike, *, bass_ends: int | None, is_old: bool) -> Floats:
    """Return how far above its target a string may be set, cents.

    Parameters
    ----------
    key : array_like of int, shape (k,)
        Keys.
    bass_ends : int or None
        Last key on the bass bridge, A♯2 if ``None``.
    is_old : bool
        Whether the wire is old.
    """
    bass = np.asarray(key) <= (_USUAL_BASS_END if bass_ends is None else bass_ends)
    cap = np.where(bass, BASS_CAP_CENTS, PLAIN_CAP_CENTS)
    return np.minimum(cap, OLD_WIRE_CAP_CENTS) if is_old else np.asarray(cap)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassPlan:
    """Where to put each note in one pass."""

    overpull_cents: Floats
    """Above the target, shape (k,); below it where a note is to end lower than it starts."""
    is_capped: NDArray[np.bool_]
    """Whether a cap cut it, shape (k,)."""
    why: str


def plan_pass(flat_cents: ArrayLike, *, factor: ArrayLike, cap_cents: ArrayLike) -> PassPlan:
    """Return the plan of one pass by the rules of common practice.

    Parameters
    ----------
    flat_cents : array_like of float, shape (k,)
        How far each note is below its target.
    factor : array_like of float, shape (k,)
        Overpull as a share of that; from `usual_overpull`.
    cap_cents : array_like of float, shape (k,)
        The most above the target; from `overpull_cap`.

    Returns
    -------
    PassPlan
        Without overpull where the piano is flatter than 45 cents (median). The overpull of a note goes by the smoothed
        flatness about it, for what it will lose is lost to its neighbours' pulls, not to its own. A flat note is never
        set below its target.
    """
    flat, cap = finite("flat_cents", flat_cents), above_zero("cap_cents", cap_cents)
    shares = finite("factor", factor)
    about = _smoothed(flat)
    if float(np.median(flat)) > TOO_FLAT_CENTS:
        why = f"to pitch without overpull: the piano is flatter than {TOO_FLAT_CENTS:g} cents"
        return PassPlan(overpull_cents=np.zeros(flat.size), is_capped=np.zeros(flat.size, dtype=np.bool_), why=why)
    wanted = _not_below_if_flat(shares * about, flat)
    if float(np.median(np.abs(flat))) <= FINE_CENTS:
        return PassPlan(
            overpull_cents=np.zeros(flat.size),
            is_capped=np.zeros(flat.size, dtype=np.bool_),
            why="fine tuning: to the target itself",
        )
    capped = np.clip(wanted, -cap, cap)
    return PassPlan(overpull_cents=capped, is_capped=np.abs(wanted) > cap, why="with overpull by section")


def within_caps(wanted_cents: ArrayLike, *, flat_cents: ArrayLike, cap_cents: ArrayLike) -> PassPlan:
    """Return the plan of a pass from what the piano's own give asks for, with the same caps.

    A flat note is never set below its target: to pull less than asked for is the mistake that the next pass mends.

    Parameters
    ----------
    wanted_cents : array_like of float, shape (k,)
        Above the target, from `tension_give.settings_for`.
    flat_cents : array_like of float, shape (k,)
        How far each note is below its target.
    cap_cents : array_like of float, shape (k,)
        The most above the target.
    """
    asked, flat = finite("wanted_cents", wanted_cents), finite("flat_cents", flat_cents)
    wanted, cap = _not_below_if_flat(asked, flat), above_zero("cap_cents", cap_cents)
    return PassPlan(
        overpull_cents=np.clip(wanted, -cap, cap),
        is_capped=np.abs(wanted) > cap,
        why="with the overpull that this piano's own give asks for",
    )


def _not_below_if_flat(wanted: Floats, flat: Floats) -> Floats:
    """Return where to put each note, flat ones on their target or above."""
    return np.asarray(np.where(flat > 0.0, np.maximum(wanted, 0.0), wanted))


def _smoothed(values: Floats, *, half: int = 6) -> Floats:
    """Return the median of the values up to `half` places away."""
    return np.array([np.median(values[max(0, i - half) : i + half + 1]) for i in range(values.size)])
