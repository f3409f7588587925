"""What is done, in which order, for each way to treat a polished surface; sessions, coats and waits as ranges.

Waits are hours at 20 °C and 50 % relative humidity. The full sequence, the half hour between spit coats and about
thirty coats in all are what was read (a mandolin maker's how-to; a UK restorers' price page); waits between sessions
and what is not marked otherwise are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

_DAY_H: Final = 24.0
_WEEK_H: Final = 7.0 * _DAY_H


class Treatment(StrEnum):
    """Ways to treat a finish, from the least to the most that is taken from it."""

    CLEAN = "clean"
    REVIVE = "revive"
    REAMALGAMATE = "reamalgamate"
    PAD_OVER = "pad over"
    STRIP = "strip and repolish"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of the work."""

    name: str
    what: str
    """What to do, in a sentence."""
    sessions: tuple[int, int]
    """Fewest and most."""
    coats_per_session: int
    """Times that the surface is covered with polish; 0 where none is put on."""
    session_h: tuple[float, float]
    """Hours of work for a square metre and session: such that an upright of 3.5 m², stripped and repolished, takes
    about the 25 to 60 hours that are remembered of it (from memory)."""
    wait_between_h: tuple[float, float]
    """From one session to the next."""
    wait_after_h: tuple[float, float]
    """Before the next stage."""
    is_drying: bool
    """Whether its waits are alcohol leaving, and so go with temperature and humidity."""
    source: str
    is_brushed: bool = False
    """Whether polish is put on with a brush rather than a rubber."""


_OWN: Final = "from memory"
_SEQUENCE: Final = "a mandolin maker's how-to on French polishing; waits from memory"


def _stage(
    name: str,
    what: str,
    *,
    sessions: tuple[int, int] = (1, 1),
    coats: int = 0,
    hours: tuple[float, float] = (0.3, 0.6),
    between: tuple[float, float] = (0.0, 0.0),
    after: tuple[float, float] = (0.0, 0.0),
    dries: bool = False,
    brushed: bool = False,
    source: str = _OWN,
) -> Stage:
    return Stage(
        name=name, what=what, sessions=sessions, coats_per_session=coats, session_h=hours, wait_between_h=between,
        wait_after_h=after, is_drying=dries, source=source, is_brushed=brushed,
    )  # fmt: skip


_CLEAN: Final = _stage(
    "clean",
    "Dust off, then a barely damp cloth with a drop of mild soap, on a hidden spot first; dry at once.",
    after=(12.0, _DAY_H),
)
_HARDEN: Final = _stage(
    "harden",
    "Leave it bare: nothing on it, no cover, lids not stacked. Dry to the touch is not hard.",
    hours=(0.0, 0.0),
    after=(2.0 * _WEEK_H, 4.0 * _WEEK_H),
    source="restorers' pages: cures for weeks to months; two to four weeks are our reasoning",
)
_GLAZE: Final = _stage(
    "glaze",
    "Thin polish with long straight strokes of a nearly dry rubber, to take away its marks.",
    sessions=(1, 1),
    coats=1,
    after=(_DAY_H, 2.0 * _DAY_H),
    dries=True,
    source=_SEQUENCE,
)


def _body(name: str, sessions: tuple[int, int]) -> Stage:
    return _stage(
        name,
        "Rubber in circles and figures of eight, a touch of oil so that it does not drag; never stop on the surface.",
        sessions=sessions,
        coats=2,
        between=(8.0, _DAY_H),
        after=(_DAY_H, 3.0 * _DAY_H),
        dries=True,
        source="a mandolin maker's how-to (sessions); two coats each give the 30 of a UK restorers' page",
    )


STAGES: Final = MappingProxyType({
    Treatment.CLEAN: (_CLEAN,),
    Treatment.REVIVE: (
        _CLEAN,
        _stage(
            "revive",
            "Vinegar and raw linseed oil, 1 to 1, on a soft cloth, a small patch at a time; wipe dry. Try it first.",
            after=(_DAY_H, 2.0 * _DAY_H),
            source="a woodworking magazine on revivers; the wait from memory",
        ),
    ),
    Treatment.REAMALGAMATE: (
        _CLEAN,
        _stage(
            "reflow",
            "Lay it flat; brush on methylated spirit, thin and even, again and again until the cracks flow together.",
            sessions=(2, 4),
            between=(2.0, _DAY_H),
            after=(_DAY_H, 3.0 * _DAY_H),
            dries=True,
            source="restorers' pages and player-piano digest archive; count and waits from memory",
        ),
        _stage(
            "harden",
            "Leave it bare: alcohol that went deep needs weeks to leave.",
            hours=(0.0, 0.0),
            after=(2.0 * _WEEK_H, 6.0 * _WEEK_H),
            source="restorers' pages: weeks to harden; how many is our reasoning",
        ),
        _GLAZE,
        _HARDEN,
    ),
    Treatment.PAD_OVER: (
        _CLEAN,
        _stage(
            "key",
            "Cut the surface back with the finest paper and a drop of oil until it is evenly dull; no edge through.",
            after=(2.0, 12.0),
        ),
        _body("body", (3, 5)),
        _GLAZE,
        _HARDEN,
    ),
    Treatment.STRIP: (
        _stage(
            "record",
            "Photograph with a card, keep the shade of a hidden place as reference, agree in writing with the owner.",
            source="conservators' pages; player-piano digest archive 2002-09 on shades that drift",
        ),
        _stage(
            "strip and prepare",
            "Take the old polish off with spirit, not with a scraper; repair the veneer; sand along the grain.",
            hours=(1.5, 3.0),
            after=(_DAY_H, 3.0 * _DAY_H),
        ),
        _stage(
            "spit coats",
            "Three thin coats, half an hour apart.",
            sessions=(3, 3),
            coats=1,
            hours=(0.3, 0.4),
            between=(0.5, 1.0),
            after=(12.0, _DAY_H),
            dries=True,
            brushed=True,
            source=_SEQUENCE,
        ),
        _stage(
            "fill the pores",
            "Pumice and polish worked in with the rubber, across the grain.",
            sessions=(1, 3),
            coats=1,
            hours=(0.5, 1.0),
            between=(12.0, _DAY_H),
            after=(2.0 * _DAY_H, 5.0 * _DAY_H),
            dries=True,
            source=_SEQUENCE,
        ),
        _body("body", (6, 8)),
        _stage(
            "clear the oil",
            "Nearly dry rubber with a little spirit, quickly, until no oil clouds follow it.",
            after=(_DAY_H, 3.0 * _DAY_H),
            dries=True,
            source=_SEQUENCE,
        ),
        _stage(
            "level",
            "The finest paper on a block with a drop of oil, only the high places.",
            after=(2.0, 12.0),
            source=_SEQUENCE,
        ),
        _body("body again", (4, 6)),
        _stage(
            "level again",
            "As before, finer still.",
            after=(2.0, 12.0),
            source=_SEQUENCE,
        ),
        _GLAZE,
        _HARDEN,
    ),
})  # fmt: skip
"""Stages of each treatment, in order."""
