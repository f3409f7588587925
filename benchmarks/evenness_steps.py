"""The step at the break: found where there is one, not found where there is none, its size and place told rightly.

Invented pianos as values of notes: trends as strong as those of a recorded grand and of rendered pianos, another slope
on either side of the break, drift of neighbours, scatter with heavy tails (Student's t with five degrees of freedom),
errors of measurement, missing notes, a gap, single faulty notes and a stretch of worn hammers. *Scatter* is the
standard deviation of a note about its trend, drift included. Beside what is seen stands what could be seen at best: by
one who knows how strong trend, drift and scatter are, of a piano without a faulty note. Then a few rendered pianos,
heard from end to end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from benchmarks.toning import heard
from strikeline.acoustics.evenness import KnownScale, StepVerdict, judge_evenness
from strikeline.acoustics.evenness_quantities import (
    BRIGHTNESS,
    INHARMONICITY,
    KNOCK,
    LEVEL,
    PITCH,
    SINGING,
    SUSTAIN,
    Quantity,
)
from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.keyboard import FULL_COMPASS
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b
from strikeline.synthesis.instrument import Upkeep, build_piano
from strikeline.synthesis.scale import SMALL_GRAND, UPRIGHT_1920S

Floats = NDArray[np.float64]
Row = tuple[str, str, str, bool | None, str]

_STEPPING = (BRIGHTNESS, SUSTAIN, SINGING, LEVEL)
_QUANTITIES = (PITCH, INHARMONICITY, *_STEPPING, KNOCK)
_TAIL_DOF = 5.0
_SIGNIFICANT = 0.05
_BREAKS = (18, 31)
"""Last keys below the break, the end left out."""
_SE_RATIO = 0.2
"""Error of measurement over the scatter."""
_TREND = {1: 5.0, 2: 4.0, 3: 3.0}
"""Standard deviation of the trend's coefficients over half the keyboard, in scatters."""
_BEND = 2.0
"""Of the change of slope at the break, in scatters per octave."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTrial:
    """What was said of the steps of one invented piano."""

    break_found: bool
    """In B, within one note."""
    p_values: tuple[float | None, ...]
    """Of brightness, sustain, singing and level at the break."""
    standardised: tuple[float, ...]
    """Errors of their steps over their standard errors."""
    change_heard: bool | None
    """Whether a listener hears the break at all; ``None`` where it cannot be told."""


def trial(seed: int, *, times: float, stepping: Sequence[str], is_known: bool) -> StepTrial:
    """Return what is said of an invented piano whose measures step at the break.

    Parameters
    ----------
    seed : int
        Chance.
    times : float
        Size of the step, in scatters, up or down.
    stepping : sequence of str
        Fields of the measures that step.
    is_known : bool
        Whether the place of the break is given.
    """
    # Not the stream [6, seed]: the degrees of freedom in `evenness_jump` were chosen after a look at that one.
    rng = np.random.default_rng([2027, seed])
    after = int(rng.integers(*_BREAKS))
    listening, steps = _invented(rng, after=after, times=times, stepping=stepping)
    evenness = judge_evenness(listening, known=KnownScale(break_after=after) if is_known else None)
    found = evenness.scale_break is not None and abs(evenness.scale_break.after_key - after) <= 1
    here = {
        step.quantity.field: step
        for step in evenness.steps
        if evenness.scale_break is not None and step.change.after_key == evenness.scale_break.after_key
    }
    told = [here.get(quantity.field) for quantity in _STEPPING]
    errors = []
    for step, quantity in zip(told, _STEPPING, strict=True):
        if step is not None and step.step is not None:
            size, se = step.step.value, step.step.se
            if quantity.is_log:
                se /= 100.0 + size
                size = float(np.log1p(size / 100.0))
            errors.append((size - steps[quantity.field]) / se)
    verdicts = [verdict for verdict in evenness.change_verdicts if verdict.change.kind.name == "BREAK"]
    return StepTrial(
        break_found=found,
        p_values=tuple(None if step is None else step.p_value for step in told),
        standardised=tuple(errors),
        change_heard=verdicts[0].verdict in (StepVerdict.HEARD, StepVerdict.TOO_SMALL) if verdicts else None,
    )


def _invented(
    rng: np.random.Generator, *, after: int, times: float, stepping: Sequence[str]
) -> tuple[Listening, dict[str, float]]:
    """Return the listening of an invented piano and the step of each measure, on the judged scale."""
    keys = np.arange(1.0, 89.0)
    heard_at = rng.random(88) > 0.04
    gap = int(rng.integers(40, 84))
    heard_at[gap : gap + 3] = False
    heard_at[after - 2 : after + 2] = True
    worn = _run(rng, 40, 75)
    log_b = np.log(typical_inharmonicity_b(keys)) + rng.choice([0.25, 0.35, 0.5]) * (keys > after)
    stretch = natural_stretch(keys, inharmonicity_b=np.exp(log_b), a4_inharmonicity_b=9.7e-4).first_partial_cents
    fixed = {PITCH.field: stretch, INHARMONICITY.field: log_b, SUSTAIN.field: np.full(88, 2.0)}
    values, steps = {}, {}
    for quantity in _QUANTITIES:
        own = _scatter(quantity, keys, rng)
        if quantity.field in fixed and quantity is not SUSTAIN:
            values[quantity.field] = fixed[quantity.field] + own
            continue
        size = float(np.interp(after, keys, quantity.scatter(keys)))
        whole = size * float(np.sqrt(1.0 + quantity.wander_ratio**2))
        step = float(rng.choice([-1.0, 1.0])) * times * whole if quantity.field in stepping else 0.0
        x = (keys - 44.0) / 44.0
        trend = sum(rng.normal(0.0, sd * size) * x**power for power, sd in _TREND.items())
        bend = rng.normal(0.0, _BEND * size) * np.where(keys <= after, (keys - after - 0.5) / 12.0, 0.0)
        faulty = rng.choice(88, 3, replace=False)
        own[faulty] += rng.choice([-1.0, 1.0], 3) * 6.0 * size
        if quantity is BRIGHTNESS:
            own[worn] += 4.0 * size
        values[quantity.field] = fixed.get(quantity.field, np.zeros(88)) + trend + bend + own + step * (keys > after)
        steps[quantity.field] = step
    return _listening(keys[heard_at], {field: value[heard_at] for field, value in values.items()}, rng), steps


def best_share(quantity: Quantity, *, times: float) -> float:
    """Return the share of steps that the best possible test sees at 5 % false alarms, over the places of the break.

    Generalised least squares with all covariances known, coefficients of the trend included, and every note heard. The
    information of a note with Student's t is that of a normal one with (dof - 2)(dof + 3)/(dof (dof + 1)) of its
    variance; with the error of measurement it is at most that of the sum of both (Stam 1959, from memory).

    Parameters
    ----------
    quantity : Quantity
        With its drift and scatter.
    times : float
        Size of the step, in scatters.
    """
    keys = np.arange(1.0, 89.0)
    own = (_TAIL_DOF - 2.0) * (_TAIL_DOF + 3.0) / (_TAIL_DOF * (_TAIL_DOF + 1.0)) + _SE_RATIO**2
    shares = []
    for after in range(*_BREAKS):
        size = float(np.interp(after, keys, quantity.scatter(keys)))
        unit = quantity.scatter(keys) / size
        x = (keys - 44.0) / 44.0
        bend = np.where(keys <= after, (keys - after - 0.5) / 12.0, 0.0)
        apart = (keys[:, None] - keys[None, :]) / quantity.wander_keys
        covariance = np.outer(unit, unit) * (own * np.eye(88) + quantity.wander_ratio**2 * np.exp(-0.5 * apart**2))
        covariance += 1e4 + _BEND**2 * np.outer(bend, bend)
        for power, sd in _TREND.items():
            covariance += sd**2 * np.outer(x**power, x**power)
        jump = (keys > after).astype(np.float64)
        whole = float(np.sqrt(1.0 + quantity.wander_ratio**2))
        pull = times * whole * float(np.sqrt(jump @ np.linalg.solve(covariance, jump)))
        least = float(norm.isf(0.5 * _SIGNIFICANT))
        shares.append(float(norm.sf(least - pull) + norm.cdf(-least - pull)))
    return float(np.mean(shares))


def _run(rng: np.random.Generator, low: int, high: int) -> NDArray[np.int64]:
    length = int(rng.integers(8, 16))
    first = int(rng.integers(low, high - length))
    return np.arange(first, first + length)


def _scatter(quantity: Quantity, keys: Floats, rng: np.random.Generator) -> Floats:
    own = rng.standard_t(_TAIL_DOF, keys.size) * np.sqrt((_TAIL_DOF - 2.0) / _TAIL_DOF)
    apart = (keys[:, None] - keys[None, :]) / quantity.wander_keys
    root = np.linalg.cholesky(np.exp(-0.5 * apart**2) + 1e-9 * np.eye(keys.size))
    return np.asarray(quantity.scatter(keys) * (own + quantity.wander_ratio * (root @ rng.standard_normal(keys.size))))


def _listening(keys: Floats, values: dict[str, Floats], rng: np.random.Generator) -> Listening:
    notes = []
    for i, key in enumerate(keys):
        fields = {}
        for quantity in _QUANTITIES:
            se = _SE_RATIO * float(quantity.scatter(np.array([key]))[0])
            value = float(values[quantity.field][i] + se * rng.standard_normal())
            fields[quantity.field] = (
                Measured(float(np.exp(value)), float(np.exp(value)) * se) if quantity.is_log else Measured(value, se)
            )
        notes.append(
            Note(
                key=int(key),
                onset_s=float(i),
                end_s=i + 0.9,
                f0_hz=Measured(100.0, 0.1),
                pitch_cents=fields["pitch_cents"],
                inharmonicity_b=fields["inharmonicity_b"],
                brightness=fields["brightness"],
                sustain_db_per_s=fields["sustain_db_per_s"],
                singing_s=fields["singing_s"],
                level_db=fields["level_db"],
                knock_db=fields["knock_db"],
            )
        )
    recording = Recording(
        sha256="0" * 64,
        sample_rate_hz=48_000,
        duration_s=100.0,
        kind=Kind.PASS,
        analyser="benchmark",
        reference_a4_hz=440.0,
        compass=FULL_COMPASS,
    )
    return Listening(recording=recording, notes=tuple(notes))


def rendered_break(seed: int) -> tuple[bool, int]:
    """Return whether the break of a rendered piano is found within a note, and how many B standouts it raises."""
    design = SMALL_GRAND if seed % 2 else UPRIGHT_1920S
    upkeep = Upkeep(pitch_level_cents=0.0, tuning_scatter_cents=2.0, unison_scatter_cents=0.6)
    piano = build_piano(description="steps", compass=FULL_COMPASS, design=design, upkeep=upkeep, seed=7000 + seed)
    evenness = judge_evenness(heard(piano, seed=seed))
    after = None if evenness.scale_break is None else evenness.scale_break.after_key
    found = after is not None and abs(after - design.last_wound_key) <= 1
    return found, len(evenness.of(INHARMONICITY).standouts)


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:
    """Yield the lines of the benchmark's table.

    Parameters
    ----------
    pool : ProcessPoolExecutor
        Where the pianos are judged.
    quick : bool
        Fewer pianos: a look, not a claim.
    """
    fields = [quantity.field for quantity in _STEPPING]
    for times, n_claimed in ((0.0, 480), (2.0, 160), (3.0, 160)):
        n = 24 if quick else n_claimed  # a share of one in twenty needs the more pianos
        run = partial(trial, times=times, stepping=fields, is_known=True)
        trials = list(pool.map(run, range(n), chunksize=4))
        for i, quantity in enumerate(_STEPPING):
            told = [one.p_values[i] for one in trials]
            share = sum(p is not None and p <= _SIGNIFICANT for p in told) / n
            best = "" if times == 0.0 else f", at best {100.0 * best_share(quantity, times=times):.0f} %"
            yield _share(f"step of {quantity.name} at a break given", share, times, n, best)
        heard_share = sum(one.change_heard is True for one in trials) / n
        yield _share("break heard, brightness, singing, level stepping", heard_share, times, n)
        z = np.abs([error for one in trials for error in one.standardised])
        covered = float(np.mean(z <= 1.96))
        name = f"steps of {times:.0f} x scatter within 1.96 se of the truth"
        yield name, f"{100.0 * covered:.1f} %", "93-97 %", 0.93 <= covered <= 0.97, f"of {z.size}"
    n = 24 if quick else 160
    run = partial(trial, times=2.0, stepping=fields, is_known=False)
    trials = list(pool.map(run, range(n, 2 * n), chunksize=4))
    found = sum(one.break_found for one in trials) / n
    yield "break found in B (25 to 65 %), within a note", f"{100.0 * found:.1f} %", "", None, f"of {n}"
    both = sum(one.break_found and one.change_heard is True for one in trials) / n
    yield (
        "break found and heard, brightness, singing, level by 2 x",
        f"{100.0 * both:.1f} %",
        ">= 95 %",
        both >= 0.95,
        "",
    )
    pianos = list(pool.map(rendered_break, range(2 if quick else 8)))
    yield (
        "rendered pianos: break found within a note",
        f"{sum(found for found, _ in pianos)} of {len(pianos)}",
        "",
        None,
        f"{sum(n_b for _, n_b in pianos)} sound notes stand out in B",
    )


def _share(what: str, share: float, times: float, n: int, remark: str = "") -> Row:
    """Return a line: false alarms where there is no step, else the share of steps that are seen."""
    if times == 0.0:
        return f"{what}: false alarms", f"{100.0 * share:.1f} %", "<= 5 %", share <= 0.05, f"of {n}"
    target = (">= 95 %", share >= 0.95) if times == 2.0 else ("", None)
    return f"{what}, {times:.0f} x scatter: seen", f"{100.0 * share:.1f} %", *target, f"of {n}{remark}"
