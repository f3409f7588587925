"""Dampers and pedals at the bench: when each leaves its strings by key and by pedal, how far, and the half-blow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from strikeline.domain.catalogue import Action, Catalogue, Nominal, Place, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.damper_lift import HALF_BLOW_SHARE, key_travel_mm, later_hammer_mm, own_scatter
from strikeline.physics.even_run import Run, fit_run
from strikeline.physics.few_values import median_of
from strikeline.physics.regulation import POSSIBLE_RATIO
from strikeline.plain_data import plain_data
from strikeline.workshop.readings import read_readings

SCHEMA: Final = "strikeline.dampers/1"
_READ: Final = ("damper_start", "damper_pedal_start", "damper_rise", "pedal_free_play", "blow", "half_blow")
MOST_SHARE: Final = 0.6
"""Where more than this share of the dampers read starts early (or late), they have one cause (our reasoning)."""


class Timing(StrEnum):
    """When a damper starts."""

    WITHIN = "within"
    EARLY = "early"
    LATE = "late"
    CANNOT_TELL = "cannot tell"


_TIMINGS: Final = {
    Place.WITHIN: Timing.WITHIN,
    Place.LOW: Timing.EARLY,
    Place.HIGH: Timing.LATE,
    Place.CANNOT_TELL: Timing.CANNOT_TELL,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperByKey:
    """One damper lifted by its key."""

    key: int
    start_pct: Measured
    timing: Timing
    later_hammer_mm: Measured | None
    """By how much hammer travel it is to start later, minus earlier; only where it is surely out and a blow known."""
    later_key_mm: Measured | None
    """The same at the key; only with the ratio of the action."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperByPedal:
    """One damper lifted by the pedal."""

    key: int
    start_mm: Measured
    """Travel of the pedal's tip."""
    after_others_mm: Measured
    """Against the run through all of them: plus after the others."""
    timing: Timing


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalLift:
    """How the pedal lifts the dampers."""

    dampers: tuple[DamperByPedal, ...]
    first_mm: Measured
    """Of the run, at the end of the keyboard that leaves first."""
    tilt_mm: Measured | None
    """Highest key after lowest: how much the lift rod or rail hangs to one side."""
    own_scatter_mm: Measured | None
    """Of the dampers about the run, the error of reading taken away: 0 is all together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperRise:
    """How far a damper leaves its strings."""

    key: int
    by_key_mm: Measured | None
    by_pedal_mm: Measured | None
    place: Place | None
    """Of the rise by key."""
    pedal_lifts_more: bool | None
    """As it should; ``None`` where it was not read both ways or the readings are too near to each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfBlow:
    """What the half-blow pedal leaves of one blow."""

    key: int
    share: Measured
    is_usual: bool | None
    """Within a half to two thirds; ``None`` where the error reaches over an end."""
    rail_mm: Measured | None
    """By how much further the rail is to move the hammers, minus less; only where it is surely out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DampersAdvice:
    """What dampers and pedals ask for."""

    action: Action
    by_key: tuple[DamperByKey, ...]
    common: Timing | None
    """Early or late where most are: the cause lies in blow or capstans, not in single spoons."""
    blow_mm: Measured | None
    """Median of the blows read."""
    is_blow_usual: Place | None
    pedal: PedalLift | None
    free_play_mm: Measured | None
    free_play_place: Place | None
    rises: tuple[DamperRise, ...]
    half_blows: tuple[HalfBlow, ...]
    cautions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.dampers/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


def judge_dampers(text: str, *, action: str, ratio: Measured | None = None) -> DampersAdvice:
    """Read a table of damper and pedal readings and say what to bend, in which order.

    Parameters
    ----------
    text : str
        The table, as for `readings.read_readings`: damper lift as share of the hammer's travel, pedal travel to damper
        lift, damper rise (condition: key or pedal), pedal free play, blow, half-blow distance.
    action : str
        Kind of action, as in `Action`.
    ratio : Measured or None
        Hammer travel over key travel: then corrections are told at the key too.

    Returns
    -------
    DampersAdvice

    Raises
    ------
    InputError
        If something cannot be read or nothing of dampers and pedals is in the table.
    """
    kind, catalogue = Action(action), the_catalogue()
    readings = tuple(one for one in read_readings(text, catalogue=catalogue) if one.quantity in _READ)
    if not any(one.quantity != "blow" for one in readings):
        names = ", ".join(catalogue[name].names["gb"] for name in _READ if name != "blow")
        raise InputError(f"the table holds no reading of dampers or pedals; read any of {names}", name="table")
    blows = _by_key(readings, "blow")
    blow = _median([one.value for one in blows.values()])
    by_key = _by_keys(readings, catalogue, kind, blows, blow, ratio)
    free = next((one.value for one in readings if one.quantity == "pedal_free_play"), None)
    used = tuple(dict.fromkeys(one.quantity for one in readings))
    return DampersAdvice(
        action=kind,
        by_key=by_key,
        common=_common(by_key),
        blow_mm=blow,
        is_blow_usual=None if blow is None else _place(catalogue, "blow", kind, blow),
        pedal=_pedal(readings, catalogue, kind),
        free_play_mm=free,
        free_play_place=None if free is None else _place(catalogue, "pedal_free_play", kind, free),
        rises=_rises(readings, catalogue, kind),
        half_blows=() if kind is Action.GRAND else _half_blows(readings, blows),
        cautions=catalogue.cautions_of(used),
    )


def _by_key(readings: Sequence[Reading], quantity: str) -> dict[int, Reading]:
    return {one.key: one for one in readings if one.quantity == quantity and one.key is not None}


def _place(catalogue: Catalogue, quantity: str, action: Action, value: Measured) -> Place | None:
    nominal = catalogue[quantity].nominal(action)
    return None if nominal is None else nominal.place_of(value)


def _median(values: Sequence[Measured]) -> Measured | None:
    return median_of(values) if values else None


def _by_keys(
    readings: Sequence[Reading],
    catalogue: Catalogue,
    action: Action,
    blows: dict[int, Reading],
    blow: Measured | None,
    ratio: Measured | None,
) -> tuple[DamperByKey, ...]:
    nominal = catalogue["damper_start"].nominal(action)
    if nominal is None:
        return ()
    found = list[DamperByKey]()
    for key, one in sorted(_by_key(readings, "damper_start").items()):
        timing = _TIMINGS[nominal.place_of(one.value)]
        own = blows[key].value if key in blows else blow
        hammer = at_key = None
        if timing in {Timing.EARLY, Timing.LATE} and own is not None:
            hammer = _later(one.value, nominal, own)
            if ratio is not None:
                at_key = carry(lambda far, r: key_travel_mm(hammer_mm=far, ratio=r), far=hammer, r=ratio)
        found.append(
            DamperByKey(key=key, start_pct=one.value, timing=timing, later_hammer_mm=hammer, later_key_mm=at_key)
        )
    return tuple(found)


def _later(start: Measured, nominal: Nominal, blow: Measured) -> Measured:
    def later(start_pct: float, blow_mm: float) -> float:
        return (nominal.value - start_pct) * blow_mm / 100.0

    exact = later_hammer_mm(start_pct=start.value, wanted_pct=nominal.value, blow_mm=blow.value)
    return Measured(float(exact), carry(later, start_pct=start, blow_mm=blow).se)


def _common(by_key: Sequence[DamperByKey]) -> Timing | None:
    if len(by_key) < 5:
        return None
    for timing in (Timing.EARLY, Timing.LATE):
        if sum(one.timing is timing for one in by_key) > MOST_SHARE * len(by_key):
            return timing
    return None


def _pedal(readings: Sequence[Reading], catalogue: Catalogue, action: Action) -> PedalLift | None:
    own = sorted(_by_key(readings, "damper_pedal_start").items())
    nominal = catalogue["damper_pedal_start"].nominal(action)
    if not own or nominal is None:
        return None
    keys, values = [key for key, _one in own], [one.value for _key, one in own]
    line = fit_run(keys, values, degree=1)
    middle = _median(values) or values[0]
    run = [middle if line is None else line.at(key) for key in keys]
    dampers = []
    for key, value, at in zip(keys, values, run, strict=True):
        after = Measured(value.value - at.value, math.hypot(value.se, at.se))
        timing = _TIMINGS[nominal.place_of(after, figure=0.0)] if len(own) > 2 else Timing.CANNOT_TELL
        dampers.append(DamperByPedal(key=key, start_mm=value, after_others_mm=after, timing=timing))
    return PedalLift(
        dampers=tuple(dampers),
        first_mm=min(run, key=lambda one: one.value),
        tilt_mm=None if line is None else line.tilt,
        own_scatter_mm=_scatter(values, line, keys),
    )


def _scatter(values: Sequence[Measured], line: Run | None, keys: Sequence[int]) -> Measured | None:
    return (
        None
        if line is None
        else own_scatter(values, about=[line.at(key).value for key in keys], n_fitted=line.degree + 1)
    )


def _rises(readings: Sequence[Reading], catalogue: Catalogue, action: Action) -> tuple[DamperRise, ...]:
    nominal = catalogue["damper_rise"].nominal(action)
    by_key = dict[int, dict[bool, Measured]]()
    for one in readings:
        if one.quantity == "damper_rise" and one.key is not None:
            is_pedal = "pedal" in f"{one.condition} {one.place}".casefold()
            by_key.setdefault(one.key, {})[is_pedal] = one.value
    found = list[DamperRise]()
    for key, own in sorted(by_key.items()):
        by, pedal = own.get(False), own.get(True)
        more = None
        if by is not None and pedal is not None and pedal.differs_from(by):
            more = pedal.value > by.value
        place = None if by is None or nominal is None else nominal.place_of(by)
        found.append(DamperRise(key=key, by_key_mm=by, by_pedal_mm=pedal, place=place, pedal_lifts_more=more))
    return tuple(found)


def _rail_mm(left_mm: float, whole_mm: float) -> float:
    """Return by how much further the rail is to move the hammers, to leave the middle of what is usual."""
    return left_mm - sum(HALF_BLOW_SHARE) / 2.0 * whole_mm


def _half_blows(readings: Sequence[Reading], blows: dict[int, Reading]) -> tuple[HalfBlow, ...]:
    found = list[HalfBlow]()
    for key, one in sorted(_by_key(readings, "half_blow").items()):
        if key not in blows:
            continue
        whole = blows[key].value
        share = carry(lambda half, full: half / full, half=one.value, full=whole)
        half = share.half_width
        low, high = HALF_BLOW_SHARE
        is_usual: bool | None = None
        if low <= share.value - half and share.value + half <= high:
            is_usual = True
        elif share.value + half < low or share.value - half > high:
            is_usual = False
        rail = None
        if is_usual is False:
            rail = carry(_rail_mm, left_mm=one.value, whole_mm=whole)
        found.append(HalfBlow(key=key, share=share, is_usual=is_usual, rail_mm=rail))
    return tuple(found)


def read_ratio(written: str) -> Measured:
    """Return hammer travel over key travel as written, with its ± where there is one; 2 % where there is none."""
    value, plus_minus, error = written.replace("+/-", "±").replace("+-", "±").replace(",", ".").partition("±")
    try:
        ratio, half = float(value), float(error) if plus_minus else 0.02 * float(value)
    except ValueError:
        ratio, half = math.nan, math.nan
    low, high = POSSIBLE_RATIO
    if not (low <= ratio <= high and half >= 0.0):
        raise InputError.of("ratio", written, f"a number from {low:g} to {high:g}, such as 5.0 or 5.0±0.2")
    return Measured(ratio, half / HALF_WIDTHS_PER_SE)
