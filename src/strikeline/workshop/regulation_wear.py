"""What readings of an action say together: the middle of each quantity, and the wear of an action nobody has served."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from strikeline.domain.catalogue import Action, Catalogue, Nominal, Place, Quantity
from strikeline.domain.reading import Reading
from strikeline.measured import Measured
from strikeline.physics.few_values import median_of

OF_THE_ACTION: Final = ("key_dip", "blow", "set_off", "lost_motion", "checking", "aftertouch")
"""Quantities that regulation hangs on."""
_WEAR: Final = {"key_dip": Place.HIGH, "set_off": Place.LOW, "blow": Place.HIGH, "checking": Place.LOW}
"""Wear of an unserviced action: dip up (washers, back-rail cloth), set-off down (button felt), blow up (hammers, rail
cloth), checking down (player-piano digest archive, 2010-02-15)."""


class Wear(StrEnum):
    """What blow, dip, set-off and checking say together."""

    UNSERVICED = "unserviced"
    PARTLY_SERVICED = "partly serviced"
    NONE = "no wear signature"
    CANNOT_TELL = "cannot tell"


WEAR_WORDS: Final = {
    Wear.UNSERVICED: "dip has grown, set-off and checking have come near, the blow has become long: the action has "
    "worn as a whole and has not been regulated for long. Regulate the whole set, not one value.",
    Wear.PARTLY_SERVICED: "some of dip, set-off, blow and checking show wear and some have been put right: past "
    "servicing mended only a part, which upsets the rest. Measure and regulate the whole set.",
    Wear.NONE: "dip, set-off, blow and checking do not show the wear of an unserviced action.",
    Wear.CANNOT_TELL: "dip, set-off, blow and checking were not all read, lie too near their limits, or "
    "may be as this maker meant them.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Middle:
    """One quantity over the notes that were read."""

    quantity: str
    median: Measured
    n_notes: int
    place: Place | None
    is_beyond_usual: bool
    """Whether it surely lies outside the whole range that sources give, so that no maker meant it so."""


def find_middles(readings: Sequence[Reading], catalogue: Catalogue, action: Action) -> Iterable[Middle]:
    """Return the middle of each quantity of the action that was read, in their order.

    Parameters
    ----------
    readings : sequence of Reading
        Of any quantities.
    catalogue : Catalogue
        With the figures that hold for the piano.
    action : Action
        Which figures apply.
    """
    for name in OF_THE_ACTION:
        values = [one.value for one in readings if one.quantity == name]
        if values:
            yield _middle(catalogue[name], values, action)


def _middle(quantity: Quantity, values: Sequence[Measured], action: Action) -> Middle:
    """Return the median over the notes; its error is that of a median of values that scatter as these do."""
    median = median_of(values)
    nominal = quantity.nominal(action)
    place = None if nominal is None else nominal.place_of(median)
    return Middle(
        quantity=quantity.id,
        median=median,
        n_notes=len(values),
        place=place,
        is_beyond_usual=nominal is not None and _is_beyond(median, nominal),
    )


def _is_beyond(median: Measured, nominal: Nominal) -> bool:
    half = median.half_width
    below = nominal.low is not None and median.value + half < nominal.low
    return below or (nominal.high is not None and median.value - half > nominal.high)


def judge_wear(middles: Sequence[Middle]) -> Wear:
    """Return what blow, dip, set-off and checking say together."""
    places = {one.quantity: one.place for one in middles if one.quantity in _WEAR}
    if len(places) < len(_WEAR):
        return Wear.CANNOT_TELL
    worn = sum(places[name] is side for name, side in _WEAR.items())
    sound = sum(places[name] is Place.WITHIN for name in _WEAR)
    if worn >= 3 and worn + sum(place is Place.CANNOT_TELL for place in places.values()) == len(_WEAR):
        return Wear.UNSERVICED
    # One or two figures off the usual ones may be the maker's own; three, or one that no source has, are wear.
    is_wear = worn >= 3 or any(one.is_beyond_usual and one.place is _WEAR.get(one.quantity) for one in middles)
    if worn and sound and is_wear:
        return Wear.PARTLY_SERVICED
    return Wear.NONE if worn == 0 and sound == len(_WEAR) else Wear.CANNOT_TELL
