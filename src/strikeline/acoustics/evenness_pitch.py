"""The natural stretch of a piano from its own inharmonicity, and where its pitch stands against it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_quantities import PITCH
from strikeline.acoustics.evenness_result import Floats, PitchLevel, QuantityEvenness
from strikeline.acoustics.listening import Note
from strikeline.keyboard import A4_KEY
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

_MIDDLE: Final = (28, 61)
"""C3 to A5, where the pitch level is read: the natural stretch stays within a few cents there."""
_SMALLEST_RELATIVE_SE: Final = 1e-6


def own_stretch(keys: Floats, b_fit: QuantityEvenness) -> tuple[Floats, bool]:
    """Return the natural stretch on `keys`, shape (k,), from the trend of the piano's own B where there is one.

    Beyond the outermost notes with a B the typical piano's curve continues the piano's own at the level of its end.
    """
    typical = np.log(typical_inharmonicity_b(keys))
    a4 = float(A4_KEY)
    is_own = len(b_fit.trend_keys) > 0 and b_fit.trend_keys[0] <= a4 <= b_fit.trend_keys[-1]
    if not is_own:
        a4_b = float(typical_inharmonicity_b([a4])[0])
        stretch = natural_stretch(keys, inharmonicity_b=np.exp(typical), a4_inharmonicity_b=a4_b)
        return stretch.first_partial_cents, False
    own_keys, own = b_fit.trend_keys, b_fit.trend
    excess = own - np.log(typical_inharmonicity_b(own_keys))
    log_b = typical + np.interp(keys, own_keys, excess)
    a4_b = float(np.exp(np.interp(a4, own_keys, own)))
    stretch = natural_stretch(keys, inharmonicity_b=np.exp(log_b), a4_inharmonicity_b=a4_b)
    return stretch.first_partial_cents, True


def pitch_level(notes: Mapping[int, Note], stretch: Mapping[int, float]) -> PitchLevel | None:
    """Return the median of pitch less natural stretch over the middle of the keyboard.

    The standard error of a median of n normal values is √(π/2)·sd/√n; the sd is 1.4826 times the median deviation, and
    at least the error of measurement.
    """
    middle = {
        key: note.pitch_cents
        for key, note in notes.items()
        if note.pitch_cents is not None and _MIDDLE[0] <= key <= _MIDDLE[1]
    }
    if not middle:
        return None
    own = np.array([value.value - stretch[key] for key, value in middle.items()])
    level = float(np.median(own))
    spread = 1.4826 * float(np.median(np.abs(own - level)))
    measurement = float(np.median([value.se for value in middle.values()]))
    n = len(own)
    # One or two notes show no spread: they stand for the level only within the scatter of a well-kept piano.
    if n < 5:
        spread = max(spread, float(PITCH.scatter(np.array([float(A4_KEY)]))[0]))
    se = float(np.sqrt(np.pi / 2.0)) * max(spread, measurement, _SMALLEST_RELATIVE_SE) / float(np.sqrt(n))
    a4 = notes.get(A4_KEY)
    return PitchLevel(a4_cents=None if a4 is None else a4.pitch_cents, level_cents=Measured(level, se), n_notes=n)
