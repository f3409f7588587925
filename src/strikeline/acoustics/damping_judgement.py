"""The dampers of a whole piano, each judged against its neighbours.

What is usual for a damper depends on the piano, the room and the player: so a note is compared with the middle of the
notes around it, and the scatter among them says how far a sound one may stray.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.damping import leaks, usual_t60_s
from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.listening import Note

Real = NDArray[np.float64]

_REACH_KEYS: Final = 8
_FARTHEST_KEYS: Final = 16
_FEWEST: Final = 5
_MAD_SD: Final = 1.4826
"""Standard deviation of normal values over their median absolute deviation."""
_LEAST_LANDING_SD_S: Final = 0.015
_LATE_S: Final = 0.07
"""Later than this against the neighbours is heard as late; fingers scatter by 10 to 15 ms (common practice, no
source)."""
_LATE_SDS: Final = 3.5
_LEAST_T60_SD: Final = 0.12
"""Of the logarithm: sound dampers scatter by some 10 % (no source)."""
_WEAK_RATIO: Final = 1.6
_WEAK_SDS: Final = 3.0
_IN_TIME_SDS: Final = 3.0
_SURE_SE: Final = 1.645
_ALWAYS_DAMPED_KEY: Final = 60
"""G♯5, well below where dampers end."""
_PEDAL_SHARE: Final = 0.7
_PEDAL_FEWEST: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedDampers:
    """All notes of a pass with their dampers judged together."""

    notes: tuple[Note, ...]
    last_damped_key: int | None
    """Highest key whose note is stopped; above it no note is, as usual. ``None`` if no note above it was heard."""
    warnings: tuple[str, ...] = ()


def judge_dampers(notes: Sequence[Note]) -> JudgedDampers:
    """Return the notes with the verdicts on their dampers, made by comparison with their neighbours.

    Parameters
    ----------
    notes : sequence of Note
        From short blows, each with its `damping`; notes without one stay as they are.
    """
    heard = [n for n in notes if n.damping is not None and n.key is not None]
    if _is_pedal_down(heard):
        why = "nearly no note is stopped: the sustain pedal was down, or the keys were held"
        return JudgedDampers(
            notes=tuple(_untold(note, why) for note in notes),
            last_damped_key=None,
            warnings=(f"{why}; nothing is said of the dampers; play short blows with the pedal up",),
        )
    last_key = _last_damped_key(heard)
    usual = _Usual.of([note for note in heard if last_key is None or (note.key or 0) <= last_key])
    judged = tuple(_judged(note, usual, last_key) for note in notes)
    return JudgedDampers(notes=judged, last_damped_key=last_key)


def _untold(note: Note, why: str) -> Note:
    if note.damping is None:
        return note
    reason = f"damping: {why}"
    damping = replace(note.damping, verdict=DamperVerdict.CANNOT_TELL, cannot_tell=(reason,))
    return replace(note, damping=damping, cannot_tell=(*note.cannot_tell, reason))


def _lands_surely(damping: Damping) -> bool:
    return damping.lands_s is not None and damping.is_landing_sure


def _is_pedal_down(heard: Sequence[Note]) -> bool:
    """Return whether most notes that always have dampers ring on."""
    told = [
        note.damping
        for note in heard
        if note.damping is not None
        and (note.key or 0) <= _ALWAYS_DAMPED_KEY
        and note.damping.verdict is not DamperVerdict.CANNOT_TELL
    ]
    ringing = sum(not _lands_surely(damping) for damping in told)
    return len(told) >= _PEDAL_FEWEST and ringing >= _PEDAL_SHARE * len(told)


def _last_damped_key(heard: Sequence[Note]) -> int | None:
    """Return the key that best parts those that are stopped, below, from those that ring on, above."""
    stops = {n.key: _lands_surely(n.damping) for n in heard if n.damping is not None and n.key is not None and _told(n)}
    keys = np.array(sorted(stops))
    if keys.size < _FEWEST:
        return None
    stopped = np.array([stops[int(key)] for key in keys])
    # Notes that fit if the last damped key is the i-th: those stopped up to it and those ringing beyond.
    fitting = np.cumsum(stopped) + np.sum(~stopped) - np.cumsum(~stopped)
    last = int(np.argmax(fitting))
    return int(keys[last]) if stopped[last] and keys[last] < keys[-1] else None


def _told(note: Note) -> bool:
    return note.damping is not None and note.damping.verdict is not DamperVerdict.CANNOT_TELL


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Usual:
    """What the sound dampers of this piano do, as far as they were heard."""

    key: Real
    lands_s: Real
    log_t60: Real  # NaN where it could not be told

    @classmethod
    def of(cls, notes: Sequence[Note]) -> _Usual:
        sure = [(note.key, note.damping) for note in notes if note.damping is not None and _lands_surely(note.damping)]
        return cls(
            key=np.array([key for key, _ in sure], dtype=np.float64),
            lands_s=np.array([d.lands_s.value for _, d in sure if d.lands_s is not None]),
            log_t60=np.array([np.nan if d.t60_s is None else float(np.log(d.t60_s.value)) for _, d in sure]),
        )

    def landing(self, key: int) -> tuple[float, float] | None:
        """Return when dampers near a key land, and how that scatters; ``None`` if too few were heard."""
        return self._around(key, self.lands_s, _LEAST_LANDING_SD_S)

    def t60(self, key: int) -> tuple[float, float] | None:
        """Return the logarithm of the T60 near a key, and its scatter."""
        return self._around(key, self.log_t60, _LEAST_T60_SD)

    def _around(self, key: int, values: Real, least_sd: float) -> tuple[float, float] | None:
        for reach in (_REACH_KEYS, _FARTHEST_KEYS):
            near = values[(np.abs(self.key - key) <= reach) & (self.key != key) & np.isfinite(values)]
            if near.size >= _FEWEST:
                middle = float(np.median(near))
                return middle, max(_MAD_SD * float(np.median(np.abs(near - middle))), least_sd)
        return None


def _judged(note: Note, usual: _Usual, last_key: int | None) -> Note:
    """Return one note with its verdict."""
    damping = note.damping
    if damping is None or note.key is None or damping.verdict is DamperVerdict.CANNOT_TELL:
        return note
    landing = usual.landing(note.key)
    if last_key is not None and note.key > last_key:
        return replace(note, damping=Damping(verdict=DamperVerdict.NONE))
    if not _is_landing(damping, landing):
        notices = (*note.notices, "nothing stops this note") if last_key is not None else note.notices
        return replace(note, damping=Damping(verdict=DamperVerdict.NONE), notices=notices)
    t60 = usual.t60(note.key)
    usual_s = usual_t60_s(note.key) if t60 is None else max(usual_t60_s(note.key), float(np.exp(t60[0])))
    partials = []
    for partial in damping.partials:
        answer, confidence = leaks(partial, t60_s=usual_s)
        partials.append(replace(partial, leaks=answer, confidence=confidence))
    late_s, weak_ratio = _late_s(damping, landing), _weak_ratio(damping, t60)
    verdict = (
        DamperVerdict.LEAKS
        if any(partial.leaks for partial in partials)
        else DamperVerdict.WEAK
        if weak_ratio is not None
        else DamperVerdict.LATE
        if late_s is not None
        else DamperVerdict.STOPS
    )
    notices = (
        *(() if late_s is None else (f"the damper lands {late_s:.2f} s later than its neighbours'",)),
        *(() if weak_ratio is None else (f"the note takes {weak_ratio:.1f} times as long to die as its neighbours",)),
    )
    return replace(
        note,
        damping=replace(damping, verdict=verdict, partials=tuple(partials)),
        notices=(*note.notices, *notices),
    )


def _is_landing(damping: Damping, landing: tuple[float, float] | None) -> bool:
    """Return whether what was heard is the landing of a damper; a doubtful one must come when the neighbours' do."""
    if damping.lands_s is None:
        return False
    if damping.is_landing_sure or landing is None:
        return damping.is_landing_sure
    return abs(damping.lands_s.value - landing[0]) < _IN_TIME_SDS * float(np.hypot(landing[1], damping.lands_s.se))


def _late_s(damping: Damping, landing: tuple[float, float] | None) -> float | None:
    """Return by how much a damper lands later than its neighbours, if it is late."""
    if landing is None or damping.lands_s is None:
        return None
    late_s = damping.lands_s.value - landing[0]
    scatter_s = float(np.hypot(landing[1], damping.lands_s.se))
    return late_s if late_s > max(_LATE_S, _LATE_SDS * scatter_s) else None


def _weak_ratio(damping: Damping, t60: tuple[float, float] | None) -> float | None:
    """Return how many times as long as its neighbours a note takes to die, if that is clearly longer."""
    if t60 is None or damping.t60_s is None:
        return None
    excess = float(np.log(damping.t60_s.value)) - t60[0]
    relative_se = damping.t60_s.se / damping.t60_s.value
    is_weak = excess > max(float(np.log(_WEAK_RATIO)), _WEAK_SDS * t60[1]) and excess > _SURE_SE * relative_se
    return float(np.exp(excess)) if is_weak else None
