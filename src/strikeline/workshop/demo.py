"""The demo's piano, played once up the keyboard."""

from __future__ import annotations

from typing import Final

from strikeline.synthesis.instrument import upright_1920s
from strikeline.synthesis.performance import ascending, play
from strikeline.synthesis.rendering import RenderedPass, render_pass

DEMO_TITLE: Final = "An invented upright of the 1920s"
_SAMPLE_RATE_HZ: Final = 44100
_SEED: Final = 1926
_SPEED_M_PER_S: Final = 2.5
"""Between soft and loud: firm playing."""


def play_demo() -> RenderedPass:
    """Return the sound of the demo's piano and its truth, the same each time."""
    piano = upright_1920s(_SEED)
    performance = play(ascending(piano.compass), speed_m_per_s=_SPEED_M_PER_S, seed=_SEED)
    return render_pass(piano, performance, sample_rate_hz=_SAMPLE_RATE_HZ, seed=_SEED)
