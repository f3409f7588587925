"""How a string is fixed at its ends: what is dead of it, and how it is held at the hitch pin."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from strikeline.measured import Measured


class StringEnd(StrEnum):
    """What holds a string at the hitch pin."""

    LOOP = "loop"
    """A twisted loop over a hitch pin of its own."""
    EYE = "eye"
    """An eye bent and coiled on the wire, over a hitch pin of its own."""
    PLAIN_HITCH = "plain hitch"
    """No end at all: one wire goes round the hitch pin and makes two strings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringFixing:
    """What was measured of a string outside its speaking length; what was not is ``None``."""

    dead_top_mm: Measured | None = None
    """From the wrest pin to the agraffe or bearing."""
    dead_bottom_mm: Measured | None = None
    """From the bridge pin to the hitch pin."""
    end: StringEnd | None = None
    remark: str = ""
