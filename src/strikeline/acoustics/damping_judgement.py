"""The dampers of a whole piano, each judged against its neighbours.

What is usual for a damper depends on the piano, the room and the player: so a note is compared with the middle of the
notes around it, and the scatter among them says how far a sound one may stray.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strikeline.acoustics.damping import leaks, shortest_leak_s, usual_t60_s
from strikeline.acoustics.damping_neighbours import Neighbours, Typical, lands
from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import Note
from strikeline.measured import Measured
from strikeline.physics.strings import partial_frequencies_hz

_LATE_S: Final = 0.07
"""Later than this against the neighbours is heard as late (no source)."""
_LATE_SDS: Final = 3.5
_WEAK_RATIO: Final = 1.5
_WEAK_SDS: Final = 3.0
_IN_TIME_SDS: Final = 3.0
_ALWAYS_DAMPED_KEY: Final = 60
"""G♯5, well below where dampers end."""
_USUAL_LAST_KEY: Final = 69
"""F6, the middle of where dampers end, E6 to G6 (secondary survey, low confidence): settles only a tie."""
_FEWEST: Final = 5
_FEWEST_PARTIALS: Final = 3
_STOPPED_SHARE: Final = 0.7
"""Of free strings nearly all partials last longer than a leak must; of strings under a felt hardly any does."""
_PEDAL_SHARE: Final = 0.7
_PEDAL_FEWEST: Final = 4
_RINGS_S: Final = 12.0
"""An earlier note that nothing stopped may still be heard after so long."""
_BEATS_UP_DB: Final = 30.0
"""What stands farther above what its band held before the blow is new: no beat of an old note rises so far."""
_SAME_CENTS: Final = 15.0
_HIGHEST_OLD_PARTIAL: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedDampers:
    """All notes of a pass with their dampers judged together."""

    notes: tuple[Note, ...]
    last_damped_key: int | None
    """Highest key whose note is stopped; above it none is, as usual. ``None`` if the pass does not show where that
    is."""
    warnings: tuple[str, ...] = ()


def judge_dampers(notes: Sequence[Note]) -> JudgedDampers:
    """Return the notes with the verdicts on their dampers, made by comparison with their neighbours.

    Parameters
    ----------
    notes : sequence of Note
        From short blows, in the order of time, each with its `damping`; notes without one stay as they are.
    """
    heard = [n for n in notes if n.key is not None and _is_told(n)]
    if _is_pedal_down(heard):
        why = "nearly no note is stopped: the sustain pedal was down, or the keys were held"
        advice = "play short blows with the pedal up; if this is a pass, leave --kind staccato out"
        return JudgedDampers(
            notes=tuple(_untold(note, why) for note in notes),
            last_damped_key=None,
            warnings=(f"{why}; nothing is said of the dampers; {advice}",),
        )
    last_key = _last_damped_key(heard)
    neighbours = Neighbours.of([note for note in heard if last_key is None or (note.key or 0) <= last_key])
    judged: list[Note] = []
    for note in notes:
        judged.append(_judged(note, neighbours, last_key, judged) if _is_told(note) else note)
    return JudgedDampers(notes=tuple(judged), last_damped_key=last_key)


def _is_told(note: Note) -> bool:
    return note.damping is not None and note.damping.verdict is not DamperVerdict.CANNOT_TELL


def _untold(note: Note, why: str) -> Note:
    if note.damping is None:
        return note
    reason = f"damping: {why}"
    damping = Damping(verdict=DamperVerdict.CANNOT_TELL, cannot_tell=(reason,))
    return replace(note, damping=damping, cannot_tell=(*note.cannot_tell, reason))


def _is_pedal_down(heard: Sequence[Note]) -> bool:
    """Return whether most notes that always have dampers ring on."""
    told = [n.damping for n in heard if n.damping is not None and (n.key or 0) <= _ALWAYS_DAMPED_KEY]
    ringing = sum(not lands(damping) for damping in told)
    return len(told) >= _PEDAL_FEWEST and ringing >= _PEDAL_SHARE * len(told)


def _last_damped_key(heard: Sequence[Note]) -> int | None:
    """Return the key that best parts those that are stopped, below, from those that ring on, above."""
    stops = {n.key: lands(n.damping) for n in heard if n.damping is not None and n.key is not None}
    keys = np.array(sorted(stops))
    if keys.size < _FEWEST:
        return None
    stopped = np.array([stops[int(key)] for key in keys])
    # Notes that fit if the last damped key is the i-th: those stopped up to it and those ringing beyond.
    fitting = np.cumsum(stopped) + np.sum(~stopped) - np.cumsum(~stopped)
    best = np.flatnonzero(fitting == fitting.max())
    last = int(best[np.argmin(np.abs(keys[best] - _USUAL_LAST_KEY))])
    return int(keys[last]) if stopped[last] and keys[last] < keys[-1] else None


def _judged(note: Note, neighbours: Neighbours, last_key: int | None, earlier: Sequence[Note]) -> Note:
    """Return one note with its verdict."""
    damping, key = note.damping, note.key
    if damping is None or key is None:
        return note
    if last_key is not None and key > last_key:
        return replace(note, damping=Damping(verdict=DamperVerdict.NONE, t60_s=damping.t60_s))
    landing = neighbours.landing_s(key)
    usual_s = max(usual_t60_s(key), neighbours.t60_s(key) or 0.0)
    if not (_is_landing(damping, landing) or _is_stopped(damping, usual_s)):
        return _without_landing(note, damping, usual_s, last_key)
    partials = tuple(_leaking(partial, note, usual_s, earlier) for partial in damping.partials)
    stopped = tuple(partial for partial in partials if partial.leaks is False)
    hidden = tuple(p.n for p in partials if p.leaks is None and leaks(p, t60_s=usual_s)[0])
    any_leak = any(partial.leaks for partial in partials)
    excess = None if any_leak else neighbours.log_excess(key, replace(damping, partials=stopped))
    late_s, weak_ratio = _late_s(damping, landing), _weak_ratio(excess)
    untold = tuple(f"damping, partial {n}: an earlier note that was not stopped rings on at its pitch" for n in hidden)
    notices = (
        *(() if late_s is None else (f"the damper lands {late_s:.2f} s later than its neighbours'",)),
        *(() if weak_ratio is None else (f"the note takes {weak_ratio:.1f} times as long to die as its neighbours",)),
    )
    return replace(
        note,
        damping=replace(
            damping,
            verdict=_verdict(leak=any_leak, weak=weak_ratio is not None, late=late_s is not None, hidden=bool(hidden)),
            partials=partials,
            cannot_tell=(*damping.cannot_tell, *untold),
        ),
        cannot_tell=(*note.cannot_tell, *untold),
        notices=(*note.notices, *notices),
    )


def _without_landing(note: Note, damping: Damping, usual_s: float, last_key: int | None) -> Note:
    """Return a note below the last damper on which none was heard to land; one that dies in time is not blamed."""
    t60_s = damping.t60_s
    if t60_s is not None and t60_s.value < shortest_leak_s(usual_s):
        reason = "damping: the note dies as if it were stopped, but no moment stands out; a lively room can hide it"
        unclear = Damping(verdict=DamperVerdict.CANNOT_TELL, t60_s=t60_s, cannot_tell=(reason,))
        return replace(note, damping=unclear, cannot_tell=(*note.cannot_tell, reason))
    said = () if last_key is None else ("next to nothing stops this note",)
    none = Damping(verdict=DamperVerdict.NONE, t60_s=t60_s)
    return replace(note, damping=none, notices=(*note.notices, *said))


def _verdict(*, leak: bool, weak: bool, late: bool, hidden: bool) -> DamperVerdict:
    """Return the gravest of what was found; a leak that an earlier note may hide leaves it open."""
    if leak:
        return DamperVerdict.LEAKS
    if weak:
        return DamperVerdict.WEAK
    if late:
        return DamperVerdict.LATE
    return DamperVerdict.CANNOT_TELL if hidden else DamperVerdict.STOPS


def _is_landing(damping: Damping, landing: Typical | None) -> bool:
    """Return whether what was heard is the landing of a damper; a doubtful one must come when the neighbours' do."""
    if damping.lands_s is None:
        return False
    if damping.is_landing_sure or landing is None:
        return damping.is_landing_sure
    scatter_s = float(np.hypot(landing.sd, damping.lands_s.se))
    return abs(damping.lands_s.value - landing.value) < _IN_TIME_SDS * scatter_s


def _is_stopped(damping: Damping, usual_s: float) -> bool:
    """Return whether most partials die soon after a doubtful landing: then it was one, whenever it came."""
    answers = [leaks(partial, t60_s=usual_s)[0] for partial in damping.partials]
    told = [answer for answer in answers if answer is not None]
    return len(told) >= _FEWEST_PARTIALS and told.count(False) >= _STOPPED_SHARE * len(answers)


def _leaking(partial: DampedPartial, note: Note, usual_s: float, earlier: Sequence[Note]) -> DampedPartial:
    """Return a partial with the answer whether it leaks; none where an earlier note rings on at its pitch."""
    answer, confidence = leaks(partial, t60_s=usual_s)
    if answer and _stands_db(partial) < _BEATS_UP_DB and _is_earlier(partial.n, note, earlier):
        answer, confidence = None, 0.5
    return replace(partial, leaks=answer, confidence=confidence)


def _stands_db(partial: DampedPartial) -> float:
    """Return how far what rings on stands above what the band held before the blow."""
    if partial.lasts_s is None or partial.decay_db_per_s is None:
        return 0.0
    return partial.lasts_s * partial.decay_db_per_s.value


def _is_earlier(number: int, note: Note, earlier: Sequence[Note]) -> bool:
    """Return whether a partial sounds where an earlier note that was not stopped may still ring."""
    if note.f0_hz is None or note.inharmonicity_b is None:
        return False
    own_hz = float(
        partial_frequencies_hz([number], f0_hz=note.f0_hz.value, inharmonicity_b=note.inharmonicity_b.value)[0]
    )
    for other in reversed(earlier):
        if note.onset_s - other.onset_s > _RINGS_S:
            return False
        if other.key == note.key or other.f0_hz is None or other.inharmonicity_b is None or other.damping is None:
            continue
        numbers = other.damping.leaking_partials
        if other.damping.verdict is DamperVerdict.NONE:
            numbers = tuple(range(1, _HIGHEST_OLD_PARTIAL + 1))
        if not numbers:
            continue
        hz = partial_frequencies_hz(numbers, f0_hz=other.f0_hz.value, inharmonicity_b=other.inharmonicity_b.value)
        if float(np.min(np.abs(1200.0 * np.log2(hz / own_hz)))) < _SAME_CENTS:
            return True
    return False


def _late_s(damping: Damping, landing: Typical | None) -> float | None:
    """Return by how much a damper lands later than its neighbours, if it is late."""
    if landing is None or damping.lands_s is None:
        return None
    late_s = damping.lands_s.value - landing.value
    scatter_s = float(np.hypot(landing.sd, damping.lands_s.se))
    return late_s if late_s > max(_LATE_S, _LATE_SDS * scatter_s) else None


def _weak_ratio(excess: Measured | None) -> float | None:
    """Return how many times as long as its neighbours a note takes to die, if that is clearly longer."""
    if excess is None or excess.value < max(float(np.log(_WEAK_RATIO)), _WEAK_SDS * excess.se):
        return None
    return float(np.exp(excess.value))
