"""What one sound of a plucked section says about itself: which string could have made it, and how it sets in."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.comb import find_candidates
from strikeline.acoustics.newpeaks import find_new_peaks
from strikeline.acoustics.steadiness import measure_steadiness
from strikeline.acoustics.strikes import Strike

_BAND_EDGES_HZ: Final = (60.0, 500.0, 2000.0, 7500.0)
_SETS_IN_S: Final = 0.025
_KEPT_RATE_HZ: Final = 16_000.0
_MOST_PARTS: Final = 500
_HIDDEN_SHARE: Final = 0.1
"""Less than this share of what rang before could not be seen to come."""
_FLOOR_DB: Final = -120.0
_SURELY_CUT_DB: Final = 10.0
_SURELY_NO_STEP_DB: Final = 3.0
"""A damper beyond doubt: no string is looked for in it, which saves time."""
_CLEAR_SCORE: Final = 6.0
_VOICE_BELOW_KEY: Final = 56.0
_GLIDE_CENTS: Final = 7.0
_STIFF_NATS: Final = 2.5
"""Of clear sounds of generated talk 1 in 20 gains 1.4 nats by stiffness, and half glide by 10 cents and more; of clear
plucks below key 50 nine in ten gain more than 2.2, and 1 in 20 glides by 5."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PluckEvidence:
    """One sound that began."""

    onset_s: float
    end_s: float
    position: NDArray[np.float64]
    """First partial as a fractional key number, shape (k,), best candidate first."""
    f0_hz: NDArray[np.float64]
    """f0 of the stiff-string law, shape (k,)."""
    inharmonicity_b: NDArray[np.float64]
    score: NDArray[np.float64]
    """Log-likelihood ratio of each candidate against "no string", nats, shape (k,)."""
    stiffness_nats: NDArray[np.float64]
    """How much better the stiff string explains the peaks than exact harmonics do, shape (k,). Voices are exactly
    harmonic."""
    band_db: NDArray[np.float64]
    """What the first 25 ms have more than the 25 ms before, 60 to 500, 2000 and 7500 Hz, dB re full scale."""
    late_attack_db: float
    """Level 60 to 120 ms after the onset above that of the first 40 ms: a pluck is loudest at once, a voice is not."""
    drift_cents: float | None
    """How far the strongest peaks glide; ``None`` where the sound is too short."""
    cut_db: float
    """How far the sound 0.1 to 0.18 s after the onset lies below what rang before it, its own fall allowed for: a
    damper cuts, a pluck only adds."""
    step_db: float
    """Growth of the bright part (first difference) from the 6 ms before the onset to the 6 ms after it: a nail leaves
    a string at once; a swell or a thump does not begin so."""
    sound: Strike
    """The sound itself, at no more than 16 kHz."""

    @property
    def is_pitched(self) -> bool:
        """Whether its best explanation is clear."""
        return bool(self.score.size and self.score[0] > _CLEAR_SCORE)

    @property
    def is_voice_like(self) -> bool:
        """Whether it has a pitch that a voice could have, without stiffness or gliding."""
        if not self.is_pitched or self.position[0] > _VOICE_BELOW_KEY:
            return False
        glides = self.drift_cents is not None and self.drift_cents > _GLIDE_CENTS
        return glides or bool(self.stiffness_nats[0] < _STIFF_NATS)


def gather_pluck_evidence(sound: Strike, *, a4_hz: float) -> PluckEvidence:
    """Return what one sound says.

    Parameters
    ----------
    sound : Strike
        As cut from the recording.
    a4_hz : float
        Frequency of A4 at which the instrument is meant to stand, above 0.
    """
    cut_db, step_db = _cut_db(sound), _step_db(sound)
    peaks = find_new_peaks(sound)
    is_damper = cut_db > _SURELY_CUT_DB and step_db < _SURELY_NO_STEP_DB
    candidates = find_candidates(replace(peaks, f_hz=np.zeros(0)) if is_damper else peaks, a4_hz=a4_hz)
    steadiness = measure_steadiness(sound, peaks)
    return PluckEvidence(
        onset_s=sound.onset_s,
        end_s=sound.end_s,
        position=candidates.position,
        f0_hz=candidates.f0_hz,
        inharmonicity_b=candidates.inharmonicity_b,
        score=candidates.score,
        stiffness_nats=candidates.stiffness_nats,
        band_db=_band_db(sound),
        late_attack_db=steadiness.late_attack_db,
        drift_cents=steadiness.drift_cents,
        cut_db=cut_db,
        step_db=step_db,
        sound=_thinned(sound),
    )


def _band_db(sound: Strike) -> NDArray[np.float64]:
    """Return what each band gains at the onset."""
    n = round(_SETS_IN_S * sound.sample_rate_hz)
    at = sound.onset_sample
    lead = round(0.002 * sound.sample_rate_hz)
    after, before = sound.samples[max(0, at - lead) :][:n], sound.samples[: max(0, at - lead)][-n:]
    energy = np.zeros((2, len(_BAND_EDGES_HZ) - 1))
    for row, part in enumerate((before, after)):
        window = np.zeros(n, dtype=np.float32)
        window[: part.size] = part
        power = np.abs(scipy.fft.rfft(window)) ** 2 * (2.0 / n**2)
        edges = np.ceil(np.array(_BAND_EDGES_HZ) * n / sound.sample_rate_hz).astype(int)
        energy[row] = [power[low:high].sum() for low, high in itertools.pairwise(edges.tolist())]
    gain = np.maximum(energy[1] - energy[0], _HIDDEN_SHARE * energy[0])
    return np.asarray(10.0 * np.log10(gain + 10.0 ** (_FLOOR_DB / 10.0)))


_STEP_S: Final = 0.006
_STEP_LEAD_S: Final = 0.001
_MOST_STEP_DB: Final = 40.0


def _step_db(sound: Strike) -> float:
    """Return how far the power of the first difference grows at the onset."""
    n, lead = round(_STEP_S * sound.sample_rate_hz), round(_STEP_LEAD_S * sound.sample_rate_hz)
    at = sound.onset_sample - lead
    if at < n + 1:
        return _MOST_STEP_DB
    bright = np.square(np.diff(sound.samples[at - n - 1 : at + n].astype(np.float64)))
    floor = 10.0 ** (_FLOOR_DB / 10.0) / sound.sample_rate_hz
    return min(_MOST_STEP_DB, float(10.0 * np.log10((bright[n:].mean() + floor) / (bright[:n].mean() + floor))))


_CUT_BEFORE_S: Final = ((-0.19, -0.10), (-0.10, -0.01))
_CUT_AFTER_S: Final = (0.10, 0.18)
_CUT_LEAST_S: Final = 0.04
"""Where the next sound begins before 0.18 s, the last so many seconds before it are taken."""


def _cut_db(sound: Strike) -> float:
    """Return the drop of level across the onset, 0 where too little is heard on either side."""
    rate, at = sound.sample_rate_hz, sound.onset_sample
    end_s = min(_CUT_AFTER_S[1], (sound.samples.size - at) / rate)
    begin_s = min(_CUT_AFTER_S[0], end_s - _CUT_LEAST_S)
    if begin_s < _CUT_LEAST_S or at < -_CUT_BEFORE_S[0][0] * rate:
        return 0.0
    spans = (*_CUT_BEFORE_S, (begin_s, end_s))
    power = [float(np.mean(np.square(_between(sound, low, high), dtype=np.float64))) for low, high in spans]
    earlier, before, after = 10.0 * np.log10(np.array(power) + 10.0 ** (_FLOOR_DB / 10.0))
    middle = [(low + high) / 2.0 for low, high in spans]
    slope = min(0.0, float(before - earlier) / (middle[1] - middle[0]))
    return max(0.0, float(before - after) + slope * (middle[2] - middle[1]))


def _between(sound: Strike, low_s: float, high_s: float) -> NDArray[np.float32]:
    at, rate = sound.onset_sample, sound.sample_rate_hz
    return sound.samples[at + round(low_s * rate) : at + round(high_s * rate)]


def _thinned(sound: Strike) -> Strike:
    """Return the sound at no more than `_KEPT_RATE_HZ`, resampled by cutting its spectrum."""
    if sound.sample_rate_hz <= _KEPT_RATE_HZ:
        return sound
    size = sound.samples.size
    ratio = Fraction(_KEPT_RATE_HZ / sound.sample_rate_hz).limit_denominator(_MOST_PARTS)
    # Both lengths whole multiples of the ratio's small numbers: the transforms are quick and the new rate is exact.
    n_parts = scipy.fft.next_fast_len(-(-(size + 64) // ratio.denominator), real=True)
    n_in, n_out = n_parts * ratio.denominator, n_parts * ratio.numerator
    padded = np.zeros(n_in, dtype=np.float32)
    padded[:size] = sound.samples
    spectrum = scipy.fft.rfft(padded)[: n_out // 2 + 1]
    rate = sound.sample_rate_hz * n_out / n_in
    thin = scipy.fft.irfft(spectrum, n_out) * np.float32(n_out / n_in)
    return Strike(
        samples=np.ascontiguousarray(thin[: int(size * n_out / n_in)], dtype=np.float32),
        sample_rate_hz=rate,
        onset_sample=round(sound.onset_sample * n_out / n_in),
        start_s=sound.start_s,
    )
