"""The demo's piano: played once up the keyboard, then with short blows, then plucked against its hammers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Kind
from strikeline.errors import InputError
from strikeline.keyboard import key_from_name, key_name
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import SynthesisedPiano, upright_1920s
from strikeline.synthesis.performance import ascending, play, staccato
from strikeline.synthesis.plucking import Hand, pluck_section
from strikeline.synthesis.plucks import RenderedPlucks, render_plucks
from strikeline.synthesis.rendering import render_pass
from strikeline.synthesis.truth import TrueStrike

DEMO_TITLE: Final = "An invented upright of the 1920s"
LEAKING_KEY: Final = key_from_name("D3")
"""Its damper lies on a node of partial 3 and touches along an edge only; about the break, as leaks often are."""
LATE_KEY: Final = key_from_name("F4")
OPEN_STRINGS: Final = ((key_from_name("A3"), 0), (key_from_name("C4"), 2))
"""Key and string, 0 for the left one, that the hammer misses."""
_LEAKING_PARTIAL: Final = 3
_LATE_S: Final = 0.12
PLUCKED: Final = tuple(range(key_from_name("F3"), key_from_name("F4") + 1))
_N_STRINGS: Final = 3
_TOUCHED_T60_S: Final = 0.12
_SAMPLE_RATE_HZ: Final = 44100
_SEED: Final = 1926
_SPEED_M_PER_S: Final = 2.5
"""Between soft and loud: firm playing."""
_HAND: Final = Hand(
    pace_s=0.7,
    change_s=1.6,
    timing_scatter=0.1,
    force_n=2.0,
    force_scatter_db=2.5,
    release_s=3e-4,
    click_db=-15.0,
)
"""A practised one that forgets nothing."""
_ACTION_NOISE_DB: Final = -30.0
"""The keys are pressed slowly."""


@cache
def _piano() -> SynthesisedPiano:
    return with_dampers(
        upright_1920s(_SEED), seed=_SEED, late_s={LATE_KEY: _LATE_S}, at_node_of={LEAKING_KEY: _LEAKING_PARTIAL}
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlayedDemo:
    """One of the demo's sounds and what is true of it."""

    samples: NDArray[np.float32]  # shape (n,), mono
    sample_rate_hz: int
    truth: dict[str, Any]
    """As plain data."""
    strikes: tuple[TrueStrike, ...] = ()
    """What was struck; empty for plucked strings."""
    notes: tuple[int, ...] | None = None
    """Whose strings were plucked, as a restorer would say it beforehand."""
    n_strings: int | None = None


def play_demo(kind: Kind) -> PlayedDemo:
    """Return one of the demo's sounds and its truth, the same each time.

    Parameters
    ----------
    kind : Kind
        A pass; short blows, where one damper leaks and one lands late; or an octave of strings plucked against the
        hammers, where two strings are open.

    Raises
    ------
    InputError
        For any other kind.
    """
    if kind is Kind.PLUCKS:
        plucked = _plucked()
        return PlayedDemo(
            samples=plucked.samples,
            sample_rate_hz=plucked.sample_rate_hz,
            truth=_plucks_truth(plucked),
            notes=PLUCKED,
            n_strings=_N_STRINGS,
        )
    if kind is Kind.PASS:
        performance = play(ascending(_piano().compass), speed_m_per_s=_SPEED_M_PER_S, seed=_SEED)
    elif kind is Kind.STACCATO:
        performance = staccato(ascending(_piano().compass), speed_m_per_s=_SPEED_M_PER_S, seed=_SEED)
    else:
        raise InputError.of("kind", kind.value, "pass, staccato or plucks")
    played = render_pass(_piano(), performance, sample_rate_hz=_SAMPLE_RATE_HZ, seed=_SEED)
    return PlayedDemo(
        samples=played.samples,
        sample_rate_hz=played.sample_rate_hz,
        truth=played.truth.to_dict(),
        strikes=played.truth.strikes,
    )


def _plucked() -> RenderedPlucks:
    piano = _piano()
    touched = {
        (key, string): None if (key, string) in OPEN_STRINGS else _TOUCHED_T60_S
        for key in PLUCKED
        for string in range(piano[key].unison.n_strings)
    }
    performance = pluck_section(piano, PLUCKED, touch_t60_s=touched, hand=_HAND, seed=_SEED)
    performance = performance.disturbed(action_noise_db=_ACTION_NOISE_DB)
    return render_plucks(piano, performance, sample_rate_hz=_SAMPLE_RATE_HZ, seed=_SEED)


def _plucks_truth(played: RenderedPlucks) -> dict[str, Any]:
    """Return what is true of a plucked section as plain data."""
    return {
        "sample_rate_hz": played.sample_rate_hz,
        "notes": [key_name(key) for key in played.keys],
        "strings": [
            {"note": key_name(key), "key": key, "string": string, "touched": is_touched}
            for (key, string), is_touched in sorted(played.is_touched.items())
        ],
        "plucks": [
            {"note": key_name(one.key), "key": one.key, "string": one.string, "at_s": one.at_s, "kind": one.kind.value}
            for one in played.plucks
        ],
    }
