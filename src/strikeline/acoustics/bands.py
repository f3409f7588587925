"""One long spectrum, seen through narrow bands: each partial as a slow complex signal of its own.

A band is cut out of the Fourier transform of the whole strike, tapered, moved to zero frequency and transformed back.
That is heterodyning and decimation in one step; bands cut together have one width and share one time axis, so that
everything after it works on arrays of shape (partials, samples).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from strikeline.errors import InputError

_PAD_S: Final = 0.25
"""Silence appended before transforming, so that the filter's ringing cannot wrap round to the onset."""

_SHORTEST_TRANSFORM_S: Final = 1.0
"""So that the narrowest band, 6 Hz either way for C0, still holds `_FEWEST` samples when the sound is short."""
_FEWEST: Final = 8
"""Samples of a band at least: one damped sinusoid takes two of them, two take four, the rest tell the noise."""
_FLOOR_BINS: Final = 400
"""Bins looked at on each side, at most."""
SETTLING: Final = 1.5
"""The main lobe of the taper's impulse response ends 1.5 / half_width after the step at the onset; what follows of a
neighbouring partial's step lies more than 80 dB below that partial."""
_STEEPEST: Final = 2.0
"""Fall, in half widths, up to which the gain of a mode is believed: 4000 dB/s in a band of 40 Hz either way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """Several partials as complex signals around zero frequency."""

    signal: NDArray[np.complex128]
    """Shape (k, m). ``abs(signal)`` is the amplitude of the partial, full scale = 1."""
    time_s: NDArray[np.float64]
    """Shape (m,), seconds after the onset; begins after the filter has settled."""
    centre_hz: NDArray[np.float64]
    """Shape (k,), the frequency that was moved to zero."""
    rate_hz: float
    half_width_hz: float
    noise_share: float
    """Noise power that passes the taper, relative to an untapered band of the same width."""
    is_cut_short: bool
    """Whether the sound ends within `_FEWEST` samples of the settled filter: the last of them then hold its end."""

    def of_rows(self, rows: NDArray[np.int64]) -> Bands:
        """Return some of the bands."""
        return replace(self, signal=self.signal[rows], centre_hz=self.centre_hz[rows])

    def from_s(self, start_s: float) -> Bands:
        """Return what sounds from a time on, but at least half of what is there."""
        first = min(int(np.searchsorted(self.time_s, start_s)), self.time_s.size // 2)
        return replace(self, signal=self.signal[:, first:], time_s=self.time_s[first:])

    def gain_of(self, exponent: NDArray[np.complex128]) -> NDArray[np.float64]:
        """Return the share of the amplitude of ``exp(exponent·t)`` that passes, once the filter has settled.

        It is the taper at the complex frequency exponent/2πi: a mode that falls passes stronger than a steady one, by
        0.2 dB at 160 dB/s in a band of 40 Hz either way.
        """
        distance = exponent / (2j * np.pi * self.half_width_hz)
        steady = np.clip(distance.real, -1.0, 1.0)
        return np.maximum(np.abs(_blackman(steady + 1j * np.clip(distance.imag, 0.0, _STEEPEST))), 1e-6)


class Spectrum:
    """The Fourier transform of one strike, from its onset on.

    Parameters
    ----------
    samples : ndarray of float, shape (n,)
        Sound from the onset on.
    sample_rate_hz : float
        Above 0.

    Raises
    ------
    InputError
        If there are fewer than 64 samples or they are not finite.
    """

    def __init__(self, samples: NDArray[np.floating], *, sample_rate_hz: float) -> None:
        if samples.ndim != 1 or samples.size < 64:
            raise InputError.of("samples", samples.shape, "one channel of at least 64 samples")
        if not np.isfinite(samples).all():
            raise InputError.of("samples", "NaN or infinity", "finite sound")
        self.sample_rate_hz = float(sample_rate_hz)
        self.n_samples = samples.size
        self.duration_s = samples.size / self.sample_rate_hz
        n_whole = max(samples.size + int(_PAD_S * sample_rate_hz), int(_SHORTEST_TRANSFORM_S * sample_rate_hz))
        self._n_fft = scipy.fft.next_fast_len(n_whole, real=True)
        transform = scipy.fft.rfft(samples.astype(np.float32, copy=False), self._n_fft)
        self.bins: NDArray[np.complex64] = transform.astype(np.complex64, copy=False)
        self.bin_hz = self.sample_rate_hz / self._n_fft

    def bands(self, centre_hz: NDArray[np.float64], *, half_width_hz: float) -> Bands:
        """Return the sound around each of `centre_hz`, shape (k,), from −half_width to +half_width.

        The taper is a Blackman window laid over the frequencies (F. J. Harris 1978, from memory): its impulse response
        is short and has side lobes of −58 dB, so that the step with which neighbouring partials begin and end stays
        out of the time that is used. Off the centre it lowers amplitudes; `Bands.gain_of` gives by how much.
        """
        n_bins = scipy.fft.next_fast_len(2 * max(4, round(half_width_hz / self.bin_hz)))
        offset = np.arange(n_bins) - n_bins // 2
        taper = np.real(_blackman((offset / (n_bins / 2)).astype(np.complex128)))
        middle = np.rint(centre_hz / self.bin_hz).astype(np.int64)
        index = middle[:, None] + offset
        inside = (index > 0) & (index < self.bins.size)
        slices = np.where(inside, self.bins[np.clip(index, 0, self.bins.size - 1)], 0.0) * taper
        signal = scipy.fft.ifft(scipy.fft.ifftshift(slices.astype(np.complex128), axes=1), axis=1)
        rate_hz = n_bins * self.bin_hz
        first = int(np.ceil(2.0 * SETTLING))
        last_heard = int(self.duration_s * rate_hz) - first
        last = max(last_heard, min(first + _FEWEST, n_bins))
        return Bands(
            signal=signal[:, first:last] * (2.0 * n_bins / self._n_fft),
            time_s=np.arange(first, last) / rate_hz,
            centre_hz=middle.astype(np.float64) * self.bin_hz,
            rate_hz=rate_hz,
            half_width_hz=n_bins * self.bin_hz / 2,
            noise_share=float(np.mean(taper**2)),
            is_cut_short=last > last_heard,
        )

    def floor_variance(self, bands: Bands, *, half_width_hz: float) -> NDArray[np.float64]:
        """Return what lies beside the lines, as variance per complex sample of `bands` without their taper, shape (k,).

        The median over −half_width to +half_width, to be chosen wide: a line fills few of the bins and does not move
        it. The median of the power of noise is ln 2 times its mean.
        """
        reach = max(8, int(half_width_hz / self.bin_hz))
        offset = np.arange(-reach, reach + 1, max(1, reach // _FLOOR_BINS))
        middle = np.rint(bands.centre_hz / self.bin_hz).astype(np.int64)
        beside = self.bins[np.clip(middle[:, None] + offset, 1, self.bins.size - 1)]
        power = np.median(beside.real**2 + beside.imag**2, axis=1).astype(np.float64) / np.log(2.0)
        return np.asarray(power * (4.0 * bands.rate_hz / self.sample_rate_hz / self.n_samples))


def _blackman(distance: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Return 1 at `distance` 0, falling to 0 at ±1."""
    return np.asarray(0.42 + 0.5 * np.cos(np.pi * distance) + 0.08 * np.cos(2.0 * np.pi * distance))
