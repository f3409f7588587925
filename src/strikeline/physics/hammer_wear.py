"""Reface or replace: what each hammer has lost, what refacing leaves of its felt, and what that says of a section."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.special import ndtr

from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.hammer_shape import cut_depth_mm
from strikeline.physics.sample_share import share_interval

LIGHT_MARK_MM: Final = 6.0
"""Marks up to this length are light (technicians' article on hammer shaping: about 6 mm light, 12 mm heavy)."""
NEXT_MARK_MM: Final = 10.0
"""Length of mark at which a hammer would be refaced again (our reasoning: between light and heavy)."""
SKIM_MM: Final = Measured(0.1, 0.05)
"""What comes off below the mark so that it is gone (our reasoning)."""
_LEAST_FELT: Final = ((64.0, 4.5), (76.0, 2.0))
"""Felt over the moulding that a hammer needs after refacing, by key: 4 to 5 mm up to the tenor, 2 mm in the top octave
(from memory, low confidence; no published threshold was found), a straight line between."""
_SURE: Final = 0.95
_REPLACED_SHARE: Final = 0.25
"""Share of hammers of a section that cannot be refaced, above which the section is replaced as a whole: new and old
felt beside each other do not sound alike (our reasoning)."""
_FEWEST: Final = 3
_BARE: Final = "the felt under them is thinner than a hammer needs: look whether wood shows or the tone is hard"
_DISAGREES: Final = "length and depth of the mark do not agree; the deeper one counts, look at the crown again"


class Remedy(StrEnum):
    """What a hammer asks for."""

    LEAVE = "leave"
    REFACE = "reface"
    REPLACE = "replace"
    CANNOT_TELL = "cannot tell"


def least_felt_mm(key: float) -> float:
    """Return the felt over the moulding that a hammer needs after refacing (from memory, low confidence).

    Examples
    --------
    >>> [least_felt_mm(key) for key in (20, 70, 88)]
    [4.5, 3.25, 2.0]
    """
    keys, felts = zip(*_LEAST_FELT, strict=True)
    return float(np.interp(key, keys, felts))


@dataclass(frozen=True, slots=True, kw_only=True)
class WornHammer:
    """What was read on one hammer; what was not read is ``None``."""

    key: int
    groove_length_mm: Measured | None = None
    groove_depth_mm: Measured | None = None
    crown_radius_mm: Measured | None = None
    felt_mm: Measured | None = None
    """Over the moulding, at the bottom of the deepest mark."""
    winding_mm: Measured | None = None
    """Outside of the wound string that made the mark."""
    is_condemned: str = ""
    """Why it cannot be kept whatever its measures are: moth, open glue, brittle felt; empty if nothing was seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HammerVerdict:
    """What one hammer asks for, and the figures that say so."""

    key: int
    remedy: Remedy
    reasons: tuple[str, ...]
    depth_mm: Measured | None
    """Felt to take off the crown, a little more than the marks are deep; blow, set-off and checking grow by it."""
    felt_after_mm: Measured | None
    least_felt_mm: float
    p_enough: float | None
    """Probability that enough felt is left, from the readings' errors alone."""
    refacings_left: tuple[int, int] | None
    """How many more refacings the felt allows after this one, fewest and most (95 %)."""


def judge_hammer(hammer: WornHammer, *, usual_radius_mm: Measured | None) -> HammerVerdict:
    """Return what a hammer asks for.

    Parameters
    ----------
    hammer : WornHammer
        As read.
    usual_radius_mm : Measured or None
        Radius of its neighbours' crowns, with their scatter, used where its own was not read.

    Returns
    -------
    HammerVerdict
        `Remedy.CANNOT_TELL` with the reason where readings are missing or too near the limit.

    Examples
    --------
    >>> worn = WornHammer(
    ...     key=40, groove_length_mm=Measured(10.0, 0.25), crown_radius_mm=Measured(10.0, 0.35),
    ...     felt_mm=Measured(8.0, 0.2),
    ... )
    >>> verdict = judge_hammer(worn, usual_radius_mm=None)
    >>> verdict.remedy.value, round(verdict.depth_mm.value, 2), verdict.refacings_left
    ('reface', 1.44, (2, 2))
    """
    least = least_felt_mm(hammer.key)
    radius = hammer.crown_radius_mm or usual_radius_mm
    depth, notes = _depth(hammer, radius)
    after = None if hammer.felt_mm is None else _less(hammer.felt_mm, SKIM_MM)
    p_enough = None if after is None else float(ndtr((after.value - least) / max(after.se, 1e-9)))
    remedy, why = _remedy(hammer, depth, after, least, p_enough)
    if remedy is Remedy.LEAVE and (_DISAGREES in notes or (p_enough is not None and p_enough < 1.0 - _SURE)):
        remedy, why = Remedy.CANNOT_TELL, (why if _DISAGREES in notes else (*why, _BARE))
    return HammerVerdict(
        key=hammer.key,
        remedy=remedy,
        reasons=(*why, *notes),
        depth_mm=None if depth is None else Measured(depth.value + SKIM_MM.value, math.hypot(depth.se, SKIM_MM.se)),
        felt_after_mm=after,
        least_felt_mm=least,
        p_enough=p_enough,
        refacings_left=_refacings_left(after, least, radius),
    )


def _less(value: Measured, other: Measured) -> Measured:
    return Measured(value.value - other.value, math.hypot(value.se, other.se))


def _depth(hammer: WornHammer, radius: Measured | None) -> tuple[Measured | None, tuple[str, ...]]:
    """Return the felt to take, from the mark's length and the radius and from its depth where that was read."""
    from_length = None
    if hammer.groove_length_mm is not None and radius is not None:
        longest = 2.0 * radius.value
        if hammer.groove_length_mm.value + hammer.groove_length_mm.se >= longest - 2.0 * radius.se:
            return hammer.groove_depth_mm, ("the mark is as long as the crown is wide: the crown is flat",)
        from_length = carry(
            lambda length, round_: cut_depth_mm(groove_length_mm=max(0.0, length), crown_radius_mm=round_),
            length=hammer.groove_length_mm,
            round_=radius,
        )
    read = hammer.groove_depth_mm
    if from_length is None or read is None:
        return from_length or read, ()
    if read.differs_from(from_length, by_se=2.58):
        deeper = max(read, from_length, key=lambda one: one.value)
        return deeper, (_DISAGREES,)
    weights = [1.0 / one.se**2 for one in (read, from_length)]
    mean = (read.value * weights[0] + from_length.value * weights[1]) / sum(weights)
    return Measured(mean, 1.0 / math.sqrt(sum(weights))), ()


def _remedy(
    hammer: WornHammer, depth: Measured | None, after: Measured | None, least: float, p_enough: float | None
) -> tuple[Remedy, tuple[str, ...]]:
    certain = _certain(hammer, depth)
    if certain is not None:
        return certain
    if after is None or p_enough is None or depth is None:
        missing = "the felt over the moulding was not read" if after is None else _no_depth(hammer)
        return Remedy.CANNOT_TELL, (missing,)
    figure = f"{after.value:.1f} mm of felt would be left, {least:.1f} mm are needed"
    if p_enough >= _SURE:
        return Remedy.REFACE, (figure,)
    if p_enough <= 1.0 - _SURE:
        return Remedy.REPLACE, (figure,)
    return Remedy.CANNOT_TELL, (f"{figure}: too near to say; measure the felt more finely",)


def _no_depth(hammer: WornHammer) -> str:
    if hammer.groove_length_mm is None:
        return "neither length nor depth of the marks was read"
    return "the length of the marks tells their depth only with the radius of the crown; read it, or the depth itself"


def _certain(hammer: WornHammer, depth: Measured | None) -> tuple[Remedy, tuple[str, ...]] | None:
    """Return what is settled without looking at the felt that is left."""
    if hammer.is_condemned:
        return Remedy.REPLACE, (hammer.is_condemned,)
    wire, length = hammer.winding_mm, hammer.groove_length_mm
    if (
        depth is not None
        and wire is not None
        and depth.value - HALF_WIDTHS_PER_SE * math.hypot(depth.se, wire.se) > wire.value
    ):
        return Remedy.REPLACE, ("the marks are deeper than the wound string is thick: the regulation will not close",)
    if length is not None and length.value + length.half_width <= LIGHT_MARK_MM:
        return Remedy.LEAVE, ("the marks are light",)
    return None


def _refacings_left(after: Measured | None, least: float, radius: Measured | None) -> tuple[int, int] | None:
    if after is None or radius is None or radius.value <= NEXT_MARK_MM / 2.0:
        return None
    each = float(cut_depth_mm(groove_length_mm=NEXT_MARK_MM, crown_radius_mm=radius.value)) + SKIM_MM.value
    ends = [(after.value + sign * after.half_width - least) / each for sign in (-1.0, 1.0)]
    return max(0, math.floor(ends[0])), max(0, math.floor(ends[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionVerdict:
    """What a section of hammers asks for as a whole."""

    first_key: int
    last_key: int
    remedy: Remedy
    is_sure: bool
    """Whether the hammers that were read settle it; if not, measure more of them."""
    reasons: tuple[str, ...]
    n_read: int
    n_short: int
    """Hammers that cannot be refaced."""
    worst: Measured | None
    """The most felt that any of them has to lose."""


def judge_section(first_key: int, last_key: int, hammers: Sequence[HammerVerdict]) -> SectionVerdict:
    """Return what a section asks for, from the hammers that were read in it.

    Parameters
    ----------
    first_key, last_key : int
        Ends of the section.
    hammers : sequence of HammerVerdict
        Any hammers; those outside the section are passed over.

    Returns
    -------
    SectionVerdict

    References
    ----------
    .. [1] E. B. Wilson, J. Am. Stat. Assoc. 22, 209-212 (1927) (from memory): interval of a share.
    """
    own = [one for one in hammers if first_key <= one.key <= last_key]
    told = [one for one in own if one.remedy is not Remedy.CANNOT_TELL]
    short = sum(one.remedy is Remedy.REPLACE for one in told)
    worst = max((one.depth_mm for one in own if one.depth_mm is not None), key=lambda one: one.value, default=None)
    remedy, sure, why = _section_remedy(own, told, short)
    return SectionVerdict(
        first_key=first_key,
        last_key=last_key,
        remedy=remedy,
        is_sure=sure,
        reasons=why,
        n_read=len(own),
        n_short=short,
        worst=worst,
    )


def _section_remedy(
    own: Sequence[HammerVerdict], told: Sequence[HammerVerdict], short: int
) -> tuple[Remedy, bool, tuple[str, ...]]:
    if len(told) < _FEWEST:
        return Remedy.CANNOT_TELL, False, (f"hammers that can be judged: {len(told)}, needed: {_FEWEST}",)
    low, high = share_interval(short, len(told))
    untold = f", {len(own) - len(told)} more cannot be told" if len(own) > len(told) else ""
    counted = f"{short} of the {len(told)} hammers that can be judged cannot be refaced{untold}"
    if short / len(told) > _REPLACED_SHARE:
        return Remedy.REPLACE, low > _REPLACED_SHARE, (counted,)
    worn = sum(one.remedy is Remedy.REFACE for one in own)
    singly = () if short == 0 else (f"{counted}; replace those singly and tone them to their neighbours",)
    if worn == 0 and short == 0:
        return Remedy.LEAVE, high < _REPLACED_SHARE, ("the marks are light",)
    why = (f"{worn} of the {len(told)} hammers that can be judged are marked and have felt enough{untold}", *singly)
    return Remedy.REFACE, high < _REPLACED_SHARE, why
