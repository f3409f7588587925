"""The quantities that are compared between two recordings, and what else than the piano moves each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedQuantity:
    """One quantity and the words for its changes."""

    name: str
    """What it is called in a sentence."""
    unit: str
    """Unit of the value itself, as printed."""
    change_unit: str
    """Unit of a change, as printed: ``%`` for quantities compared by their logarithm."""
    is_log: bool
    """Whether it is compared by its natural logarithm."""
    more: str
    """Word for an increase, for example *sharper*."""
    less: str
    factor: float
    """Printed number over the value itself."""
    decimals: int
    """Decimals a change is printed with."""
    is_of_strings: bool
    """Whether neither microphone nor blow moves it, so that its own standard errors judge it."""
    drift: float = 0.0
    """Standard deviation of a slow drift along the keyboard on the compared scale, which the hand makes."""
    drift_ratio: float = 0.0
    """The same over the scatter of single notes: dips of a room that neighbours share."""


PITCH: Final = ComparedQuantity(
    name="pitch",
    unit="cents",
    change_unit="cents",
    is_log=False,
    more="sharper",
    less="flatter",
    factor=1.0,
    decimals=1,
    is_of_strings=True,
)
INHARMONICITY: Final = ComparedQuantity(
    name="inharmonicity",
    unit="",
    change_unit="%",
    is_log=True,
    more="more inharmonic",
    less="less inharmonic",
    factor=1e4,
    decimals=1,
    is_of_strings=True,
)
UNISON: Final = ComparedQuantity(
    name="unison width",
    unit="cents",
    change_unit="%",
    is_log=True,
    more="wider in the unison",
    less="closer in the unison",
    factor=1.0,
    decimals=0,
    is_of_strings=True,
)
BRIGHTNESS: Final = ComparedQuantity(
    name="brightness",
    unit="semitones",
    change_unit="semitones",
    is_log=False,
    more="brighter",
    less="duller",
    factor=1.0,
    decimals=1,
    is_of_strings=False,
    drift=0.7,
    drift_ratio=0.3,
)
BALANCE: Final = ComparedQuantity(
    name="balance of the partials",
    unit="dB per octave",
    change_unit="dB per octave",
    is_log=False,
    more="stronger in the upper partials",
    less="weaker in the upper partials",
    factor=1.0,
    decimals=1,
    is_of_strings=False,
    drift=0.25,
    drift_ratio=0.15,
)
LEVEL: Final = ComparedQuantity(
    name="level",
    unit="dB",
    change_unit="dB",
    is_log=False,
    more="louder",
    less="softer",
    factor=1.0,
    decimals=1,
    is_of_strings=False,
    drift=0.5,
    drift_ratio=1.0,
)
SUSTAIN: Final = ComparedQuantity(
    name="sustain",
    unit="dB/s",
    change_unit="%",
    is_log=True,
    more="quicker to die away",
    less="slower to die away",
    factor=1.0,
    decimals=0,
    is_of_strings=False,
    drift=0.05,
    drift_ratio=0.6,
)
SINGING: Final = ComparedQuantity(
    name="singing",
    unit="s",
    change_unit="%",
    is_log=True,
    more="longer in singing",
    less="shorter in singing",
    factor=1.0,
    decimals=0,
    is_of_strings=False,
    drift=0.05,
    drift_ratio=0.6,
)
KNOCK: Final = ComparedQuantity(
    name="knock",
    unit="dB",
    change_unit="dB",
    is_log=False,
    more="stronger in the knock of the blow",
    less="weaker in the knock of the blow",
    factor=1.0,
    decimals=1,
    is_of_strings=False,
    drift=0.5,
    drift_ratio=0.6,
)
DAMPING: Final = ComparedQuantity(
    name="damping time",
    unit="s",
    change_unit="%",
    is_log=True,
    more="slower to be damped",
    less="quicker to be damped",
    factor=1.0,
    decimals=0,
    is_of_strings=False,
    drift=0.05,
    drift_ratio=0.6,
)
OF_A_PASS: Final = (PITCH, INHARMONICITY, UNISON, BRIGHTNESS, BALANCE, LEVEL, SUSTAIN, SINGING, KNOCK)
OF_SHORT_BLOWS: Final = (PITCH, DAMPING)
