"""The toning list: which hammers to soften or harden, in which order and by how much, and what is not the hammer's."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from strikeline.keyboard import key_name
from strikeline.measured import Measured

CAUTION: Final = (
    "Needling cannot be undone and hardener hardly. Before it come tuning, level strings, shaped hammers that meet all "
    "their strings, and regulation. Work in small steps, in the order of the list, and play the note among its "
    "neighbours after each; stop as soon as it no longer leaves them (common practice, no source)."
)


class Action(StrEnum):
    """What to do about a note or a run of notes."""

    SOFTEN = "soften"
    HARDEN = "harden"
    LEAVE = "leave the hammer"
    """The string or the scale makes the difference: toning can only disguise it."""
    LISTEN_AGAIN = "listen again"
    """Less sure than one in twenty, within the scatter of a note, struck too weakly to tell, or so wide that the others
    may be what departs."""


class Cause(StrEnum):
    """Where a departure comes from, as far as the sound tells."""

    HAMMER = "hammer"
    """Nothing in the strings explains it."""
    STRING = "string or scale"
    BOTH = "hammer and string"


class Sign(StrEnum):
    """What speaks for the string or the scale."""

    INHARMONICITY = "its inharmonicity leaves that of its neighbours: another wire, or a string at fault"
    SCALE = "it runs from one change of the strings to the next: the scale steps there"
    STRIKE_POINT = "other partials are missing than in its neighbours: the hammer strikes at another place"
    FAST_DECAY = "its upper partials die away sooner than those of its neighbours: old or dirty wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class HammerAdvice:
    """One hammer of a run."""

    key: int
    balance_db: Measured
    """Upper against lower partials, against the neighbours outside the run; positive for bright. The note's own scatter
    is drawn towards the mean of the run as far as it is scatter."""
    advised_db: float
    """Change to make in all, 0 or more; what the error leaves no doubt of (one-sided 95 %)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToningItem:
    """One line of the list."""

    first_key: int
    last_key: int
    action: Action
    cause: Cause
    signs: tuple[Sign, ...]
    balance_db: Measured | None
    """Mean departure of upper against lower partials, dB, positive for bright; ``None`` if only the string departs."""
    advised_db: float
    """Mean change to make in all, dB, 0 or more."""
    first_step_db: float
    """Change to make before listening again: half of it."""
    hammers: tuple[HammerAdvice, ...]
    level_db: float | None
    """How much louder than its neighbours, dB, where known."""
    p_false: float
    """Bound on the chance that an even piano shows the like anywhere."""

    @property
    def is_area(self) -> bool:
        """Whether it is a run of three notes or more."""
        return len(self.hammers) > 2

    @property
    def sentence(self) -> str:
        """The line in plain words."""
        first, last = key_name(self.first_key), key_name(self.last_key)
        who = first if first == last else f"{first} to {last}"
        because = f" ({'; '.join(self.signs)})" if self.signs else ""
        if self.balance_db is None:
            return f"{who}: leave the hammer{because}."
        far = f"{abs(self.balance_db.value):.0f} \u00b1 {self.balance_db.half_width:.0f} dB"
        word = "brighter" if self.balance_db.value > 0.0 else "duller"
        heard = f"{far} {word} than the neighbours"
        if self.action is Action.LEAVE:
            return f"{who}: {heard}, but not by the hammer{because}; toning can only disguise it."
        if self.action is Action.LISTEN_AGAIN:
            return f"{who}: perhaps {heard}; listen again before touching the hammer{because}."
        partly = f"; partly the string{because}" if self.cause is Cause.BOTH else ""
        by = f"by about {self.advised_db:.0f} dB in all, {self.first_step_db:.0f} dB first"
        return f"{who}: {self.action} {by} ({heard}){partly}."

    def to_json(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "first": key_name(self.first_key),
            "last": key_name(self.last_key),
            "action": self.action.value,
            "cause": self.cause.value,
            "signs": [sign.value for sign in self.signs],
            "balance_db": _measured(self.balance_db),
            "advised_db": self.advised_db,
            "first_step_db": self.first_step_db,
            "hammers": [
                {
                    "note": key_name(hammer.key),
                    "balance_db": _measured(hammer.balance_db),
                    "advised_db": hammer.advised_db,
                }
                for hammer in self.hammers
            ],
            "level_db": self.level_db,
            "p_false": self.p_false,
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ToningList:
    """What to do, in order."""

    items: tuple[ToningItem, ...]
    n_judged: int
    """Notes whose balance could be compared."""
    scatter_db: float | None
    """Natural scatter from note to note, dB: within it a hammer is left alone."""
    cannot_tell: tuple[str, ...] = ()
    caution: str = CAUTION

    def to_json(self) -> dict[str, Any]:
        """Return plain data in schema ``strikeline.toning/1``."""
        return {
            "schema": "strikeline.toning/1",
            "items": [item.to_json() for item in self.items],
            "n_judged": self.n_judged,
            "scatter_db": self.scatter_db,
            "cannot_tell": list(self.cannot_tell),
            "caution": self.caution,
        }


def _measured(measured: Measured | None) -> dict[str, float] | None:
    return None if measured is None else {"value": measured.value, "se": measured.se}
