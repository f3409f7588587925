"""How even a piano is over its keyboard, and what stands out: evidence in numbers, with what it rests on.

A note *stands out* when it departs from the trend of its neighbours by more than the error of measurement, the error of
the trend and the scatter of a well-kept piano explain together (`evenness_fit` finds notes and runs, with the number
of looks accounted for). Where the strings change (the break, a change of gauge, winding or number of strings) every
measure may step; each step is judged by itself (`evenness_steps`). Nothing here names a cause.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_areas import find_areas
from strikeline.acoustics.evenness_fit import MIN_NOTES, find_break
from strikeline.acoustics.evenness_judging import (
    Judging,
    count_values,
    in_deviation_unit,
    judge_quantity,
    judged,
    series_of,
)
from strikeline.acoustics.evenness_pitch import own_stretch, pitch_level
from strikeline.acoustics.evenness_quantities import INHARMONICITY, PITCH, QUANTITIES, Quantity
from strikeline.acoustics.evenness_result import (
    WHOLE_RANGE_NOTES,
    Area,
    Break,
    ChangeVerdict,
    Evenness,
    NoteEvenness,
    PitchLevel,
    QuantityEvenness,
    ScaleStep,
    SectionTrend,
    Standout,
    StepVerdict,
    Sureness,
)
from strikeline.acoustics.evenness_scale import (
    BREAK_CANDIDATES,
    LONGEST_FAULT,
    ChangeKind,
    ChangePoint,
    KnownScale,
    Section,
    change_points,
    sections,
    winding_end,
)
from strikeline.acoustics.evenness_sections import section_trends
from strikeline.acoustics.evenness_steps import SIGNIFICANT, judge_change, judge_steps
from strikeline.acoustics.listening import Listening, Note
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY
from strikeline.physics.stretch import typical_inharmonicity_b

__all__ = [
    "WHOLE_RANGE_NOTES",
    "Area",
    "Break",
    "ChangeKind",
    "ChangePoint",
    "ChangeVerdict",
    "Evenness",
    "KnownScale",
    "NoteEvenness",
    "PitchLevel",
    "QuantityEvenness",
    "ScaleStep",
    "Section",
    "SectionTrend",
    "Standout",
    "StepVerdict",
    "Sureness",
    "in_deviation_unit",
    "judge_evenness",
    "judged",
]

_SCALE_ROUNDS: Final = 3
"""Each round may find further changes in B beside those found before."""


def judge_evenness(listening: Listening, *, known: KnownScale | None = None) -> Evenness:
    """Judge how even a piano is, from one listening.

    Parameters
    ----------
    listening : Listening
        Any number of notes; a quantity with fewer than 12 values is left unjudged.
    known : KnownScale, optional
        What is known of the strings from looking at them; what is left out is sought in the sound.

    Returns
    -------
    Evenness
        Trend, residuals and standouts of each quantity, areas, the break and other changes of the strings with the
        step of each measure there, the pitch level and the natural stretch.
    """
    notes = listening.best_by_key()
    compass = listening.recording.compass
    bounds = [*notes] if compass is None else [*notes, compass.lowest, compass.highest]
    low, high = min(bounds, default=LOWEST_KEY), max(bounds, default=HIGHEST_KEY)
    view = _View(
        notes=notes,
        n_looks=max(1, sum(count_values(notes, quantity) >= MIN_NOTES for quantity in QUANTITIES)),
        typical_log_b={key: float(np.log(typical_inharmonicity_b(key))) for key in range(LOWEST_KEY, HIGHEST_KEY + 1)},
    )
    changes, b_judging = view.find_scale(known or KnownScale())
    keys = np.arange(low, high + 1.0)
    cents, is_own = own_stretch(keys, b_judging.evenness)
    stretch = dict(zip(keys.astype(int).tolist(), cents.tolist(), strict=True))
    first = [
        b_judging
        if quantity is INHARMONICITY
        else view.judge(quantity, changes, base=stretch if quantity is PITCH else None)
        for quantity in QUANTITIES
    ]
    views = [judging.judged for judging in first]
    steps = judge_steps(views, changes)
    parts = sections(changes, lowest=low, highest=high)
    quantities = tuple(
        _finished(view.judge_again(judging, changes, steps, stretch).evenness, steps, parts) for judging in first
    )
    scale_break = next((change for change in changes if change.kind is ChangeKind.BREAK), None)
    return Evenness(
        quantities=quantities,
        scale_break=None
        if scale_break is None
        else Break(after_key=scale_break.after_key, p_false=scale_break.p_false),
        pitch_level=pitch_level(notes, stretch),
        stretch_keys=keys,
        stretch_cents=cents,
        stretch_is_own=is_own,
        change_points=changes,
        steps=steps,
        change_verdicts=tuple(judge_change(change, steps, views) for change in changes),
        areas=find_areas(quantities),
    )


def _finished(one: QuantityEvenness, steps: Sequence[ScaleStep], parts: Sequence[Section]) -> QuantityEvenness:
    """Return one quantity with its step at the break and its run through the sections."""
    at_break = (s.step for s in steps if s.quantity is one.quantity and s.change.kind is ChangeKind.BREAK)
    return replace(one, step=next(at_break, None), sections=section_trends(one.notes, one.quantity, parts))


def _main_change(changes: Sequence[ChangePoint]) -> ChangePoint | None:
    """Return where the trend may step and bend: the break, or else the end of the wound strings."""
    for kind in (ChangeKind.BREAK, ChangeKind.WINDING):
        for change in changes:
            if change.kind is kind:
                return change
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """The notes of one listening and how they are looked at."""

    notes: Mapping[int, Note]
    n_looks: int
    typical_log_b: Mapping[int, float]
    """Taken off ln B first: its bend in the tenor would else look like a step."""

    def judge(
        self,
        quantity: Quantity,
        changes: Sequence[ChangePoint],
        *,
        base: Mapping[int, float] | None,
        stepping: Sequence[ChangePoint] = (),
    ) -> Judging:
        main = _main_change(changes)
        return judge_quantity(
            self.notes,
            quantity,
            break_after=None if main is None else float(main.after_key),
            steps_after=[float(change.after_key) for change in stepping if change is not main],
            n_looks=self.n_looks,
            base=base,
        )

    def find_scale(self, known: KnownScale) -> tuple[tuple[ChangePoint, ...], Judging]:
        """Return all changes of the scale, and B judged beside them.

        A run of B too long for faulty strings is a stretch of other strings: its ends are changes of the scale, and B
        is judged again with steps there.
        """
        series = series_of(self.notes, INHARMONICITY, base=self.typical_log_b)
        the_break = None if series is None else find_break(series, candidates=BREAK_CANDIDATES)
        winding = winding_end(self.notes)
        in_b: list[tuple[int, float]] = []
        for _ in range(_SCALE_ROUNDS):
            changes = change_points(break_after=the_break, winding=winding, in_b=in_b, known=known)
            judging = self.judge(INHARMONICITY, changes, base=self.typical_log_b, stepping=changes)
            runs = [r for r in judging.evenness.standouts if r.n_notes > LONGEST_FAULT and r.p_false <= SIGNIFICANT]
            ends = [(end, run.p_false) for run in runs for end in (run.first_key - 1, run.last_key)]
            inside = [(end, p) for end, p in ends if self._is_inside(end)]
            if not inside:
                break
            in_b += inside
        return changes, _without_long_runs(judging)

    def _is_inside(self, after: int) -> bool:
        keys = [key for key, note in self.notes.items() if judged(note, INHARMONICITY) is not None]
        return sum(key <= after for key in keys) > LONGEST_FAULT and sum(key > after for key in keys) > LONGEST_FAULT

    def judge_again(
        self,
        judging: Judging,
        changes: Sequence[ChangePoint],
        steps: Sequence[ScaleStep],
        stretch: Mapping[int, float],
    ) -> Judging:
        """Return the quantity judged with steps where it steps: notes beyond a step do not leave their neighbours."""
        quantity, main = judging.evenness.quantity, _main_change(changes)
        stepping = [
            step.change
            for step in steps
            if step.quantity is quantity
            and step.change is not main
            and step.p_value is not None
            and step.p_value <= SIGNIFICANT
        ]
        if quantity is INHARMONICITY or not stepping:
            return judging
        return self.judge(quantity, changes, base=stretch if quantity is PITCH else None, stepping=stepping)


def _without_long_runs(judging: Judging) -> Judging:
    """Return B without runs that are changes of the scale, not notes that stand out."""
    left = tuple(run for run in judging.evenness.standouts if run.n_notes <= LONGEST_FAULT)
    kept = {key for run in left for key in range(run.first_key, run.last_key + 1)}
    notes = tuple(replace(note, stands_out=note.key in kept) for note in judging.evenness.notes)
    return replace(judging, evenness=replace(judging.evenness, standouts=left, notes=notes))
