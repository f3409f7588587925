"""Regulation of an action: how key, hammer and jack are tied together, and what one correction does to the others.

With the ratio R of hammer travel to key travel, an action lets off when the hammer has come from its rest (the blow
distance away from the string) to the set-off distance:

    blow - set_off = R · (dip - aftertouch - lost_motion)

Three of blow, dip, set-off and aftertouch fix the fourth. The capstan moves with the ratio k of capstan to key front,
so that one millimetre of capstan is 1/k of key front and R/k of hammer.

All of it is geometry of small movements: R is taken as the same from rest to set-off, which real actions hold to a few
per cent. The relation without lost motion is stated, in words, in tool makers' articles on key dip; the algebra and the
place of lost motion in it are our reasoning.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.ranges import above_zero, finite, zero_or_more

USUAL_CAPSTAN_RATIO: Final = 0.5
"""Capstan travel over key travel: the key lever is near 2 : 1 (technicians' mailing-list archive, 2000-12)."""
POSSIBLE_RATIO: Final = (3.0, 8.0)
"""Hammer travel over key travel: 5 to 6 is usual (from memory); outside 3 to 8 a reading is wrong (our reasoning)."""
RATIO_SCATTER: Final = 0.02
"""How far the ratio of single notes leaves that of the action, as a share of it, where nothing else is known; and"""
SCATTER_COUNTS_AS: Final = 4
"""as how many notes that counts (our reasoning): a few notes cannot tell how much notes differ."""


def aftertouch_mm(
    *, dip_mm: ArrayLike, blow_mm: ArrayLike, set_off_mm: ArrayLike, lost_motion_mm: ArrayLike, ratio: ArrayLike
) -> NDArray[np.float64]:
    """Return the key travel left after set-off, ``dip - lost_motion - (blow - set_off)/R``.

    Below 0 the jack cannot escape: the hammer blocks against the string.

    Parameters
    ----------
    dip_mm, blow_mm, set_off_mm, lost_motion_mm : array_like of float
        As measured, at the key front and at the hammer; blow above set-off.
    ratio : array_like of float
        Hammer travel over key travel, above 0.

    Returns
    -------
    ndarray of float
        Millimetres at the key front, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite, not possible, or the blow does not exceed the set-off.

    Examples
    --------
    >>> float(aftertouch_mm(dip_mm=10.0, blow_mm=46.0, set_off_mm=2.0, lost_motion_mm=0.0, ratio=4.9).round(2))
    1.02
    """
    travel = _hammer_travel_mm(blow_mm, set_off_mm)
    lost = zero_or_more("lost_motion_mm", lost_motion_mm)
    return np.asarray(above_zero("dip_mm", dip_mm) - lost - travel / above_zero("ratio", ratio))


def dip_for_aftertouch_mm(
    *, aftertouch_mm: ArrayLike, blow_mm: ArrayLike, set_off_mm: ArrayLike, lost_motion_mm: ArrayLike, ratio: ArrayLike
) -> NDArray[np.float64]:
    """Return the key dip that leaves an aftertouch, ``aftertouch + lost_motion + (blow - set_off)/R``.

    Parameters
    ----------
    aftertouch_mm : array_like of float
        Wanted.
    blow_mm, set_off_mm, lost_motion_mm, ratio : array_like of float
        As for `aftertouch_mm`.

    Returns
    -------
    ndarray of float
        Millimetres at the key front.

    Raises
    ------
    InputError
        As for `aftertouch_mm`.

    Examples
    --------
    >>> dip = dip_for_aftertouch_mm(aftertouch_mm=1.1, blow_mm=46.0, set_off_mm=3.0, lost_motion_mm=0.0, ratio=5.0)
    >>> float(dip.round(2))
    9.7
    """
    travel = _hammer_travel_mm(blow_mm, set_off_mm)
    lost = zero_or_more("lost_motion_mm", lost_motion_mm)
    return np.asarray(finite("aftertouch_mm", aftertouch_mm) + lost + travel / above_zero("ratio", ratio))


def blow_for_aftertouch_mm(
    *, aftertouch_mm: ArrayLike, dip_mm: ArrayLike, set_off_mm: ArrayLike, lost_motion_mm: ArrayLike, ratio: ArrayLike
) -> NDArray[np.float64]:
    """Return the blow distance that leaves an aftertouch, ``set_off + R·(dip - aftertouch - lost_motion)``.

    Parameters
    ----------
    aftertouch_mm : array_like of float
        Wanted.
    dip_mm, set_off_mm, lost_motion_mm, ratio : array_like of float
        As for `aftertouch_mm`.

    Returns
    -------
    ndarray of float
        Millimetres at the hammer.

    Raises
    ------
    InputError
        If a value is not finite or not possible.

    Examples
    --------
    >>> blow = blow_for_aftertouch_mm(aftertouch_mm=1.1, dip_mm=10.0, set_off_mm=3.0, lost_motion_mm=0.0, ratio=5.0)
    >>> float(blow.round(2))
    47.5
    """
    key = above_zero("dip_mm", dip_mm) - finite("aftertouch_mm", aftertouch_mm)
    key = key - zero_or_more("lost_motion_mm", lost_motion_mm)
    return np.asarray(zero_or_more("set_off_mm", set_off_mm) + above_zero("ratio", ratio) * key)


def ratio_from_rise(
    *, hammer_rise_mm: ArrayLike, key_travel_mm: ArrayLike, lost_motion_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return hammer travel over key travel from one reading of both, ``rise/(travel - lost_motion)``.

    Parameters
    ----------
    hammer_rise_mm : array_like of float
        How far the hammer rose, above 0.
    key_travel_mm : array_like of float
        How far the key front went down, short of set-off (which begins at 7 to 8 mm): 6 mm is usual.
    lost_motion_mm : array_like of float
        Key travel before the hammer moves, less than `key_travel_mm`.

    Returns
    -------
    ndarray of float
        R, dimensionless.

    Raises
    ------
    InputError
        If a value is not possible.

    References
    ----------
    .. [1] Method: technicians' mailing-list archive, 2013-01 (move the key 6 mm, read the hammer's rise).

    Examples
    --------
    >>> float(ratio_from_rise(hammer_rise_mm=30.0, key_travel_mm=6.0, lost_motion_mm=0.0))
    5.0
    """
    rise = above_zero("hammer_rise_mm", hammer_rise_mm)
    travel = finite("key_travel_mm", key_travel_mm) - zero_or_more("lost_motion_mm", lost_motion_mm)
    return np.asarray(rise / above_zero("key_travel_mm less lost_motion_mm", travel))


def ratio_from_regulation(
    *,
    dip_mm: ArrayLike,
    blow_mm: ArrayLike,
    set_off_mm: ArrayLike,
    aftertouch_mm: ArrayLike,
    lost_motion_mm: ArrayLike,
) -> NDArray[np.float64]:
    """Return hammer travel over key travel from a fully measured note, ``(blow - set_off)/(dip - aftertouch - lost)``.

    Parameters
    ----------
    dip_mm, blow_mm, set_off_mm, aftertouch_mm, lost_motion_mm : array_like of float
        As measured on one note.

    Returns
    -------
    ndarray of float
        R, dimensionless.

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> note = {"dip_mm": 10.0, "blow_mm": 46.0, "set_off_mm": 2.0, "aftertouch_mm": 1.0, "lost_motion_mm": 0.0}
    >>> float(ratio_from_regulation(**note).round(2))
    4.89
    """
    key = finite("dip_mm", dip_mm) - finite("aftertouch_mm", aftertouch_mm)
    key = key - zero_or_more("lost_motion_mm", lost_motion_mm)
    travel = _hammer_travel_mm(blow_mm, set_off_mm)
    return np.asarray(travel / above_zero("dip_mm less aftertouch_mm and lost_motion_mm", key))


def _hammer_travel_mm(blow_mm: ArrayLike, set_off_mm: ArrayLike) -> NDArray[np.float64]:
    travel = above_zero("blow_mm", blow_mm) - zero_or_more("set_off_mm", set_off_mm)
    return above_zero("blow_mm less set_off_mm", travel, advice="the hammer starts further away than it lets off")


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioEstimate:
    """The ratio of an action from several notes."""

    ratio: Measured
    """Mean over the notes; its error holds how they differ and how few they are."""
    scatter: float
    """Standard deviation from note to note beyond what the readings' own errors explain, as seen on these notes."""
    n_notes: int


def estimate_ratio(notes: Sequence[Measured]) -> RatioEstimate:
    """Return the ratio of an action from readings on some notes, weighted by their errors and their scatter.

    Parameters
    ----------
    notes : sequence of Measured
        R of each sample note, with errors above 0.

    Returns
    -------
    RatioEstimate

    Raises
    ------
    InputError
        If no note is given, an error is missing, or the mean is no ratio of an action (outside 3 to 8).

    Notes
    -----
    How much notes differ is taken together with `RATIO_SCATTER`, which counts as `SCATTER_COUNTS_AS` notes; Student's t
    for so many degrees of freedom widens the error, so that 1.96 standard errors hold 95 of 100. One note alone tells
    its own ratio, not that of the action. How often the truth lies within is tested on invented actions.

    References
    ----------
    .. [1] R. DerSimonian and N. Laird, "Meta-analysis in clinical trials", Control. Clin. Trials 7, 177-188 (1986)
       (from memory): the mean of values that differ by more than their errors.

    Examples
    --------
    >>> estimate_ratio([Measured(4.8, 0.1), Measured(5.0, 0.1), Measured(5.2, 0.1)]).ratio.value.__round__(3)
    5.0
    """
    if not notes:
        raise InputError("no note gives the ratio of the action; measure hammer_rise_at_6_mm on two or three notes")
    value = np.array([one.value for one in notes])
    variance = above_zero("se of a ratio", [one.se for one in notes]) ** 2
    weight = 1.0 / variance
    mean = float(np.sum(weight * value) / np.sum(weight))
    between = 0.0
    if len(notes) > 1:
        spread = float(np.sum(weight * (value - mean) ** 2)) - (len(notes) - 1)
        between = max(0.0, spread / float(np.sum(weight) - np.sum(weight**2) / np.sum(weight)))
    freedom = SCATTER_COUNTS_AS + len(notes) - 1
    pooled = (SCATTER_COUNTS_AS * (RATIO_SCATTER * mean) ** 2 + (len(notes) - 1) * between) / freedom
    weight = 1.0 / (variance + pooled)
    mean = float(np.sum(weight * value) / np.sum(weight))
    low, high = POSSIBLE_RATIO
    if not low <= mean <= high:
        advice = "look for a misread blow, set-off, dip or aftertouch"
        raise InputError.of("ratio of hammer to key", round(mean, 2), f"{low:g} to {high:g}", advice=advice)
    se = float(stdtrit(freedom, 0.975)) / HALF_WIDTHS_PER_SE / float(np.sqrt(np.sum(weight)))
    return RatioEstimate(ratio=Measured(mean, se), scatter=float(np.sqrt(between)), n_notes=len(notes))


class Change(StrEnum):
    """Something that is turned, packed or cut."""

    DIP = "dip"
    """Front washers and papers: plus is a deeper key."""
    SET_OFF = "set_off"
    """Set-off button: plus lets off further from the string."""
    BLOW = "blow"
    """Hammer rest rail: plus moves the hammers away from the strings."""
    CAPSTAN = "capstan"
    """Plus is up."""
    CHECK = "check"
    """Check wire or catcher: plus catches the hammer further from the string."""
    HAMMER_SHORTER = "hammer_shorter"
    """Refacing or wear: what the hammer has lost in length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteState:
    """How one note is regulated, in millimetres; `aftertouch_mm` follows from the rest."""

    dip_mm: float
    blow_mm: float
    set_off_mm: float
    lost_motion_mm: float
    checking_mm: float
    ratio: float
    capstan_ratio: float = USUAL_CAPSTAN_RATIO
    off_rail_mm: float = 0.0
    """How far the hammer stands off its rest rail because the capstan is too high; the jack may not reset."""
    check_on_whippen: bool = False
    """Whether the check stands on the whippen, as in uprights, and so follows the capstan; in a grand it stands on the
    key."""

    @property
    def aftertouch_mm(self) -> float:
        """Key travel after set-off."""
        return self.dip_mm - self.lost_motion_mm - (self.blow_mm - self.set_off_mm) / self.ratio

    def after(self, change: Change, amount_mm: float) -> NoteState:
        """Return the note after one change, with everything that follows from it.

        Parameters
        ----------
        change : Change
            What is turned, packed or cut.
        amount_mm : float
            By how much, in the direction that `Change` calls plus.

        Returns
        -------
        NoteState

        Notes
        -----
        A deeper key carries the check further: the hammer is caught nearer by R times the change, taken from whippens
        that carry check and jack alike; how far it holds for grands, whose check stands on the key, is not known, so
        read checking again. A capstan that rises lifts the whippen, and with it the check of an upright, as a deeper
        key does; the check of a grand stays. A rest rail moved towards the strings takes the hammers along and opens
        lost motion, which the capstan must take up before the aftertouch gains; moved away, it first closes lost
        motion, then leaves the hammer standing off the rail. A shorter hammer adds its loss to blow, set-off and
        checking alike. All our reasoning from the geometry, in agreement with the directions that technicians state
        (tool maker's articles; player-piano digest archive 2010-02-15).
        """
        amount = float(finite("amount_mm", amount_mm))
        return _EFFECTS[change](self, amount)


def _deeper(note: NoteState, amount: float) -> NoteState:
    return replace(note, dip_mm=note.dip_mm + amount, checking_mm=note.checking_mm - note.ratio * amount)


def _rail(note: NoteState, amount: float) -> NoteState:
    """Move the rest rail: what stood on it follows, and the gap at the jack opens or closes."""
    slack = note.lost_motion_mm * note.ratio - note.off_rail_mm - amount
    return _at_rest(replace(note, blow_mm=note.blow_mm + note.off_rail_mm + amount, off_rail_mm=0.0), slack)


def _capstan(note: NoteState, amount: float) -> NoteState:
    slack = note.lost_motion_mm * note.ratio - note.off_rail_mm - amount * note.ratio / note.capstan_ratio
    carried = note.ratio / note.capstan_ratio * amount if note.check_on_whippen else 0.0
    moved = replace(
        note,
        blow_mm=note.blow_mm + note.off_rail_mm,
        off_rail_mm=0.0,
        checking_mm=note.checking_mm - carried,
    )
    return _at_rest(moved, slack)


def _at_rest(note: NoteState, slack_mm: float) -> NoteState:
    """Let the hammer rest on its rail where there is slack, else on the jack; slack counts at the hammer."""
    if slack_mm >= 0.0:
        return replace(note, lost_motion_mm=slack_mm / note.ratio)
    return replace(note, lost_motion_mm=0.0, blow_mm=note.blow_mm + slack_mm, off_rail_mm=-slack_mm)


def _shorter(note: NoteState, amount: float) -> NoteState:
    return replace(
        note,
        blow_mm=note.blow_mm + amount,
        set_off_mm=note.set_off_mm + amount,
        checking_mm=note.checking_mm + amount,
    )


_EFFECTS: Final[Mapping[Change, Callable[[NoteState, float], NoteState]]] = {
    Change.DIP: _deeper,
    Change.SET_OFF: lambda note, amount: replace(note, set_off_mm=note.set_off_mm + amount),
    Change.BLOW: _rail,
    Change.CAPSTAN: _capstan,
    Change.CHECK: lambda note, amount: replace(note, checking_mm=note.checking_mm + amount),
    Change.HAMMER_SHORTER: _shorter,
}
