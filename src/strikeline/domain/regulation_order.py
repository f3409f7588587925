"""In which order an action is regulated: what is done too early has to be done again."""

from __future__ import annotations

from typing import Final

from strikeline.domain.catalogue import Action

_UPRIGHT: Final = (
    "tighten screws; see to centres, strike point and blow",
    "keys: space, square, ease or bush at front and balance",
    "travel and angle of the hammers",
    "fit the hammers to the strings",
    "lost motion",
    "set-off",
    "key height",
    "dip of the naturals",
    "checking and dip of the sharps",
    "dampers",
    "half-blow pedal and tapes",
    "celeste or practice rail",
)
"""After a technicians' public handout "Upright regulation process" v1.0 (2011), in our words."""

_GRAND: Final = (
    "clean, look, tighten",
    "bed the key frame",
    "hammer centres; side play of the keys",
    "travel, angle and alignment of the hammers",
    "alignment of the whippens; height of the repetition lever; jack",
    "key level",
    "set-off",
    "drop",
    "hammer line",
    "dip and aftertouch",
    "repetition springs",
    "checking",
    "dampers",
    "pedals",
)
"""Up to set-off after the contents of a maker's manual (2008), from drop on from memory."""

ORDER: Final = {
    Action.UPRIGHT_UNDER_DAMPER: _UPRIGHT,
    Action.UPRIGHT_OVER_DAMPER: _UPRIGHT,
    Action.GRAND: _GRAND,
}
"""Steps by kind of action. None can be done for good in one go: regulate a few sample notes fully first, then all."""
