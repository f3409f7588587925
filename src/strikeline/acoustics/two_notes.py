"""Two keys struck together: peaks that one string leaves unexplained and another one explains.

The new peaks of a strike lose those that lie on the law of the note that was found; what is left is searched for
another string just as the whole was, and then what that one leaves for the first again. A fifth or a fourth may also
be taken for its common root, one string an octave or two below; it then lacks the partials that neither note has. An
octave is not found, for the upper note's partials lie on the lower one's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.comb import find_candidates
from strikeline.acoustics.listening import Note
from strikeline.acoustics.newpeaks import NewPeaks
from strikeline.keyboard import A4_KEY, HIGHEST_KEY, LOWEST_KEY, key_name
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz

Real = NDArray[np.float64]

_SLACK_RATIO: Final = 5e-3
"""Nine cents: how far a partial may lie from the law and still be the note's own."""
_SPREADS: Final = 4.0
_FAINTEST_DB: Final = 20.0
"""A note that much below the other is not struck by a finger but by chance, or rings along."""
_FEWEST_PEAKS: Final = 2.0
_LEAST_WEIGHT_SHARE: Final = 0.2
"""Of the peaks left over against those explained; one single note of five leaves more, and pairs 0.37 or more."""
_LEAST_SCORE: Final = 7.0
"""Log-likelihood ratio, nats. The 83 single notes of the chromatic grand leave 5 at most, pairs of them 8 to 50."""
_APART_KEYS: Final = 0.6
_ROOTS: Final = ((4, 5), (3, 5), (3, 4), (2, 3))
"""Partials of a common root that a third, a sixth, a fourth and a fifth are; the fewest partials first, for those of a
fourth are among those of a fifth."""
_ROOT_PARTIALS: Final = 16
_ROOT_DEEP_DB: Final = 25.0
"""A struck string has partials 1, 5, 7, 11 and 13 not all that far below its loudest."""
_PER_PEAK: Final = ("f_hz", "f_sd_hz", "level_db", "weight", "new_power")


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoNotes:
    """Two keys heard in one strike."""

    keys: tuple[int, int]
    """Ascending."""

    @property
    def words(self) -> str:
        """What to say of it."""
        low, high = self.keys
        return f"two notes at once: {key_name(low)} and {key_name(high)}"

    def instead_of(self, note: Note) -> Note:
        """Return the strike with nothing measured; it bears the name of that of the two keys which `note` bore."""
        key = min(self.keys, key=lambda key: abs(key - (note.key or key)))
        reason = f"everything: {self.words}"
        return Note(key=key, onset_s=note.onset_s, end_s=note.end_s, cannot_tell=(reason,), notices=(self.words,))


@dataclass(frozen=True, slots=True)
class _String:
    position: float
    f0_hz: float
    inharmonicity_b: float


def find_two_notes(peaks: NewPeaks, note: Note, *, a4_hz: float) -> TwoNotes | None:
    """Return which two notes were struck, ``None`` if one string explains the strike.

    Parameters
    ----------
    peaks : NewPeaks
        The peaks that the blow brought.
    note : Note
        The strike measured as one note.
    a4_hz : float
        Frequency of A4 that the names refer to.
    """
    if note.key is None or note.f0_hz is None or peaks.f_hz.size == 0:
        return None
    return _under_one_root(note) or _beside_the_note(peaks, note.key, note.f0_hz.value, note.inharmonicity_b, a4_hz)


def _beside_the_note(
    peaks: NewPeaks, key: int, f0_hz: float, inharmonicity_b: Measured | None, a4_hz: float
) -> TwoNotes | None:
    """Return the note that was found and another one in what it leaves."""
    b = inharmonicity_b.value if inharmonicity_b else float(typical_inharmonicity_b(key))
    position = _position(f0_hz, b, a4_hz)
    own = _on_law(peaks, f0_hz=f0_hz, inharmonicity_b=b)
    if not _is_much(peaks, ~own):
        return None
    second = _best_string(peaks, ~own, a4_hz=a4_hz)
    if second is None or abs(second.position - position) < _APART_KEYS:
        return None
    others = ~_on_law(peaks, f0_hz=second.f0_hz, inharmonicity_b=second.inharmonicity_b)
    first = _best_string(peaks, others, a4_hz=a4_hz)
    if first is None or abs(first.position - second.position) < _APART_KEYS:
        return None
    off_keys = position - key  # the instrument may stand off pitch
    low, high = sorted(round(string.position - off_keys) for string in (first, second))
    if low == high or low < LOWEST_KEY or high > HIGHEST_KEY:
        return None
    return TwoNotes(keys=(low, high))


def _under_one_root(note: Note) -> TwoNotes | None:
    """Return two notes that were taken for their common root: it has none of the partials that neither of them has.

    A fifth is the second and the third partial of a string an octave below, a fourth the third and fourth.
    """
    loudest_db = max((partial.level_db.value for partial in note.partials), default=0.0)
    level_db = {
        partial.n: partial.level_db.value - loudest_db for partial in note.partials if partial.n <= _ROOT_PARTIALS
    }
    loud = {n for n, level in level_db.items() if level > -_ROOT_DEEP_DB}
    for low, high in _ROOTS:
        foreign = any(n % low and n % high for n in loud)
        own = [sum(n % one == 0 and n % other != 0 for n in loud) for one, other in ((low, high), (high, low))]
        if not foreign and min(own) >= _FEWEST_PEAKS and note.key is not None:
            keys = note.key + round(12.0 * float(np.log2(low))), note.key + round(12.0 * float(np.log2(high)))
            if keys[1] <= HIGHEST_KEY:
                return TwoNotes(keys=keys)
    return None


def _position(f0_hz: float, inharmonicity_b: float, a4_hz: float) -> float:
    """Return the first partial as a fractional key number."""
    return A4_KEY + 12.0 * float(np.log2(f0_hz * np.sqrt(1.0 + inharmonicity_b) / a4_hz))


def _is_much(peaks: NewPeaks, left: NDArray[np.bool_]) -> bool:
    """Return whether what is left over might be a note: a search costs as much as naming the strike did."""
    power = float(peaks.new_power[left].sum())
    return bool(
        power > 10.0 ** (-_FAINTEST_DB / 10.0) * float(peaks.new_power[~left].sum())
        and peaks.weight[left].sum() > max(_FEWEST_PEAKS, _LEAST_WEIGHT_SHARE * peaks.weight[~left].sum())
    )


def _best_string(peaks: NewPeaks, left: NDArray[np.bool_], *, a4_hz: float) -> _String | None:
    """Return the string that explains some of the peaks best, ``None`` if none does so clearly."""
    some = replace(peaks, **{name: getattr(peaks, name)[left] for name in _PER_PEAK})
    found = find_candidates(some, a4_hz=a4_hz)
    if found.score.size == 0 or found.score[0] < _LEAST_SCORE or found.n_matched[0] < _FEWEST_PEAKS:
        return None
    return _String(
        position=float(found.position[0]),
        f0_hz=float(found.f0_hz[0]),
        inharmonicity_b=float(found.inharmonicity_b[0]),
    )


def _on_law(peaks: NewPeaks, *, f0_hz: float, inharmonicity_b: float) -> NDArray[np.bool_]:
    """Return which peaks lie on the law of a string, shape (k,)."""
    n = np.arange(1, int(1.1 * peaks.f_hz.max() / f0_hz) + 2)
    law_hz = partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
    off_hz = np.abs(peaks.f_hz[:, None] - law_hz).min(axis=1)
    return np.asarray(off_hz < np.maximum(_SPREADS * peaks.f_sd_hz, _SLACK_RATIO * peaks.f_hz))
