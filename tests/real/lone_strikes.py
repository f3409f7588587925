"""Each recorded note measured once, for all tests that look at it."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from tests.recordings import chromatic_grand, layered_grand

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.keyboard import equal_tempered_hz

SOUNDING: Final = {1: 2, 2: 4, 3: 4}
"""Files of the chromatic set that sound another key than they are named after (see `test_identity_real`)."""
CHROMATIC_A4_HZ: Final = 441.0
"""What A4 of the chromatic set sounds."""
_HEARD_S: Final = 3.0
_PRE_ROLL_S: Final = 0.25


@lru_cache(maxsize=96)
def layered_note(key: int, velocity: int) -> Note:
    """Return the note of the layered grand, against A4 = 440 Hz."""
    return _measured(*layered_grand(key, velocity), key=key, a4_hz=440.0)


@lru_cache(maxsize=96)
def chromatic_note(file_key: int) -> Note:
    """Return the note in the file named after a key, against A4 = 441 Hz."""
    samples, rate = chromatic_grand(file_key)
    return _measured(samples, rate, key=SOUNDING.get(file_key, file_key), a4_hz=CHROMATIC_A4_HZ)


def _measured(samples: NDArray[np.float32], rate: int, *, key: int, a4_hz: float) -> Note:
    strike = _lone_strike(samples.mean(axis=1), float(rate))
    return measure_strike(strike, key=key, f0_start_hz=float(equal_tempered_hz(key, a4_hz=a4_hz)), a4_hz=a4_hz)


def _lone_strike(mono: NDArray[np.float32], rate_hz: float) -> Strike:
    """Return three seconds from the onset of the strike with the most energy in 0.3 s.

    The recordings begin within a note and end in its silence, and nothing else is in them: where the cutter takes the
    slow beat of a lone note for its end, the note goes on here.
    """
    cutter = StrikeCutter(sample_rate_hz=rate_hz)
    strikes = cutter.feed(mono[: round(5.0 * rate_hz)]) + cutter.finish()

    def energy(strike: Strike) -> float:
        heard = strike.samples[strike.onset_sample :][: round(0.3 * rate_hz)]
        return float(np.sum(np.square(heard, dtype=np.float64)))

    onset = round(max(strikes, key=energy).onset_s * rate_hz)
    before = min(onset, round(_PRE_ROLL_S * rate_hz))
    return Strike(
        samples=mono[onset - before : onset + round(_HEARD_S * rate_hz)],
        sample_rate_hz=rate_hz,
        onset_sample=before,
        start_s=(onset - before) / rate_hz,
    )
