"""Judge a recording while it is read: what about it limits the measurement, in a restorer's words."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from strikeline.acoustics.automatic_gain import GainWatch
from strikeline.acoustics.bandwidth import find_cliff_hz
from strikeline.acoustics.channels import ChannelChoice, choose_channel
from strikeline.acoustics.clipping import FlatTops, HeapedTops
from strikeline.acoustics.dropouts import Dropouts
from strikeline.acoustics.hum import Hum
from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY, HIGHEST_KEY, key_name
from strikeline.units import A4_STANDARD_HZ

__all__ = ["ChannelChoice", "QualityMeter", "choose_channel"]

_FRAME_S: Final = 0.085
_NOISE_BAND_HZ: Final = (4000.0, 16000.0)
_SILENT: Final = 1e-4
"""−80 dB re full scale, three steps of 16 bits."""
_FAINT: Final = 0.016
"""−36 dB re full scale: partials 40 dB below the loudest have 5 steps of 16 bits left."""
_HARMLESS_HUM_DB: Final = 60.0
"""Hum further below the loudest moment is far below the partials that are measured."""
_HARMLESS_CUT_HZ: Final = 10_000.0
"""Lossy codings leave out the top by design; above this it costs no note below F7 a third partial."""
_DC: Final = 0.01
"""1 % of full scale: it takes headroom. The real recordings of the tests have 0.1 %, which nobody needs to hear of."""
_LOW_RATE_HZ: Final = 32000.0
_N_PARTIALS: Final = 3
"""Fewer partials leave no evidence to tell inharmonicity from pitch and to judge the fit."""
_C8_HZ: Final = 4186.0
_STRETCH: Final = 1.05
"""The third partial of a top string sounds about 5 % above three times its f0 (B of 0.01)."""


class QualityMeter:
    """Listen along with a recording and say what is wrong with it.

    Takes about a millisecond per second of 48 kHz sound and keeps a few numbers per frame. What it looks for: silence
    and faint recordings, clipping, dropouts, DC offset, mains hum, low sample rate, a spectrum cut off early, lossy
    coding and automatic gain. Each warning carries the figure it rests on.

    Parameters
    ----------
    sample_rate_hz : float
        Samples per second.
    codec_name : str, optional
        Name of the coding for the warning, for example ``aac``.
    is_lossy : bool
        Whether the coding leaves out parts of the sound.
    bit_rate : int, optional
        Bits per second of the coding.

    Raises
    ------
    InputError
        If `sample_rate_hz` is not above 0.
    """

    def __init__(
        self,
        *,
        sample_rate_hz: float,
        codec_name: str | None = None,
        is_lossy: bool = False,
        bit_rate: int | None = None,
    ) -> None:
        if not sample_rate_hz > 0:
            raise InputError.of("sample_rate_hz", sample_rate_hz, "above 0")
        self._rate = sample_rate_hz
        self._coding = (codec_name, bit_rate) if is_lossy else None
        self._tops = (HeapedTops if is_lossy else FlatTops)(sample_rate_hz=sample_rate_hz)
        self._holes = Dropouts(sample_rate_hz=sample_rate_hz)
        self._hum = Hum(sample_rate_hz=sample_rate_hz)
        self._size = 2 ** round(np.log2(_FRAME_S * sample_rate_hz))
        self._window = np.hanning(self._size).astype(np.float32)
        self._window *= 2 / self._window.sum()
        self._gain = GainWatch(frame_s=self._size / sample_rate_hz)
        bin_hz = sample_rate_hz / self._size
        low, high = _NOISE_BAND_HZ
        self._noise_bins = slice(
            round(min(low, 0.25 * sample_rate_hz) / bin_hz), round(min(high, 0.45 * sample_rate_hz) / bin_hz), 2
        )
        self._mean_power = np.zeros(self._size // 2 + 1)
        self._rest = np.zeros(0, np.float32)
        self._n_samples = 0
        self._sum = 0.0
        self._peak = 0.0

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in the next samples.

        Parameters
        ----------
        samples : ndarray of float32, shape (n,)
            Mono sound, full scale ±1, of any length; best about one second.

        Raises
        ------
        InputError
            If `samples` has another shape or holds values that are not finite.
        """
        if samples.ndim != 1:
            raise InputError.of("samples.ndim", samples.ndim, "1 (mono)", advice="choose a channel first")
        if not len(samples):
            return
        total = float(samples.sum(dtype=np.float64))
        if not np.isfinite(total):
            raise InputError("samples hold values that are not finite, expected numbers; set damaged samples to 0")
        self._n_samples += len(samples)
        self._sum += total
        self._peak = max(self._peak, float(samples.max()), -float(samples.min()))
        self._tops.feed(samples)
        self._holes.feed(samples)
        self._hum.feed(samples)
        self._feed_frames(samples)

    def _feed_frames(self, samples: NDArray[np.float32]) -> None:
        joined = np.concatenate([self._rest, samples]) if len(self._rest) else samples
        n_frames = len(joined) // self._size
        self._rest = joined[n_frames * self._size :].copy()
        if not n_frames:
            return
        frames = joined[: n_frames * self._size].reshape(n_frames, self._size)
        spectrum = fft.rfft(frames * self._window, axis=1)
        power = spectrum.real**2 + spectrum.imag**2
        self._mean_power += power.sum(axis=0, dtype=np.float64)
        noise = power[:, self._noise_bins]
        rank = noise.shape[1] // 5
        self._gain.feed(
            level=power[:, 2:].sum(axis=1, dtype=np.float64),
            noise=np.partition(noise, rank, axis=1)[:, rank].astype(np.float64),
        )

    @property
    def clipped_s(self) -> list[tuple[float, float]]:
        """Start and end in seconds of the clipped moments so far, ascending."""
        return self._tops.spans_s

    @property
    def dropouts_s(self) -> list[tuple[float, float]]:
        """Start and end in seconds of the holes of zeros so far, ascending."""
        return list(self._holes.spans_s)

    def finish(self) -> tuple[str, ...]:
        """Return what is wrong with the recording, each as a sentence with its figure; empty if nothing is."""
        if self._n_samples == 0:
            return ("the recording is empty: it holds no sample",)
        if self._peak < _SILENT:
            return (f"the recording is silent: nothing reaches −80 dB re full scale (peak {_db(self._peak)})",)
        found = (
            self._level_warning(),
            self._clipping_warning(),
            self._dropout_warning(),
            self._dc_warning(),
            self._hum_warning(),
            self._band_warning(),
            self._coding_warning(),
            self._gain_warning(),
        )
        return tuple(sentence for sentence in found if sentence is not None)

    def _level_warning(self) -> str | None:
        if self._peak >= _FAINT:
            return None
        return (
            f"the recording is faint: its loudest moment reaches {_db(self._peak)} re full scale; weak partials drown "
            "in rounding and noise: place the microphone closer or raise the input"
        )

    def _clipping_warning(self) -> str | None:
        n_clipped, spans_s = self._tops.n_samples, self._tops.spans_s
        if not n_clipped:
            return None
        return (
            f"clipped: {n_clipped} samples ({100 * n_clipped / self._n_samples:.2g} %) in {len(spans_s)} places are "
            f"cut off at {_db(self._tops.level)} re full scale, first at {spans_s[0][0]:.1f} s; brightness and levels "
            "of these notes are wrong: lower the input and record again"
        )

    def _dropout_warning(self) -> str | None:
        spans_s = self._holes.spans_s
        if not spans_s:
            return None
        lost_ms = 1000 * sum(end - start for start, end in spans_s)
        return (
            f"dropouts: {len(spans_s)} holes of silence in the middle of sound, {lost_ms:.0f} ms in all, first at "
            f"{spans_s[0][0]:.1f} s; the recorder lost sound: close other programs or use another recorder"
        )

    def _dc_warning(self) -> str | None:
        offset = self._sum / self._n_samples
        if abs(offset) < _DC:
            return None
        return f"DC offset of {100 * offset:+.1f} % of full scale: harmless to the measurement, but the input is faulty"

    def _hum_warning(self) -> str | None:
        hum = self._hum.find()
        if hum is None or hum.level_db < 20 * np.log10(self._peak) - _HARMLESS_HUM_DB:
            return None
        lines = ", ".join(f"{harmonic * hum.mains_hz:.0f}" for harmonic in hum.harmonics)
        return (
            f"mains hum of {hum.mains_hz:.0f} Hz: lines at {lines} Hz stand in the quiet moments, the strongest "
            f"{_signed(hum.level_db, 0)} dB re full scale, {hum.prominence_db:.0f} dB above the noise beside it; run "
            "on battery, keep the cable away from mains leads"
        )

    def _band_warning(self) -> str | None:
        if self._rate < _LOW_RATE_HZ:
            limit_hz = 0.48 * self._rate
            what = f"low sample rate of {self._rate:g} Hz: nothing is heard above {limit_hz / 1000:.1f} kHz"
        else:
            cliff_hz = self._cliff_hz()
            harmless_hz = _N_PARTIALS * _STRETCH * _C8_HZ if self._coding is None else _HARMLESS_CUT_HZ
            if cliff_hz is None or cliff_hz >= harmless_hz:
                return None
            limit_hz = cliff_hz
            what = (
                f"the sound ends at {limit_hz / 1000:.1f} kHz although the sample rate of {self._rate:g} Hz would "
                "allow more (telephone, strong compression or an old recording)"
            )
        return what + _notes_that_suffer(limit_hz)

    def _cliff_hz(self) -> float | None:
        return find_cliff_hz(self._mean_power, bin_hz=self._rate / self._size)

    def _coding_warning(self) -> str | None:
        if self._coding is None:
            return None
        name, bit_rate = self._coding
        named = ", ".join(part for part in (name, f"{bit_rate / 1000:.0f} kbit/s" if bit_rate else None) if part)
        cliff_hz = self._cliff_hz()
        cut = "" if cliff_hz is None else f" and nothing is left above {cliff_hz / 1000:.1f} kHz"
        return (
            f"lossy coding{f' ({named})' if named else ''}: weak partials and the noise of the blow may be altered"
            f"{cut}; compare brightness only between recordings of the same coding, better record WAV or FLAC"
        )

    def _gain_warning(self) -> str | None:
        change = self._gain.find()
        if change is None:
            return None
        return (
            f"automatic gain: the noise rises by {change.rise_db:.0f} dB while notes die away, in {change.n_rising} of "
            f"{change.n_decays} decays; decay, level and brightness cannot be trusted: switch automatic gain, voice "
            "enhancement and noise suppression off"
        )


def _notes_that_suffer(limit_hz: float) -> str:
    """Return the end of a sentence: which notes lose partials above a limit."""
    last_key = A4_KEY + int(np.floor(12 * np.log2(limit_hz / (_N_PARTIALS * _STRETCH * A4_STANDARD_HZ))))
    if last_key >= HIGHEST_KEY:
        return ""
    return (
        f"; notes above {key_name(last_key, typographic=True)} keep fewer than {_N_PARTIALS} partials, so their "
        "inharmonicity cannot be told, and brightness is understated everywhere"
    )


def _db(amplitude: float) -> str:
    return f"{_signed(20 * float(np.log10(max(amplitude, 1e-10))), 1)} dB"


def _signed(value: float, n_digits: int) -> str:
    """Return a number with a true minus sign, and no sign at zero."""
    return f"{round(value, n_digits) + 0.0:.{n_digits}f}".replace("-", "−")
