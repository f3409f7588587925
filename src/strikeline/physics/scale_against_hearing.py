"""B as the dimensions say against B as it was heard: where they disagree, and what that may mean.

Two numbers for one string: if they differ by more than both can be off, and by more than the formula itself is good
for, then something about the string is not as it was entered. What it is the numbers cannot say; they can say what
would explain them, and by how much.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtri

from strikeline.measured import Measured
from strikeline.physics.scale import ScaleNote
from strikeline.physics.scale_strings import exact_but_for_the_ends
from strikeline.physics.stringing import carried_string

PLAIN_MODEL_SD: Final = 0.05
"""How far B of sound plain strings lies from the formula, sd of ln B: H. Fletcher (1964), as read in a secondary
survey, measured 4.44e-4 and 1.67e-3 where his formula gives 4.21e-4 and 1.77e-3 (5 and 6 %); B of a recorded grand
scatters by 3 to 5 % about a smooth curve (our measurement)."""
WOUND_MODEL_SD: Final = 0.10
"""The same for wound strings whose bare ends were measured (our reasoning: windings are uneven, cores are bent)."""
WOUND_MODEL_NO_BARE_SD: Final = 0.30
"""The same where they were not: B then comes out too low by an unknown amount (our reasoning)."""
HEXAGONAL_RATIO: Final = (5.0 * math.sqrt(3.0) / 144.0) / (math.pi / 64.0)
"""Second moment of area of a hexagonal core over that of a round one as thick as the hexagon is across its flats."""
_FALSE_ALARM: Final = 0.05
"""Share of pianos without a fault in which anything at all is called a disagreement, at most."""
_SEVERAL: Final = 2
_SHIFT_FEWEST: Final = 4
_SHIFT_GAIN: Final = 0.25
_JOINS_SE: Final = 1.0
"""Standard errors to one side from which neighbours are counted together."""
_LONGEST_BARE: Final = 0.25
_BARE_TOLERANCE_MM: Final = 0.01


class Cause(StrEnum):
    """What a disagreement may mean."""

    THICKER_WIRE = "thicker wire"
    THINNER_WIRE = "thinner wire"
    LENGTH = "another speaking length"
    ROWS_SHIFTED = "rows of the table one note off"
    HEXAGONAL_CORE = "hexagonal core"
    BARE_ENDS = "other bare ends"
    STIFF_WINDING = "winding clogged or rusted stiff"
    LOST_SECTION = "section lost to corrosion"
    REPLACED_COPY = "string replaced by a copy"
    HEARING = "heard from few partials or an uneven unison"


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """One possible meaning, with what it would take."""

    cause: Cause
    implied: Measured | None
    """What would explain the disagreement by itself: a diameter or length in mm, of `key`; or keys the rows are off."""
    implied_pct: Measured | None = None
    """By how many per cent every note of the disagreement would have to differ from what was entered."""
    key: int | None = None
    """The note whose diameter or length `implied` is; one figure in mm cannot fit several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteAgainstHearing:
    """B of one note from its dimensions and from its sound."""

    key: int
    predicted_b: Measured
    heard_b: Measured
    difference_pct: Measured
    """Heard over predicted, 100·ln of the ratio, with the uncertainty of the formula in its error."""
    model_pct: float
    """How far the formula itself may be off, one standard deviation."""
    is_beyond: bool
    """Whether it belongs to a disagreement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """One note or several neighbours whose sound does not fit their dimensions."""

    keys: tuple[int, ...]
    difference_pct: Measured
    """Mean of the notes, 100·ln of heard over predicted."""
    is_wound: bool
    meanings: tuple[Meaning, ...]
    """Likeliest first (our reasoning)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleAgainstHearing:
    """All notes of which both are known."""

    notes: tuple[NoteAgainstHearing, ...]
    disagreements: tuple[Disagreement, ...]
    common_pct: Mapping[str, Measured]
    """By kind of string, plain or wound: what all its notes differ by, 100·ln; the median with its error."""


def against_hearing(notes: Sequence[ScaleNote], heard_b: Mapping[int, Measured]) -> ScaleAgainstHearing:
    """Compare B predicted from dimensions with B heard.

    Neighbours of a section that differ to the same side by more than one standard error each count together. A note
    alone disagrees when it is farther off than any of all n notes would be by chance in 2.5 of 100 pianos, a run when
    its mean is farther off than that of any of the n(n - 1)/2 possible runs would be in as many (Bonferroni).

    Parameters
    ----------
    notes : sequence of ScaleNote
        Of a whole scale, at the pitch that was heard.
    heard_b : mapping of int to Measured
        B as heard, by key.

    Returns
    -------
    ScaleAgainstHearing
        Filled notes are compared, too: they only have larger errors.
    """
    pairs = [(note, heard_b[note.key]) for note in notes if note.key in heard_b and heard_b[note.key].value > 0]
    compared = [_compared(note, heard) for note, heard in pairs]
    if not compared:
        return ScaleAgainstHearing(notes=(), disagreements=(), common_pct={})
    n = len(compared)
    limits = tuple(float(ndtri(1.0 - _FALSE_ALARM / (4.0 * max(count, 1)))) for count in (n, n * (n - 1) // 2))
    scores = [one.difference_pct.value / one.difference_pct.se for one in compared]
    runs = [run for run in _runs([note for note, _ in pairs], scores) if _stands(run, scores, limits)]
    inside = {i for run in runs for i in run}
    by_kind: dict[str, list[float]] = {}
    for note, one in zip((note for note, _ in pairs), compared, strict=True):
        by_kind.setdefault("wound" if note.row.is_wound else "plain", []).append(one.difference_pct.value)
    return ScaleAgainstHearing(
        notes=tuple(
            NoteAgainstHearing(
                key=one.key,
                predicted_b=one.predicted_b,
                heard_b=one.heard_b,
                difference_pct=one.difference_pct,
                model_pct=one.model_pct,
                is_beyond=i in inside,
            )
            for i, one in enumerate(compared)
        ),
        disagreements=tuple(_disagreement(run, [note for note, _ in pairs], compared) for run in runs),
        common_pct={kind: _median(values) for kind, values in by_kind.items()},
    )


def _compared(note: ScaleNote, heard: Measured) -> NoteAgainstHearing:
    predicted = note.state.inharmonicity_b
    model = PLAIN_MODEL_SD
    if note.row.is_wound:
        model = WOUND_MODEL_NO_BARE_SD if note.row.dimensions.bare_mm is None else WOUND_MODEL_SD
    se = math.hypot(predicted.se / predicted.value, heard.se / heard.value, model)
    return NoteAgainstHearing(
        key=note.key,
        predicted_b=predicted,
        heard_b=heard,
        difference_pct=Measured(100.0 * math.log(heard.value / predicted.value), 100.0 * se),
        model_pct=100.0 * model,
        is_beyond=False,
    )


def _runs(notes: Sequence[ScaleNote], scores: Sequence[float]) -> list[list[int]]:
    """Return indices of neighbours of one section that differ to the same side beyond one standard error."""
    runs: list[list[int]] = []
    for i, score in enumerate(scores):
        if abs(score) <= _JOINS_SE:
            continue
        last = runs[-1][-1] if runs else None
        joins = (
            last == i - 1
            and last is not None
            and scores[last] * score > 0
            and notes[last].row.section == notes[i].row.section
        )
        if joins:
            runs[-1].append(i)
        else:
            runs.append([i])
    return runs


def _stands(run: Sequence[int], scores: Sequence[float], limits: Sequence[float]) -> bool:
    """Return whether a note alone or the mean of a run is beyond its limit."""
    return abs(sum(scores[i] for i in run)) / math.sqrt(len(run)) > limits[len(run) >= _SEVERAL]


def _median(values: Sequence[float]) -> Measured:
    figures = np.array(values)
    middle = float(np.median(figures))
    spread = 1.4826 * float(np.median(np.abs(figures - middle)))
    # The median of n normal values scatters by sqrt(π/2) times their mean's error.
    return Measured(middle, math.sqrt(math.pi / 2.0) * spread / math.sqrt(len(figures)))


def _disagreement(
    run: Sequence[int], notes: Sequence[ScaleNote], compared: Sequence[NoteAgainstHearing]
) -> Disagreement:
    differences = [compared[i].difference_pct for i in run]
    weights = np.array([one.se**-2 for one in differences])
    mean = Measured(
        float(weights @ [one.value for one in differences] / weights.sum()), float(1.0 / math.sqrt(weights.sum()))
    )
    members = [notes[i] for i in run]
    is_wound = members[0].row.is_wound
    meanings = _wound_meanings(members, mean) if is_wound else _plain_meanings(members, mean, notes, compared, run)
    return Disagreement(
        keys=tuple(note.key for note in members), difference_pct=mean, is_wound=is_wound, meanings=tuple(meanings)
    )


def _scaled(cause: Cause, members: Sequence[ScaleNote], entered_mm: float, mean: Measured, power: float) -> Meaning:
    """Return the dimension that explains a difference when B goes with its `power`: in mm for one note, else in %."""
    ratio = math.exp(mean.value / 100.0 / power)
    se = ratio * mean.se / 100.0 / abs(power)
    pct = Measured(100.0 * (ratio - 1.0), 100.0 * se)
    if len(members) > 1:
        return Meaning(cause=cause, implied=None, implied_pct=pct)
    implied = Measured(entered_mm * ratio, entered_mm * se)
    return Meaning(cause=cause, implied=implied, implied_pct=pct, key=members[0].key)


def _plain_meanings(
    members: Sequence[ScaleNote],
    mean: Measured,
    notes: Sequence[ScaleNote],
    compared: Sequence[NoteAgainstHearing],
    run: Sequence[int],
) -> list[Meaning]:
    """Return what may be meant where B goes as d²/L⁴ at a given pitch."""
    entered = members[0].row.dimensions
    thicker = Cause.THICKER_WIRE if mean.value > 0 else Cause.THINNER_WIRE
    wire = _scaled(thicker, members, entered.core_diameter_mm.value, mean, 2.0)
    length = _scaled(Cause.LENGTH, members, entered.length_mm.value, mean, -4.0)
    lost = [replace(wire, cause=Cause.LOST_SECTION)] if mean.value < 0 else []
    hearing = Meaning(cause=Cause.HEARING, implied=None)
    if len(members) < _SEVERAL:
        return [wire, *lost, length, hearing]
    shift = _rows_off(notes, compared, run)
    rows = [] if shift is None else [Meaning(cause=Cause.ROWS_SHIFTED, implied=Measured(float(shift), 0.0))]
    return [*rows, wire, *lost, length, hearing]


def _rows_off(notes: Sequence[ScaleNote], compared: Sequence[NoteAgainstHearing], run: Sequence[int]) -> int | None:
    """Return by how many keys the rows must move for the run to fit, where one key does it."""
    if len(run) < _SHIFT_FEWEST:
        return None
    by_key = {note.key: note.row.dimensions for note in notes if not note.row.is_wound}
    for shift in (-1, 1):
        inside = [i for i in run if compared[i].key + shift in by_key]
        if len(inside) < max(_SHIFT_FEWEST, len(run) - 1):
            continue
        own = sum((compared[i].difference_pct.value / compared[i].difference_pct.se) ** 2 for i in inside)
        left = 0.0
        for i in inside:
            here, there = by_key[compared[i].key], by_key[compared[i].key + shift]
            moved = 200.0 * math.log(there.core_diameter_mm.value / here.core_diameter_mm.value)
            moved -= 400.0 * math.log(there.length_mm.value / here.length_mm.value)
            left += ((compared[i].difference_pct.value - moved) / compared[i].difference_pct.se) ** 2
        if left < _SHIFT_GAIN * own:
            return shift
    return None


def _wound_meanings(members: Sequence[ScaleNote], mean: Measured) -> list[Meaning]:
    """Return what may be meant where the core alone bends and bare ends add to B."""
    middle = members[len(members) // 2]
    dimensions = middle.row.dimensions
    copy = _scaled(Cause.REPLACED_COPY, members, dimensions.core_diameter_mm.value, mean, 4.0)
    length = _scaled(Cause.LENGTH, members, dimensions.length_mm.value, mean, -4.0)
    bare_mm = _bare_ends_mm(middle, mean)
    bare = Meaning(cause=Cause.BARE_ENDS, implied=bare_mm, key=None if bare_mm is None else middle.key)
    hexagonal = 100.0 * math.log(HEXAGONAL_RATIO)
    fits_hexagon = not dimensions.is_hexagonal and abs(mean.value - hexagonal) <= mean.half_width
    hearing = Meaning(cause=Cause.HEARING, implied=None)
    if mean.value > 0:
        several = [Meaning(cause=Cause.HEXAGONAL_CORE, implied=None)] if fits_hexagon else []
        stiff = Meaning(cause=Cause.STIFF_WINDING, implied=None)
        if len(members) < _SEVERAL:
            return [copy, bare, stiff, *several, length, hearing]
        return [*several, bare, stiff, replace(copy, cause=Cause.THICKER_WIRE), length, hearing]
    lost = replace(copy, cause=Cause.LOST_SECTION)
    if len(members) < _SEVERAL:
        return [copy, lost, bare, length, hearing]
    return [replace(copy, cause=Cause.THINNER_WIRE), lost, bare, length, hearing]


def _bare_ends_mm(note: ScaleNote, mean: Measured) -> Measured | None:
    """Return the bare end, alike on both sides, that explains a difference; ``None`` where none up to a quarter can."""
    dimensions = note.row.dimensions
    wanted = note.state.inharmonicity_b.value * math.exp(mean.value / 100.0)

    def excess(end_mm: float) -> float:
        bare = (Measured(end_mm, 0.0), Measured(end_mm, 0.0))
        string = exact_but_for_the_ends(replace(dimensions, bare_mm=bare))
        return math.log(carried_string(string, f0_hz=note.row.f0_hz.value).measured("inharmonicity_b").value / wanted)

    longest = _LONGEST_BARE * dimensions.length_mm.value
    if excess(0.0) > 0 or excess(longest) < 0:
        return None
    figure = float(brentq(excess, 0.0, longest, xtol=_BARE_TOLERANCE_MM))
    slope = (excess(figure + 1.0) - excess(max(figure - 1.0, 0.0))) / (1.0 + min(figure, 1.0))
    return Measured(figure, mean.se / 100.0 / slope) if slope > 0 else None
