"""A piano fitted with dampers described in full, sound ones and faulty ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from strikeline.errors import InputError
from strikeline.synthesis.damper import LAST_DAMPED_KEY, Damper, usual_damper
from strikeline.synthesis.instrument import KeyState, SynthesisedPiano

_STRENGTH_SD: Final = 0.10
_LANDING_SD_S: Final = 0.004
_PLACE_SD_RATIO: Final = 0.03
"""Scatter of well-kept dampers (invented): strength 10 %, landing 4 ms, place 3 %."""
_NARROW_MM: Final = 8.0
"""Felt that has gone hard and touches only along an edge (invented)."""
_NONE: Final[Mapping[int, Any]] = MappingProxyType({})


def with_dampers(
    piano: SynthesisedPiano,
    *,
    seed: int,
    late_s: Mapping[int, float] = _NONE,
    strength_ratio: Mapping[int, float] = _NONE,
    misses: Mapping[int, tuple[int, ...]] = _NONE,
    at_node_of: Mapping[int, int] = _NONE,
    without: Collection[int] = (),
    last_key: int = LAST_DAMPED_KEY,
) -> SynthesisedPiano:
    """Return the same piano with a full `Damper` on every damped note.

    Parameters
    ----------
    piano : SynthesisedPiano
        The piano.
    seed : int
        Chance: the scatter of well-kept dampers.
    late_s : mapping of int to float
        By key: how much later than the others a damper lands, seconds.
    strength_ratio : mapping of int to float
        By key: strength of felt and spring, 1 for sound ones.
    misses : mapping of int to tuple of int
        By key: places of the strings that the felt does not touch.
    at_node_of : mapping of int to int
        By key: number of the partial on whose node a felt lies that touches only along a narrow edge.
    without : collection of int
        Keys whose damper does nothing.
    last_key : int
        Highest key with a damper, at most `LAST_DAMPED_KEY`.

    Raises
    ------
    InputError
        If `last_key` is too high.
    """
    if last_key > LAST_DAMPED_KEY:
        raise InputError.of("last_key", last_key, f"at most {LAST_DAMPED_KEY}")
    rng = np.random.default_rng(seed)
    states = []
    for state in piano.keys:
        drawn = rng.standard_normal(3)
        if state.key > last_key or state.key in without:
            states.append(replace(state, damper=None, damper_t60_s=None))
            continue
        damper = usual_damper(
            state.key,
            speaking_length_mm=state.unison.speaking_length_mm,
            strength_ratio=strength_ratio.get(state.key, 1.0) * float(np.exp(_STRENGTH_SD * drawn[0])),
            lands_after_s=0.03 + late_s.get(state.key, 0.0) + _LANDING_SD_S * float(np.clip(drawn[1], -3.0, 3.0)),
        )
        damper = replace(
            damper,
            place_ratio=damper.place_ratio * float(np.exp(_PLACE_SD_RATIO * drawn[2])),
            misses=misses.get(state.key, ()),
        )
        if state.key in at_node_of:
            damper = _moved_to_node(damper, state, at_node_of[state.key])
        states.append(replace(state, damper=damper))
    return replace(piano, keys=tuple(states))


def _moved_to_node(damper: Damper, state: KeyState, partial: int) -> Damper:
    """Return the damper on the node of a partial that is nearest to where it lay, touching along an edge only."""
    place = max(1, round(damper.place_ratio * partial)) / partial
    return replace(damper, place_ratio=place, width_ratio=_NARROW_MM / state.unison.speaking_length_mm)
