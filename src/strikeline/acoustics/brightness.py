r"""How bright a note sounds, freed from how hard and how high it was struck.

The raw figure is the amplitude-weighted mean frequency of the partials over the first 0.2 s,
C = Σ f_n A_n / Σ A_n, in semitones above what an even piano has at that key (`reference_centroid_hz`). It is a ratio of
amplitudes, so the gain of the recording cancels. A harder blow makes any hammer brighter; within one pass that part is
taken out by `level_out`: each note's level above the smooth level of its neighbours, times `_SEMITONES_PER_DB`.

What moves it besides the hammer: the place and kind of the microphone (compare only passes recorded from the same
place), the room near that place, the age of the strings, playing the whole pass harder or softer, and lossy coding that
removes the top of the spectrum. What does not: gain, tuning, and the trend along the keyboard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Note
from strikeline.measured import Measured

Real = NDArray[np.float64]

_KEYS: Final = (1.0, 16.0, 28.0, 40.0, 52.0, 64.0, 76.0, 88.0)
_REFERENCE_HZ: Final = (700.0, 700.0, 740.0, 800.0, 1000.0, 1400.0, 2300.0, 4300.0)
_SEMITONES_PER_DB: Final = (0.9, 1.1, 0.9, 0.7, 0.5, 0.35, 0.1, 0.0)
"""How much brighter a blow one decibel louder sounds, measured on the open three-strength recordings of a grand
(tests/real/test_brightness_real.py); towards the top a note has too few partials to show it."""
_SEMITONES_PER_DB_SE: Final = 0.25
"""Scatter of that slope from note to note, from the same recordings."""
_REPEATABILITY_SEMITONES: Final = 0.3
"""Scatter about that line, from the same recordings: what remains when only the blow differs."""
_FEWEST: Final = 2
_NEIGHBOUR_KEYS: Final = 5
_FEWEST_NEIGHBOURS: Final = 4


def reference_centroid_hz(key: int) -> float:
    """Return the centroid of an even, well-kept piano at a key, between the two open sets of recordings."""
    return float(np.exp(np.interp(key, _KEYS, np.log(_REFERENCE_HZ))))


def estimate_brightness(f_hz: Real, amplitude: Real, amplitude_se: Real, *, key: int) -> Measured | None:
    """Return the brightness of one note in semitones above the reference, before levelling.

    Parameters
    ----------
    f_hz, amplitude, amplitude_se : ndarray of float, shape (k,)
        Partials that stand clear of the noise.
    key : int
        Key number, 49 for A4.

    Returns
    -------
    Measured or None
        ``None`` with fewer than two partials. The standard error is that of the noise in the amplitudes, carried
        through C, with the repeatability of equal blows.
    """
    if f_hz.size < _FEWEST:
        return None
    total = amplitude.sum()
    centroid_hz = float(f_hz @ amplitude) / total
    slope = 12.0 / np.log(2.0) * (f_hz - centroid_hz) / (centroid_hz * total)
    se = np.hypot(np.sqrt(np.sum((slope * amplitude_se) ** 2)), _REPEATABILITY_SEMITONES)
    return Measured(12.0 * float(np.log2(centroid_hz / reference_centroid_hz(key))), float(se))


def semitones_per_db(key: int) -> float:
    """Return how much brighter a blow one decibel louder sounds at a key."""
    return float(np.interp(key, _KEYS, _SEMITONES_PER_DB))


def levelled(brightness: Measured, *, key: int, louder_db: float) -> Measured:
    """Return the brightness the note would have had if struck like its neighbours.

    Parameters
    ----------
    brightness : Measured
        From `estimate_brightness`.
    key : int
        Key number.
    louder_db : float
        Level of the note above the smooth level of its neighbours.
    """
    slope = semitones_per_db(key)
    slope_se = min(_SEMITONES_PER_DB_SE, slope)
    return Measured(brightness.value - slope * louder_db, float(np.hypot(brightness.se, slope_se * louder_db)))


def level_out(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Return the notes of a pass with their brightness freed from how hard each was struck.

    A note's neighbours are those within `_NEIGHBOUR_KEYS`; with fewer than `_FEWEST_NEIGHBOURS` of them it stays as it
    is, and so does a note without level or brightness.
    """
    return tuple(_levelled_note(note, notes) for note in notes)


def _levelled_note(note: Note, notes: Sequence[Note]) -> Note:
    if note.key is None or note.brightness is None or note.level_db is None:
        return note
    around = [
        other.level_db.value
        for other in notes
        if other.key is not None and other.level_db is not None and 0 < abs(other.key - note.key) <= _NEIGHBOUR_KEYS
    ]
    if len(around) < _FEWEST_NEIGHBOURS:
        return note
    louder_db = note.level_db.value - float(np.median(around))
    return replace(note, brightness=levelled(note.brightness, key=note.key, louder_db=louder_db))
