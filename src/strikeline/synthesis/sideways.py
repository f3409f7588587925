"""A whole piano whose strings also swing sideways, some of them on loose bridge pins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from strikeline.synthesis.instrument import KeyState, SynthesisedPiano
from strikeline.synthesis.polarisation import FalseBeat, Polarisation


def let_swing_sideways(
    piano: SynthesisedPiano, *, seed: int, false_beats_hz: Mapping[int, Mapping[int, float]] | None = None
) -> SynthesisedPiano:
    """Return the same piano with strings that also swing across the blow.

    Parameters
    ----------
    piano : SynthesisedPiano
        Any piano; what it had of polarisation and false beats is replaced.
    seed : int
        Chance: how much of each blow goes sideways (5 to 30 %, invented), to which side, and the figures of the bridge
        (10 to 20 dB stiffer sideways) and of loose pins.
    false_beats_hz : mapping of int to mapping of int to float, or None
        For some keys, for some strings (0 for the left one): the split of partial 1 that a loose pin makes, Hz.

    Returns
    -------
    SynthesisedPiano
        Strings, hammers and board are otherwise those of `piano`.
    """
    rng = np.random.default_rng(seed)
    loose = false_beats_hz or {}
    for key in loose:
        piano[key]
    return piano.replacing(*(_sideways(state, loose.get(state.key, {}), rng) for state in piano.keys))


def _sideways(state: KeyState, false_beats_hz: Mapping[int, float], rng: np.random.Generator) -> KeyState:
    """Draw the figures of one note."""
    sideways = Polarisation(
        admittance_db=float(rng.uniform(-20.0, -10.0)),
        blow_ratio=tuple(float(ratio) for ratio in rng.choice([-1.0, 1.0]) * rng.uniform(0.05, 0.3, 3)),
        radiation_ratio=float(rng.uniform(0.1, 0.4)),
    )
    beats = tuple(
        FalseBeat(
            string=string,
            rate_hz=rate_hz,
            axis_rad=float(rng.uniform(0.5, 1.1)),
            pin_resonance_hz=float(rng.uniform(4000.0, 8000.0)),
        )
        for string, rate_hz in sorted(false_beats_hz.items())
    )
    return replace(state, unison=replace(state.unison, polarisation=sideways, false_beats=beats))
