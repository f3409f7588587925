"""Where sound begins: a streaming detector of onsets, and the exact moment of each.

The detector watches the energy of about fifty frequency bands in short frames and asks how far, on average over the
bands and in decibels, a frame has risen above the frames just before it. A struck string raises nearly all bands at
once (its knock is broadband); beating raises a few of them slowly; a note that rings on raises none. A rise is an onset
if what came stays for a tenth of a second (the *new share*), so that a damper's or a pedal's thump does not count.

References
----------
.. [1] J. P. Bello, L. Daudet, S. Abdallah, C. Duxbury, M. Davies, M. B. Sandler, "A tutorial on onset detection in
   music signals", IEEE Trans. Speech Audio Process. 13, 1035-1047 (2005): energy rise per band, peak picking (from
   memory; the thresholds here are our own, set on assembled recordings).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.acoustics.windows import hann
from strikeline.errors import InputError

_FRAME_S: Final = 0.032
_HOP_S: Final = 0.010
BLOCK_FRAMES: Final = 64
"""Frames are computed in blocks of this many, on a fixed grid, so that the result cannot depend on how it was fed."""
_LOOKBACK: Final = 4
_FLOOR_GROUP: Final = 8
_FLOOR_BLOCKS: Final = 20
_FLOOR_FACTOR: Final = 8.0
"""Band noise is exponentially distributed; this much of the floor is added before the logarithm to tame it."""
_SILENCE_POWER: Final = 1e-13
"""Floor of a band's power re full scale, well below the rounding noise of 16-bit sound (about -98 dB in all)."""
_RISE_CAP_DB: Final = 13.0
FEW_BANDS: Final = 5
"""A treble string plucked softly raises no more bands than its partials fill."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiseBlock:
    """What the detector saw in one block of frames."""

    rise_db: NDArray[np.float32]  # shape (BLOCK_FRAMES,), mean rise over the bands
    few_rise_db: NDArray[np.float32]  # shape (BLOCK_FRAMES,), mean rise over the `FEW_BANDS` that rise most
    level_db: NDArray[np.float32]  # shape (BLOCK_FRAMES,), level of all bands together
    above_floor_db: NDArray[np.float32]  # shape (BLOCK_FRAMES // 8,), highest band above its noise floor per 80 ms
    steady_power: float  # power of what has been there all the time, re full scale
    starts_in_sound: bool = False  # first block only: the recording begins with a sound that falls


class RiseMeter:
    """Measure, frame by frame, how far sound has risen in all bands: a stream of blocks in, a stream of rises out.

    Frame ``j`` is centred on sample ``round(j·hop) - frame_samples/2``: the stream starts in stillness, so that a sound
    that begins with the recording is seen to begin.

    Parameters
    ----------
    sample_rate_hz : float
        4000 to 400 000 Hz.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        if not 4000.0 <= sample_rate_hz <= 400_000.0:
            raise InputError.of("sample_rate_hz", sample_rate_hz, "4000 to 400 000 Hz", advice="resample the recording")
        self.sample_rate_hz = sample_rate_hz
        self.frame_samples = scipy.fft.next_fast_len(round(_FRAME_S * sample_rate_hz), real=True)
        self.hop_samples = round(_HOP_S * sample_rate_hz)
        window = np.hanning(self.frame_samples + 1)[:-1]
        self._window = np.asarray(2.0 * window / window.sum(), dtype=np.float32)
        self._edges = _band_edges(sample_rate_hz, self.frame_samples)
        n_bands = self._edges.size - 1
        self._tail = np.zeros((_LOOKBACK, n_bands), dtype=np.float32)
        self._minima: list[NDArray[np.float32]] = []
        self._has_begun = False

    @property
    def block_samples(self) -> int:
        """Samples that one block of frames spans: hop x frames, plus the overhang of the last frame."""
        return (BLOCK_FRAMES - 1) * self.hop_samples + self.frame_samples

    @property
    def stride_samples(self) -> int:
        """Samples from one block to the next."""
        return BLOCK_FRAMES * self.hop_samples

    def measure(self, samples: NDArray[np.float32], *, n_heard: int) -> RiseBlock:
        """Return the rises of the next block.

        Parameters
        ----------
        samples : ndarray of float32, shape (block_samples,)
            The samples of exactly one block.
        n_heard : int
            How many of them, from the first, belong to the recording. The silence made up after its end must not pass
            for its noise floor.
        """
        view = np.lib.stride_tricks.sliding_window_view(samples, self.frame_samples)[:: self.hop_samples]
        spectrum = scipy.fft.rfft(view * self._window, axis=1)
        power = np.square(spectrum.real) + np.square(spectrum.imag)
        energy = np.add.reduceat(power[:, : self._edges[-1]], self._edges[:-1], axis=1)
        grouped = energy.reshape(-1, _FLOOR_GROUP, energy.shape[1]).mean(axis=1)
        n_groups = ((n_heard - self.frame_samples) // self.hop_samples + 1) // _FLOOR_GROUP
        floor = self._floor(grouped[: max(n_groups, 0)], otherwise=grouped)
        level = np.concatenate([self._tail, energy]) + np.float32(_FLOOR_FACTOR) * floor
        self._tail = energy[-_LOOKBACK:]
        before = np.maximum(np.maximum(level[2:-2], level[1:-3]), level[:-4])
        rise = np.clip(10.0 * np.log10(level[4:] / before), 0.0, _RISE_CAP_DB)
        is_first = len(self._minima) == 1 and not self._has_begun
        self._has_begun = True
        above = 10.0 * np.log10(grouped / floor + np.float32(1e-9)).max(axis=1)
        return RiseBlock(
            level_db=10.0 * np.log10(energy.sum(axis=1) + np.float32(_SILENCE_POWER)),
            rise_db=rise.mean(axis=1),
            few_rise_db=np.partition(rise, -FEW_BANDS, axis=1)[:, -FEW_BANDS:].mean(axis=1),
            above_floor_db=above,
            steady_power=float(floor.sum()),
            starts_in_sound=is_first and _falls(grouped),
        )

    def _floor(self, heard: NDArray[np.float32], *, otherwise: NDArray[np.float32]) -> NDArray[np.float32]:
        """Noise floor per band: the least mean power of any 80 ms of the last 13 s, longer than a strike can last."""
        if heard.size or not self._minima:
            part = heard if heard.size else otherwise
            self._minima = [*self._minima[-(_FLOOR_BLOCKS - 1) :], part.min(axis=0)]
        least = np.min(self._minima, axis=0)
        return np.asarray(np.maximum(least, np.float32(_SILENCE_POWER)))


_FALL_DB: Final = 1.5


def _falls(grouped: NDArray[np.float32]) -> bool:
    """Whether the level, averaged over the bands in decibels, falls from the first 80 ms of the recording on."""
    level_db = 10.0 * np.log10(grouped + np.float32(_SILENCE_POWER)).mean(axis=1)
    # The first group is partly what was made up before the recording.
    return bool(level_db[1] >= level_db[1:].max() and level_db[1] - level_db[-2:].mean() > _FALL_DB)


def _band_edges(sample_rate_hz: float, frame_samples: int) -> NDArray[np.int64]:
    """Bin numbers that bound the bands: one bin each in the bass, an eighth of an octave above, 30 Hz to 10 kHz."""
    bin_hz = sample_rate_hz / frame_samples
    top_hz = min(0.45 * sample_rate_hz, 10_000.0)
    edges_hz = [30.0]
    while edges_hz[-1] < top_hz:
        edges_hz.append(max(edges_hz[-1] + bin_hz, edges_hz[-1] * 2.0**0.125))
    return np.unique(np.ceil(np.array(edges_hz) / bin_hz).astype(np.int64))


_PICK_SPAN: Final = 5
_PICK_ABSOLUTE_DB: Final = 0.85
_PICK_SURE_DB: Final = 3.0
_OVERSHADOWED_S: Final = 0.12
_OVERSHADOWED_RATIO: Final = 0.4
_DIED_DB: Final = 15.0
PICK_CONTEXT: Final = 16
"""Frames on either side that a pick needs to have seen."""


def pick_rises(rise_db: NDArray[np.float32], level_db: NDArray[np.float32]) -> NDArray[np.int64]:
    """Return the frames at which the rise has a peak worth a closer look.

    A peak is the greatest within 50 ms either side, and is not overshadowed by one two and a half times as high within
    120 ms (the foot of a slow bass attack, a key's click before the blow, the bounce after it). A higher one before it
    does not count if its sound had died away meanwhile: that was the thump of the last key's release.

    Parameters
    ----------
    rise_db : ndarray of float32, shape (n,)
        Rises of consecutive frames; the first and last `PICK_CONTEXT` of them are context only.
    level_db : ndarray of float32, shape (n,)
        Levels of the same frames.
    """
    inner = np.arange(PICK_CONTEXT, rise_db.size - PICK_CONTEXT)
    picks = inner[rise_db[inner] > _PICK_ABSOLUTE_DB]
    reach = round(_OVERSHADOWED_S / _HOP_S)
    kept = []
    for frame in picks:
        near = rise_db[frame - _PICK_SPAN : frame + _PICK_SPAN + 1]
        wide = rise_db[frame - reach : frame + reach + 1].copy()
        is_peak = int(np.argmax(near)) == _PICK_SPAN
        if is_peak and level_db[frame - reach : frame].max() - level_db[frame - _LOOKBACK] > _DIED_DB:
            wide[: reach - _PICK_SPAN] = 0.0
        if is_peak and rise_db[frame] >= _OVERSHADOWED_RATIO * wide.max():
            kept.append(frame)
    return np.asarray(kept, dtype=np.int64)


_NEW_WINDOW_S: Final = 0.14
_NEW_SHARE_WEAK: Final = 0.12
_NEW_SHARE_SURE: Final = 0.03
_NEW_SHARE_LEAST: Final = 0.01


def brings_new_sound(
    around: NDArray[np.float32], *, sample_rate_hz: float, at: int, rise_db: float, steady_power: float
) -> bool:
    """Return whether what began at a rise stays: a string sounds on, a thump does not.

    The new share is the part of the power of the 140 ms after the attack that exceeds twice what the same frequencies
    (and their neighbours) held in the 140 ms before it. A weak rise must bring a greater share.

    Parameters
    ----------
    around : ndarray of float32, shape (n,)
        Sound on both sides of the rise.
    sample_rate_hz : float
        Above 0.
    at : int
        Index of the rise in `around`.
    rise_db : float
        Height of the rise from `RiseMeter`.
    steady_power : float
        Power that has been there all the time (hum), from `RiseMeter`; it is left out of the whole.
    """
    n = round(_NEW_WINDOW_S * sample_rate_hz)
    before = _power(_cut(around, at - round(0.012 * sample_rate_hz) - n, n))
    after = _power(_cut(around, at + round(0.015 * sample_rate_hz), n))
    band = slice(max(1, int(30.0 * n / sample_rate_hz)), int(min(8000.0, 0.45 * sample_rate_hz) * n / sample_rate_hz))
    before, after = before[band], after[band]
    spread = np.maximum(np.maximum(np.append(before[1:], 0.0), np.append(0.0, before[:-1])), before)
    new = float(np.clip(after - 2.0 * spread, 0.0, None).sum())
    if new <= _NEW_SHARE_LEAST * float(after.sum()):
        return False
    # Hann: a sine of amplitude 1 has power (n/4)² in its bin, and half as much in all beside it.
    total = max(float(after.sum()) - 1.5 * steady_power * (n / 4.0) ** 2, new)
    new_share = new / total
    return new_share > (_NEW_SHARE_SURE if rise_db > _PICK_SURE_DB else _NEW_SHARE_WEAK)


def _cut(samples: NDArray[np.float32], start: int, length: int) -> NDArray[np.float32]:
    """Return the samples from `start` on, silence where there are none."""
    out = np.zeros(length, dtype=np.float32)
    low, high = max(start, 0), min(start + length, samples.size)
    if high > low:
        out[low - start : high - start] = samples[low:high]
    return out


def _power(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    spectrum = scipy.fft.rfft(samples * hann(samples.size))
    return np.asarray(np.square(spectrum.real) + np.square(spectrum.imag))


_REFINE_RATE_HZ: Final = 16_000.0
_AR_ORDER: Final = 32
_AR_LAGS: Final = np.abs(np.subtract.outer(np.arange(_AR_ORDER), np.arange(_AR_ORDER)))
_BIN_S: Final = 0.0005
REFINE_BEFORE_S: Final = 0.20
REFINE_AFTER_S: Final = 0.06


def refine_onset(around: NDArray[np.float32], *, sample_rate_hz: float, at: int) -> int:
    """Return the index of the first sample of the new sound near `at`.

    Onset means the moment at which the first sound of the blow reaches the microphone, not the greatest loudness and
    not the moment at which the key moves. What rang before is predicted from its own past by a linear predictor
    (order 32, fitted to the 150 ms before); the new sound is what cannot be predicted. The onset is the most likely
    change of variance of the prediction error, then walked back while the error stays clearly above its former level.

    Parameters
    ----------
    around : ndarray of float32, shape (n,)
        Sound from at least 0.2 s before to 0.06 s after `at`; where it is missing, silence is assumed.
    sample_rate_hz : float
        Above 0.
    at : int
        Index near the onset: up to 20 ms before or 45 ms after it.
    """
    start = at - round(REFINE_BEFORE_S * sample_rate_hz)
    length = round((REFINE_BEFORE_S + REFINE_AFTER_S) * sample_rate_hz)
    segment = _cut(around, start, length).astype(np.float64)
    rate = min(sample_rate_hz, _REFINE_RATE_HZ)
    thinned = _thin(segment, round(length * rate / sample_rate_hz))
    rate = sample_rate_hz * thinned.size / length
    error = _prediction_error(thinned, n_past=round(0.15 * rate))
    per_bin = max(1, round(_BIN_S * rate))
    n_bins = error.size // per_bin
    power = np.square(error[: n_bins * per_bin]).reshape(n_bins, per_bin).mean(axis=1)
    bin_s = per_bin / rate
    first, last = int((REFINE_BEFORE_S - 0.05) / bin_s), min(n_bins - 4, int((REFINE_BEFORE_S + 0.03) / bin_s))
    change = _change_of_variance(power, first=first, last=last)
    quiet = float(np.mean(power[int(0.02 / bin_s) : max(first - 2, int(0.02 / bin_s) + 1)]))
    limit = max(6.0 * quiet, 1e-4 * float(power[change : change + 8].max()))
    while change > first and power[change - 1] > limit:
        change -= 1
    return start + round(change * per_bin / rate * sample_rate_hz)


def _thin(segment: NDArray[np.float64], n_out: int) -> NDArray[np.float64]:
    """Resample by cutting the spectrum (band-limited, no delay)."""
    if n_out >= segment.size:
        return segment
    spectrum = scipy.fft.rfft(segment)[: n_out // 2 + 1]
    return np.asarray(scipy.fft.irfft(spectrum, n_out) * (n_out / segment.size))


def _prediction_error(samples: NDArray[np.float64], *, n_past: int) -> NDArray[np.float64]:
    """Error of a linear prediction fitted to the first `n_past` samples (autocorrelation method, order 32)."""
    past = samples[:n_past] * hann(n_past)
    spectrum = scipy.fft.rfft(past, 2 * n_past)
    correlation = scipy.fft.irfft(np.square(np.abs(spectrum)))[: _AR_ORDER + 1]
    loudest = float(np.max(np.abs(samples)))
    # Less than a 16-bit step of the loudest sample is taken as noise, so that digital silence does not divide by zero.
    correlation[0] = correlation[0] * (1.0 + 1e-7) + n_past * (3e-5 * loudest) ** 2 + 1e-30
    weights = np.linalg.solve(correlation[_AR_LAGS], correlation[1:])
    filtered = np.convolve(samples, np.concatenate([[1.0], -weights]))[: samples.size]
    filtered[:_AR_ORDER] = 0.0
    return np.asarray(filtered)


def _change_of_variance(power: NDArray[np.float64], *, first: int, last: int) -> int:
    """Most likely bin at which Gaussian noise changes its variance, between two bins."""
    # What lies 60 dB below the blow is not heard as its beginning (and resampling rings at that level).
    tiny = 1e-6 * float(power.max()) + 1e-30
    lead = int(0.1 * power.size)  # the predictor's own start-up
    total = np.cumsum(power[lead:])
    count = np.arange(1, total.size + 1, dtype=np.float64)
    at = np.arange(first - lead, last - lead)
    end = min(last - lead + 20, total.size)
    before = total[at - 1] / count[at - 1] + tiny
    after = (total[end - 1] - total[at - 1]) / (end - at) + tiny
    cost = at * np.log(before) + (end - at) * np.log(after)
    return int(at[np.argmin(cost)]) + lead
