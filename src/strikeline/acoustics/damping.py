"""What one short blow tells of its damper, before the neighbours are asked."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from strikeline.acoustics.damping_fall import estimate_t60_s
from strikeline.acoustics.damping_landing import Channels, Landing, find_landing, listen_to_channels
from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.damping_tails import Tails, measure_tails
from strikeline.acoustics.damping_tones import find_other_tones
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.units import DB_PER_NEPER

Real = NDArray[np.float64]

LEAK_RATIO: Final = 3.0
"""A partial leaks if it takes this many times as long to die as a note does under a sound damper here."""
LEAST_LEAK_T60_S: Final = 0.9
"""And at least this long: what a room answers takes up to half a second (common practice, no source)."""
HIGHEST_DAMPED_KEY: Final = 74
"""B♭6. Dampers end between E6 (key 68) and G6 (71) (secondary survey, low confidence); above, none is looked for."""
_SHORTEST_S: Final = 0.45
_HIGHEST_HZ: Final = 8000.0
_HIGHEST_SHARE: Final = 0.46
_MOST_PARTIALS: Final = 30
_UNSTOPPED_FROM_S: Final = 0.25
"""Where no landing is heard, the fall is read from here: a short blow would have been stopped by then."""
_HEADROOM_DB: Final = 20.0
"""The middle channel must stand this far above the noise for a missing landing to be believed."""
_REPORTED_DB: Final = 45.0
_LEAST_CLEAR_DB: Final = 15.0
_LASTS_S: Final = 0.3
_SURE: Final = 0.95
_LEAST_FREE_DB_PER_S: Final = 10.0
"""Free prompt sounds fall at least this fast, from the bass up (common practice, no source)."""
_GONE_SURE: Final = 0.99
"""What begins far below the partial is not looked for as a leak (`damping_tails.PART_DB`)."""
_LN_1000: Final = float(np.log(1000.0))


def usual_t60_s(key: int) -> float:
    """Return the T60 of partial 1 under a sound damper, seconds: 0.86 (A0), 0.49 (A2), 0.25 (A4), 0.17 (E6).

    The figures are those of a secondary survey, which calls them of low confidence. What is usual on this piano, in
    this room, is told by the neighbours; these figures stand where too few were heard, and bound it from below.
    """
    return float(np.interp(key, [1, 25, 49, 68], [0.86, 0.49, 0.25, 0.17]))


def measure_damping(
    strike: Strike, *, key: int, f0_hz: float, inharmonicity_b: float, landing: Landing | None = None
) -> Damping:
    """Return what one short blow tells of its damper.

    Parameters
    ----------
    strike : Strike
        The blow with all that follows, long enough to hold the end of the note.
    key : int
        Key number.
    f0_hz, inharmonicity_b : float
        Of the note, f0 to within 20 cents, above 0.
    landing : Landing or None
        As `find_landing` found it; ``None`` to have it found.

    Returns
    -------
    Damping
        Judged against what is usual; `strikeline.acoustics.damping_judgement.judge_dampers` judges it against its
        neighbours.

    Raises
    ------
    InputError
        If f0 or B is out of range.
    """
    if not (np.isfinite(f0_hz) and f0_hz > 0.0 and np.isfinite(inharmonicity_b) and inharmonicity_b >= 0.0):
        raise InputError.of("f0_hz, inharmonicity_b", (f0_hz, inharmonicity_b), "above 0 Hz, and 0 or more")
    rate_hz = strike.sample_rate_hz
    samples = strike.samples - np.float32(strike.samples.mean(dtype=np.float64) if strike.samples.size else 0.0)
    before, sound = samples[: strike.onset_sample], samples[strike.onset_sample :]
    if sound.size < _SHORTEST_S * rate_hz:
        return _untold(f"{sound.size / rate_hz:.2f} s of sound is too short; let half a second pass after each blow")
    if landing is None:
        channels = listen_to_channels(
            sound, before, sample_rate_hz=rate_hz, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b
        )
        if channels is None or _headroom_db(channels) < _HEADROOM_DB:
            return _untold("the note does not stand clear of the noise or of what sounded before")
        landing = find_landing(channels) if key <= HIGHEST_DAMPED_KEY else None
    if landing is None:
        t60_s = estimate_t60_s(
            sound,
            before,
            sample_rate_hz=rate_hz,
            f0_hz=f0_hz,
            inharmonicity_b=inharmonicity_b,
            lands_s=_UNSTOPPED_FROM_S,
        )
        return Damping(verdict=DamperVerdict.NONE, t60_s=t60_s)
    highest_hz = min(_HIGHEST_HZ, _HIGHEST_SHARE * rate_hz)
    number = np.arange(1, max(2, int(highest_hz / f0_hz)) + 1)
    law_hz = partial_frequencies_hz(number, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
    audible = (law_hz < highest_hz) | (number == 1)
    number, law_hz = number[audible], law_hz[audible]
    some = slice(0, _MOST_PARTIALS)
    tails = measure_tails(
        sound,
        before,
        sample_rate_hz=rate_hz,
        partial_hz=law_hz[some],
        f0_hz=f0_hz,
        lands_s=landing.at_s.value,
    )
    if tails is None:
        return _untold("too little sound follows the landing of the damper")
    return _told(
        landing,
        number[some],
        tails,
        key=key,
        t60_s=estimate_t60_s(
            sound,
            before,
            sample_rate_hz=rate_hz,
            f0_hz=f0_hz,
            inharmonicity_b=inharmonicity_b,
            lands_s=landing.at_s.value,
        ),
        other_hz=find_other_tones(sound, before, sample_rate_hz=rate_hz, partial_hz=law_hz, lands_s=landing.at_s.value),
    )


def shortest_leak_s(t60_s: float) -> float:
    """Return the time to fall by 60 dB from which on something rings where a note usually dies in `t60_s`."""
    return max(LEAK_RATIO * t60_s, LEAST_LEAK_T60_S)


def leaks(partial: DampedPartial, *, t60_s: float) -> tuple[bool | None, float]:
    """Return whether a partial leaks where a note usually dies in a given time, and the probability of that answer.

    It does if it takes at least `LEAK_RATIO` times as long, and `LEAST_LEAK_T60_S`, with a probability of 95 %.

    Parameters
    ----------
    partial : DampedPartial
        As measured.
    t60_s : float
        Usual time to fall by 60 dB, above 0.
    """
    decay = partial.decay_db_per_s
    if decay is None:
        return partial.leaks, partial.confidence
    limit_db_per_s = 60.0 / shortest_leak_s(t60_s)
    probability = float(ndtr((limit_db_per_s - decay.value) / max(decay.se, 1e-3)))
    if probability > _SURE and partial.lasts_s is not None and partial.lasts_s >= _LASTS_S:
        return True, probability
    if probability < 0.5:
        return False, 1.0 - probability
    return None, 0.5


def _untold(reason: str) -> Damping:
    return Damping(verdict=DamperVerdict.CANNOT_TELL, cannot_tell=(f"damping: {reason}",))


def _headroom_db(channels: Channels) -> float:
    """Return how far the middle channel stands above the noise where it is loudest."""
    return float(np.median(channels.level_db.max(axis=1) - channels.floor_db))


def _told(
    landing: Landing,
    number: NDArray[np.int64],
    tails: Tails,
    *,
    key: int,
    t60_s: Measured | None,
    other_hz: tuple[float, ...],
) -> Damping:
    """Put together what was measured, judged against what is usual."""
    usual_s = usual_t60_s(key)
    clear = tails.before_db - tails.noise_db > _LEAST_CLEAR_DB
    clear &= tails.before_db > tails.before_db.max() - _REPORTED_DB
    partials, beside = [], list(other_hz)
    for row in np.flatnonzero(clear).tolist():
        partial = _partial(tails, row, int(number[row]))
        answer, confidence = leaks(partial, t60_s=usual_s)
        partials.append(replace(_with_spread(partial, answer), leaks=answer, confidence=confidence))
        if _is_another(tails, row, usual_s):
            beside.append(float(tails.f_hz[row]))
    verdict = DamperVerdict.LEAKS if any(partial.leaks for partial in partials) else DamperVerdict.STOPS
    if not landing.is_sure:
        # Free strings may do as much. Only the neighbours can tell; until then nothing stops it, and nothing leaks.
        verdict = DamperVerdict.NONE
        partials = [replace(p, leaks=None, confidence=0.5) if p.decay_db_per_s else p for p in partials]
    return Damping(
        verdict=verdict,
        lands_s=landing.at_s,
        t60_s=t60_s,
        partials=tuple(partials),
        after_ring_hz=tuple(sorted(beside)),
        is_landing_sure=landing.is_sure,
        cannot_tell=()
        if t60_s is not None
        else ("damping, time to die: no even fall stands clear of the noise and of what sounded before",),
    )


def _partial(tails: Tails, row: int, n: int) -> DampedPartial:
    """Return one partial, not judged yet unless nothing is left of it."""
    if not tails.is_own[row]:
        is_gone = bool(tails.is_gone[row])
        return DampedPartial(
            n=n, decay_db_per_s=None, leaks=False if is_gone else None, confidence=_GONE_SURE if is_gone else 0.5
        )
    decay = Measured(DB_PER_NEPER * float(tails.decay_per_s[row]), DB_PER_NEPER * float(tails.decay_se_per_s[row]))
    free = float(tails.free_db_per_s[row])
    return DampedPartial(
        n=n,
        decay_db_per_s=decay,
        leaks=None,
        lasts_s=float(tails.lasts_s[row]),
        free_db_per_s=Measured(free, float(tails.free_se_db_per_s[row])) if np.isfinite(free) else None,
    )


def _with_spread(partial: DampedPartial, answer: bool | None) -> DampedPartial:
    """Return a stopped partial with what its strings differ by in the error of its decay.

    The felt takes the same from all strings it touches, the bridge does not: their modes fall faster than the felt
    alone by anything from nothing to what the free prompt sound does. In the short while that a stopped partial lasts
    they cannot be told apart, so a share of 1/√12 (evenly spread) of that is uncertain. What leaks lasts long enough.
    """
    decay, free = partial.decay_db_per_s, partial.free_db_per_s
    if decay is None or answer:
        return partial
    spread = max(_LEAST_FREE_DB_PER_S, 0.0 if free is None else free.value) / float(np.sqrt(12.0))
    return replace(partial, decay_db_per_s=Measured(decay.value, float(np.hypot(decay.se, spread))))


def _is_another(tails: Tails, row: int, usual_s: float) -> bool:
    """Return whether what stays near a partial is slow and not its own: another string nearly in tune with it."""
    if tails.is_own[row] or not tails.starts_db[row] < 0.0:
        return False
    limit_per_s = _LN_1000 / shortest_leak_s(usual_s)
    return bool(tails.decay_per_s[row] + 2.0 * tails.decay_se_per_s[row] < limit_per_s)
