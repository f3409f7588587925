"""The room between piano and microphone, and the microphone's own noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import oaconvolve

from strikeline.errors import InputError
from strikeline.units import amplitude_from_db

_CHUNK_SAMPLES: Final = 1 << 21


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A small room, one microphone at a stated noise level."""

    reverberation_s: float
    """Time in which the tail falls by 60 dB; 0 for none."""
    tail_db: float
    """Energy of reflections and tail against the direct sound, dB."""
    noise_db: float
    """Standard deviation of the white microphone noise, dB re full scale (1.0)."""

    def __post_init__(self) -> None:
        if not 0.0 <= self.reverberation_s <= 5.0:
            raise InputError.of("reverberation_s", self.reverberation_s, "0 to 5 s")


WORKSHOP: Final = Room(reverberation_s=0.35, tail_db=-4.0, noise_db=-76.0)
"""A furnished workshop with a telephone on the music desk (invented)."""
DRY: Final = Room(reverberation_s=0.0, tail_db=-200.0, noise_db=-100.0)
"""Nothing but the piano and a very quiet microphone."""


def impulse_response(room: Room, *, sample_rate_hz: float, seed: int) -> NDArray[np.float32]:
    """Return the response of the room: direct sound in the first sample, six early reflections, a decaying tail.

    Parameters
    ----------
    room : Room
        Its figures.
    sample_rate_hz : float
        Above 0.
    seed : int
        The same seed gives the same room.

    Returns
    -------
    ndarray of float32, shape (n,)
        The first sample is 1: no travel through air, so that an onset stays where it is.
    """
    if room.reverberation_s == 0.0:
        return np.ones(1, dtype=np.float32)
    rng = np.random.default_rng(seed)
    n = round(room.reverberation_s * 1.1 * sample_rate_hz)
    t = np.arange(n) / sample_rate_hz
    tail = rng.standard_normal(n) * np.exp(-np.log(1000.0) * t / room.reverberation_s) * (t > 0.012)
    reflected = 0.25 * tail / np.sqrt(sample_rate_hz / 1000.0)
    for delay_s in rng.uniform(0.0015, 0.018, 6):
        sign = rng.choice([-1.0, 1.0])
        reflected[round(delay_s * sample_rate_hz)] += sign * 0.9 * np.exp(-delay_s / 0.01)
    reflected *= amplitude_from_db(room.tail_db) / np.sqrt(np.sum(reflected**2))
    reflected[0] = 1.0
    return np.asarray(reflected, dtype=np.float32)


def put_into_room(dry: NDArray[np.float32], room: Room, *, sample_rate_hz: float, seed: int) -> NDArray[np.float32]:
    """Return what the microphone hears of a dry sound, in the same length.

    Parameters
    ----------
    dry : ndarray of float32, shape (n,)
        The sound at the piano.
    room : Room
        Room and microphone.
    sample_rate_hz : float
        Above 0.
    seed : int
        Room and noise.

    Returns
    -------
    ndarray of float32, shape (n,)
        Not clipped: values beyond 1 are the caller's to scale.
    """
    response = impulse_response(room, sample_rate_hz=sample_rate_hz, seed=seed)
    wet = np.random.default_rng(seed + 1).standard_normal(dry.size, dtype=np.float32)
    wet *= np.float32(amplitude_from_db(room.noise_db))
    if response.size == 1:
        wet += dry
        return wet
    for start in range(0, dry.size, _CHUNK_SAMPLES):  # chunks keep the memory small
        part = oaconvolve(dry[start : start + _CHUNK_SAMPLES], response)
        kept = min(part.size, dry.size - start)
        wet[start : start + kept] += part[:kept]
    return wet
