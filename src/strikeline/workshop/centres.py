"""Centres: from a sample of frictions or swings to what is tight, loose or worn, and how long repinning takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

from strikeline.domain.catalogue import Action, Place, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.centres import HOURS_PER_CENTRE, torque_from_swings_gf_mm
from strikeline.physics.sample_share import count_interval
from strikeline.physics.touch import friction_at_key_g
from strikeline.plain_data import plain_data
from strikeline.workshop.readings import read_readings
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.centres/1"


FEWEST_FOR_THE_SET: Final = 8
"""Centres to be judged before anything is said of the set: with fewer, the interval of a share spans most of it (our
reasoning)."""


class CentreState(StrEnum):
    """What a centre is like."""

    GOOD = "good"
    TIGHT = "tight"
    LOOSE = "loose"
    WORN_IN_THE_WOOD = "worn in the wood"
    LOOSE_OR_WORN = "loose or worn in the wood"
    """Play is surely too much, and its friction, which tells the two apart, was not read or lies near a limit."""
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """One centre."""

    key: int
    place: str
    torque_gf_mm: Measured | None
    side_play_mm: Measured | None
    pin_diameter_mm: Measured | None
    at_key_g: Measured | None
    """What its friction weighs at the key front; ``None`` where ratio and reach were not given, or the centre is not
    the hammer's."""
    state: CentreState


@dataclass(frozen=True, slots=True, kw_only=True)
class CentresAdvice:
    """What a sample of centres says of the set."""

    centres: tuple[Centre, ...]
    n_all: int
    to_repin: tuple[float, float, float] | None
    """Centres to be repinned, fewest, likely, most (95 %); ``None`` where too few could be judged."""
    hours: tuple[float, float, float] | None

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.centres/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


def judge_centres(
    text: str,
    *,
    action: str,
    n_all: int,
    hammer_weight: str | None = None,
    arm: str | None = None,
    ratio: float | None = None,
    reach: str | None = None,
) -> CentresAdvice:
    """Read a table of centres and say what they are like.

    Parameters
    ----------
    text : str
        The table, as for `readings.read_readings`: friction of a centre in gf·mm, or swings; sideways play; pin
        diameter; and under place which centre.
    action : str
        Kind of action, as in `Action`.
    n_all : int
        Centres of this sort in the instrument.
    hammer_weight, arm : str or None
        Mass of shank and hammer and the distance of their centre of mass from the pin, as written: they turn swings
        into torque.
    ratio : float or None
        Hammer travel over key travel, to say what the friction of hammer centres weighs at the key.
    reach : str or None
        From the hammer's centre pin to its crown, as written, for the same.

    Returns
    -------
    CentresAdvice

    Raises
    ------
    InputError
        If something cannot be read, or swings are given without weight and arm.
    """
    kind = Action(action)
    readings = read_readings(text, catalogue=the_catalogue())
    weight_g = None if hammer_weight is None else read_quantity(hammer_weight, name="weight", unit="g", low=1, high=60)
    arm_mm = None if arm is None else read_quantity(arm, name="arm", unit="mm", low=20, high=200)
    centres = _centres(readings, kind, weight_g, arm_mm)
    if ratio is not None and reach is not None:
        reach_mm = read_quantity(reach, name="reach", unit="mm", low=60, high=220)
        centres = [
            replace(one, at_key_g=_at_key(one.torque_gf_mm, ratio, reach_mm)) if is_hammer_centre(one.place) else one
            for one in centres
        ]
    if not centres:
        raise InputError("the table holds no centre; measure friction of a centre in gf·mm, or count swings")
    judged = [one for one in centres if one.state is not CentreState.CANNOT_TELL]
    counts = hours = None
    if len(centres) > n_all:
        raise InputError.of("centres in the set", n_all, f"at least the {len(centres)} that were read")
    if len(judged) >= FEWEST_FOR_THE_SET:
        bad = sum(one.state is not CentreState.GOOD for one in judged)
        counts = count_interval(n_of_kind=bad, n_read=len(judged), n_all=n_all)
        hours = (counts[0] * HOURS_PER_CENTRE[0], counts[1] * HOURS_PER_CENTRE[1], counts[2] * HOURS_PER_CENTRE[2])
    return CentresAdvice(centres=tuple(centres), n_all=n_all, to_repin=counts, hours=hours)


def _centres(
    readings: Sequence[Reading], action: Action, weight_g: Measured | None, arm_mm: Measured | None
) -> list[Centre]:
    by_centre = dict[tuple[int, str], dict[str, Measured]]()
    for one in readings:
        if one.key is not None and one.quantity in _QUANTITIES:
            by_centre.setdefault((one.key, one.place), {})[one.quantity] = one.value
    found = list[Centre]()
    for (key, place), own in sorted(by_centre.items()):
        torque = own.get("flange_torque")
        swings = own.get("flange_swings")
        if torque is None and swings is not None:
            if weight_g is None or arm_mm is None:
                raise InputError(
                    "swings hang on the weight and length of the hammer; give --weight and --arm, or measure gf·mm",
                    name="swings",
                )
            if not is_hammer_centre(place):
                raise InputError(
                    f"swings tell the friction of hammer centres only; measure gf·mm at the {place}", name="swings"
                )
            torque = torque_from_swings_gf_mm(swings=swings, weight_g=weight_g.value, arm_mm=arm_mm.value)
        play = own.get("flange_side_play")
        found.append(
            Centre(
                key=key,
                place=place,
                torque_gf_mm=torque,
                side_play_mm=play,
                pin_diameter_mm=own.get("centre_pin_diameter"),
                at_key_g=None,
                state=_state(torque, play, action),
            )
        )
    return found


def is_hammer_centre(place: str) -> bool:
    """Return whether a place names the hammer's centre, or no other one."""
    said = place.casefold()
    return not any(word in said for word in _OTHER_CENTRES)


_OTHER_CENTRES: Final = ("whippen", "wippen", "lever", "jack", "fly", "damper", "balancier", "repetition")


def _at_key(torque: Measured | None, ratio: float, reach_mm: Measured) -> Measured | None:
    if torque is None:
        return None
    return carry(
        lambda torque_gf_mm, reach: friction_at_key_g(
            torque_gf_mm=max(0.0, torque_gf_mm), turn_rad_per_mm=ratio / reach
        ),
        torque_gf_mm=torque,
        reach=reach_mm,
    )


_QUANTITIES: Final = frozenset({"flange_torque", "flange_swings", "flange_side_play", "centre_pin_diameter"})


def _state(torque: Measured | None, play: Measured | None, action: Action) -> CentreState:
    """Return what a centre is like: sideways play with good friction means that the pin is loose in the wood."""
    of_torque, of_play = (
        None if value is None or nominal is None else nominal.place_of(value)
        for value, nominal in (
            (torque, the_catalogue()["flange_torque"].nominal(action)),
            (play, the_catalogue()["flange_side_play"].nominal(action)),
        )
    )
    if of_play is Place.HIGH:
        return _BY_TORQUE_WITH_PLAY.get(of_torque, CentreState.LOOSE_OR_WORN)
    return _BY_TORQUE.get(of_torque, CentreState.CANNOT_TELL)


_BY_TORQUE_WITH_PLAY: Final[dict[Place | None, CentreState]] = {
    Place.LOW: CentreState.LOOSE,
    Place.HIGH: CentreState.WORN_IN_THE_WOOD,
    Place.WITHIN: CentreState.WORN_IN_THE_WOOD,
}
_BY_TORQUE: Final[dict[Place | None, CentreState]] = {
    Place.LOW: CentreState.LOOSE,
    Place.HIGH: CentreState.TIGHT,
    Place.WITHIN: CentreState.GOOD,
}
