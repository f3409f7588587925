"""Steps where the strings change: found, sized and judged, or not told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.closeness import assert_close
from tests.even_pianos import BREAK_AFTER, NOTHING, even_piano, listening_of

from strikeline.acoustics.evenness import (
    ChangeKind,
    Evenness,
    KnownScale,
    ScaleStep,
    StepVerdict,
    judge_evenness,
)
from strikeline.acoustics.evenness_jump import estimate_jump
from strikeline.acoustics.evenness_model import Series
from strikeline.acoustics.evenness_quantities import (
    BRIGHTNESS,
    INHARMONICITY,
    LEVEL,
    PITCH,
    QUANTITIES,
    SUSTAIN,
    Quantity,
)
from strikeline.acoustics.evenness_steps import in_plain_unit
from strikeline.acoustics.listening import Decay, Listening, Partial
from strikeline.measured import Measured

GIVEN = KnownScale(break_after=BREAK_AFTER)


def step_at_break(evenness: Evenness, quantity: Quantity) -> ScaleStep:
    return next(s for s in evenness.steps if s.quantity is quantity and s.change.kind is ChangeKind.BREAK)


def stepped(seed: int, **steps: float) -> Listening:
    values = even_piano(np.random.default_rng(seed))
    for field, step in steps.items():
        values[field][BREAK_AFTER:] += step
    return listening_of(values)


def test_a_step_of_four_scatters_is_heard_and_sized_within_its_error() -> None:
    errors, heard = [], 0
    for seed in range(10):
        step = step_at_break(judge_evenness(stepped(seed, level_db=8.0), known=GIVEN), LEVEL)
        assert step.step is not None
        errors.append((step.step.value - 8.0) / step.step.se)
        heard += step.verdict is StepVerdict.HEARD
    assert heard >= 9
    assert np.mean(np.abs(errors) < 1.96) >= 0.7  # ten draws of 95 of 100: fewer than 8 come once in 1000
    assert np.max(np.abs(errors)) < 4.0


def test_without_a_step_few_are_called_one() -> None:
    verdicts = [
        step.verdict
        for seed in range(12)
        for step in judge_evenness(stepped(seed), known=GIVEN).steps
        if step.quantity in (BRIGHTNESS, LEVEL, SUSTAIN)
    ]
    # 36 looks at 5 %: more than six false ones come about once in 500.
    assert sum(verdict is not StepVerdict.NONE for verdict in verdicts) <= 6


def test_a_sure_step_below_the_threshold_of_hearing_is_called_too_small() -> None:
    values = even_piano(np.random.default_rng(5), scatter_times=0.02)
    values["pitch_cents"][BREAK_AFTER:] += 3.0
    step = step_at_break(judge_evenness(listening_of(values), known=GIVEN), PITCH)
    assert step.step is not None
    assert step.step.differs_from(0.0)
    assert step.is_audible is False
    assert step.verdict is StepVerdict.TOO_SMALL


def test_b_steps_without_a_word_on_hearing_because_no_figure_is_known() -> None:
    step = step_at_break(judge_evenness(stepped(1, inharmonicity_b=0.4), known=GIVEN), INHARMONICITY)
    assert step.verdict is StepVerdict.MEASURED
    assert step.is_audible is None


def test_a_step_beside_a_gap_cannot_be_told() -> None:
    values = even_piano(np.random.default_rng(2))
    values["level_db"][BREAK_AFTER - 4 : BREAK_AFTER + 4] = np.nan
    step = step_at_break(judge_evenness(listening_of(values), known=GIVEN), LEVEL)
    assert step.verdict is StepVerdict.CANNOT_TELL
    assert step.step is None
    assert step.reason is not None


def test_a_break_that_is_given_goes_before_what_is_found() -> None:
    evenness = judge_evenness(stepped(3), known=KnownScale(break_after=26, last_single_key=8, last_wound_key=31))
    assert [(c.after_key, c.kind) for c in evenness.change_points if c.is_given] == [
        (8, ChangeKind.BELOW),
        (26, ChangeKind.BREAK),
        (31, ChangeKind.WINDING),
    ]
    assert evenness.scale_break is not None
    assert evenness.scale_break.after_key == 26


def test_all_steps_of_a_sheet_together_are_never_surer_than_each_alone() -> None:
    told = [s for s in judge_evenness(stepped(4, level_db=9.0), known=GIVEN).steps if s.p_value is not None]
    assert all(s.p_sheet is not None and s.p_value is not None and s.p_sheet >= s.p_value for s in told)


def test_a_break_that_steps_in_three_measures_is_heard_as_a_whole() -> None:
    heard = 0
    for seed in range(8):
        evenness = judge_evenness(
            stepped(seed, level_db=5.0, brightness=3.0, sustain_db_per_s=-0.7, singing_s=0.7), known=GIVEN
        )
        (verdict,) = [v for v in evenness.change_verdicts if v.change.kind is ChangeKind.BREAK]
        heard += verdict.verdict is StepVerdict.HEARD
    assert heard >= 7


def test_a_change_of_strings_below_the_break_is_a_step_of_the_scale_and_no_run_of_odd_strings() -> None:
    found = 0
    for seed in range(8):
        values = even_piano(np.random.default_rng(seed), scatter_times=0.6)
        values["inharmonicity_b"][8:BREAK_AFTER] += 0.35
        evenness = judge_evenness(listening_of({**NOTHING, "inharmonicity_b": values["inharmonicity_b"]}), known=GIVEN)
        assert all(s.last_key - s.first_key < 4 for s in evenness.of(INHARMONICITY).standouts)
        found += any(abs(c.after_key - 8) <= 1 and c.kind is ChangeKind.BELOW for c in evenness.change_points)
    assert found >= 3


def test_wound_strings_end_where_the_partials_stop_straying() -> None:
    rng = np.random.default_rng(8)
    listening = listening_of(even_piano(rng))
    notes = []
    for note in listening.notes:
        assert note.key is not None
        spread = 3.81 if note.key <= 27 else 0.99  # cents: H. Fletcher 1964, Table VI, strings 54 and 23
        partials = tuple(_partial(n, law_cents=float(spread * rng.standard_normal())) for n in range(1, 21))
        notes.append(replace(note, partials=partials))
    evenness = judge_evenness(replace(listening, notes=tuple(notes)))
    ends = [c.after_key for c in evenness.change_points if c.ends_winding]
    assert len(ends) == 1
    assert abs(ends[0] - 27) <= 1


def test_without_partials_nothing_is_said_of_the_winding() -> None:
    evenness = judge_evenness(stepped(6), known=GIVEN)
    assert all(change.ends_winding is None for change in evenness.change_points)


def test_sections_run_from_change_to_change_and_give_slope_and_scatter() -> None:
    values = even_piano(np.random.default_rng(9), scatter_times=0.3)
    values["level_db"] = np.where(np.arange(1, 89) <= BREAK_AFTER, -20.0, -30.0 + np.arange(88) / 12.0)
    parts = judge_evenness(listening_of(values), known=GIVEN).of(LEVEL).sections
    assert [(p.section.first_key, p.section.last_key) for p in parts] == [(1, BREAK_AFTER), (BREAK_AFTER + 1, 88)]
    assert_close(parts[0].slope_per_octave.value, 0.0, rtol=0, atol=1e-6, why="level in the bass is one value")
    assert_close(parts[1].slope_per_octave.value, 1.0, rtol=0, atol=1e-6, why="1 dB an octave was put in")


def test_steps_become_plain_data() -> None:
    step = step_at_break(judge_evenness(stepped(1, level_db=9.0), known=GIVEN), LEVEL)
    told = step.to_json()
    assert told["after"] == "E2"
    assert told["quantity"] == "level_db"
    assert told["audible_from"]["up"] == 1.0
    assert told["verdict"] == "step heard"


def test_every_threshold_of_hearing_says_where_it_comes_from() -> None:
    told = [quantity.audible for quantity in QUANTITIES if quantity.audible is not None]
    assert len(told) == 5
    assert all(audible.source and audible.up > 0.0 and audible.down > 0.0 for audible in told)


def test_a_jump_does_not_hang_on_the_gain_or_on_a_slope() -> None:
    rng = np.random.default_rng(10)
    keys = np.arange(1.0, 89.0)
    values = 2.0 * rng.standard_normal(88) + 6.0 * (keys > 24)
    series = Series(
        keys=keys,
        values=values,
        se=np.full(88, 0.2),
        scatter=np.full(88, 2.0),
        wander_ratio=0.6,
        wander_keys=3.0,
        max_degree=3,
    )
    one = estimate_jump(series, after=24.0)
    other = estimate_jump(replace(series, values=values + 40.0 + 0.3 * keys), after=24.0)
    assert one is not None
    assert other is not None
    assert_close(other.size.value, one.size.value, rtol=0, atol=1e-6, why="constant and line are free; rounding only")
    assert_close(other.p_value, one.p_value, rtol=1e-4, atol=0, why="the same likelihoods; rounding only")


def test_a_run_that_touches_the_change_is_part_of_its_step() -> None:
    rng = np.random.default_rng(11)
    keys = np.arange(1.0, 89.0)
    series = Series(
        keys=keys,
        values=rng.standard_normal(88) + 8.0 * (keys > 24),
        se=np.full(88, 0.1),
        scatter=np.ones(88),
        wander_ratio=0.3,
        wander_keys=3.0,
        max_degree=3,
    )
    touched = estimate_jump(series, after=24.0, shifted=[(25.0, 40.0)])
    plain = estimate_jump(series, after=24.0)
    assert touched is not None
    assert plain is not None
    assert_close(touched.size.value, plain.size.value, rtol=0, atol=1e-12, why="it is not set aside")


def test_a_faulty_note_at_the_change_is_no_jump_and_hides_none() -> None:
    rng = np.random.default_rng(12)
    keys = np.arange(1.0, 89.0)
    values = rng.standard_normal(88)
    series = Series(
        keys=keys,
        values=values,
        se=np.full(88, 0.1),
        scatter=np.ones(88),
        wander_ratio=0.3,
        wander_keys=3.0,
        max_degree=3,
    )
    faulty = values + 12.0 * (keys == 25)
    plain = estimate_jump(series, after=24.0)
    beside = estimate_jump(replace(series, values=faulty), after=24.0)
    stepped = estimate_jump(replace(series, values=faulty + 5.0 * (keys > 24)), after=24.0)
    assert plain is not None
    assert beside is not None
    assert stepped is not None
    assert abs(beside.size.value - plain.size.value) < 0.5 * plain.size.se
    assert beside.size.se < 1.3 * plain.size.se
    assert beside.p_value > 0.05
    assert stepped.p_value < 0.01


def test_a_worn_run_beside_the_change_is_set_aside_only_as_far_as_the_notes_say_that_it_is_one() -> None:
    rng = np.random.default_rng(13)
    keys = np.arange(1.0, 89.0)
    series = Series(
        keys=keys,
        values=rng.standard_normal(88) + 5.0 * ((keys >= 28) & (keys <= 40)),
        se=np.full(88, 0.1),
        scatter=np.ones(88),
        wander_ratio=0.3,
        wander_keys=3.0,
        max_degree=3,
    )
    even = replace(series, values=series.values - 5.0 * ((keys >= 28) & (keys <= 40)))
    known = estimate_jump(series, after=24.0, shifted=[(28.0, 40.0)])
    unknown = estimate_jump(series, after=24.0)
    plain = estimate_jump(even, after=24.0)
    false_run = estimate_jump(even, after=24.0, shifted=[(28.0, 40.0)])
    assert known is not None
    assert unknown is not None
    assert plain is not None
    assert false_run is not None
    assert known.size.se < 0.7 * unknown.size.se
    assert abs(known.size.value - plain.size.value) < plain.size.se
    assert abs(false_run.size.se / plain.size.se - 1.0) < 0.1


def test_logarithms_become_per_cent() -> None:
    shown = in_plain_unit(Measured(float(np.log(1.5)), 0.02), SUSTAIN)
    assert_close(shown.value, 50.0, rtol=1e-12, atol=0, why="half as much again")
    assert_close(shown.se, 3.0, rtol=1e-12, atol=0, why="1.5 times 2 %")


def _partial(n: int, *, law_cents: float) -> Partial:
    return Partial(
        n=n,
        f_hz=Measured(100.0 * n, 0.01),
        level_db=Measured(-20.0 - n, 0.1),
        decay_db_per_s=Decay(early=None, late=None),
        modes=(),
        law_cents=law_cents,
        in_law=True,
    )
