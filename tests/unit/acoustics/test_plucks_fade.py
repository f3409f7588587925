from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.plucked import damped_tone

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.plucks_fade import estimate_fade_db

RATE_HZ = 16_000.0
ONSET_S = 0.3
F0_HZ = 220.0
LEFT_AT_S = np.arange(0.03, 0.4, 0.01)


def fade_db(
    decay_db_per_s: float, *, left: float, rang: float = 0.0, until_s: float = 0.4, gain: float = 1.0
) -> float | None:
    """Return the fade of a tone of amplitude 1 that begins beside one that rings, of which `left` remains, dB."""
    n, at = round((ONSET_S + until_s) * RATE_HZ), round(ONSET_S * RATE_HZ)
    samples = rang * damped_tone(2 * F0_HZ, 0.0, n_samples=n, sample_rate_hz=RATE_HZ, phase_rad=1.0)
    samples[at:] += damped_tone(3 * F0_HZ, decay_db_per_s, n_samples=n - at, sample_rate_hz=RATE_HZ)
    left_at_s = LEFT_AT_S[until_s > LEFT_AT_S]
    return estimate_fade_db(
        Spectrum((gain * samples).astype(np.float32), sample_rate_hz=RATE_HZ),
        onset_s=ONSET_S,
        f0_hz=F0_HZ,
        left=np.full((2, left_at_s.size), gain**2 * left / 2.0),
        left_at_s=left_at_s,
    )


@pytest.mark.parametrize("decay", [3.0, 100.0, 600.0])
def test_the_loss_is_counted_from_the_first_moments(decay: float) -> None:
    fade = fade_db(decay, left=1e-3)
    assert fade is not None
    neper_per_s = decay * np.log(10.0) / 10.0
    at_once = (np.exp(-0.004 * neper_per_s) - np.exp(-0.024 * neper_per_s)) / (0.020 * neper_per_s)
    expected = 30.0 + 10.0 * np.log10(at_once)
    assert_close(fade, expected, rtol=0, atol=0.3, why="mean power from 4 to 24 ms; the band's edges")


def test_what_rang_before_is_taken_off() -> None:
    fade = fade_db(3.0, left=0.1, rang=0.7)
    assert fade is not None
    assert_close(fade, 10.0, rtol=0, atol=1.5, why="two tones beat within the 20 ms")


def test_the_gain_changes_nothing() -> None:
    loud, soft = fade_db(50.0, left=0.01), fade_db(50.0, left=0.01, gain=0.01)
    assert loud is not None
    assert soft is not None
    assert_close(soft, loud, rtol=0, atol=1e-3, why="single precision of the spectrum")


def test_a_sound_that_ends_too_soon_does_not_tell() -> None:
    assert fade_db(50.0, left=0.01, until_s=0.07) is None
