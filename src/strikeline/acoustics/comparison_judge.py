"""Which differences are more than repeatability: the judgement of one quantity, note by note and run by run.

Two ways, according to what else moves the quantity.

*By scatter.* Microphone, room and blow move brightness, levels and decay of every note, each by its own amount. What
all notes share smoothly is taken off, and a note or run stands out by the scatter of all others (`evenness_fit`, which
leaves a minority that truly changed aside and bounds the chance of a false alarm over all notes, runs and quantities).
Where the same notes were played again, the scatter starts from what was measured there.

*By errors.* Neither microphone nor blow moves the strings: pitch and inharmonicity are judged by their own standard
errors, so that a piano in which every note was tuned is found changed in every note.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_differences import Differences
from strikeline.acoustics.comparison_quantities import ComparedQuantity
from strikeline.acoustics.comparison_result import Basis, Change, NoteDifference, QuantityComparison
from strikeline.acoustics.evenness_fit import MIN_NOTES, fit_trend
from strikeline.acoustics.evenness_model import Series
from strikeline.acoustics.tails import chi2_tail, student_tail
from strikeline.measured import Measured

Real = NDArray[np.float64]

CHANGED_CHANCE: Final = 0.01
"""A change is named up to this bound on the chance that an unchanged piano shows it; over all that is looked at, the
verdict 'no change' is then kept in 95 of 100 with room to spare for scatter that is not normal."""
HINT_CHANCE: Final = 0.1
FEWEST_REPEATS: Final = 8
"""Fewer repeated notes do not tell a scatter to better than a third."""
_TAIL_DOF: Final = 20
"""As in `evenness_fit`: errors of real notes have heavier tails than the normal distribution."""
_LEAST_RATIO: Final = 0.3
"""Repeats that agree better than this by chance do not make an error smaller still."""
_BENT_CHANCE: Final = 0.01
_LEAST_BEND: Final = 0.5
"""Decibels per octave: smaller bends are what is left of the unevenness of a hand (generated pianos)."""
_MOST_DEGREE: Final = 3
"""Of the polynomial along the keyboard that takes off what all notes share smoothly."""
_DRIFT_KEYS: Final = 3.0
_COMMON_SE: Final = 4.0
"""Standard errors from which what all notes share is called a change, if neither microphone nor blow can make it."""
_LEAST_COMMON: Final = {compared.PITCH.name: 0.5, compared.INHARMONICITY.name: 0.01}
"""Below, it is none: clocks of recorders are off by 0.2 cents, and B by its own errors."""
_HUBER: Final = 1.5
_NEIGHBOUR_KEYS: Final = 5
_SLOPE_RELATIVE_SE: Final = 0.3
"""How far one note's gain in brightness for a decibel departs from that of the others: 0.25 of 0.9 semitones per
decibel on the recordings behind `brightness`."""
_MAD_TO_SD: Final = 1.4826
_MEDIAN_SE: Final = 1.2533
_OUTER_CLIP: Final = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """How far repeated blows on the same notes differ in one quantity."""

    ratio: float
    """Their scatter over the expected standard deviation of each."""
    n: int


def measure_repeats(differences: Differences) -> Repeats | None:
    """Return how far repeated notes differ, over what is expected; ``None`` from fewer than 8 notes.

    Parameters
    ----------
    differences : Differences
        Of the same notes played again on an unchanged piano.
    """
    if differences.keys.size < FEWEST_REPEATS:
        return None
    z = (differences.change - np.median(differences.change)) / differences.sigma
    # Most notes repeat well and a few badly (beats): the wider of what half of them and what 95 of 100 show counts.
    return Repeats(ratio=max(_robust_sd(z), float(np.quantile(np.abs(z), 0.95)) / 1.96), n=z.size)


def judge(differences: Differences, *, repeats: Repeats | None, n_looks: int) -> QuantityComparison:
    """Judge one quantity.

    Parameters
    ----------
    differences : Differences
        Of the notes that can be compared.
    repeats : Repeats or None
        From repeated notes, where there are enough of them.
    n_looks : int
        Number of quantities that are judged in the same comparison.
    """
    if differences.keys.size == 0:
        return left_out(differences, "no note has a value in both recordings")
    if differences.quantity.is_of_strings:
        return _judge_by_errors(differences, repeats, n_looks)
    if differences.keys.size < MIN_NOTES:
        few = f"{differences.keys.size} notes are too few to tell a change from the microphone: {MIN_NOTES} are needed"
        return left_out(differences, few)
    return _judge_by_scatter(differences, repeats, n_looks)


def left_out(differences: Differences, why: str) -> QuantityComparison:
    """Return a quantity that is shown but not judged.

    Parameters
    ----------
    differences : Differences
        What there is of it.
    why : str
        Why it is not judged.
    """
    keys = differences.keys
    shared = float(np.median(differences.change)) if keys.size else 0.0
    return QuantityComparison(
        quantity=differences.quantity,
        basis=Basis.SCATTER,
        notes=_notes(differences, np.full(keys.size, shared), differences.sigma, {}),
        common=None,
        repeatability=None,
        n_repeats=0,
        scatter_ratio=None,
        changes=(),
        hints=(),
        is_common_changed=False,
        why_not=why,
    )


def _judge_by_errors(differences: Differences, repeats: Repeats | None, n_looks: int) -> QuantityComparison:
    quantity, n = differences.quantity, differences.keys.size
    is_shared = quantity.name in _LEAST_COMMON
    middle = _weighted_median(differences.change, 1.0 / differences.sigma**2)
    shared = middle if is_shared else 0.0
    spread = _robust_sd((differences.change - middle) / differences.sigma) if n >= MIN_NOTES else 1.0
    factor = 1.0 if repeats is None else max(_LEAST_RATIO, repeats.ratio)
    sigma = factor * differences.sigma
    z = (differences.change - shared) / sigma
    chance = np.minimum(1.0, 2.0 * student_tail(np.abs(z), _TAIL_DOF) * n * n_looks)
    common = Measured(middle, _MEDIAN_SE * float(np.median(sigma)) * max(1.0, spread / factor) / float(np.sqrt(n)))
    runs = [_run_change(differences, first, last, chance, sigma, shared) for first, last in _runs(z, chance)]
    return QuantityComparison(
        quantity=quantity,
        basis=Basis.ERRORS if repeats is None else Basis.REPEATED,
        notes=_notes(differences, np.full(n, shared), sigma, dict(enumerate(chance.tolist()))),
        common=_shown(common, quantity),
        repeatability=_scale(quantity) * float(np.median(sigma)),
        n_repeats=0 if repeats is None else repeats.n,
        scatter_ratio=None if repeats is None else spread / factor,
        changes=tuple(run for run in runs if run.p_false <= CHANGED_CHANCE),
        hints=tuple(run for run in runs if run.p_false > CHANGED_CHANCE),
        is_common_changed=is_shared
        and abs(middle) > max(_LEAST_COMMON[quantity.name], _COMMON_SE * common.se)
        and n > 1,
    )


def _runs(z: Real, chance: Real) -> list[tuple[int, int]]:
    """Return first and last index of each run of notes that differ the same way and equally surely, from a hint on."""
    grade = np.where(chance <= CHANGED_CHANCE, 2, np.where(chance <= HINT_CHANCE, 1, 0)) * np.sign(z)
    runs, first = [], 0
    for i in range(1, z.size + 1):
        if i == z.size or grade[i] != grade[first]:
            if grade[first] != 0:
                runs.append((first, i - 1))
            first = i
    return runs


def _run_change(differences: Differences, first: int, last: int, chance: Real, sigma: Real, shared: float) -> Change:
    part = slice(first, last + 1)
    mean = Measured(
        float(np.mean(differences.change[part])) - shared, float(np.sqrt(np.sum(sigma[part] ** 2))) / (last + 1 - first)
    )
    return _change(differences, first, last, mean, float(chance[part].min()))


def _change(differences: Differences, first: int, last: int, mean: Measured, p_false: float) -> Change:
    part = slice(first, last + 1)
    return Change(
        quantity=differences.quantity,
        first_key=int(differences.keys[first]),
        last_key=int(differences.keys[last]),
        n_notes=last + 1 - first,
        before=float(np.median(differences.before[part])),
        after=float(np.median(differences.after[part])),
        change=_shown(mean, differences.quantity),
        p_false=p_false,
    )


def _judge_by_scatter(differences: Differences, repeats: Repeats | None, n_looks: int) -> QuantityComparison:
    quantity = differences.quantity
    ratio = 1.0 if repeats is None else max(repeats.ratio, _LEAST_RATIO)
    start = replace(differences, base=ratio * differences.base, se=ratio * differences.se)
    fit = fit_trend(_series(start), break_after=None, n_looks=n_looks)
    at = (differences.keys - fit.grid_keys[0]).astype(int)
    trend = fit.trend[at]
    sigma = np.hypot(np.hypot(start.se, fit.scale * start.base), fit.trend_se[at])
    middle = float(np.median(differences.change))
    common = Measured(middle, _MEDIAN_SE * float(np.median(sigma)) / float(np.sqrt(differences.keys.size)))
    chances = {i: shift.p_false for shift in fit.shifts for i in range(shift.first, shift.last + 1)}
    found = [
        _change(differences, shift.first, shift.last, Measured(shift.effect, shift.se), shift.p_false)
        for shift in fit.shifts
    ]
    return QuantityComparison(
        quantity=quantity,
        basis=Basis.SCATTER if repeats is None else Basis.REPEATED,
        notes=_notes(differences, trend, sigma, chances),
        common=_shown(common, quantity),
        repeatability=_scale(quantity) * float(np.median(np.hypot(start.se, fit.scale * start.base))),
        n_repeats=0 if repeats is None else repeats.n,
        scatter_ratio=None if repeats is None else fit.scale,
        changes=tuple(change for change in found if change.p_false <= CHANGED_CHANCE),
        hints=tuple(change for change in found if CHANGED_CHANCE < change.p_false <= HINT_CHANCE),
        is_common_changed=False,
    )


def _series(differences: Differences) -> Series:
    quantity = differences.quantity
    return Series(
        keys=differences.keys,
        values=differences.change,
        se=differences.se,
        scatter=differences.base,
        wander_ratio=float(np.hypot(quantity.drift / np.median(differences.base), quantity.drift_ratio)),
        wander_keys=_DRIFT_KEYS,
        max_degree=_MOST_DEGREE,
    )


def bends_along_keyboard(differences: Differences) -> bool | None:
    """Return whether differences of an unmoved quantity bend along the keyboard, ``None`` from too few notes.

    Parameters
    ----------
    differences : Differences
        At least 12 notes.

    Notes
    -----
    A cubic against a constant, weighted, values beyond three standard deviations of their own cubic pulled in; the
    scatter is that about the cubic. The statistic is compared with chi-squared of three degrees of freedom at 1 %; and
    the bend must be larger than the drift that a hand makes.
    """
    if differences.keys.size < MIN_NOTES:
        return None
    x = (differences.keys - 44.5) / 44.0
    columns = np.column_stack([x**power for power in range(4)]) / differences.sigma[:, None]
    target = differences.change / differences.sigma
    clipped, fitted, sd = target, target, 1.0
    for _ in range(8):
        fitted = columns @ np.linalg.lstsq(columns, clipped, rcond=None)[0]
        sd = max(_robust_sd(target - fitted), 1e-9)
        clipped = fitted + np.clip(target - fitted, -_OUTER_CLIP * sd, _OUTER_CLIP * sd)
    flat = columns[:, 0] * float(columns[:, 0] @ clipped / (columns[:, 0] @ columns[:, 0]))
    bend = fitted - flat
    is_sure = bool(chi2_tail(float(bend @ bend) / sd**2, 3) < _BENT_CHANCE)
    return is_sure and float(np.sqrt(np.mean((bend * differences.sigma) ** 2))) > _LEAST_BEND


def free_from_blow(differences: Differences, level: Differences) -> Differences:
    """Return differences without what the strength of each blow explains.

    A note struck harder than before is louder and brighter than before. How much brighter for a decibel is taken from
    the notes themselves, by a robust line through the departures of both from their neighbours, its slope going evenly
    along the keyboard and never below 0: where the microphone was moved, the level says little of the blow, and the
    slope comes out small. With that slope every note is brought to the middle of the levels.

    Parameters
    ----------
    differences : Differences
        Of brightness or of the balance of the partials.
    level : Differences
        Of the level.
    """
    if differences.keys.size < MIN_NOTES or level.keys.size < MIN_NOTES:
        return differences
    louder = dict(zip(level.keys.tolist(), (level.change - _near_median(level)).tolist(), strict=True))
    whole = dict(zip(level.keys.tolist(), (level.change - np.median(level.change)).tolist(), strict=True))
    known = np.array([louder.get(key, 0.0) for key in differences.keys.tolist()])
    target = differences.change - _near_median(differences)
    x = (differences.keys - 44.5) / 44.0
    columns = np.column_stack([known, known * x])
    weight, slope = 1.0 / differences.sigma**2, np.zeros(x.size)
    for _ in range(10):
        normal = columns.T @ (columns * weight[:, None]) + 1e-9 * np.eye(2)
        line = np.linalg.solve(normal, columns.T @ (weight * target))
        slope = np.maximum(0.0, line[0] + line[1] * x)
        z = (target - slope * known) / differences.sigma
        bound = _HUBER * max(_robust_sd(z), 1e-9)
        weight = np.minimum(1.0, bound / np.maximum(np.abs(z), 1e-12)) / differences.sigma**2
    louder_db = np.array([whole.get(key, 0.0) for key in differences.keys.tolist()])
    slope_se = _SLOPE_RELATIVE_SE * slope * np.abs(louder_db)
    return replace(differences, change=differences.change - slope * louder_db, se=np.hypot(differences.se, slope_se))


def _near_median(differences: Differences) -> Real:
    """Return the median difference of the notes within five keys of each."""
    near = np.abs(differences.keys[:, None] - differences.keys[None, :]) <= _NEIGHBOUR_KEYS
    return np.array([float(np.median(differences.change[row])) for row in near])


def _notes(
    differences: Differences, shared: Real, sigma: Real, chances: dict[int, float]
) -> tuple[NoteDifference, ...]:
    quantity = differences.quantity
    return tuple(
        NoteDifference(
            key=int(differences.keys[i]),
            before=float(differences.before[i]),
            after=float(differences.after[i]),
            change=_shown(Measured(float(differences.change[i] - shared[i]), float(sigma[i])), quantity),
            p_false=chances.get(i),
        )
        for i in range(differences.keys.size)
    )


def _shown(change: Measured, quantity: ComparedQuantity) -> Measured:
    """Return a change on the compared scale in `change_unit`: per cent for logarithms."""
    if not quantity.is_log:
        return change
    return Measured(100.0 * float(np.expm1(change.value)), 100.0 * float(np.exp(change.value)) * change.se)


def _scale(quantity: ComparedQuantity) -> float:
    return 100.0 if quantity.is_log else 1.0


def _robust_sd(values: Real) -> float:
    return _MAD_TO_SD * float(np.median(np.abs(values - np.median(values))))


def _weighted_median(values: Real, weight: Real) -> float:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][int(np.searchsorted(total, 0.5 * total[-1]))])
