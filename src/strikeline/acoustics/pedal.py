"""A pass played with the sustain pedal down: former notes ring on under later ones.

With dampers at work a note has ended a second after the next key was struck, however late its own key was let go. So a
later strike is asked for the partials of the last such note: each has its frequency to a tenth of a hertz and its level
foretold by its modes. Where they are still there, no damper has come down: the pedal was down, or the dampers do not
reach the strings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Decay, Mode, Note
from strikeline.acoustics.newpeaks import FLOOR_STEP_HZ, HeardPeaks
from strikeline.acoustics.unison_result import Unison, UnisonVerdict
from strikeline.physics.strings import partial_frequencies_hz

Real = NDArray[np.float64]

_LAST_ASKED_KEY: Final = 63
"""B5: dampers end between E6 and G6 (from memory), and the last ones hold little."""
_OVER_S: Final = 1.0
"""After the next note's onset: no finger holds a key that long into the next note of a pass, and a sound damper takes
60 dB in less (0.9 s at A0, less above; values of a secondary survey)."""
_ABOVE_FLOOR_DB: Final = 6.0
_SEPARATE_HZ: Final = 5.0
"""From every partial of the notes that may sound: the side lobes of a second's spectrum have fallen by 50 dB there."""
_NEAR_HZ: Final = 1.0
_NEAR_RATIO: Final = 4e-4
_WEAKER_DB: Final = 15.0
_STRONGER_DB: Final = 25.0
"""Against the level foretold: slower modes come out late, and other strings ring along."""
_FEWEST_PARTIALS: Final = 2
_RINGS_SHARE: Final = 0.5
_FEWEST_STRIKES: Final = 4
_SHARE_OF_PASS: Final = 0.25
"""So many of the strikes that can be asked; a few bad dampers or a lazy finger ring on under fewer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardStrike:
    """One strike of a pass as far as the search for the pedal needs it."""

    onset_s: float
    note: Note | None
    """``None`` where nothing could be named or measured."""
    peaks: HeardPeaks


@dataclass(frozen=True, slots=True, kw_only=True)
class RingingOn:
    """Former notes that no damper stopped."""

    from_s: float
    to_s: float
    """From the first note that rang on to the last strike under which one did; without end, to either side, where no
    strike shows that the dampers were down."""
    n_strikes: int
    n_asked: int
    """Strikes where a former note would be heard if it rang on."""

    def covers(self, onset_s: float) -> bool:
        """Return whether a note struck then may have had other strings ringing along."""
        return self.from_s <= onset_s <= self.to_s

    @property
    def warning(self) -> str:
        """What to say of it, and what to do."""
        where = "" if np.isinf(self.from_s) and np.isinf(self.to_s) else f" {_span(self.from_s, self.to_s)}"
        return (
            f"the sustain pedal was down{where}, or the dampers do not reach the strings: former notes rang on under "
            f"{self.n_strikes} of {self.n_asked} later ones. Pitch, inharmonicity, brightness and level were measured; "
            "unison, decay, sustain, singing and knock were not told. Play the pass again without the pedal"
        )


def find_ringing_on(strikes: Sequence[HeardStrike]) -> RingingOn | None:
    """Return where former notes of a pass ring on under later ones, ``None`` if they do not.

    A few strikes alone are bad dampers; it takes four, and a quarter of those where it would be heard.
    """
    asked: list[tuple[float, float, bool]] = []
    for number, strike in enumerate(strikes):
        former = _former(strikes, number)
        if former is None or strike.note is None or not strike.note.partials or strike.peaks.f_hz.size == 0:
            continue
        n_partials, n_heard = _partials_heard(strikes, number, former)
        if n_partials >= _FEWEST_PARTIALS:
            rings = n_heard >= max(_FEWEST_PARTIALS, _RINGS_SHARE * n_partials)
            asked.append((former.onset_s, strike.onset_s, rings))
    ringing = [number for number, (*_, rings) in enumerate(asked) if rings]
    if len(ringing) < max(_FEWEST_STRIKES, _SHARE_OF_PASS * len(asked)):
        return None
    return RingingOn(
        from_s=asked[ringing[0]][0] if ringing[0] > 0 else -np.inf,
        to_s=asked[ringing[-1]][1] if ringing[-1] < len(asked) - 1 else np.inf,
        n_strikes=len(ringing),
        n_asked=len(asked),
    )


def without_dampers(note: Note) -> Note:
    """Return a note struck while no damper was down, without what other ringing strings spoil."""
    reason = "unison, decay, sustain, singing, knock: other strings rang along, the sustain pedal was down"
    return replace(
        note,
        partials=tuple(replace(partial, decay_db_per_s=Decay(early=None, late=None)) for partial in note.partials),
        unison=None if note.unison is None else Unison(verdict=UnisonVerdict.CANNOT_TELL),
        sustain_db_per_s=None,
        singing_s=None,
        knock_db=None,
        cannot_tell=(*note.cannot_tell, reason),
    )


def _partials_heard(strikes: Sequence[HeardStrike], number: int, former: Note) -> tuple[int, int]:
    """Return how many partials of a former note would be heard under a strike if it rang on, and how many are."""
    strike = strikes[number]
    after_s = strike.onset_s - former.onset_s + 0.5 * (strike.peaks.from_s + strike.peaks.to_s)
    f_hz = np.array([partial.f_hz.value for partial in former.partials])
    level_db = np.array([_level_db_after(partial.modes, after_s) for partial in former.partials])
    floor_db = np.interp(f_hz, np.arange(strike.peaks.floor_db.size) * FLOOR_STEP_HZ, strike.peaks.floor_db)
    others = _partials_that_may_sound(strikes, number, former)
    apart_hz = np.abs(f_hz[:, None] - others).min(axis=1, initial=np.inf)
    would = (level_db > floor_db + _ABOVE_FLOOR_DB) & (apart_hz > _SEPARATE_HZ)
    would &= f_hz < FLOOR_STEP_HZ * (strike.peaks.floor_db.size - 1)
    off_hz = np.abs(f_hz[:, None] - strike.peaks.f_hz)
    over_db = strike.peaks.level_db - level_db[:, None]
    near = off_hz < _NEAR_HZ + _NEAR_RATIO * f_hz[:, None]
    heard = (near & (over_db > -_WEAKER_DB) & (over_db < _STRONGER_DB)).any(axis=1)
    return int(would.sum()), int((would & heard).sum())


def _former(strikes: Sequence[HeardStrike], number: int) -> Note | None:
    """Return the last note that must have ended before a strike if dampers are at work."""
    onset_s = strikes[number].onset_s
    for earlier in range(number - 2, -1, -1):
        note = strikes[earlier].note
        if note is None or note.key is None or strikes[earlier + 1].onset_s > onset_s - _OVER_S:
            continue
        later = {one.note.key for one in strikes[earlier + 1 : number + 1] if one.note is not None}
        if note.key in later or not note.partials:
            continue
        return note if note.key <= _LAST_ASKED_KEY else None
    return None


def _partials_that_may_sound(strikes: Sequence[HeardStrike], number: int, former: Note) -> Real:
    """Return the frequencies of the partials of the notes struck since `former`."""
    frequencies = []
    for strike in reversed(strikes[: number + 1]):
        note = strike.note
        if note is former:
            break
        if note is None:
            continue
        frequencies += [partial.f_hz.value for partial in note.partials]
        if note.f0_hz is not None and note.inharmonicity_b is not None:
            n = np.arange(1, int(FLOOR_STEP_HZ * strike.peaks.floor_db.size / note.f0_hz.value) + 2)
            law_hz = partial_frequencies_hz(n, f0_hz=note.f0_hz.value, inharmonicity_b=note.inharmonicity_b.value)
            frequencies += law_hz.tolist()
    return np.array(frequencies)


def _level_db_after(modes: Sequence[Mode], time_s: float) -> float:
    """Return the level of a partial after a time, its modes free."""
    power = sum(10.0 ** ((mode.level_db - mode.decay_db_per_s.value * time_s) / 10.0) for mode in modes)
    return 10.0 * math.log10(power + 1e-30)


def _span(from_s: float, to_s: float) -> str:
    if np.isinf(from_s):
        return f"up to {_clock(to_s)}"
    return f"from {_clock(from_s)} on" if np.isinf(to_s) else f"from {_clock(from_s)} to {_clock(to_s)}"


def _clock(time_s: float) -> str:
    return f"{int(time_s) // 60}:{int(time_s) % 60:02d}"
