"""The best choice of one wire for each note of a stretch, for every number of changes: dynamic programming, exact."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.physics.scale import ScaleNote
from strikeline.physics.wire_gauge import StockSize

LEVEL_WEIGHT: Final = 1.0
"""Weight of staying on the present trend of tension, against smoothness (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothnessWeights:
    """How much each quantity counts; only their ratios matter."""

    tension: float = 1.0
    inharmonicity: float = 1.0
    impedance: float = 1.0

    def __post_init__(self) -> None:
        weights = (self.tension, self.inharmonicity, self.impedance)
        if not (all(math.isfinite(one) and one >= 0 for one in weights) and sum(weights) > 0):
            raise InputError.of("weights", weights, "0 or more each, and above 0 together")


@dataclass(frozen=True, slots=True)
class Candidates:
    """What one note may get."""

    note: ScaleNote
    diameter_mm: NDArray[np.float64]
    """The first is the wire as it is, or the stock size that it is of."""
    size: tuple[StockSize | None, ...]
    level: float
    """ln of tension over diameter², by which the trend is held."""
    offsets: tuple[float, float, float]
    """ln T, ln B, ln Z less ``2·ln d``."""
    trend: float


PickTable = dict[int, tuple[tuple[int, ...], float]]
"""Number of changes -> the best picks of a stretch and what they cost."""


def _level_cost(choice: Candidates) -> NDArray[np.float64]:
    return LEVEL_WEIGHT * (2.0 * np.log(choice.diameter_mm) + choice.level - choice.trend) ** 2


def bend_cost(three: Sequence[Candidates], weights: SmoothnessWeights) -> NDArray[np.float64]:
    """Return the weighted squared second differences for all picks of three notes, shape (n_a, n_b, n_c)."""
    a, b, c = (2.0 * np.log(one.diameter_mm) for one in three)
    bend = a[:, None, None] - 2.0 * b[None, :, None] + c[None, None, :]
    cost = np.zeros(bend.shape)
    for place, weight in enumerate((weights.tension, weights.inharmonicity, weights.impedance)):
        offset = three[0].offsets[place] - 2.0 * three[1].offsets[place] + three[2].offsets[place]
        cost += weight * (bend + offset) ** 2
    return cost


def step_cost(below: Candidates, above: Candidates) -> NDArray[np.float64]:
    """Return infinity where wire would get thicker going up, but for two notes that both keep theirs."""
    cost = np.where(above.diameter_mm[None, :] > below.diameter_mm[:, None] + 1e-6, np.inf, 0.0)
    cost[0, 0] = 0.0
    return cost


def best_picks(stretch: Sequence[Candidates], weights: SmoothnessWeights, most: int) -> PickTable:
    """Return the best picks of one stretch for each number of changes, by dynamic programming over pairs of notes.

    Parameters
    ----------
    stretch : sequence of Candidates
        Neighbouring notes, ascending.
    weights : SmoothnessWeights
        How much each quantity counts.
    most : int
        Largest number of changes.
    """
    first = _level_cost(stretch[0])
    if len(stretch) == 1:
        alone: PickTable = {0: ((0,), float(first[0]))}
        if most and len(first) > 1:
            least = 1 + int(np.argmin(first[1:]))
            alone[1] = ((least,), float(first[least]))
        return alone
    n_most = min(most, len(stretch))
    pair = first[:, None] + _level_cost(stretch[1])[None, :] + step_cost(stretch[0], stretch[1])
    n_changed = (np.arange(pair.shape[0])[:, None] > 0) + (np.arange(pair.shape[1])[None, :] > 0).astype(int)
    # cost[m, a, b]: the least with m changes so far when the last two picks are a and b
    cost = np.full((n_most + 1, *pair.shape), np.inf)
    for m in range(min(2, n_most) + 1):
        cost[m] = np.where(n_changed == m, pair, np.inf)
    back: list[NDArray[np.intp]] = []
    for i in range(2, len(stretch)):
        bend = bend_cost(stretch[i - 2 : i + 1], weights)
        whole = cost[:, :, :, None] + bend[None]
        earlier = np.argmin(whole, axis=1)
        least = np.min(whole, axis=1)
        least += (_level_cost(stretch[i])[None, :] + step_cost(stretch[i - 1], stretch[i]))[None]
        cost = np.full(least.shape, np.inf)
        cost[:, :, 0] = least[:, :, 0]
        cost[1:, :, 1:] = least[:-1, :, 1:]
        shifted = np.zeros(earlier.shape, dtype=np.intp)
        shifted[:, :, 0] = earlier[:, :, 0]
        shifted[1:, :, 1:] = earlier[:-1, :, 1:]
        back.append(shifted)
    table: PickTable = {}
    for m in range(n_most + 1):
        if np.isfinite(cost[m]).any():
            table[m] = (_traced(cost[m], back, m), float(cost[m].min()))
    return table


def _traced(last: NDArray[np.float64], back: Sequence[NDArray[np.intp]], m: int) -> tuple[int, ...]:
    """Follow the best picks back from the last pair."""
    a, b = (int(one) for one in np.unravel_index(int(np.argmin(last)), last.shape))
    picks = [b, a]
    for earlier in reversed(back):
        before = int(earlier[m, a, b])
        m -= int(b > 0)
        a, b = before, a
        picks.append(a)
    return tuple(reversed(picks))


def merged_picks(tables: Sequence[PickTable], n: int) -> tuple[tuple[tuple[int, ...], ...], float] | None:
    """Return the best way to spread n changes over the stretches, and its cost; ``None`` where there is none."""
    best: dict[int, tuple[tuple[tuple[int, ...], ...], float]] = {0: ((), 0.0)}
    for table in tables:
        found: dict[int, tuple[tuple[tuple[int, ...], ...], float]] = {}
        for (used, (picks, cost)), (more, (places, extra)) in itertools.product(best.items(), table.items()):
            total = used + more
            if total <= n and cost + extra < found.get(total, ((), np.inf))[1]:
                found[total] = ((*picks, places), cost + extra)
        best = found
    return best.get(n)
