"""Seat and music desk for a player at a piano: heights as people measure them in, what to set, cut or choose out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.seat import (
    ELBOW_ABOVE_KEYS_MM,
    LEG_MM,
    LEG_SHARE_UNDER,
    LOOK_DOWN_DEG,
    PAGE_MIDDLE_MM,
    SHOE_MM,
    elbow_from_stature_mm,
    eye_from_stature_mm,
    knee_from_stature_mm,
    leg_cut_mm,
    leg_top_mm,
    look_down_deg,
    seat_height_mm,
)
from strikeline.plain_data import plain_data
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.seat/1"
_TAPE_MM: Final = {"keys": 3.0, "keybed": 3.0, "desk": 5.0, "stool": 5.0, "cups": 0.5}
"""What a careful hand repeats to with a tape, half-width of 95 of 100 (as in the catalogue of quantities)."""
_BODY_MM: Final = 10.0
"""The same for a measure of somebody sitting (our reasoning)."""
_EYE_TO_PAGE_MM: Final = Measured(650.0, 60.0)
"""Level distance from eye to page, where it was not measured (from memory)."""
_RANGE: Final = re.compile(r"^(\d[^–]*?)\s*(?:-|–|\bto\b)\s*(\d.*)$")


class Fit(StrEnum):
    """Whether something fits, as far as its error tells."""

    YES = "fits"
    NO = "does not fit"
    CANNOT_TELL = "cannot tell"


class DeskPlace(StrEnum):
    """How a desk stands to the eyes."""

    GOOD = "good"
    HIGH = "too high"
    """The head is held back to read it."""
    LOW = "too low"
    """The neck is bent to read it."""
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stool:
    """One stool against the seat wanted."""

    written: str
    low_mm: float
    high_mm: float
    fit: Fit
    set_to_mm: float | None
    """Where to set it: the nearest to the seat wanted that it reaches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """One height of the music desk."""

    above_keys_mm: Measured
    look_down_deg: Measured
    place: DeskPlace


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatAdvice:
    """What a player needs at a piano."""

    key_top_mm: Measured
    """With the castor cups, if there are any."""
    elbow_mm: Measured
    is_elbow_measured: bool
    """Otherwise it follows from the stature, with low confidence."""
    seat_low_mm: Measured
    """Elbow level with the keys' tops."""
    seat_high_mm: Measured
    """Elbow 20 mm above them."""
    seat_mm: Measured
    """Between the two."""
    leg_room_mm: Measured | None
    """Between the leg and the keybed; minus where it does not fit."""
    is_thigh_measured: bool
    legs: Fit | None
    """``None`` where keybed or knee is not known."""
    is_knee_measured: bool
    foot_rest_mm: Measured | None
    """What the feet need beneath them; ``None`` where nothing is known of the knee, or nothing surely is needed."""
    lower_by_mm: Measured | None
    """By how much the present stool is to sink, minus to rise."""
    leg_cut_mm: Measured | None
    """Along each leg; ``None`` where it is not surely to be lowered."""
    stools: tuple[Stool, ...]
    desks: tuple[Desk, ...]
    better_desk: int | None
    """Which of the desks, from 0, is surely nearer to a comfortable look."""
    eye_mm: Measured | None
    """Above the floor."""
    is_eye_measured: bool
    cautions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.seat/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


def advise_seat(
    *,
    keys: str,
    elbow: str | None = None,
    stature: str | None = None,
    keybed: str | None = None,
    thigh: str | None = None,
    knee: str | None = None,
    stool: str | None = None,
    splay: str | None = None,
    choose: Sequence[str] = (),
    cups: str | None = None,
    desks: Sequence[str] = (),
    eye: str | None = None,
    distance: str | None = None,
) -> SeatAdvice:
    """Return seat, room for the thighs, feet, stool and desk for a player.

    Parameters
    ----------
    keys : str
        Top of a natural above the floor, as written.
    elbow, stature : str, optional
        Seat to elbow, arm hanging; or the player's height, from which it follows badly. One of them must be given.
    keybed : str, optional
        Clear height under the keybed.
    thigh, knee : str, optional
        Thickness of the leg where it goes beneath the keys; floor to the hollow of the knee, barefoot.
    stool : str, optional
        Height of the seat that is there, the player on it.
    splay : str, optional
        Angle of its legs from upright.
    choose : sequence of str
        Stools to choose from: a height or a range each.
    cups : str, optional
        What castor cups raise the piano by.
    desks : sequence of str
        Heights of the music desk above the keys.
    eye : str, optional
        Seat to eye.
    distance : str, optional
        Eye to page, level.

    Returns
    -------
    SeatAdvice

    Raises
    ------
    InputError
        If something cannot be read, or neither elbow nor stature is given.
    """
    tall = None if stature is None else _length(stature, "stature", 900, 2300, _BODY_MM)
    raised = Measured(0.0, 0.0) if cups is None else _length(cups, "cups", 0, 100, _TAPE_MM["cups"])
    key = _sum(_length(keys, "keys", 500, 1000, _TAPE_MM["keys"]), raised)
    if elbow is not None:
        elbow_mm = _length(elbow, "elbow", 80, 400, _BODY_MM)
    elif tall is not None:
        elbow_mm = elbow_from_stature_mm(tall)
    else:
        raise InputError("how high the elbow is must be known: measure --elbow from the seat, or give --stature")
    low, high, middle = (_seat(key, elbow_mm, rise) for rise in (*ELBOW_ABOVE_KEYS_MM, sum(ELBOW_ABOVE_KEYS_MM) / 2.0))
    hollow = _knee(knee, tall)
    room = None
    if keybed is not None and hollow is not None:
        bed = _sum(_length(keybed, "keybed", 350, 900, _TAPE_MM["keybed"]), raised)
        leg = LEG_MM if thigh is None else _length(thigh, "thigh", 60, 300, _BODY_MM)
        room = _room(bed, middle, hollow, leg)
    lower = None
    if stool is not None:
        lower = _sum(_length(stool, "stool", 200, 900, _TAPE_MM["stool"]), middle, minus=True)
    eye_mm = _eye(middle, eye, tall)
    found = tuple(_desk(one, key, eye_mm, distance) for one in desks) if eye_mm is not None else ()
    if desks and eye_mm is None:
        raise InputError("where the eyes are must be known for a desk: measure --eye from the seat, or give --stature")
    return SeatAdvice(
        key_top_mm=key,
        elbow_mm=elbow_mm,
        is_elbow_measured=elbow is not None,
        seat_low_mm=low,
        seat_high_mm=high,
        seat_mm=middle,
        leg_room_mm=room,
        is_thigh_measured=thigh is not None,
        legs=None if room is None else _fit(room),
        is_knee_measured=knee is not None,
        foot_rest_mm=None if hollow is None else _foot_rest(middle, hollow),
        lower_by_mm=lower,
        leg_cut_mm=_leg_cut(lower, splay),
        stools=tuple(_stool(one, low, high, middle) for one in choose),
        desks=found,
        better_desk=_better(found, desks, key, eye_mm, distance),
        eye_mm=eye_mm,
        is_eye_measured=eye is not None,
        cautions=("lifting",) if cups is not None else (),
    )


def _length(written: str, name: str, low: float, high: float, half_width: float) -> Measured:
    value = read_quantity(written, name=name, unit="mm", low=low, high=high)
    return value if value.se > 0 else Measured(value.value, half_width / HALF_WIDTHS_PER_SE)


def _sum(one: Measured, other: Measured, *, minus: bool = False) -> Measured:
    return carry(lambda a, b: a - b if minus else a + b, a=one, b=other)


def _seat(key: Measured, elbow: Measured, rise_mm: float) -> Measured:
    return carry(
        lambda key_mm, elbow_mm: seat_height_mm(
            key_top_mm=key_mm, elbow_above_seat_mm=elbow_mm, elbow_above_keys_mm=rise_mm
        ),
        key_mm=key,
        elbow_mm=elbow,
    )


def _fit(room: Measured) -> Fit:
    half = room.half_width
    return Fit.YES if room.value > half else Fit.NO if room.value < -half else Fit.CANNOT_TELL


def _knee(knee: str | None, tall: Measured | None) -> Measured | None:
    """Return the hollow of the knee above the floor, in shoes; ``None`` where nothing is known of it."""
    if knee is not None:
        bare = _length(knee, "knee", 200, 650, _BODY_MM)
    elif tall is not None:
        bare = knee_from_stature_mm(tall)
    else:
        return None
    return _sum(bare, SHOE_MM)


def _room(bed: Measured, seat: Measured, hollow: Measured, leg: Measured) -> Measured:
    def room(bed_mm: float, seat_mm: float, knee_mm: float, leg_mm: float, share: float) -> float:
        return bed_mm - float(leg_top_mm(seat_mm=seat_mm, knee_mm=knee_mm, share=share, leg_mm=leg_mm))

    return carry(room, bed_mm=bed, seat_mm=seat, knee_mm=hollow, leg_mm=leg, share=LEG_SHARE_UNDER)


def _foot_rest(seat: Measured, hollow: Measured) -> Measured | None:
    """Return how far the feet are from standing flat, ``None`` where it is not surely more than nothing."""
    gap = _sum(seat, hollow, minus=True)
    return gap if gap.value > gap.half_width else None


def _leg_cut(lower: Measured | None, splay: str | None) -> Measured | None:
    if lower is None or lower.value <= lower.half_width:
        return None
    angle = Measured(0.0, 0.0)
    if splay is not None:
        angle = read_quantity(splay, name="splay", unit="°", low=0.0, high=40.0)
    return carry(lambda by, deg: leg_cut_mm(lower_by_mm=by, splay_deg=max(0.0, deg)), by=lower, deg=angle)


def _stool(written: str, low: Measured, high: Measured, middle: Measured) -> Stool:
    match = _RANGE.match(written.strip())
    parts = [match[1], match[2]] if match else [written, written]
    if match and not re.search(r"[^\d\s.,½¼¾]", match[1]):
        parts[0] += re.sub(r"^[\d\s.,½¼¾]*", " ", match[2])
    least, most = (read_quantity(one, name="stool", unit="mm", low=200.0, high=900.0).value for one in parts)
    if most < least:
        raise InputError.of("stool", written, "the lower height first")
    # It serves if it reaches some height between elbow level with the keys and elbow slightly above them.
    over = _fit(Measured(most - low.value, low.se))
    under = _fit(Measured(high.value - least, high.se))
    fit = Fit.CANNOT_TELL
    if Fit.NO in {over, under}:
        fit = Fit.NO
    elif over is under is Fit.YES:
        fit = Fit.YES
    return Stool(
        written=written,
        low_mm=least,
        high_mm=most,
        fit=fit,
        set_to_mm=None if fit is Fit.NO else min(max(middle.value, least), most),
    )


def _eye(seat: Measured, eye: str | None, tall: Measured | None) -> Measured | None:
    if eye is not None:
        return _sum(seat, _length(eye, "eye", 400, 1100, _BODY_MM))
    return None if tall is None else _sum(seat, eye_from_stature_mm(tall))


def _distance(written: str | None) -> Measured:
    return _EYE_TO_PAGE_MM if written is None else _length(written, "distance", 200, 1500, 2 * _BODY_MM)


def _desk(written: str, key: Measured, eye: Measured, distance: str | None) -> Desk:
    high = _length(written, "desk", 0, 800, _TAPE_MM["desk"])
    # The seat follows the keys, so an error of the keys' height moves eye and page alike: it is in the eye's already.
    angle = carry(
        lambda eye_mm, desk_mm, far: look_down_deg(
            eye_mm=eye_mm, page_mm=key.value + desk_mm + PAGE_MIDDLE_MM, distance_mm=far
        ),
        eye_mm=eye,
        desk_mm=high,
        far=_distance(distance),
    )
    half = angle.half_width
    low, most = LOOK_DOWN_DEG
    place = DeskPlace.CANNOT_TELL
    if low <= angle.value - half and angle.value + half <= most:
        place = DeskPlace.GOOD
    elif angle.value + half < low:
        place = DeskPlace.HIGH
    elif angle.value - half > most:
        place = DeskPlace.LOW
    return Desk(above_keys_mm=high, look_down_deg=angle, place=place)


def _better(
    found: Sequence[Desk], desks: Sequence[str], key: Measured, eye: Measured | None, distance: str | None
) -> int | None:
    """Return which desk is surely nearer to the middle of the comfortable look than every other."""
    if len(found) < 2 or eye is None:
        return None
    middle = sum(LOOK_DOWN_DEG) / 2.0

    def over(eye_mm: float, far: float, one: float, two: float) -> float:
        """Return how far the mean of two looks lies over the middle: then the higher desk is the nearer one."""
        pages = key.value + PAGE_MIDDLE_MM + np.array([one, two])
        return float(np.mean(look_down_deg(eye_mm=eye_mm, page_mm=pages, distance_mm=far))) - middle

    best = min(range(len(desks)), key=lambda one: abs(found[one].look_down_deg.value - middle))
    for other, desk in enumerate(found):
        if other != best:
            pair = {"one": found[best].above_keys_mm, "two": desk.above_keys_mm}
            # The eyes are the same for both: their error counts only as far as it changes which is nearer.
            side = carry(over, eye_mm=eye, far=_distance(distance), **pair)
            if not side.differs_from(0.0):
                return None
    return best
