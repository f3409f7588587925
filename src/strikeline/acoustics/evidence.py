"""What one strike says about itself, in some four kilobytes, so that a whole pass can be kept and named together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.comb import StringCandidates, find_candidates
from strikeline.acoustics.newpeaks import NewPeaks, find_new_peaks
from strikeline.acoustics.steadiness import Steadiness, find_step_db, measure_steadiness
from strikeline.acoustics.strikes import Strike

_NATS_PER_SCORE: Final = 0.5
_NATS_PER_TREBLE_SCORE: Final = 0.75
"""The many peaks of one sound are not independent witnesses: each counts half. In the treble there are few."""
_SCORE_OF_A_KNOCK: Final = 1.5
"""Thumps and dead keys score up to 2.7 by chance (80 generated ones), most of them below 0."""
_ALL_NEW: Final = 0.6
_NATS_PER_OLD_SHARE: Final = 6.0
"""A strike whose sound was mostly there before is more likely a noise during a note than the note again."""
_MOST_NATS: Final = 16.0
_LEAST_NATS: Final = -8.0
_STILL_CENTS: Final = 7.0
_STILL_GROWTH_DB: Final = 2.0
_STILL_ATTACK_DB: Final = 5.0
_STIFF_NATS: Final = 6.0
_NATS_PER_STIFF_NAT: Final = 2.0
_MOST_STIFF_NATS: Final = 14.0
"""Below key 62 real and generated notes gain 4 nats or more by their stiffness (600 strikes), generated syllables
less than 5 but for a few in 180."""
_VOICE_BELOW_KEY: Final = 56.0
_VOICE_NEVER_ABOVE_KEY: Final = 68.0
"""Voices speak below 400 Hz (key 47); treble unisons that beat fast look unsteady without being voices, and they have
too few partials to show their stiffness."""
_FEWEST_PEAKS: Final = 1.5
_NATS_PER_MISSING_PEAK: Final = 3.0
"""A treble note shows peaks worth 2.2 full ones or more (one recorded grand); a generated hiss at most 1.2."""
_FULL_STEP_DB: Final = 9.0
_NATS_PER_STEP_DB: Final = 0.5
_MOST_STEP_NATS: Final = 5.0
"""Partials of a blow jump by 9 dB or more except into its own ringing (assembled recordings: 95 of 100); a beat that
swells while something in the action clicks jumps by less."""
_TOO_SHORT_S: Final = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrikeEvidence:
    """Candidates for the string that was struck, and how much each is worth."""

    onset_s: float
    end_s: float
    position: NDArray[np.float64]
    """First partial as a fractional key number, shape (k,), best candidate first."""
    f0_hz: NDArray[np.float64]
    """f0 of the stiff-string law, shape (k,)."""
    inharmonicity_b: NDArray[np.float64]
    """Starting value of B, shape (k,)."""
    note_nats: NDArray[np.float64]
    """Log-odds of "this string was struck" against "no string was struck" (talk, door, dead key), shape (k,)."""
    new_share: float
    """0 to 1: how much of the sound after the onset was not there before it."""
    new_level_db: NDArray[np.float64]
    """Level of those partials of the candidate that were not there before, dB re full scale, shape (k,)."""
    peaks: NewPeaks
    """The peaks it all rests on."""


def gather_evidence(strike: Strike, *, a4_hz: float) -> StrikeEvidence:
    """Return what a strike says about which key was struck.

    Parameters
    ----------
    strike : Strike
        One strike as cut from the recording.
    a4_hz : float
        Frequency of A4 at which the instrument is meant to stand, above 0. The true pitch may lie far from it.
    """
    peaks = find_new_peaks(strike)
    candidates = find_candidates(peaks, a4_hz=a4_hz)
    note_nats = _note_nats(
        candidates,
        measure_steadiness(strike, peaks),
        step_db=find_step_db(strike, peaks),
        length_s=strike.end_s - strike.onset_s,
        new_share=peaks.new_share,
    )
    return StrikeEvidence(
        onset_s=strike.onset_s,
        end_s=strike.end_s,
        position=candidates.position,
        f0_hz=candidates.f0_hz,
        inharmonicity_b=candidates.inharmonicity_b,
        note_nats=note_nats,
        new_share=peaks.new_share,
        new_level_db=candidates.new_level_db,
        peaks=peaks,
    )


def _note_nats(
    candidates: StringCandidates, steadiness: Steadiness, *, step_db: float | None, length_s: float, new_share: float
) -> NDArray[np.float64]:
    """Log-odds that a string made the sound: the comb's score, less what speaks for a voice."""
    treble = np.clip((candidates.position - 55.0) / 15.0, 0.0, 1.0)
    worth = _NATS_PER_SCORE + (_NATS_PER_TREBLE_SCORE - _NATS_PER_SCORE) * treble
    # Thumps have their peaks in the bass: in the treble they score below 0.
    knock = _SCORE_OF_A_KNOCK * (1.0 - treble)
    from_comb = np.clip(worth * (candidates.score - knock), _LEAST_NATS, _MOST_NATS)
    voice = 0.0
    if steadiness.drift_cents is not None and steadiness.growth_db is not None:
        voice += min(max(steadiness.drift_cents - _STILL_CENTS, 0.0) / 1.5, 12.0)
        voice += min(max(steadiness.growth_db - _STILL_GROWTH_DB, 0.0), 10.0)
    elif length_s < _TOO_SHORT_S + 0.08:
        voice += 4.0
    harmonic = np.clip(_NATS_PER_STIFF_NAT * (_STIFF_NATS - candidates.stiffness_nats), 0.0, _MOST_STIFF_NATS)
    could_be_voice = np.clip(
        (_VOICE_NEVER_ABOVE_KEY - candidates.position) / (_VOICE_NEVER_ABOVE_KEY - _VOICE_BELOW_KEY), 0.0, 1.0
    )
    step_db = _FULL_STEP_DB if step_db is None else step_db
    swells = min(_NATS_PER_STEP_DB * max(_FULL_STEP_DB - step_db, 0.0), _MOST_STEP_NATS)
    # A treble string is loudest at once; so the later the attack, the less it is one.
    slow = np.clip(steadiness.late_attack_db - _STILL_ATTACK_DB * could_be_voice, 0.0, 8.0)
    bare = _NATS_PER_MISSING_PEAK * np.clip(_FEWEST_PEAKS - candidates.n_matched, 0.0, None)
    is_no_step = float(np.clip((12.0 - step_db) / 6.0, 0.0, 1.0))
    goes_on = _NATS_PER_OLD_SHARE * max(_ALL_NEW - new_share, 0.0) * is_no_step
    return np.asarray(from_comb - goes_on - swells - slow - bare - (voice + harmonic) * could_be_voice)
