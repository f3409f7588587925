"""What stands out is found, what is even is left alone, and both are counted over many simulated pianos."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.even_pianos import BREAK_AFTER, NOTHING, Floats, even_piano, listening_of

from strikeline.acoustics.evenness import Standout, Sureness, judge_evenness
from strikeline.acoustics.evenness_fit import fit_trend
from strikeline.acoustics.evenness_model import Series
from strikeline.acoustics.evenness_quantities import BRIGHTNESS, INHARMONICITY, LEVEL, PITCH, QUANTITIES, Quantity
from strikeline.acoustics.evenness_shifts import HINT
from strikeline.keyboard import key_from_name


def only(values: dict[str, Floats], quantity: Quantity) -> dict[str, Floats]:
    return {quantity.field: values[quantity.field], INHARMONICITY.field: values[INHARMONICITY.field]}


def of_quantity(standouts: tuple[Standout, ...], quantity: Quantity) -> list[Standout]:
    return [standout for standout in standouts if standout.quantity is quantity]


def test_even_pianos_raise_far_less_than_one_false_alarm_a_sheet() -> None:
    rng = np.random.default_rng(11)
    n_sheets = 24
    found = [judge_evenness(listening_of(even_piano(rng))).standouts for _ in range(n_sheets)]
    assert sum(map(len, found)) / n_sheets < 0.5
    very_sure = [s for standouts in found for s in standouts if s.sureness is Sureness.VERY_SURE]
    assert len(very_sure) <= 1


@pytest.mark.parametrize(("scatter_times", "tail_dof", "at_most"), [(2.0, None, 0.7), (1.0, 6.0, 1.5)])
def test_rough_and_heavy_tailed_scatter_is_not_taken_for_standouts(
    scatter_times: float, tail_dof: float | None, at_most: float
) -> None:
    rng = np.random.default_rng(12)
    n_sheets = 14
    found = [
        judge_evenness(listening_of(even_piano(rng, scatter_times=scatter_times, tail_dof=tail_dof))).standouts
        for _ in range(n_sheets)
    ]
    # 528 values a sheet: Student's t with 6 degrees of freedom itself sends about one of them beyond five sigma.
    assert sum(map(len, found)) / n_sheets < at_most


@pytest.mark.parametrize("n_worn", [15, 18, 20])
def test_worn_hammers_in_the_middle_are_found_as_one_run_with_its_ends(n_worn: int) -> None:
    first = key_from_name("G3")
    worn = np.arange(first, first + n_worn)
    hits, ends = 0, []
    for seed in range(8):
        values = even_piano(np.random.default_rng(seed))
        values["brightness"][worn - 1] += 5.0  # semitones: four times the natural scatter
        runs = of_quantity(judge_evenness(listening_of({**NOTHING, **only(values, BRIGHTNESS)})).standouts, BRIGHTNESS)
        runs = [run for run in runs if run.departure.value > 0 and run.n_notes >= n_worn // 2]
        hits += len(runs) == 1
        ends += [(run.first_key - worn[0], run.last_key - worn[-1]) for run in runs]
    assert hits >= 7
    assert np.median(np.abs(np.array(ends))) <= 1


def test_the_size_of_a_run_is_what_was_put_in_within_its_error() -> None:
    errors = []
    for seed in range(12):
        values = even_piano(np.random.default_rng(100 + seed))
        values["brightness"][35:55] += 6.0
        sheet = judge_evenness(listening_of({**NOTHING, **only(values, BRIGHTNESS)}))
        runs = [r for r in of_quantity(sheet.standouts, BRIGHTNESS) if r.n_notes > 10]
        errors += [(run.departure.value - 6.0) / run.departure.se for run in runs]
    assert len(errors) >= 11
    assert_close(np.mean(errors), 0.0, rtol=0, atol=1.0, why="12 draws of unit variance and the bias of choosing ends")
    assert np.max(np.abs(errors)) < 4.0


def test_one_flat_note_is_found_and_its_neighbours_are_left_alone() -> None:
    values = even_piano(np.random.default_rng(3))
    values["pitch_cents"][59] -= 20.0
    found = of_quantity(judge_evenness(listening_of(values)).standouts, PITCH)
    assert [(s.first_key, s.last_key) for s in found] == [(60, 60)]
    assert found[0].departure.value < -14.0
    assert found[0].sureness in {Sureness.SURE, Sureness.VERY_SURE}


def test_a_departure_in_inharmonicity_is_told_in_per_cent() -> None:
    values = even_piano(np.random.default_rng(4))
    values["inharmonicity_b"][69] += np.log(1.6)
    (found,) = of_quantity(judge_evenness(listening_of(values)).standouts, INHARMONICITY)
    assert (found.first_key, found.last_key) == (70, 70)
    assert_close(found.departure.value, 60.0, rtol=0, atol=3.0 * found.departure.se, why="60 % was put in")


def test_the_break_is_found_as_a_step_and_not_smoothed_away() -> None:
    after, steps = [], []
    for seed in range(10):
        values = even_piano(np.random.default_rng(seed))
        evenness = judge_evenness(listening_of({**NOTHING, **only(values, INHARMONICITY)}))
        if evenness.scale_break is not None:
            after.append(evenness.scale_break.after_key)
            step = evenness.quantities[QUANTITIES.index(INHARMONICITY)].step
            assert step is not None
            steps.append((step.value - 100.0 * np.expm1(0.3)) / step.se)
    assert len(after) >= 7
    assert np.mean(np.array(after) == BREAK_AFTER) >= 0.8
    assert np.abs(np.median(steps)) < 1.2  # a step that is found is on the large side: 1 of 4 is not found


def test_a_smooth_scale_shows_no_break() -> None:
    found = 0
    for seed in range(40):
        values = even_piano(np.random.default_rng(seed))
        values["inharmonicity_b"] -= 0.3 * (np.arange(1, 89) > BREAK_AFTER)
        found += (
            judge_evenness(listening_of({**NOTHING, "inharmonicity_b": values["inharmonicity_b"]})).scale_break
            is not None
        )
    assert found <= 4


def test_a_pass_over_white_keys_only_is_judged_too() -> None:
    keys = np.array([k for k in range(1, 89) if (k + 8) % 12 in {0, 2, 4, 5, 7, 9, 11}], dtype=np.float64)
    values = even_piano(np.random.default_rng(5), keys=keys)
    values["pitch_cents"][30] += 25.0
    evenness = judge_evenness(listening_of(values, keys=keys, compass=None))
    assert [s.first_key for s in of_quantity(evenness.standouts, PITCH)] == [int(keys[30])]


def test_the_pitch_level_is_that_of_the_whole_piano_against_the_natural_stretch() -> None:
    values = even_piano(np.random.default_rng(6))
    values["pitch_cents"] -= 37.0
    level = judge_evenness(listening_of(values)).pitch_level
    assert level is not None
    assert_close(level.level_cents.value, -37.0, rtol=0, atol=4.0 * level.level_cents.se, why="four standard errors")
    assert level.level_cents.se < 1.0


@pytest.mark.parametrize("n_notes", [0, 1, 2, 11])
def test_few_notes_are_not_compared(n_notes: int) -> None:
    keys = np.arange(40.0, 40.0 + n_notes)
    values = even_piano(np.random.default_rng(7), keys=keys) if n_notes else {q.field: np.empty(0) for q in QUANTITIES}
    evenness = judge_evenness(listening_of(values, keys=keys, compass=None))
    assert evenness.standouts == ()
    assert all(one.notes == () and one.n_values == n_notes for one in evenness.quantities)
    assert (evenness.pitch_level is None) == (n_notes == 0)


def test_values_that_are_missing_are_counted_and_leave_no_gap_in_the_others() -> None:
    values = even_piano(np.random.default_rng(8))
    values["inharmonicity_b"][:6] = np.nan
    values["knock_db"][:] = np.nan
    evenness = judge_evenness(listening_of(values))
    by_field = {one.quantity.field: one for one in evenness.quantities}
    assert by_field["inharmonicity_b"].n_values == 82
    assert by_field["knock_db"].n_values == 0
    assert by_field["pitch_cents"].n_values == 88


def test_a_shift_of_all_values_shifts_the_trend_and_nothing_else() -> None:
    values = even_piano(np.random.default_rng(9))
    values["brightness"][30:50] += 6.0
    raised = {**values, "brightness": values["brightness"] + 3.0}
    one = judge_evenness(listening_of(values)).quantities[QUANTITIES.index(BRIGHTNESS)]
    other = judge_evenness(listening_of(raised)).quantities[QUANTITIES.index(BRIGHTNESS)]
    assert_close(other.trend, one.trend + 3.0, rtol=0, atol=1e-6, why="the model is linear; rounding only")
    assert [s.first_key for s in other.standouts] == [s.first_key for s in one.standouts]


def test_the_trend_is_told_with_its_error_beside_it() -> None:
    keys = np.arange(1.0, 89.0)
    inside = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        truth = -22.0 - 4.0 * ((keys - 44.0) / 44.0) ** 2
        series = Series(
            keys=keys,
            values=truth + rng.normal(0.0, 2.0, 88),
            se=np.full(88, 0.1),
            scatter=np.full(88, 2.0),
            wander_ratio=0.6,
            wander_keys=3.0,
            max_degree=3,
        )
        fit = fit_trend(series, break_after=None, n_looks=6)
        inside.append(np.mean(np.abs(fit.trend - truth) < 1.96 * fit.trend_se))
    # The model allows for a drift that is not there, so the error is on the safe side.
    assert np.mean(inside) > 0.95


def test_nothing_is_mentioned_beyond_the_chance_of_a_hint() -> None:
    rng = np.random.default_rng(10)
    values = even_piano(rng)
    values["level_db"][10] += 9.0
    values["pitch_cents"][20] += 9.0
    assert all(standout.p_false <= HINT for standout in judge_evenness(listening_of(values)).standouts)


@pytest.mark.parametrize(("n_worn", "at_least"), [(25, 9), (32, 7), (38, 5)])
def test_worn_hammers_over_a_third_of_the_keyboard_are_named_as_one_area(n_worn: int, at_least: int) -> None:
    # A raised middle and two lowered flanks explain the values nearly alike, so not all can be named rightly.
    first, named = key_from_name("E3"), 0
    for seed in range(10):
        values = even_piano(np.random.default_rng(seed))
        values["brightness"][first - 1 : first + n_worn - 1] += 6.0
        areas = judge_evenness(listening_of({**NOTHING, **only(values, BRIGHTNESS)})).areas
        ends = [
            (area.first_key - first, area.last_key - (first + n_worn - 1)) for area in areas if area.word == "brash"
        ]
        named += any(max(abs(low), abs(high)) <= 2 for low, high in ends)
    assert named >= at_least


def test_an_area_joins_runs_of_one_direction_over_a_note_that_does_not_depart() -> None:
    values = even_piano(np.random.default_rng(21), scatter_times=0.5)
    values["level_db"][40:46] += 12.0
    values["level_db"][47:53] += 12.0
    (area,) = [area for area in judge_evenness(listening_of(values)).areas if area.quantity is LEVEL]
    assert (area.first_key, area.last_key, area.n_notes) == (41, 53, 13)
    assert area.word == "louder"


def test_two_far_notes_of_odd_strings_are_two_notes_and_no_run_between_them() -> None:
    values = even_piano(np.random.default_rng(22), scatter_times=0.6)
    values["inharmonicity_b"][[39, 59]] += 0.45
    found = of_quantity(judge_evenness(listening_of(values)).standouts, INHARMONICITY)
    assert sorted((s.first_key, s.last_key) for s in found) == [(40, 40), (60, 60)]


def test_each_note_departs_in_plain_units() -> None:
    values = even_piano(np.random.default_rng(23))
    values["inharmonicity_b"][69] += np.log(1.6)
    row = next(n for n in judge_evenness(listening_of(values)).of(INHARMONICITY).notes if n.key == 70)
    why = "per cent of the trend is the exponential of the logarithm's departure"
    assert_close(row.departure.value, 100.0 * np.expm1(row.residual.value), rtol=1e-9, atol=0, why=why)
