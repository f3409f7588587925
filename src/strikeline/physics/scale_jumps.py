"""Where a scale jumps: at the break, where winding begins, at each change of gauge; and how its neighbours scatter."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.special import stdtrit

from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.gauge_steps import HALF_NUMBER_MM
from strikeline.physics.scale import ScaleNote

ONE_GAUGE_MM: Final = 0.6 * HALF_NUMBER_MM
"""Diameters closer than this are taken as one gauge: a little more than half a step of half a number."""
_WINDOW: Final = 4
"""Measured notes on either side that a jump is judged by (our choice)."""
_WINDOW_KEYS: Final = 8
_FEWEST_A_SIDE: Final = 2
_FEWEST_SPARE: Final = 2


class JumpKind(StrEnum):
    """Where a jump lies."""

    BREAK = "break"
    WINDING = "change of winding"
    GAUGE = "change of gauge"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How far one quantity steps going up over a change, beyond the line through the notes on either side."""

    step_pct: Measured
    """In per cent of the quantity; of the breaking share in its own per cent."""
    scatter_pct: float
    """Standard deviation of a neighbour about the lines."""

    @property
    def is_beyond_scatter(self) -> bool:
        """Whether the step is larger than what the scatter of the neighbours explains."""
        return self.step_pct.differs_from(0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleJump:
    """One place where the scale changes."""

    kind: JumpKind
    after_key: int
    """Highest note below the change; the change is just above it, or on the way to `before_key`."""
    before_key: int
    """Lowest note above the change: the next measured one."""
    diameter_mm: tuple[float, float]
    """Wire or core of the two notes."""
    tension: Step | None
    inharmonicity: Step | None
    impedance: Step | None
    breaking_share: Step | None
    why_not: str | None = None
    """Why the steps cannot be told, where they cannot."""


def scale_jumps(
    notes: Sequence[ScaleNote], *, break_after: int | None, without: Collection[int] = ()
) -> tuple[ScaleJump, ...]:
    """Return every place where the scale changes, with the step of each quantity.

    Up to four measured notes of the section on either side carry straight lines over the keys (of one slope at changes
    of gauge and winding, of two at the break); the step is what lies between them at the change. Its error comes from
    their scatter, in which other changes of gauge near by count, too, widened by Student's t; where all wire of a side
    has one entered diameter, the error of that one reading is added, for the scatter cannot show it. Filled notes are
    no evidence and are left out.

    Parameters
    ----------
    notes : sequence of ScaleNote
        Of a whole scale, ascending by key.
    break_after : int or None
        Highest key below the break.
    without : collection of int
        Keys that are left out as odd ones, such as a wire of the wrong gauge.

    Returns
    -------
    tuple of ScaleJump
        Ascending by key.
    """
    known = [note for note in notes if not note.row.filled and note.key not in without]
    runs = _runs(known)
    jumps = []
    for below, above in itertools.pairwise(runs):
        last, first = below[-1], above[0]
        jumps.append(
            _jump(
                _kind(last, first, break_after),
                _window([n for n in known[::-1] if n.key <= last.key and n.row.section == last.row.section], last.key),
                _window([n for n in known if n.key >= first.key and n.row.section == first.row.section], first.key),
            )
        )
    return tuple(jumps)


def _runs(notes: Sequence[ScaleNote]) -> list[list[ScaleNote]]:
    """Return notes in runs of one section and one gauge."""
    runs: list[list[ScaleNote]] = []
    for note in notes:
        diameter = note.row.dimensions.core_diameter_mm.value
        if runs and runs[-1][0].row.section == note.row.section:
            middle = float(np.mean([one.row.dimensions.core_diameter_mm.value for one in runs[-1]]))
            if abs(diameter - middle) <= ONE_GAUGE_MM:
                runs[-1].append(note)
                continue
        runs.append([note])
    return runs


def _kind(below: ScaleNote, above: ScaleNote, break_after: int | None) -> JumpKind:
    if below.row.section.name != above.row.section.name and (
        break_after is None or below.key <= break_after < above.key
    ):
        return JumpKind.BREAK
    return JumpKind.WINDING if below.row.section.kind != above.row.section.kind else JumpKind.GAUGE


def _window(notes: Sequence[ScaleNote], edge: int) -> list[ScaleNote]:
    near = [note for note in notes if abs(note.key - edge) <= _WINDOW_KEYS]
    return sorted(near[:_WINDOW], key=lambda note: note.key)


def _jump(kind: JumpKind, below: Sequence[ScaleNote], above: Sequence[ScaleNote]) -> ScaleJump:
    lines = 2 if kind is JumpKind.BREAK else 1
    steps: list[Step | None] = [None] * 4
    why = None
    if min(len(below), len(above)) < _FEWEST_A_SIDE or len(below) + len(above) < 2 + lines + _FEWEST_SPARE:
        why = "too few measured notes of the section on either side"
    else:
        steps = [_step(read, below, above, n_slopes=lines) for read in _QUANTITIES]
    return ScaleJump(
        kind=kind,
        after_key=below[-1].key,
        before_key=above[0].key,
        diameter_mm=(_diameter(below[-1]), _diameter(above[0])),
        tension=steps[0],
        inharmonicity=steps[1],
        impedance=steps[2],
        breaking_share=steps[3],
        why_not=why,
    )


def _diameter(note: ScaleNote) -> float:
    return note.row.dimensions.core_diameter_mm.value


_Read = Callable[[ScaleNote], tuple[float, float] | None]


def _log(one: Measured) -> tuple[float, float]:
    return 100.0 * math.log(one.value), 100.0 * one.se / one.value


def _share(note: ScaleNote) -> tuple[float, float] | None:
    share = note.state.breaking_share
    # The strength of the wire is the same on both sides, so that its error makes no step.
    return None if share is None else (100.0 * share.value, 0.0)


_QUANTITIES: Final[tuple[_Read, ...]] = (
    lambda note: _log(note.state.tension_n),
    lambda note: _log(note.state.inharmonicity_b),
    lambda note: _log(note.state.impedance_kg_per_s),
    _share,
)


def _step(read: _Read, below: Sequence[ScaleNote], above: Sequence[ScaleNote], *, n_slopes: int) -> Step | None:
    """Return the step of one quantity between the lines on either side."""
    pairs = [(note, read(note)) for note in (*below, *above)]
    if any(pair is None for _, pair in pairs):
        return None
    values = np.array([pair[0] for _, pair in pairs if pair is not None])
    edge = (below[-1].key + above[0].key) / 2.0
    is_above = np.array([note.key > edge for note, _ in pairs], dtype=np.float64)
    place = np.array([note.key - edge for note, _ in pairs])
    slopes = [place] if n_slopes == 1 else [place * (1.0 - is_above), place * is_above]
    design = np.stack([np.ones_like(place), is_above, *slopes], axis=1)
    coefficient = np.linalg.lstsq(design, values, rcond=None)[0]
    residual = values - design @ coefficient
    freedom = len(values) - design.shape[1]
    scatter = math.sqrt(float(residual @ residual) / freedom)
    widened = float(stdtrit(freedom, 0.975)) / HALF_WIDTHS_PER_SE
    own = scatter * widened * math.sqrt(np.linalg.inv(design.T @ design)[1, 1])
    readings = [_one_reading(side, read) for side in (below, above)]
    return Step(step_pct=Measured(float(coefficient[1]), math.hypot(own, *readings)), scatter_pct=scatter)


def _one_reading(side: Sequence[ScaleNote], read: _Read) -> float:
    """Return the error that the notes of a side share because all their wire has one entered diameter."""
    diameters = {note.row.dimensions.core_diameter_mm for note in side}
    pairs = [pair for note in side if (pair := read(note)) is not None]
    return float(np.median([se for _, se in pairs])) if len(diameters) == 1 else 0.0
