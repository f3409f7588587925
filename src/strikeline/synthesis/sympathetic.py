"""Other strings that a blow sets going through the bridge, and that ring on when its own damper has landed.

Only strings that no felt touches take part: those above the last damper, and those that a bad damper misses. Where a
partial of theirs lies near one of the struck note (an octave, a twelfth) the two are in resonance; a string within an
octave also takes a little from the blow itself. How much is invented, within what `after_ring_db` says.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.instrument import KeyState, SynthesisedPiano
from strikeline.synthesis.note import NoteModes
from strikeline.synthesis.unison import string_decay_per_s
from strikeline.units import amplitude_from_db, cents_from_ratio

_NEAR_CENTS: Final = 30.0
"""Farther from a partial than this, a string answers no resonance."""
_SCATTER_DB: Final = 6.0
_BUILD_UP_S: Final = 0.08
_NEAR_KEYS: Final = 12
_BLOW_DB: Final = -8.0
"""What the blow itself gives to a string nearby, against a resonance."""
_STRUCK_PARTIALS: Final = 10
_OTHER_PARTIALS: Final = 3
_BRIDGE_LOSS_RATIO: Final = 2.0
"""Decay of a string on the bridge over its decay on a rigid one, roughly as in `unison.couple_strings`."""


def sympathetic_modes(
    piano: SynthesisedPiano,
    key: int,
    modes: NoteModes,
    *,
    after_ring_db: float,
    rng: np.random.Generator,
    all_free: bool = False,
) -> NoteModes:
    """Return the modes of other strings that a blow sets going; their `partial` is their own number.

    Parameters
    ----------
    piano : SynthesisedPiano
        The piano.
    key : int
        The key struck.
    modes : NoteModes
        What the blow sets going in its own strings.
    after_ring_db : float
        Usual level of a resonance against the partial that makes it, dB.
    rng : numpy.random.Generator
        Chance: levels and phases.
    all_free : bool
        Whether the sustain pedal is down and no string is damped.
    """
    poles, amplitudes, numbers = [], [], []
    loudest = float(np.abs(modes.amplitude).max())
    for state in piano.keys:
        free = state.free if all_free else _free_strings(state)
        if state.key == key or not free:
            continue
        partial = np.arange(1, _OTHER_PARTIALS + 1)
        f0_hz = float(np.mean([state.unison.f0_hz[string] for string in free]))
        own_hz = partial_frequencies_hz(partial, f0_hz=f0_hz, inharmonicity_b=state.unison.inharmonicity_b)
        decay = _BRIDGE_LOSS_RATIO * string_decay_per_s(partial, state.unison)
        for n, hz, alpha in zip(partial.tolist(), own_hz.tolist(), decay.tolist(), strict=True):
            driver = _resonant(modes, hz)
            if driver == 0.0 and n == 1 and abs(state.key - key) <= _NEAR_KEYS:
                driver = loudest * float(amplitude_from_db(_BLOW_DB))
            if driver > 0.0:
                level_db = after_ring_db + _SCATTER_DB * float(rng.uniform(-1.0, 1.0))
                phase = float(rng.uniform(0.0, 2.0 * np.pi))
                poles.append(-alpha + 2j * np.pi * hz)
                amplitudes.append(driver * float(amplitude_from_db(level_db)) * np.exp(1j * phase))
                numbers.append(n)
    return NoteModes(
        partial=np.array(numbers, dtype=np.int64),
        pole_per_s=np.array(poles, dtype=np.complex128),
        amplitude=np.array(amplitudes, dtype=np.complex128),
    )


def swell(sound: NDArray[np.float32], *, sample_rate_hz: float) -> NDArray[np.float32]:
    """Return a sound that builds up as strings driven through the bridge do."""
    time_s = np.arange(sound.size) / sample_rate_hz
    return np.asarray(sound * (1.0 - np.exp(-time_s / _BUILD_UP_S)).astype(np.float32))


def _free_strings(state: KeyState) -> tuple[int, ...]:
    """Return the places of the strings that no felt touches while their key is up."""
    if state.damper is not None:
        return tuple(string for string in state.free if string in state.damper.misses)
    return state.free if state.damper_t60_s is None else ()


def _resonant(modes: NoteModes, frequency_hz: float) -> float:
    """Return the amplitude of the low partial of the struck note that lies near a frequency, 0 for none."""
    low = modes.partial <= _STRUCK_PARTIALS
    hz = modes.pole_per_s.imag[low] / (2.0 * np.pi)
    near = np.abs(cents_from_ratio(hz / frequency_hz)) < _NEAR_CENTS
    return float(np.abs(modes.amplitude[low][near]).max(initial=0.0))
