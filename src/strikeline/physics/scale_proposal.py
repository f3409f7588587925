"""A smoother scale of plain wire within stock sizes, lengths kept: the best choice of gauges for any number of changes.

At a given length and pitch, tension, B and impedance of plain wire all go as the square of the diameter, and the stress
does not depend on it at all; so gauges can even out steps, but no gauge rescues a string that is too long for its note.
The choice is found by dynamic programming, which is exact: no other choice of stock sizes with as many changes is
smoother by the measure stated here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.physics.gauge_search import Candidates, SmoothnessWeights, bend_cost, best_picks, merged_picks
from strikeline.physics.scale import ScaleNote
from strikeline.physics.scale_weak import limit_of
from strikeline.physics.smooth_fit import fit_smooth
from strikeline.physics.wire_gauge import StockSize

REACH_MM: Final = 0.11
"""How far from its present wire a note may be taken: about two whole numbers (our choice)."""
WORTH: Final = 0.05
"""Share of the present measure that every note changed must win, on average over what is proposed (our choice)."""
_TREND_SCATTER: Final = 0.02
_SAME_MM: Final = 0.0127
"""Half a step of half a number: wire this near to a stock size counts as of that size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeChange:
    """One note given another wire."""

    key: int
    n_strings: int
    from_mm: float
    """Wire as it is, measured or filled."""
    to: StockSize
    is_filled: bool
    """Whether the present wire was filled, not measured: measure it before ordering."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalOption:
    """The smoothest choice with a given number of changes."""

    changes: tuple[GaugeChange, ...]
    roughness_pct: float
    """Root mean square of how far a note lies from the middle of its two neighbours: of tension, B and impedance
    together, weighted, in per cent."""
    objective: float
    """What was made least: squared second differences and departures from the trend."""

    @property
    def n_strings(self) -> int:
        """Strings that the changes take."""
        return sum(change.n_strings for change in self.changes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleProposal:
    """What smoothing within stock sizes can do for the plain wire of a scale."""

    options: tuple[ProposalOption, ...]
    """By the number of changes: the first keeps the original scale."""
    chosen: int
    """Index of the proposal in `options`; 0 where no change is worth its price."""
    diameters_mm: dict[int, float]
    """Wire of every plain note after the proposal, by key."""
    left_out: tuple[tuple[int, str], ...]
    """Plain notes that were kept as they are, and why."""

    @property
    def changes(self) -> tuple[GaugeChange, ...]:
        """Changes of the proposal."""
        return self.options[self.chosen].changes


def propose_scale(
    notes: Sequence[ScaleNote],
    *,
    sizes: Sequence[StockSize],
    strength_mpa: Callable[[float], float | None],
    plain_limit: float,
    weights: SmoothnessWeights | None = None,
    most_changes: int | None = None,
    odd: Collection[int] = (),
) -> ScaleProposal:
    """Return the smoothest choices of gauges for the plain notes of a scale, for every number of changes.

    Made least is ``Σ_q w_q·Σ_i (q_{i-1} - 2·q_i + q_{i+1})² + Σ_i (ln T_i - trend_i)²`` with q = ln T, ln B and ln Z
    over the notes of each section, and the trend a smooth curve through the present tensions. Wire never gets thicker
    going up, unless it is so now and both notes keep theirs. No string is given a wire whose share of the breaking
    load is above the limit, or above its present share where that is above the limit already.

    Parameters
    ----------
    notes : sequence of ScaleNote
        Of a whole scale, ascending by key; wound notes are kept.
    sizes : sequence of StockSize
        What can be bought.
    strength_mpa : callable
        Tensile strength of a wire of a diameter in mm, as `ScaleRow.strength` has it; ``None`` where none is known.
    plain_limit : float
        Share of the breaking load that is not exceeded.
    weights : SmoothnessWeights, optional
        How much each quantity counts; alike when left out.
    most_changes : int, optional
        Largest number of notes changed; as many as there are when left out.
    odd : collection of int
        Keys whose present wire is taken as an error: they do not shape the trend.

    Returns
    -------
    ScaleProposal
        Options from no change on, each exact for its number; those are left out that fewer changes are as good as. The
        proposal is the one that is best when every note changed has a price: `WORTH` of the present measure, and no
        less than what the reading of one wire adds to it.

    References
    ----------
    .. [1] R. Bellman, "Dynamic Programming" (1957) (from memory); the measure is our choice.
    """
    weights = weights or SmoothnessWeights()
    left_out: list[tuple[int, str]] = []
    stretches = _stretches(notes, sizes, strength_mpa, plain_limit, odd, left_out)
    n_plain = sum(len(stretch) for stretch in stretches)
    most = n_plain if most_changes is None else min(most_changes, n_plain)
    tables = [best_picks(stretch, weights, most) for stretch in stretches]
    found = [option for option in (merged_picks(tables, n) for n in range(most + 1)) if option is not None]
    # More changes than are of use only repeat what fewer reach.
    worth = [found[0]]
    worth += [
        one for place, one in enumerate(found) if place and one[1] < (1.0 - 1e-9) * min(o[1] for o in found[:place])
    ]
    records = tuple(_option(stretches, picks, cost, weights) for picks, cost in worth)
    price = max(WORTH * records[0].objective, _reading_noise([one for each in stretches for one in each], weights))
    chosen = min(range(len(records)), key=lambda i: records[i].objective + price * len(records[i].changes))
    picks = worth[chosen][0]
    diameters = {
        choice.note.key: float(choice.diameter_mm[pick])
        for stretch, places in zip(stretches, picks, strict=True)
        for choice, pick in zip(stretch, places, strict=True)
    }
    return ScaleProposal(options=records, chosen=chosen, diameters_mm=diameters, left_out=tuple(left_out))


def _stretches(
    notes: Sequence[ScaleNote],
    sizes: Sequence[StockSize],
    strength_mpa: Callable[[float], float | None],
    plain_limit: float,
    odd: Collection[int],
    left_out: list[tuple[int, str]],
) -> list[list[Candidates]]:
    """Return the plain notes in unbroken runs of one section, each with what it may get."""
    plain = [note for note in notes if not note.row.is_wound]
    stretches: list[list[Candidates]] = []
    before: ScaleNote | None = None
    trends: dict[int, float] = {}
    for section in dict.fromkeys(note.row.section for note in plain):
        trends |= _trend([note for note in plain if note.row.section == section], odd)
    for note in plain:
        if note.row.dimensions.core.name != "steel":
            left_out.append((note.key, f"its wire is of {note.row.dimensions.core.name}, stock sizes are of steel"))
            before = None
            continue
        choice = _choice(note, sizes, strength_mpa, plain_limit, trends[note.key], left_out)
        if before is None or note.key != before.key + 1 or note.row.section != before.row.section:
            stretches.append([])
        stretches[-1].append(choice)
        before = note
    return stretches


def _trend(notes: Sequence[ScaleNote], odd: Collection[int]) -> dict[int, float]:
    """Return a smooth curve of ln T through the notes of a section; their own ln T where they are too few."""
    own = {note.key: math.log(note.state.tension_n.value) for note in notes}
    shaping = {key: value for key, value in own.items() if key not in odd}
    fit = fit_smooth(
        list(shaping), list(shaping.values()), least_scatter=_TREND_SCATTER, wanted=tuple(note.key for note in notes)
    )
    return own if fit is None else own | dict(zip(fit.keys, fit.curve.tolist(), strict=True))


def _choice(
    note: ScaleNote,
    sizes: Sequence[StockSize],
    strength_mpa: Callable[[float], float | None],
    plain_limit: float,
    trend: float,
    left_out: list[tuple[int, str]],
) -> Candidates:
    """Return what one note may get; its own wire comes first."""
    wire = note.row.dimensions.core_diameter_mm
    nearest = min(sizes, key=lambda size: abs(size.diameter_mm - wire.value))
    is_stock = abs(nearest.diameter_mm - wire.value) <= max(_SAME_MM, wire.half_width)
    now_mm = nearest.diameter_mm if is_stock else wire.value
    diameters, picked = [now_mm], [nearest if is_stock else None]
    share = note.state.breaking_share
    if share is None:
        left_out.append((note.key, "the strength of its wire is not known"))
    else:
        ceiling = max(limit_of(note, plain_limit=plain_limit), share.value)
        for size in sizes:
            if size == picked[0] or abs(size.diameter_mm - wire.value) > REACH_MM:
                continue
            strength = strength_mpa(size.diameter_mm)
            if strength is not None and note.state.stress_mpa.value / strength <= ceiling:
                diameters.append(size.diameter_mm)
                picked.append(size)
    twice = 2.0 * math.log(wire.value)
    state = note.state
    logs = (state.tension_n.value, state.inharmonicity_b.value, state.impedance_kg_per_s.value)
    offsets = tuple(math.log(one) - twice for one in logs)
    return Candidates(note, np.array(diameters), tuple(picked), offsets[0], (offsets[0], offsets[1], offsets[2]), trend)


def _reading_noise(choices: Sequence[Candidates], weights: SmoothnessWeights) -> float:
    """Return what the reading error of one note's wire adds to the measure: no change is worth less."""
    if not choices:
        return 0.0
    wires = [choice.note.row.dimensions.core_diameter_mm for choice in choices]
    variance = float(np.median([(2.0 * wire.se / wire.value) ** 2 for wire in wires]))
    # A note stands in three second differences, once doubled: 1 + 4 + 1.
    return 6.0 * (weights.tension + weights.inharmonicity + weights.impedance) * variance


def _option(
    stretches: Sequence[Sequence[Candidates]],
    picks: Sequence[Sequence[int]],
    cost: float,
    weights: SmoothnessWeights,
) -> ProposalOption:
    changes, bends = list[GaugeChange](), list[float]()
    total = weights.tension + weights.inharmonicity + weights.impedance
    for stretch, places in zip(stretches, picks, strict=True):
        for choice, pick in zip(stretch, places, strict=True):
            size = choice.size[pick]
            if pick > 0 and size is not None:
                row = choice.note.row
                changes.append(
                    GaugeChange(
                        key=row.key,
                        n_strings=row.n_strings,
                        from_mm=row.dimensions.core_diameter_mm.value,
                        to=size,
                        is_filled="diameter" in row.filled,
                    )
                )
        for i in range(2, len(stretch)):
            bend = bend_cost(stretch[i - 2 : i + 1], weights)
            bends.append(float(bend[places[i - 2], places[i - 1], places[i]]) / total)
    rough = 50.0 * math.sqrt(float(np.mean(bends))) if bends else 0.0
    return ProposalOption(changes=tuple(changes), roughness_pct=rough, objective=cost)
