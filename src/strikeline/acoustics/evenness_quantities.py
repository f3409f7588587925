"""The quantities whose evenness over the keyboard is judged, and how even a good piano is in each.

Two numbers describe a well-kept piano: the *scatter*, by which each note departs from its neighbours on its own, and
the *wander*, a slow drift of the whole neighbourhood. Both were fitted by maximum likelihood (white noise plus a
Gaussian-kernel process about a quartic trend with a break at E2) to one well-kept concert grand: pitch and
inharmonicity to the survey of the Iowa grand in tests/reference/recorded_grands (C1 up to about C7); brightness,
sustain and level to its 88 loud notes as recorded (spectral centroid of the first 0.5 s; slope of the level over the
first 3 s; highest level), which is near to what is judged, not the same. One piano only: a piano that scatters more
than this is judged by its own scatter.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Keys = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Audibility:
    """From how far on a listener hears two neighbouring notes differ in one quantity."""

    up: float
    """Smallest rise that is heard, in ``Quantity.deviation_unit``."""
    down: float
    """Smallest fall that is heard, as a positive number."""
    source: str
    """Where the figures come from, or that they come from memory."""

    def reached_by(self, departure: float) -> bool:
        """Return whether a departure is as large as one that is heard."""
        return departure >= self.up if departure > 0.0 else -departure >= self.down


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One measured quantity of a note and the words for its departures."""

    field: str
    """Name of the field of `Note` that holds it."""
    name: str
    """What it is called in a sentence."""
    unit: str
    """Unit of the value itself, as printed."""
    deviation_unit: str
    """Unit of a departure, as printed: ``%`` for quantities judged by their logarithm."""
    is_log: bool
    """Whether it is judged by its natural logarithm."""
    more: str
    """Word for a note above its neighbours, for example *sharper*."""
    less: str
    """Word for a note below its neighbours."""
    scatter: Callable[[Keys], Keys]
    """Key numbers, shape (n,), to the standard deviation of a note of a well-kept piano about its neighbours, shape
    (n,), in the unit of the judged scale (natural logarithm if `is_log`)."""
    wander_ratio: float
    """Standard deviation of the slow drift over the scatter."""
    max_degree: int
    """Degree of the trend's polynomial: cubic; quartic for ln B, where a cubic left the Iowa grand with a drift of 0.33
    and a quartic with 0.06; quadratic for brightness, which has the trend of an even piano taken off already."""
    wander_keys: float
    """Length of the slow drift, in keys: standard deviation of its Gaussian kernel."""
    decimals: int
    """Decimals a departure is printed with."""
    audible: Audibility | None = None
    """From how far on a difference is heard; ``None`` where no figure is known."""


def _constant(value: float) -> Callable[[Keys], Keys]:
    """Return a scatter that is the same for every key."""
    return lambda keys: np.full(np.shape(keys), value)


def _pitch_scatter_cents(keys: Keys) -> Keys:
    """Return the scatter of pitch, cents.

    Measured on the Iowa grand (survey in tests/reference/recorded_grands, residual from a local quadratic over ±5
    notes): 3–4 cents C1–E2, 1.5 cents F2–C4, 2.2 cents C♯4–G♯5. Above, where no figure stands, 3 cents is assumed.
    """
    return np.select([keys <= 20, keys <= 40, keys <= 60], [3.5, 1.5, 2.2], default=3.0)


_DECAY_SOURCE: Final = (
    "T. Tolonen & H. Jarvelainen, Perceptual study of decay parameters in plucked string synthesis (abstract read): "
    "time constants 25 % shorter to 40 % longer are not told apart"
)

PITCH: Final = Quantity(
    field="pitch_cents",
    name="pitch",
    unit="cents",
    deviation_unit="cents",
    is_log=False,
    more="sharper",
    less="flatter",
    scatter=_pitch_scatter_cents,
    wander_ratio=0.25,
    wander_keys=5.0,
    max_degree=3,
    decimals=1,
    audible=Audibility(up=5.0, down=5.0, source="from memory: about 5 cents between notes played one after the other"),
)
INHARMONICITY: Final = Quantity(
    field="inharmonicity_b",
    name="inharmonicity",
    unit="",
    deviation_unit="%",
    is_log=True,
    more="more inharmonic",
    less="less inharmonic",
    scatter=_constant(0.045),
    wander_ratio=1.4,
    wander_keys=3.0,
    max_degree=4,
    decimals=0,
)
BRIGHTNESS: Final = Quantity(
    field="brightness",
    name="brightness",
    unit="semitones",
    deviation_unit="semitones",
    is_log=False,
    more="brighter",
    less="duller",
    scatter=_constant(1.25),
    wander_ratio=0.6,
    wander_keys=3.0,
    max_degree=2,
    decimals=1,
    audible=Audibility(
        up=1.0, down=1.0, source="from memory: a shift of the spectral centroid by about 5 %, 0.85 semitones, is heard"
    ),
)
SUSTAIN: Final = Quantity(
    field="sustain_db_per_s",
    name="sustain",
    unit="dB/s",
    deviation_unit="%",
    is_log=True,
    more="quicker to die away",
    less="slower to die away",
    scatter=_constant(0.25),
    wander_ratio=1.2,
    wander_keys=5.0,
    max_degree=3,
    decimals=0,
    # A rate is the inverse of a time: 1/0.75 and 1/1.4.
    audible=Audibility(up=33.0, down=29.0, source=_DECAY_SOURCE),
)
SINGING: Final = Quantity(
    field="singing_s",
    name="singing",
    unit="s",
    deviation_unit="%",
    is_log=True,
    more="longer in singing",
    less="shorter in singing",
    # About a local line over ±5 keys, ln singing scatters by 0.25 (median deviation × 1.48; 0.33 in full) on the
    # recorded chromatic grand and by 0.22 (0.30) over every third key of the layered one (tests/real). The drift is
    # that of the sustain; the fall that sets in only at the top needs a quartic.
    scatter=_constant(0.25),
    wander_ratio=1.2,
    wander_keys=5.0,
    max_degree=4,
    decimals=0,
    audible=Audibility(up=40.0, down=25.0, source=_DECAY_SOURCE),
)
LEVEL: Final = Quantity(
    field="level_db",
    name="level",
    unit="dB",
    deviation_unit="dB",
    is_log=False,
    more="louder",
    less="softer",
    scatter=_constant(2.0),
    wander_ratio=0.6,
    wander_keys=3.0,
    max_degree=3,
    decimals=1,
    audible=Audibility(
        up=1.0,
        down=1.0,
        source="The Open University, Hearing, section 10.3: 0.5 to 1 dB is the smallest change of level that is heard",
    ),
)
KNOCK: Final = Quantity(
    field="knock_db",
    name="knock",
    unit="dB",
    deviation_unit="dB",
    is_log=False,
    more="stronger in the knock of the blow",
    less="weaker in the knock of the blow",
    # No figure was found: assumed like the level, and a piano that scatters more is judged by its own scatter.
    scatter=_constant(2.0),
    wander_ratio=0.6,
    wander_keys=3.0,
    max_degree=3,
    decimals=1,
)
QUANTITIES: Final = (PITCH, INHARMONICITY, BRIGHTNESS, SUSTAIN, SINGING, LEVEL, KNOCK)
