"""Choose which channel of a recording to listen to, or combine channels that carry one and the same sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from strikeline.acoustics.clipping import FlatTops
from strikeline.errors import InputError

_FRAME_S: Final = 0.046
_BAND_CENTRES_HZ: Final = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
"""Octaves in which piano sound stands above room noise; rumble below and hiss above do not count."""
_NOTHING: Final = 1e-13
"""Power of what is no signal, −130 dB re full scale: rounding of a constant. Dither of 16 bits has −98 dB."""
_CAP_DB: Final = 90.0
_SOUND_DB: Final = 12.0
"""Struck notes rise at least this far above the quiet moments of a channel that works."""
_NOISE_DB: Final = 6.0
"""Steady noise stays below: its octave levels in 46 ms frames scatter by 1 to 7 dB between these percentiles."""
_TIE_DB: Final = 3.0
_UNCLIPPED_WITHIN_DB: Final = 15.0
_SAME_COHERENCE: Final = 0.99
_SAME_GAIN_DB: Final = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelChoice:
    """Which channels to listen to, and why."""

    weights: NDArray[np.float32]
    """Shape (channels,): ``mono = samples @ weights``."""
    reason: str
    """In words."""
    warnings: tuple[str, ...] = ()
    """What is wrong with the other channels."""
    is_certain: bool = True
    """False when no sound was found to judge by; then ask again with more samples."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Channels:
    """All channels as short-time spectra in octave bands."""

    spectra: list[NDArray[np.complex64]]
    """Per band, shape (channels, frames, bins)."""
    loud: NDArray[np.float64]
    """Power of the loud frames, shape (channels, bands)."""
    signal_db: NDArray[np.float64]
    """Loud over quiet frames, shape (channels, bands)."""


def choose_channel(samples: NDArray[np.float32], *, sample_rate_hz: float) -> ChannelChoice:
    """Choose the channel in which the notes stand highest above the noise, or average channels of one sound.

    Channels are averaged only on evidence that they carry the same sound: coherence of 0.99 or more, equal level within
    1 dB and equal (or exactly opposite) phase in every octave that holds sound. Then independent noise of the channels
    falls by 3 dB for two of them, and copies of opposite polarity are turned round, so that they never cancel. Two
    microphones in two places are not averaged: a partial reaches them with a phase that depends on its frequency and
    on the path difference d, and their sum has notches at odd multiples of c/(2d) (a comb filter). The level of each
    partial, and with modes of a split unison even its decay, would then tell of the microphones, not of the string.

    Otherwise the channel with the best signal-to-noise ratio is taken: the level that 3 % of the frames reach over
    that which 90 % reach, averaged over octaves from 125 Hz to 8 kHz. Within 3 dB the louder, then the first one wins.
    A clipped channel yields to one that is not, unless that is 15 dB worse. The choice does not depend on a gain common
    to all channels nor on their order, but for ties.

    Parameters
    ----------
    samples : ndarray of float32, shape (n, channels)
        The beginning of the recording, best about 30 s that hold sound and some quiet; full scale ±1.
    sample_rate_hz : float
        Samples per second.

    Returns
    -------
    ChannelChoice
        With weights of shape (channels,), the reason in words, and warnings about dead or inverted channels.

    Raises
    ------
    InputError
        If `samples` has another shape, is empty or holds values that are not finite.
    """
    if samples.ndim != 2 or 0 in samples.shape:
        raise InputError.of("samples.shape", samples.shape, "(n, channels), neither of them 0")
    if not np.isfinite(samples).all():
        raise InputError("samples hold values that are not finite, expected numbers; set damaged samples to 0")
    n_channels = samples.shape[1]
    if n_channels == 1:
        return ChannelChoice(weights=np.ones(1, np.float32), reason="the recording has one channel")
    analysed = _analyse(samples, sample_rate_hz)
    snr_db = analysed.signal_db.mean(axis=1)
    level = analysed.loud.sum(axis=1)
    best = _best(samples, snr_db, level, sample_rate_hz)
    if snr_db[best] < _SOUND_DB:
        return ChannelChoice(
            weights=_weights(n_channels, {best: 1.0}),
            reason=f"no channel holds sound to judge by; the {_name(best, n_channels)} is taken",
            is_certain=False,
        )
    return _judged(analysed, snr_db, best, _dead(snr_db, level))


def _judged(analysed: _Channels, snr_db: NDArray[np.float64], best: int, dead: dict[int, str]) -> ChannelChoice:
    """Put the choice into words: the best channel alone or with its copies."""
    n_channels = len(snr_db)
    warnings = [f"the {_name(channel, n_channels)} {what}" for channel, what in dead.items()]
    signs = {best: 1.0}
    for other in range(n_channels):
        if other != best and other not in dead and (sign := _same(analysed, best, other)):
            signs[other] = sign
    warnings.extend(
        f"the {_name(channel, n_channels)} is the same sound upside down (reversed polarity of a cable or adapter); "
        "it was turned round, as played in mono the sound would cancel"
        for channel in sorted(signs)
        if signs[channel] < 0
    )
    if len(signs) > 1:
        names = " and ".join(_name(channel, n_channels) for channel in sorted(signs))
        reason = f"{names} carry the same sound and are averaged"
    else:
        others = ", ".join(
            f"{_name(channel, n_channels)} {snr_db[channel]:.0f} dB"
            for channel in range(n_channels)
            if channel != best and channel not in dead
        )
        than = f" (others: {others})" if others else "; the rest carries no sound"
        reason = f"{_name(best, n_channels)}: notes stand {snr_db[best]:.0f} dB above its quiet moments{than}"
    first_sign = signs[min(signs)]
    weights = {channel: first_sign * sign / len(signs) for channel, sign in signs.items()}
    return ChannelChoice(weights=_weights(n_channels, weights), reason=reason, warnings=tuple(warnings))


def _analyse(samples: NDArray[np.float32], sample_rate_hz: float) -> _Channels:
    size = min(2 ** round(np.log2(_FRAME_S * sample_rate_hz)), len(samples))
    n_frames = len(samples) // size
    frames = samples[: n_frames * size].T.reshape(samples.shape[1], n_frames, size)
    frames = frames - frames.mean(axis=2, keepdims=True)
    window = np.hanning(size + 2)[1:-1]
    spectrum = fft.rfft(frames * (2 * window / window.sum()).astype(np.float32), axis=2)  # sine of 1 → line of 1
    bin_hz = np.arange(size // 2 + 1) * sample_rate_hz / size
    spectra, loud, quiet = [], [], []
    for centre_hz in _BAND_CENTRES_HZ:
        inside = (bin_hz >= centre_hz / np.sqrt(2)) & (bin_hz < centre_hz * np.sqrt(2)) & (bin_hz > 0)
        if centre_hz > 0.45 * sample_rate_hz or not inside.any():
            continue
        band = spectrum[:, :, inside]
        power = np.square(np.abs(band), dtype=np.float64).sum(axis=2)
        spectra.append(band)
        loud.append(np.percentile(power, 97, axis=1))
        quiet.append(np.percentile(power, 10, axis=1))
    loud_power = np.stack(loud, axis=1) if loud else np.zeros((samples.shape[1], 1))
    quiet_power = np.stack(quiet, axis=1) if quiet else np.zeros((samples.shape[1], 1))
    floor = np.maximum(quiet_power, loud_power * 10 ** (-_CAP_DB / 10))
    ratio = np.divide(loud_power, floor, out=np.ones_like(floor), where=floor > 0)
    return _Channels(spectra=spectra, loud=loud_power, signal_db=10 * np.log10(ratio))


def _best(
    samples: NDArray[np.float32], snr_db: NDArray[np.float64], level: NDArray[np.float64], sample_rate_hz: float
) -> int:
    """Return the channel with the best ratio, not clipped if it can be helped, the louder one of equals."""
    leaders = np.flatnonzero(snr_db >= snr_db.max() - _UNCLIPPED_WITHIN_DB)
    clean = [int(channel) for channel in leaders if not _is_clipped(samples[:, channel], sample_rate_hz)]
    candidates = np.array(clean or leaders.tolist())
    near = candidates[snr_db[candidates] >= snr_db[candidates].max() - _TIE_DB]
    loudest = level[near].max()
    return int(near[level[near] >= loudest / 2][0])


def _is_clipped(channel: NDArray[np.float32], sample_rate_hz: float) -> bool:
    tops = FlatTops(sample_rate_hz=sample_rate_hz)
    tops.feed(np.ascontiguousarray(channel))
    return tops.n_samples > 0


def _dead(snr_db: NDArray[np.float64], level: NDArray[np.float64]) -> dict[int, str]:
    """Return the channels without sound, and what they hold instead."""
    dead = {}
    for channel in range(len(snr_db)):
        if level[channel] < _NOTHING:
            dead[channel] = "is dead: it holds no signal at all; check cable and microphone"
        elif snr_db[channel] < _NOISE_DB:
            dead[channel] = "holds only noise; check cable and microphone"
    return dead


def _same(analysed: _Channels, one: int, other: int) -> float:
    """Return 1 if two channels carry the same sound, −1 if one is the other upside down, else 0."""
    signs = set()
    for band, spectrum in enumerate(analysed.spectra):
        if analysed.signal_db[[one, other], band].min() < _SOUND_DB:
            continue
        power = np.square(np.abs(spectrum[[one, other]]), dtype=np.float64).sum(axis=(1, 2))
        cross = complex(np.vdot(spectrum[other], spectrum[one]))
        coherence = abs(cross.real) / float(np.sqrt(power[0] * power[1]))  # the real part: phase 0 or π
        gain_db = abs(float(10 * np.log10(power[0] / power[1])))
        if coherence < _SAME_COHERENCE or gain_db > _SAME_GAIN_DB:
            return 0.0
        signs.add(float(np.sign(cross.real)))
    return signs.pop() if len(signs) == 1 else 0.0


def _weights(n_channels: int, values: dict[int, float]) -> NDArray[np.float32]:
    weights = np.zeros(n_channels, np.float32)
    for channel, value in values.items():
        weights[channel] = value
    return weights


def _name(channel: int, n_channels: int) -> str:
    if n_channels == 2:
        return ("left channel", "right channel")[channel]
    return f"channel {channel + 1}"
