r"""How bright a hammer makes its note, freed from the board's doing, and what that is in decibels.

*Freed brightness.* The brightness of a note is the centroid C = Σ f_n A_n / Σ A_n of its partials. What moves it from
note to note besides the hammer is mostly the board: where it radiates the lowest partials weakly the note is softer and
its centroid higher. So brightness and level go against each other along the keyboard, on a recorded grand (correlation
-0.7 in the tenor) as on rendered pianos, while a hammer moves both the same way or the centroid alone. Added to the
brightness, `_SEMITONES_PER_DB` times the departure of the level from its trend takes the board's part out. On rendered
pianos the worn hammers then stand out from the scatter 1.7 to 2.3 times as far.

*In decibels.* A harder or softer hammer tilts the spectrum: by T dB per octave, L_n → L_n + T (log2 f_n - m). Then

    dC/dT = ln(10)/20 · Cov_A(f, log2 f)

with the amplitudes as weights, and the partials above the centre m rise against those below it by T (u - l), u and l
being the mean log2 f of either half. Both follow from the definitions. For m, u and l each partial weighs A_n^0.3, so
that faint partials count too. Hence decibels of *balance*, upper against lower partials, per semitone of brightness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.evenness_model import Floats
from strikeline.acoustics.evenness_quantities import LEVEL
from strikeline.acoustics.evenness_result import Evenness
from strikeline.acoustics.listening import Note

_KEYS: Final = (14.0, 40.0, 61.0, 80.0)
_SEMITONES_PER_DB: Final = (1.0, 1.35, 0.85, 0.3)
"""Brightness, brought to equal blows as in `brightness`, against level: minus the slope of their departures from a
local line, in four sections of the chromatic recordings of the tests (0.9, 1.37, 0.64, 0.25) and of rendered pianos
(1.1, 1.36, 1.06, 0.36); near the mean of the two."""
_COMPRESSION: Final = 0.3
_NEPERS_PER_DB: Final = float(np.log(10.0)) / 20.0
_SEMITONES_PER_NEPER: Final = 12.0 / float(np.log(2.0))
_FEWEST: Final = 6
"""With fewer partials a spectrum hardly shows the hammer: on rendered pianos, no longer above F♯6."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreedBrightness:
    """One note."""

    semitones: float
    se: float
    db_per_semitone: float
    """Balance of upper against lower partials for a semitone of brightness."""


def freed_brightness(notes: Mapping[int, Note], evenness: Evenness) -> dict[int, FreedBrightness]:
    """Return the brightness of each note freed from the board's part, by key.

    Parameters
    ----------
    notes : mapping of int to Note
        By key.
    evenness : Evenness
        From the same notes, for the trend of the level.

    Returns
    -------
    dict of int to FreedBrightness
        Notes without brightness or level, or with fewer than six partials, are left out.
    """
    freed = {}
    for row in evenness.of(LEVEL).notes:
        note = notes[row.key]
        ratio = db_per_semitone(note)
        if note.brightness is None or ratio is None:
            continue
        slope = float(np.interp(row.key, _KEYS, _SEMITONES_PER_DB))
        freed[row.key] = FreedBrightness(
            semitones=note.brightness.value + slope * row.residual.value,
            se=float(np.hypot(note.brightness.se, slope * row.se)),
            db_per_semitone=ratio,
        )
    return freed


def db_per_semitone(note: Note) -> float | None:
    """Return the balance of upper against lower partials in dB for a semitone of brightness, ``None`` with too few."""
    if len(note.partials) < _FEWEST:
        return None
    f_hz = np.array([partial.f_hz.value for partial in note.partials])
    level_db = np.array([partial.level_db.value for partial in note.partials])
    octave = np.log2(f_hz)
    strong = _weights(level_db, 1.0)
    centroid_hz = float(strong @ f_hz)
    together = float(strong @ ((f_hz - centroid_hz) * (octave - strong @ octave)))
    semitones_per_tilt = _SEMITONES_PER_NEPER * _NEPERS_PER_DB * together / centroid_hz
    faint = _weights(level_db, _COMPRESSION)
    apart = octave - float(faint @ octave)
    upper, lower = apart > 0.0, apart <= 0.0
    return (_mean(apart, faint, upper) - _mean(apart, faint, lower)) / semitones_per_tilt


def _weights(level_db: Floats, compression: float) -> Floats:
    weight = np.exp(compression * _NEPERS_PER_DB * (level_db - level_db.max()))
    return np.asarray(weight / weight.sum())


def _mean(values: Floats, weight: Floats, among: NDArray[np.bool_]) -> float:
    return float(weight[among] @ values[among] / weight[among].sum())
