"""Is it a struck string at all? It sets in at once, keeps its pitch and only falls; a voice does none of that."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.newpeaks import NewPeaks
from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.windows import hann
from strikeline.units import CENTS_PER_NEPER

_FRAME_S: Final = 0.10
_STEP_S: Final = 0.05
_FIRST_S: Final = 0.03
_N_FRAMES: Final = 4
_N_LOOKED_AT: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """How the strongest new peaks move in the quarter second after the onset. ``None``: too short to see."""

    drift_cents: float | None
    """Change of frequency from the first to the last 100 ms window, median over the strongest peaks."""
    growth_db: float | None
    """Change of level over the same time, median over the strongest peaks; negative when they fall."""
    late_attack_db: float
    """Level of the sound 60 to 120 ms after the onset above that of its first 40 ms."""


def measure_steadiness(strike: Strike, peaks: NewPeaks) -> Steadiness:
    """Return how steady the new sound is."""
    rate = strike.sample_rate_hz
    sound = strike.samples[strike.onset_sample :]
    drift, growth = _movement(sound, peaks, rate=rate)
    return Steadiness(
        drift_cents=drift,
        growth_db=growth,
        late_attack_db=_level_db(sound, 0.06, 0.12, rate=rate) - _level_db(sound, 0.0, 0.04, rate=rate),
    )


_STEP_FRAME_S: Final = 0.05


def find_step_db(strike: Strike, peaks: NewPeaks) -> float | None:
    """Return by how much the strongest new peaks jump from the 50 ms before the onset to the 50 ms after it, median.

    A blow makes them jump; a beat only lets them swell. ``None`` where there is not enough sound on both sides.
    """
    rate, onset = strike.sample_rate_hz, strike.onset_sample
    n = round(_STEP_FRAME_S * rate)
    end_before, begin_after = onset - round(0.004 * rate), onset + round(0.012 * rate)
    is_fit = (peaks.weight > 0.3) & (peaks.f_hz > 60.0)
    if end_before < n or begin_after + n > strike.samples.size or not is_fit.any():
        return None
    f_hz = peaks.f_hz[is_fit]
    f_hz = f_hz[np.argsort(-peaks.new_power[is_fit])[:_N_LOOKED_AT]]
    # A power within a run of samples times a power across runs, instead of an exponential for every sample.
    turn, run = -2j * np.pi * f_hz[:, None] / rate, round(np.sqrt(n))
    within, across = np.exp(turn * np.arange(run)), np.exp(turn * np.arange(0, n, run))
    probe = (across[:, :, None] * within[:, None, :]).reshape(f_hz.size, -1)[:, :n] * hann(n)
    before = np.abs(probe @ strike.samples[end_before - n : end_before])
    after = np.abs(probe @ strike.samples[begin_after : begin_after + n])
    return float(np.median(20.0 * np.log10((after + 1e-9) / (before + 1e-9))))


def _level_db(sound: NDArray[np.float32], begin_s: float, end_s: float, *, rate: float) -> float:
    part = sound[round(begin_s * rate) : round(end_s * rate)]
    return -180.0 if part.size == 0 else 10.0 * float(np.log10(np.mean(np.square(part)) + 1e-18))


def _movement(sound: NDArray[np.float32], peaks: NewPeaks, *, rate: float) -> tuple[float | None, float | None]:
    """Drift in cents and growth in decibels of the strongest peaks, from the phase advance between frames."""
    n, step, first = round(_FRAME_S * rate), round(_STEP_S * rate), round(_FIRST_S * rate)
    is_fit = (peaks.weight > 0.3) & (peaks.f_hz > 90.0)
    n_frames = min(_N_FRAMES, (sound.size - first - n) // step + 1)
    if n_frames < 3 or not is_fit.any():
        return None, None
    f_hz, level = peaks.f_hz[is_fit], peaks.level_db[is_fit]
    f_hz = f_hz[np.argsort(-level)[:_N_LOOKED_AT]]
    view = np.lib.stride_tricks.sliding_window_view(sound[first:], n)[: step * n_frames : step]
    spectrum = scipy.fft.rfft(view * hann(n), axis=1)
    value = spectrum[:, np.minimum(np.round(f_hz * n / rate).astype(np.int64), spectrum.shape[1] - 1)]
    turns = np.angle(value[1:] * np.conj(value[:-1]) * np.exp(-2j * np.pi * f_hz * step / rate)) / (2.0 * np.pi)
    moved_hz = (turns[-1] - turns[0]) * rate / step
    drift = float(np.median(np.abs(moved_hz) / f_hz)) * CENTS_PER_NEPER
    growth = 20.0 * np.log10((np.abs(value[-1]) + 1e-12) / (np.abs(value[0]) + 1e-12))
    return drift, float(np.median(growth))
