"""What one strike says about itself, in under two kilobytes, so that a whole pass can be kept and named together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.comb import StringCandidates, find_candidates
from strikeline.acoustics.newpeaks import find_new_peaks
from strikeline.acoustics.steadiness import Steadiness, measure_steadiness
from strikeline.acoustics.strikes import Strike

_NATS_PER_SCORE: Final = 0.5
"""Neighbouring peaks of one sound are not independent witnesses; each counts half."""
_SCORE_OF_A_KNOCK: Final = 3.0
"""Thumps and dead keys score up to about this by chance (80 generated ones: 2.7 at most)."""
_MOST_NATS: Final = 16.0
_LEAST_NATS: Final = -8.0
_STILL_CENTS: Final = 7.0
_STILL_GROWTH_DB: Final = 2.0
_STILL_ATTACK_DB: Final = 5.0
_VOICE_BELOW_KEY: Final = 60.0
_VOICE_NEVER_ABOVE_KEY: Final = 72.0
"""Voices speak below 400 Hz; treble unisons that beat fast look unsteady without being voices."""
_TOO_SHORT_S: Final = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrikeEvidence:
    """Candidates for the string that was struck, and how much each is worth."""

    onset_s: float
    end_s: float
    level_db: float
    """Mean level of the first 0.3 s, dB re full scale (RMS)."""
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
    steadiness = measure_steadiness(strike, peaks)
    return StrikeEvidence(
        onset_s=strike.onset_s,
        end_s=strike.end_s,
        level_db=steadiness.level_db,
        position=candidates.position,
        f0_hz=candidates.f0_hz,
        inharmonicity_b=candidates.inharmonicity_b,
        note_nats=_note_nats(candidates, steadiness, length_s=strike.end_s - strike.onset_s),
        new_share=peaks.new_share,
    )


def _note_nats(candidates: StringCandidates, steadiness: Steadiness, *, length_s: float) -> NDArray[np.float64]:
    """Log-odds that a string made the sound: the comb's score, less what speaks for a voice."""
    from_comb = np.clip(_NATS_PER_SCORE * (candidates.score - _SCORE_OF_A_KNOCK), _LEAST_NATS, _MOST_NATS)
    voice = 0.0
    if steadiness.drift_cents is not None and steadiness.growth_db is not None:
        voice += min(max(steadiness.drift_cents - _STILL_CENTS, 0.0) / 1.5, 12.0)
        voice += min(max(steadiness.growth_db - _STILL_GROWTH_DB, 0.0), 10.0)
    elif length_s < _TOO_SHORT_S + 0.08:
        voice += 4.0
    voice += min(max(steadiness.late_attack_db - _STILL_ATTACK_DB, 0.0), 8.0)
    could_be_voice = np.clip(
        (_VOICE_NEVER_ABOVE_KEY - candidates.position) / (_VOICE_NEVER_ABOVE_KEY - _VOICE_BELOW_KEY), 0.0, 1.0
    )
    return from_comb - voice * could_be_voice
