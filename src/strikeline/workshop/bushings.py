"""Key bushings: from the sideways play of some keys to how many of the set to re-bush, and how long it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from strikeline.domain.catalogue import Nominal, Place
from strikeline.domain.reading import Reading
from strikeline.measured import Measured
from strikeline.physics.sample_share import count_interval

HOURS_PER_BUSHING: Final = (0.8 / 60.0, 4.0 / 176.0, 2.5 / 60.0)
"""Fewest, likely and most: about 4 hours for front and balance of 88 keys by a practised worker (player-piano digest
archive 2005-12-18); the ends are our reasoning, to be replaced by the workshop's own diary."""
SET_FROM_SHARE: Final = 0.25
"""Above this share of worn bushings the whole rail is re-bushed (our reasoning)."""
_EATEN: Final = ("moth", "mite", "eaten", "holes")
_PLACES: Final = {"front": ("front",), "balance": ("balance", "middle")}


class BushingWork(StrEnum):
    """What a rail of bushings asks for."""

    SET = "re-bush the set"
    SINGLE = "re-bush single keys"
    NONE = "leave"
    MORE = "cannot tell: read more keys"


@dataclass(frozen=True, slots=True, kw_only=True)
class BushingAdvice:
    """One rail of bushings."""

    rail: str
    """``"front"``, ``"balance"``, or ``"unnamed"`` where no reading says which."""
    n_read: int
    worn_keys: tuple[int, ...]
    """Surely above the limit, or seen eaten."""
    unsure_keys: tuple[int, ...]
    is_eaten: bool
    """Whether moth or mites were seen: then all key felt is to be looked at."""
    worst: Measured
    n_all: int
    to_rebush: tuple[float, float, float]
    """Fewest, likely, most of the set (95 %)."""
    hours: tuple[float, float, float]
    work: BushingWork


def judge_bushings(readings: Sequence[Reading], nominal: Nominal | None, *, n_keys: int) -> tuple[BushingAdvice, ...]:
    """Return what each rail of bushings asks for.

    Parameters
    ----------
    readings : sequence of Reading
        Of ``key_side_play``; others are left aside. Place or condition says front or balance.
    nominal : Nominal or None
        Figure and tolerance; without one nothing is told.
    n_keys : int
        Keys of the keyboard.
    """
    if nominal is None:
        return ()
    by_rail = dict[str, list[Reading]]()
    for one in readings:
        if one.quantity == "key_side_play" and one.key is not None:
            by_rail.setdefault(_rail(one), []).append(one)
    return tuple(_rail_advice(rail, own, nominal, n_keys) for rail, own in sorted(by_rail.items()))


def _rail(one: Reading) -> str:
    said = f"{one.place} {one.condition}".casefold()
    return next((rail for rail, words in _PLACES.items() if any(word in said for word in words)), "unnamed")


def _is_eaten(one: Reading) -> bool:
    return any(word in f"{one.place} {one.condition}".casefold() for word in _EATEN)


def _rail_advice(rail: str, own: Sequence[Reading], nominal: Nominal, n_keys: int) -> BushingAdvice:
    places = {id(one): Place.HIGH if _is_eaten(one) else nominal.place_of(one.value) for one in own}
    worn = tuple(sorted({one.key for one in own if one.key is not None and places[id(one)] is Place.HIGH}))
    unsure = tuple(sorted({one.key for one in own if one.key is not None and places[id(one)] is Place.CANNOT_TELL}))
    unsure = tuple(key for key in unsure if key not in worn)
    keys = {one.key for one in own}
    n_all = max(n_keys, len(keys))
    counts = _counts(n_worn=len(worn), n_unsure=len(unsure), n_read=len(keys), n_all=n_all)
    hours = tuple(count * each for count, each in zip(counts, HOURS_PER_BUSHING, strict=True))
    return BushingAdvice(
        rail=rail,
        n_read=len(keys),
        worn_keys=worn,
        unsure_keys=unsure,
        is_eaten=any(_is_eaten(one) for one in own),
        worst=max((one.value for one in own), key=lambda value: value.value),
        n_all=n_all,
        to_rebush=counts,
        hours=(hours[0], hours[1], hours[2]),
        work=_work(counts, n_worn=len(worn), n_unsure=len(unsure), n_all=n_all),
    )


def _counts(*, n_worn: int, n_unsure: int, n_read: int, n_all: int) -> tuple[float, float, float]:
    """Return how many to re-bush: fewest were none of those that cannot be told worn, most were all of them."""
    fewest, likely, _ = count_interval(n_of_kind=n_worn, n_read=n_read, n_all=n_all)
    *_, most = count_interval(n_of_kind=n_worn + n_unsure, n_read=n_read, n_all=n_all)
    n_told = n_read - n_unsure
    return fewest, likely if n_told == 0 else min(most, max(fewest, n_all * n_worn / n_told)), most


def _work(counts: tuple[float, float, float], *, n_worn: int, n_unsure: int, n_all: int) -> BushingWork:
    low, _likely, high = (count / n_all for count in counts)
    if low > SET_FROM_SHARE:
        return BushingWork.SET
    if high <= SET_FROM_SHARE:
        if n_worn:
            return BushingWork.SINGLE
        return BushingWork.NONE if not n_unsure else BushingWork.MORE
    return BushingWork.MORE
