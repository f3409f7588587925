"""A listening put to the trial: what was heard against what was truly played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.acoustics.listening import Listening, Note
from strikeline.measured import Measured
from strikeline.synthesis.truth import TrueStrike
from strikeline.units import cents_from_ratio

_SAME_STRIKE_S: Final = 0.1
"""A note heard this near to a strike is that strike; the notes of a pass are further apart than twice that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """How a listening compares with the truth."""

    n_played: int
    n_right: int
    """Strikes heard and named rightly."""
    n_wrong: int
    """Strikes heard and named wrongly."""
    n_false: int
    """Notes heard where none was played."""
    n_f0: int
    """Rightly named strikes for which an f0 was given."""
    n_f0_covered: int
    """Those that agree with the truth within 1.96 standard errors. A note of several strings has no single f0; what is
    heard of them together lies between the lowest and the highest string, and agrees anywhere there."""
    median_f0_error_cents: float
    """Half of the f0 given are nearer than this to the mean of the note's strings; NaN when none was given."""


def compare_with_truth(listening: Listening, truth: Sequence[TrueStrike]) -> Trial:
    """Return how the notes of a listening compare with the strikes that were truly played.

    Parameters
    ----------
    listening : Listening
        What was heard.
    truth : sequence of TrueStrike
        What was played.

    Returns
    -------
    Trial
        Strikes and notes are matched one to one by their onsets.
    """
    pairs = _matched(listening.notes, truth)
    right = [(note, strike) for note, strike in pairs if note.key == strike.key]
    given = [(note.f0_hz, strike) for note, strike in right if note.f0_hz is not None]
    cents = [abs(float(cents_from_ratio(f0_hz.value / strike.f0_hz))) for f0_hz, strike in given]
    return Trial(
        n_played=len(truth),
        n_right=len(right),
        n_wrong=len(pairs) - len(right),
        n_false=len(listening.notes) - len(pairs),
        n_f0=len(given),
        n_f0_covered=sum(_outside_hz(f0_hz, strike) <= f0_hz.half_width for f0_hz, strike in given),
        median_f0_error_cents=float(np.median(cents)) if cents else float("nan"),
    )


def _matched(notes: Sequence[Note], truth: Sequence[TrueStrike]) -> list[tuple[Note, TrueStrike]]:
    """Match notes and strikes one to one, nearest onsets first."""
    distances = sorted(
        (abs(note.onset_s - strike.onset_s), i, j)
        for i, note in enumerate(notes)
        for j, strike in enumerate(truth)
        if abs(note.onset_s - strike.onset_s) <= _SAME_STRIKE_S
    )
    taken_notes, taken_strikes = set[int](), set[int]()
    pairs = []
    for _, i, j in distances:
        if i not in taken_notes and j not in taken_strikes:
            taken_notes.add(i)
            taken_strikes.add(j)
            pairs.append((notes[i], truth[j]))
    return pairs


def _outside_hz(f0_hz: Measured, strike: TrueStrike) -> float:
    """Return how far an f0 lies outside the span of the strings' own, Hz; 0 inside."""
    low, high = min(strike.string_f0_hz), max(strike.string_f0_hz)
    return max(low - f0_hz.value, f0_hz.value - high, 0.0)
