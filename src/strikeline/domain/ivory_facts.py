"""What has to be known of an instrument with ivory, and of what is planned with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Final

from strikeline.measured import Measured


class Region(StrEnum):
    """Whose law."""

    UK = "uk"
    US = "us"
    EU = "eu"


class Plan(StrEnum):
    """What is to be done with the instrument."""

    KEEP = "keep"
    GIVE = "give"
    LEND = "lend"
    REPAIR = "repair"
    BUY = "buy"
    SELL = "sell"
    """Offering, advertising and keeping for sale count as selling."""
    HIRE = "hire"
    PART_EXCHANGE = "part_exchange"
    IMPORT = "import"
    EXPORT = "export"
    TRAVEL = "travel"
    SUPPLY = "supply"
    """Loose heads and tails to somebody else."""


class Stuff(StrEnum):
    """What the tops are made of."""

    ELEPHANT = "elephant"
    """Of an elephant, African or Asian not known."""
    AFRICAN_ELEPHANT = "african_elephant"
    ASIAN_ELEPHANT = "asian_elephant"
    HIPPOPOTAMUS = "hippopotamus"
    KILLER_WHALE = "killer_whale"
    NARWHAL = "narwhal"
    SPERM_WHALE = "sperm_whale"
    WALRUS = "walrus"
    NOT_IVORY = "not_ivory"


_TRADE: Final = frozenset({Plan.BUY, Plan.SELL, Plan.HIRE, Plan.PART_EXCHANGE, Plan.SUPPLY})
_OPEN: Final = frozenset({Plan.IMPORT, Plan.EXPORT})
"""Plans that may be business or not."""


@dataclass(frozen=True, slots=True)
class Span:
    """Some day from `first` to `last`, both included; ``None`` leaves an end open."""

    first: date | None
    last: date | None

    def is_before(self, surely: date, not_from: date) -> bool | None:
        """Return whether it lies before a limit on which sources differ, ``None`` where that is open.

        Parameters
        ----------
        surely : date
            A day before this one is before the limit, whoever is right.
        not_from : date
            A day from this one on is not.
        """
        if self.last is not None and self.last < surely:
            return True
        return False if self.first is not None and self.first >= not_from else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known of an instrument and what is planned; ``None`` for what nobody knows."""

    where: Region
    plan: Plan
    on: date
    """The day of the plan."""
    material: Stuff | None = None
    made: Span | None = None
    imported: Span | None = None
    volume_pct: Measured | None = None
    """Ivory's share of the volume of the instrument's material."""
    mass_g: Measured | None = None
    for_trade: bool | None = None
    """Only asked for an import or an export; the other plans say it themselves."""
    answers: Mapping[str, bool] = field(default_factory=dict)
    """Yes or no, by the id of the question: fixed, main_value, raw, played, listed_repair, certificate."""


def is_business(facts: Facts) -> bool | None:
    """Return whether a plan is dealing; ``None`` for an import or export of which nobody has said so."""
    return facts.for_trade if facts.plan in _OPEN else facts.plan in _TRADE
