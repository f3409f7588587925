"""Each measure at each change of the scale: how far it steps, whether chance explains it, whether it is heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_jump import FEWEST, Jump, estimate_jump
from strikeline.acoustics.evenness_model import Series
from strikeline.acoustics.evenness_quantities import INHARMONICITY, SINGING, SUSTAIN, Quantity
from strikeline.acoustics.evenness_result import ChangeVerdict, ScaleStep, StepVerdict
from strikeline.acoustics.evenness_scale import ChangePoint
from strikeline.acoustics.tails import chi2_tail, normal_quantile_above, ranks
from strikeline.measured import Measured

SIGNIFICANT: Final = 0.05
"""Chance up to which a step counts as one: the false alarms allowed for one measure at one change."""

_FEWEST_IN_COMMON: Final = 20
_DOUBT: Final = 0.1
"""How far correlations are drawn to 0: those of a few dozen notes are known to about so much."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One quantity as it is judged."""

    quantity: Quantity
    series: Series | None
    """Values less the trend that is known beforehand; ``None`` with too few."""
    shifted: tuple[tuple[float, float], ...] = ()
    """First and last keys of long runs that stand out for sure."""


def judge_steps(judged: Sequence[Judged], changes: Sequence[ChangePoint]) -> tuple[ScaleStep, ...]:
    """Return the step of each quantity at each change of the scale.

    Parameters
    ----------
    judged : sequence of Judged
        The quantities.
    changes : sequence of ChangePoint
        Where the scale changes.
    """
    steps = [_step(one, change, changes) for change in changes for one in judged]
    return _holm(steps)


def _step(one: Judged, change: ChangePoint, changes: Sequence[ChangePoint]) -> ScaleStep:
    jump = None
    if one.series is not None:
        others = [float(other.after_key) for other in changes if other is not change]
        jump = estimate_jump(
            one.series,
            after=float(change.after_key),
            others=others,
            shifted=one.shifted,
            is_of_strings=one.quantity is INHARMONICITY,
        )
    if jump is None:
        reason = f"fewer than {FEWEST} notes with a value on one side, or none next to the change"
        return ScaleStep(
            change=change,
            quantity=one.quantity,
            step=None,
            scatter=None,
            p_value=None,
            p_sheet=None,
            verdict=StepVerdict.CANNOT_TELL,
            reason=reason,
        )
    step = in_plain_unit(jump.size, one.quantity)
    # The place of a change that was found is where B steps most: there B's own chance is that of the whole search.
    searched = one.quantity is INHARMONICITY and not change.is_given
    p_value = max(jump.p_value, change.p_false) if searched else jump.p_value
    return ScaleStep(
        change=change,
        quantity=one.quantity,
        step=step,
        scatter=_scatter(jump, one.quantity),
        p_value=p_value,
        p_sheet=None,
        verdict=_verdict(step, p_value, one.quantity),
    )


def in_plain_unit(measured: Measured, quantity: Quantity) -> Measured:
    """Return a difference on the judged scale in ``quantity.deviation_unit``: per cent for logarithms."""
    if not quantity.is_log:
        return measured
    ratio = float(np.exp(measured.value))
    return Measured(100.0 * (ratio - 1.0), 100.0 * ratio * measured.se)


def _scatter(jump: Jump, quantity: Quantity) -> float:
    return 100.0 * float(np.expm1(jump.scatter)) if quantity.is_log else jump.scatter


def _verdict(step: Measured, p_value: float, quantity: Quantity) -> StepVerdict:
    if p_value > SIGNIFICANT:
        return StepVerdict.NONE
    if quantity.audible is None:
        return StepVerdict.MEASURED
    return StepVerdict.HEARD if quantity.audible.reached_by(step.value) else StepVerdict.TOO_SMALL


def _holm(steps: Sequence[ScaleStep]) -> tuple[ScaleStep, ...]:
    """Fill in `ScaleStep.p_sheet`: each chance times the number of those as large or larger, never falling."""
    told = sorted((step.p_value, i) for i, step in enumerate(steps) if step.p_value is not None)
    sheet: dict[int, float] = {}
    largest = 0.0
    for rank, (p_value, i) in enumerate(told):
        largest = max(largest, min(1.0, p_value * (len(told) - rank)))
        sheet[i] = largest
    return tuple(replace(step, p_sheet=sheet.get(i)) for i, step in enumerate(steps))


def judge_change(change: ChangePoint, steps: Sequence[ScaleStep], judged: Sequence[Judged]) -> ChangeVerdict:
    """Return whether a listener hears a change of the scale, all measures taken together.

    Parameters
    ----------
    change : ChangePoint
        The change.
    steps : sequence of ScaleStep
        From `judge_steps`; measures without a known threshold of hearing are left out, and the sustain where the
        singing tells the same.
    judged : sequence of Judged
        The quantities, from which it is seen how far they go together from note to note.
    """
    told = {
        step.quantity.field: step
        for step in steps
        if step.change is change and step.quantity.audible is not None and step.p_value is not None
    }
    if SINGING.field in told:
        told.pop(SUSTAIN.field, None)
    if not told:
        return ChangeVerdict(change=change, verdict=StepVerdict.CANNOT_TELL, p_value=None, heard_in=())
    series = {one.quantity.field: one.series for one in judged if one.series is not None}
    p_value = _combined(list(told.values()), [series[field] for field in told])
    heard = tuple(step.quantity for step in told.values() if step.verdict is StepVerdict.HEARD)
    if p_value > SIGNIFICANT:
        return ChangeVerdict(change=change, verdict=StepVerdict.NONE, p_value=p_value, heard_in=())
    is_loud = any(step.is_audible for step in told.values())
    verdict = StepVerdict.HEARD if is_loud else StepVerdict.TOO_SMALL
    return ChangeVerdict(change=change, verdict=verdict, p_value=p_value, heard_in=heard)


def _combined(steps: Sequence[ScaleStep], series: Sequence[Series]) -> float:
    """Return the chance of such steps together: z R^-1 z against chi-squared, R being how the measures go together."""
    sizes = [0.0 if step.step is None else step.step.value for step in steps]
    chances = [1.0 if step.p_value is None else max(step.p_value, 1e-15) for step in steps]
    z = np.sign(sizes) * normal_quantile_above(np.array(chances) / 2.0)
    together = np.eye(z.size)
    for i in range(z.size):
        for j in range(i):
            together[i, j] = together[j, i] = (1.0 - _DOUBT) * _correlation(series[i], series[j])
    return float(chi2_tail(float(z @ np.linalg.solve(together, z)), z.size))


def _correlation(one: Series, other: Series) -> float:
    """Return the correlation of two measures from note to note: of their differences between neighbours, by rank.

    For normal values Pearson's correlation is 2 sin(pi/6 of Spearman's).
    """
    common = np.intersect1d(one.keys, other.keys)
    if common.size < _FEWEST_IN_COMMON:
        return 0.0
    a = np.diff(one.values[np.isin(one.keys, common)])
    b = np.diff(other.values[np.isin(other.keys, common)])
    return float(2.0 * np.sin(np.pi / 6.0 * np.corrcoef(ranks(a), ranks(b))[0, 1]))
