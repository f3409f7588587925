"""Twenty generated passes with all that goes wrong in a workshop, to see that all notes are named and nothing else.

Each pass has its own invented piano (85, 88 or another compass), pitch level from −100 to +50 cents, and its own
mixture of a wrong strike, a repeated note, missing and dead keys, white keys only, every note twice, a descending run,
notes ringing into each other, talk, a door and a falling object.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strikeline.acoustics.identity import gather_evidence, name_strikes
from strikeline.acoustics.strikes import StrikeCutter
from strikeline.keyboard import FULL_COMPASS, SHORT_COMPASS, Compass
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import (
    DisturbanceKind,
    Performance,
    ascending,
    descending,
    every_note_twice,
    play,
    white_keys,
    with_wrong_strike,
    without,
)
from strikeline.synthesis.rendering import RenderedPass, render_pass

SAMPLE_RATE_HZ = 44_100
_SAME_BLOW_S = 0.06
_COMPASSES = (FULL_COMPASS, SHORT_COMPASS, Compass.parse("C1-C8"), Compass.parse("F1-F7"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Naming:
    """How one pass was named."""

    description: str
    n_struck: int
    n_right: int
    n_false: int
    """Named strikes where no string was struck, or named as another key."""
    compass_right: bool
    onset_errors_s: tuple[float, ...]
    wrong: tuple[str, ...]


def generated_pass(number: int) -> tuple[RenderedPass, str]:
    """Return pass `number` (0 to 19) and what is special about it."""
    rng = np.random.default_rng([2026, number])
    compass = _COMPASSES[number % len(_COMPASSES)] if number % 3 else FULL_COMPASS
    pitch_level_cents = float(np.linspace(-100.0, 50.0, 20)[number])
    inner = rng.permutation(np.arange(compass.lowest + 3, compass.highest - 3))
    dead, missing = inner[:1].tolist(), inner[1:2].tolist() if number % 2 else []
    instrument = piano(
        compass=compass, seed=number, pitch_level_cents=pitch_level_cents, dead_keys=dead, missing_keys=missing
    )
    kind = ("ascending", "wrong strike", "white keys", "every note twice", "descending")[number % 5]
    keys = {
        "white keys": white_keys(compass),
        "every note twice": every_note_twice(ascending(compass)),
        "descending": descending(compass),
    }.get(kind, ascending(compass))
    keys = without(keys, missing)
    if kind == "wrong strike":
        at = int(rng.integers(5, len(keys) - 5))
        keys = with_wrong_strike(keys, at=at, wrong_key=keys[at] + int(rng.choice([1, 2, 5])))
    overlap_s = float(rng.choice([-0.1, 0.05, 0.3]))
    performance = _disturbed(play(keys, speed_m_per_s=2.5, seed=number, length_ratio=0.6, overlap_s=overlap_s), rng)
    rendered = render_pass(instrument, performance, sample_rate_hz=SAMPLE_RATE_HZ, seed=number)
    ringing = f", {overlap_s:+.2f} s over" if overlap_s > 0 else ""
    return rendered, f"{compass} {pitch_level_cents:+.0f} cents, {kind}{ringing}"


def _disturbed(performance: Performance, rng: np.random.Generator) -> Performance:
    for kind, duration_s in ((DisturbanceKind.TALK, 2.5), (DisturbanceKind.DOOR, 0.8), (DisturbanceKind.KEY_DROP, 0.3)):
        after = int(rng.integers(0, len(performance.blows) - 1))
        peak_db = float(rng.uniform(-30.0, -15.0))
        performance = performance.interrupted(kind, after_blow=after, duration_s=duration_s, peak_db=peak_db)
    return performance


def name_generated(number: int) -> Naming:
    """Render pass `number`, cut and name it, and compare with the truth."""
    rendered, description = generated_pass(number)
    cutter = StrikeCutter(sample_rate_hz=rendered.sample_rate_hz)
    strikes = cutter.feed(rendered.samples) + cutter.finish()
    naming = name_strikes([gather_evidence(s, a4_hz=440.0) for s in strikes], compass=None, a4_hz=440.0)
    named = [(strike.onset_s, key) for strike, key in zip(strikes, naming.keys, strict=True) if key is not None]
    wrong, errors, used = [], [], set()
    for true in rendered.truth.strikes:
        near = [
            i for i, (onset_s, _) in enumerate(named) if abs(onset_s - true.onset_s) < _SAME_BLOW_S and i not in used
        ]
        right = [i for i in near if named[i][1] == true.key]
        if right:
            used.add(right[0])
            errors.append(named[right[0]][0] - true.onset_s)
        else:
            wrong.append(f"{true.key} at {true.onset_s:.1f} s heard as {[named[i][1] for i in near]}")
    false = [named[i] for i in range(len(named)) if i not in used]
    wrong += [f"false {key} at {onset_s:.1f} s" for onset_s, key in false]
    return Naming(
        description=description,
        n_struck=len(rendered.truth.strikes),
        n_right=len(used),
        n_false=len(false),
        compass_right=naming.compass == rendered.truth.compass,
        onset_errors_s=tuple(errors),
        wrong=tuple(wrong),
    )
