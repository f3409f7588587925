"""What a blow added to the sound: spectral peaks after the onset that were not there before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.windows import hann

_LONG_S: Final = 1.0
_SHORT_S: Final = 0.25
_SKIP_S: Final = 0.025
"""The first moments are left out: the knock is strongest there and the pitch of a loud blow still glides."""
_CROSSOVER_HZ: Final = 1300.0
_LOWEST_HZ: Final = 24.0
_HIGHEST_HZ: Final = 9000.0
_FLOOR_SPAN_HZ: Final = 180.0
_PEAK_ABOVE_FLOOR_DB: Final = 9.0
_SKIRT_DB: Final = 18.0
_N_PEAKS: Final = 48
_BEFORE_S: Final = 0.22
_N_HEARD: Final = 128
_BESIDE: Final = np.array([[-1], [0], [1]])
FLOOR_STEP_HZ: Final = 50.0
"""Distance of the points of `HeardPeaks.floor_db`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NewPeaks:
    """Peaks of the new sound, in ascending order of frequency. All arrays have shape (k,)."""

    f_hz: NDArray[np.float64]
    f_sd_hz: NDArray[np.float64]
    """Resolution: how far an interpolated peak may be from the partial that made it."""
    level_db: NDArray[np.float64]
    weight: NDArray[np.float64]
    """0 to 1: how much of a peak this is (height above the floor) and how much of it is new."""
    new_share: float
    """0 to 1: share of the power of all peaks that is new."""
    new_power: NDArray[np.float64]
    """Power of what is new in each peak, re full scale."""
    heard: HeardPeaks
    """All peaks of the low part, new or not."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeardPeaks:
    """All peaks below 1.3 kHz that sound after the onset, whether the blow brought them or not."""

    f_hz: NDArray[np.float32]
    """Shape (k,), ascending."""
    level_db: NDArray[np.float32]
    """Shape (k,), dB re full scale, mean over the time looked at."""
    floor_db: NDArray[np.float32]
    """Shape (27,): level below which no peak is seen, at 0, 50, … 1300 Hz."""
    from_s: float
    to_s: float
    """Time looked at, seconds after the onset; 0 to 0 for no look."""


@dataclass(frozen=True, slots=True, eq=False)
class _Spectrum:
    bin_hz: float
    level_db: NDArray[np.float64]  # of a sine of that amplitude
    floor_db: NDArray[np.float64]
    resolution_hz: float


def _spectrum(samples: NDArray[np.float32], *, sample_rate_hz: float, zero_pad: int) -> _Spectrum:
    """Hann spectrum, with the local median as its floor."""
    window = hann(samples.size)
    n_fft = scipy.fft.next_fast_len(samples.size * zero_pad, real=True)
    magnitude = np.abs(scipy.fft.rfft(samples * (np.float32(2.0 / float(window.sum())) * window), n_fft))
    bin_hz = sample_rate_hz / n_fft
    magnitude = magnitude[: int(min(_HIGHEST_HZ * 1.05, 0.49 * sample_rate_hz) / bin_hz)]
    level_db = 20.0 * np.log10(magnitude.astype(np.float64) + 1e-9)
    # The floor needs no more detail than its own span: medians of pieces, joined by straight lines.
    piece = max(4, round(_FLOOR_SPAN_HZ / 2 / bin_hz))
    n_pieces = max(1, level_db.size // piece)
    medians = np.median(level_db[: n_pieces * piece].reshape(n_pieces, piece), axis=1)
    beside = np.pad(medians, 1, mode="edge")
    medians = np.minimum(medians, np.minimum(beside[:-2], beside[2:]))
    floor_db = np.interp(np.arange(level_db.size), (np.arange(n_pieces) + 0.5) * piece, medians)
    return _Spectrum(bin_hz, level_db, floor_db, 2.0 * sample_rate_hz / samples.size)


def find_new_peaks(strike: Strike) -> NewPeaks:
    """Return the spectral peaks that the blow brought.

    Below 1.3 kHz they are read from up to 1 s of sound (bass partials lie close and last), above from up to 0.25 s
    (treble partials lie apart and die). A peak that was there before the blow counts for nothing unless it has grown:
    a note that rings on into the next one falls, it does not rise.

    Parameters
    ----------
    strike : Strike
        A strike with at least 30 ms after its onset; less gives no peaks.
    """
    rate = strike.sample_rate_hz
    begin = strike.onset_sample + round(_SKIP_S * rate)
    after = strike.samples[begin : begin + round(_LONG_S * rate)]
    if after.size < round(0.03 * rate):
        return _no_peaks()
    before_end = max(0, strike.onset_sample - round(0.003 * rate))
    before = strike.samples[max(0, before_end - round(_BEFORE_S * rate)) : before_end]
    low = _spectrum(after, sample_rate_hz=rate, zero_pad=1)
    parts = [
        _peaks(low, low_hz=_LOWEST_HZ, high_hz=_CROSSOVER_HZ),
        _peaks(
            _spectrum(after[: round(_SHORT_S * rate)], sample_rate_hz=rate, zero_pad=2),
            low_hz=_CROSSOVER_HZ,
            high_hz=_HIGHEST_HZ,
        ),
    ]
    f_hz, sd_hz, level_db, height_db = (np.concatenate([part[i] for part in parts]) for i in range(4))
    heard = _heard(low, parts[0], from_s=_SKIP_S, to_s=_SKIP_S + min(_LONG_S, after.size / rate))
    if f_hz.size == 0:
        return _no_peaks(heard)
    new_db = level_db - _level_before_db(before, f_hz, sample_rate_hz=rate)
    power = np.exp(level_db * (np.log(10.0) / 10.0))
    new_power = power * np.clip(new_db / 6.0, 0.0, 1.0)
    weight = np.clip((new_db + 1.0) / 5.0, 0.0, 1.0) * np.clip((height_db - 6.0) / 18.0, 0.1, 1.0)
    loudest_db = float(level_db[weight > 0.2].max(initial=-200.0))
    weight *= np.clip((level_db - loudest_db + 50.0) / 32.0, 0.03, 1.0)
    weight[_is_skirt(f_hz, level_db, reach_hz=30.0 * sd_hz)] = 0.0
    chosen = np.sort(np.argsort(-(weight + 1e-3 * level_db / 100.0))[:_N_PEAKS])
    chosen = chosen[weight[chosen] > 0.02]
    return NewPeaks(
        f_hz=f_hz[chosen],
        f_sd_hz=sd_hz[chosen],
        level_db=level_db[chosen],
        weight=weight[chosen],
        new_share=float(new_power.sum() / power.sum()),
        new_power=new_power[chosen],
        heard=heard,
    )


def _heard(spectrum: _Spectrum, peaks: tuple[NDArray[np.float64], ...], *, from_s: float, to_s: float) -> HeardPeaks:
    """Return the strongest peaks of a spectrum in ascending order, in few bytes."""
    f_hz, _, level_db, _ = peaks
    chosen = np.sort(np.argsort(-level_db)[:_N_HEARD])
    at = np.arange(0.0, _CROSSOVER_HZ + 1.0, FLOOR_STEP_HZ) / spectrum.bin_hz
    floor_db = np.interp(at, np.arange(spectrum.floor_db.size), spectrum.floor_db) + _PEAK_ABOVE_FLOOR_DB
    return HeardPeaks(
        f_hz=f_hz[chosen].astype(np.float32),
        level_db=level_db[chosen].astype(np.float32),
        floor_db=floor_db.astype(np.float32),
        from_s=from_s,
        to_s=to_s,
    )


def _is_skirt(
    f_hz: NDArray[np.float64], level_db: NDArray[np.float64], *, reach_hz: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether a peak is only a side lobe of a much stronger one (Hann: 31 dB down; less so when the tone decays)."""
    is_near = np.abs(f_hz[:, None] - f_hz[None, :]) < reach_hz[:, None]
    return np.asarray((is_near & (level_db[None, :] > level_db[:, None] + _SKIRT_DB)).any(axis=1))


def _no_peaks(heard: HeardPeaks | None = None) -> NewPeaks:
    none = np.zeros(0)
    if heard is None:
        few = none.astype(np.float32)
        heard = HeardPeaks(f_hz=few, level_db=few, floor_db=few, from_s=0.0, to_s=0.0)
    return NewPeaks(f_hz=none, f_sd_hz=none, level_db=none, weight=none, new_share=0.0, new_power=none, heard=heard)


def _peaks(
    spectrum: _Spectrum, *, low_hz: float, high_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Local maxima above the floor, with a parabola in decibels: f, its resolution, level, height over the floor."""
    level = spectrum.level_db
    low = max(1, int(low_hz / spectrum.bin_hz))
    high = min(level.size - 1, int(high_hz / spectrum.bin_hz))
    inner = np.arange(low, high)
    is_top = (level[inner] > level[inner - 1]) & (level[inner] >= level[inner + 1])
    at = inner[is_top & (level[inner] > spectrum.floor_db[inner] + _PEAK_ABOVE_FLOOR_DB)]
    left, mid, right = level[at - 1], level[at], level[at + 1]
    shift = 0.5 * (left - right) / (left - 2.0 * mid + right - 1e-12)
    f_hz = (at + shift) * spectrum.bin_hz
    return (
        f_hz,
        np.full(at.size, 0.15 * spectrum.resolution_hz),
        mid - 0.25 * (left - right) * shift,
        mid - spectrum.floor_db[at],
    )


def _level_before_db(
    before: NDArray[np.float32], f_hz: NDArray[np.float64], *, sample_rate_hz: float
) -> NDArray[np.float64]:
    """Level that the sound before the blow had near each frequency."""
    if before.size < round(0.02 * sample_rate_hz):
        return np.full(f_hz.size, -180.0)
    spectrum = _spectrum(before, sample_rate_hz=sample_rate_hz, zero_pad=2)
    nearest = np.minimum(np.round(f_hz / spectrum.bin_hz).astype(np.int64), spectrum.level_db.size - 1)
    return np.asarray(spectrum.level_db[np.clip(nearest + _BESIDE, 0, spectrum.level_db.size - 1)].max(axis=0))
