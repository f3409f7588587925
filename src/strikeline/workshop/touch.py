"""Touch: from down and up weights to balance and friction, what stands out, and what to do about it in which order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np

from strikeline.domain.catalogue import Action, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.touch import Outlier, TouchNote, find_outliers, touch_of
from strikeline.plain_data import plain_data
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.readings import read_readings

SCHEMA: Final = "strikeline.touch/1"
FRICTION_HIGH_G: Final = 17.0
"""Friction of key and action above which to look for its cause (one school's optimum is 17 g in all: action-tool
maker's articles; normal about 12, 21 called too high, 32 gross: technicians' mailing list 2003-05, 2003-12)."""
FRICTION_LOW_G: Final = 6.0
"""Below this centres are likely loose (our reasoning)."""
UP_WEIGHT_LEAST_G: Final = 20.0
"""Needed for good repetition (action-tool maker's articles)."""
KEY_FRICTION_HIGH_G: Final = 6.0
"""Friction of the key alone above which bushings or pins are the cause (technicians' mailing list 2003-05)."""
POSSIBLE_BALANCE_G: Final = (20.0, 60.0)
"""Balance weights that can be wanted: 38 to 40 g is usual in concert grands (technicians' teaching sheet); far from
that a figure is a slip (our reasoning)."""
_OUTLIER_LEAST_G: Final = 4.0
"""Departures from the neighbours below this are not felt (our reasoning)."""


class TouchFault(StrEnum):
    """What is wrong with the touch of a key."""

    FRICTION_HIGH = "friction high"
    FRICTION_LOW = "friction low"
    UP_WEIGHT_LOW = "up weight low"
    KEY_TIGHT = "key itself tight"
    NO_ROOM_FOR_LEAD = "too much friction for the balance weight wanted"
    """With so much lead the key would lift less than it needs to repeat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyTouch:
    """Touch of one key and what is surely wrong with it."""

    touch: TouchNote
    key_friction_g: Measured | None
    """Friction of the key alone, action out."""
    faults: tuple[TouchFault, ...]
    lead_g: Measured | None
    """Lead at the key front that brings the balance weight to the one wanted: plus to add, minus to take. Only told
    where friction is in order, and never for an upright, whose springs no lead can balance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchAdvice:
    """The touch of an instrument."""

    action: Action
    keys: tuple[KeyTouch, ...]
    balance_outliers: tuple[Outlier, ...]
    friction_outliers: tuple[Outlier, ...]
    median_balance_g: float
    median_friction_g: float
    wanted_balance_g: float | None
    left_out: tuple[int, ...]
    """Keys of which one of the two weights was not read."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return the cautions that go with what was read and with what is to be done."""
        alone = ("key_friction",) if any(one.key_friction_g is not None for one in self.keys) else ()
        lead = ("lead",) if any(one.lead_g is not None for one in self.keys) else ()
        return tuple(dict.fromkeys((*the_catalogue().cautions_of(alone), *lead)))

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.touch/1``."""
        fields = {name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}
        return {"schema": SCHEMA, **fields, "cautions": list(self.cautions)}


def judge_touch(text: str, *, action: str, wanted_balance_g: float | None = None) -> TouchAdvice:
    """Read a table of touch weights and say what they mean.

    Parameters
    ----------
    text : str
        The table, as for `readings.read_readings`: down weight, up weight, and if wanted friction of the key alone.
    action : str
        Kind of action, as in `Action`.
    wanted_balance_g : float or None
        Balance weight to be reached with lead, in grands only.

    Returns
    -------
    TouchAdvice

    Raises
    ------
    InputError
        If something cannot be read, no key has both weights, or lead is asked for an upright.
    """
    kind = Action(action)
    if wanted_balance_g is not None and kind is not Action.GRAND:
        raise InputError(
            "lead is not calculated for uprights: springs carry part of the weight; mend friction and springs instead",
            name="balance",
        )
    low, high = POSSIBLE_BALANCE_G
    if wanted_balance_g is not None and not low <= wanted_balance_g <= high:
        raise InputError.of("balance", wanted_balance_g, f"{low:g} to {high:g} g")
    readings = read_readings(text, catalogue=the_catalogue())
    touches = _touches(readings)
    if not touches:
        raise InputError("no key has both a down weight and an up weight; measure both, damper pedal down")
    alone = {one.key: one.value for one in readings if one.quantity == "key_friction"}
    keys = tuple(_judged(one, alone.get(one.key), wanted_balance_g) for one in touches)
    order = [one.key for one in touches]
    weighed = {one.key for one in readings if one.key is not None and one.quantity in _WEIGHTS}
    return TouchAdvice(
        action=kind,
        keys=keys,
        balance_outliers=find_outliers(order, [one.balance_weight_g for one in touches], least=_OUTLIER_LEAST_G),
        friction_outliers=find_outliers(order, [one.friction_g for one in touches], least=_OUTLIER_LEAST_G),
        median_balance_g=float(np.median([one.balance_weight_g.value for one in touches])),
        median_friction_g=float(np.median([one.friction_g.value for one in touches])),
        wanted_balance_g=wanted_balance_g,
        left_out=tuple(sorted(weighed - set(order))),
    )


_WEIGHTS: Final = ("down_weight", "up_weight")


def _touches(readings: Sequence[Reading]) -> list[TouchNote]:
    by_key = dict[int, dict[str, list[Reading]]]()
    for one in readings:
        if one.key is not None and one.quantity in _WEIGHTS:
            by_key.setdefault(one.key, {}).setdefault(one.quantity, []).append(one)
    found, mistakes = list[TouchNote](), list[str]()
    for key, own in sorted(by_key.items()):
        if len(own) == 2:
            try:
                down, up = (_mean(own[name]) for name in _WEIGHTS)
                found.append(touch_of(key, down_weight_g=down, up_weight_g=up))
            except InputError as error:
                mistakes.append(f"line {own['down_weight'][0].line}: {error}")
    if mistakes:
        raise EntryError(mistakes)
    return found


def _mean(readings: Sequence[Reading]) -> Measured:
    """Return the mean of readings of one key, of which none is better than another."""
    n = len(readings)
    return Measured(
        sum(one.value.value for one in readings) / n, math.sqrt(sum(one.value.se**2 for one in readings)) / n
    )


def _judged(touch: TouchNote, alone: Measured | None, wanted: float | None) -> KeyTouch:
    faults = [fault for fault, is_so in _faults(touch, alone, wanted) if is_so]
    lead = None
    if wanted is not None and not faults:
        # One gram at the front takes one gram off the balance weight (technicians' teaching sheet).
        lead = Measured(touch.balance_weight_g.value - wanted, touch.balance_weight_g.se)
    return KeyTouch(touch=touch, key_friction_g=alone, faults=tuple(faults), lead_g=lead)


def _faults(touch: TouchNote, alone: Measured | None, wanted: float | None) -> list[tuple[TouchFault, bool]]:
    # Lead lowers down and up weight alike: the up weight becomes the balance weight wanted less the friction.
    least_room = None if wanted is None else wanted - UP_WEIGHT_LEAST_G
    return [
        (TouchFault.FRICTION_HIGH, _surely_above(touch.friction_g, FRICTION_HIGH_G)),
        (TouchFault.FRICTION_LOW, _surely_below(touch.friction_g, FRICTION_LOW_G)),
        (TouchFault.UP_WEIGHT_LOW, _surely_below(touch.up_weight_g, UP_WEIGHT_LEAST_G)),
        (TouchFault.KEY_TIGHT, alone is not None and _surely_above(alone, KEY_FRICTION_HIGH_G)),
        (TouchFault.NO_ROOM_FOR_LEAD, least_room is not None and _surely_above(touch.friction_g, least_room)),
    ]


def _surely_above(value: Measured, limit: float) -> bool:
    return value.value - value.half_width > limit


def _surely_below(value: Measured, limit: float) -> bool:
    return value.value + value.half_width < limit
