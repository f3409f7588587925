"""How a unison is heard: which pairs of modes stay in each other's company long enough to beat.

Two modes make the level swell and dip while both are loud. How many times, is their difference in frequency times the
time for which both are: within 15 dB of the loudest mode of their partial (the dip is then 3 dB or more) and within
40 dB of the partial's beginning. Half a turn is a dip that bends the decay, two turns are a beat, because it comes
again; less than half passes for prompt sound and aftersound. The figures are choices, made for the ear (common
practice, no source). Listeners like unisons 1 to 2 cents wide (R. E. Kirk 1959, as quoted by Nakamura 1989), and by
these figures half of the notes of a recorded concert grand (tests/real) beat: a beat is what is heard, not yet a fault.

This is the definition, for modes that are known; `unison_odds` weighs the verdict of modes that were measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_result import Beat, UnisonVerdict
from strikeline.acoustics.unison_turns import EARLY_S, ModeLines
from strikeline.measured import Measured

Real = NDArray[np.float64]

BEATS_TURNS: Final = 2.0
UNEVEN_TURNS: Final = 0.5
SHARE: Final = 0.25
"""Share of the note's partials, each with its amplitude, that must beat for the note to be called beating."""
_DEEPEST_DB: Final = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """The pair of modes of one partial that turns about each other most."""

    partial: int
    amplitude: float
    """Of the partial, shortly after the onset."""
    turns: float
    rate_hz: Measured
    depth_db: float


def judge_by_modes(modes: Iterable[PartialModes], *, heard_s: float) -> tuple[UnisonVerdict, tuple[Beat, ...]]:
    """Return how a note is heard, from the modes of its strong partials, and the beats, the loudest partial first.

    Parameters
    ----------
    modes : iterable of PartialModes
        At least one partial.
    heard_s : float
        How long the note is heard.
    """
    turning = find_turnings(list(modes), heard_s=heard_s)
    whole = sum(one.amplitude for one in turning)

    def share(turns: float) -> float:
        return sum(one.amplitude for one in turning if one.turns >= turns) / whole

    if share(BEATS_TURNS) >= SHARE:
        verdict = UnisonVerdict.BEATING
    elif share(UNEVEN_TURNS) >= SHARE:
        verdict = UnisonVerdict.UNEVEN
    else:
        verdict = UnisonVerdict.LOCKED
    return verdict, beats_of(turning)


def beats_of(turning: Iterable[Turning]) -> tuple[Beat, ...]:
    """Return the partials that turn often enough to beat, the loudest first."""
    beating = sorted((one for one in turning if one.turns >= BEATS_TURNS), key=lambda one: -one.amplitude)
    return tuple(Beat(partial=b.partial, rate_hz=b.rate_hz, depth_db=b.depth_db) for b in beating)


def find_turnings(
    modes: Sequence[PartialModes], *, heard_s: float, slower_than_db_per_s: float = np.inf
) -> list[Turning]:
    """Return of each partial the pair of modes that turns about each other most while both are loud.

    Parameters
    ----------
    modes : sequence of PartialModes
        Each of one mode or more; a single one does not turn.
    heard_s : float
        How long the note is heard.
    slower_than_db_per_s : float
        Pairs with a mode that falls as fast as this do not count.
    """
    if not modes:
        return []
    lines, heard_s = ModeLines.of(modes), max(heard_s, 2 * EARLY_S)
    first, second = lines.pair
    fastest = np.maximum(lines.fall_db_per_s[:, first], lines.fall_db_per_s[:, second])
    begin_s, end_s = lines.company_s(heard_s)
    turns = np.where(fastest < slower_than_db_per_s, lines.apart_hz() * (end_s - begin_s), 0.0)
    row, best = np.arange(len(modes)), np.argmax(turns, axis=1)
    one, other = (row, first[best]), (row, second[best])
    most = turns[row, best]
    rate_hz = np.where(most > 0.0, lines.apart_hz()[row, best], 0.0)
    rate_sd_hz = np.where(most > 0.0, np.hypot(lines.pole_sd_per_s[one], lines.pole_sd_per_s[other]), 0.0) / (2 * np.pi)
    depth_db = np.where(most > 0.0, _depth_db(_nearest_db(lines, best, (begin_s, end_s))), 0.0)
    return [
        Turning(partial=mode.partial, amplitude=a, turns=n, rate_hz=Measured(rate, sd), depth_db=depth)
        for mode, a, n, rate, sd, depth in zip(
            modes,
            lines.early_amplitude().tolist(),
            most.tolist(),
            rate_hz.tolist(),
            rate_sd_hz.tolist(),
            depth_db.tolist(),
            strict=True,
        )
    ]


def find_turning(modes: PartialModes, *, heard_s: float) -> Turning:
    """Return the pair of modes of one partial that turns about each other most; see `find_turnings`."""
    return find_turnings([modes], heard_s=heard_s)[0]


def _nearest_db(lines: ModeLines, pair: NDArray[np.int64], company_s: tuple[Real, Real]) -> Real:
    """Return how near in level the two modes of one pair of each partial come while both are loud, shape (k,)."""
    row, (first, second) = np.arange(pair.size), lines.pair
    one, other = (row, first[pair]), (row, second[pair])
    apart_db = lines.level_db[one] - lines.level_db[other]
    faster_db_per_s = lines.fall_db_per_s[one] - lines.fall_db_per_s[other]
    begin_db, end_db = (apart_db - faster_db_per_s * time_s[row, pair] for time_s in company_s)
    return np.where(begin_db * end_db < 0.0, 0.0, np.minimum(np.abs(begin_db), np.abs(end_db)))


def _depth_db(apart_db: Real) -> Real:
    ratio = 10.0 ** (-apart_db / 20.0)
    return np.minimum(_DEEPEST_DB, 20.0 * np.log10((1.0 + ratio) / np.maximum(1.0 - ratio, 1e-6)))
