"""Smoothing a scale: exact, never over the limit, and nothing worse for the asking."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.closeness import assert_close
from tests.scales import plain_row, stepped_diameter_mm

from strikeline.errors import InputError
from strikeline.physics.gauge_search import Candidates, SmoothnessWeights, bend_cost, best_picks, step_cost
from strikeline.physics.scale import ScaleNote, scale_state
from strikeline.physics.scale_proposal import propose_scale
from strikeline.physics.wire_gauge import GaugeSystem, stock_sizes
from strikeline.physics.wire_strength import WireGrade, wire_strength

SIZES = stock_sizes(system=GaugeSystem.THOU)


def modern_mpa(diameter_mm: float) -> float:
    return wire_strength(diameter_mm, grade=WireGrade.ASTM_A228).stress_mpa.value


def notes_of(diameters_mm: list[float], *, stretch: float = 1.0) -> tuple[ScaleNote, ...]:
    rows = [
        plain_row(key, diameter_mm=diameter, length_mm=stretch * plain_row(key).dimensions.length_mm.value)
        for key, diameter in enumerate(diameters_mm, start=44)
    ]
    return scale_state(rows).notes


wires = st.lists(st.sampled_from([size.diameter_mm for size in SIZES[2:12]]), min_size=5, max_size=24)


@settings(max_examples=25, deadline=None)
@given(diameters=wires, limit=st.floats(0.4, 0.75), stretch=st.floats(0.9, 1.2))
def test_no_string_is_given_a_wire_above_the_limit_or_its_present_share(
    diameters: list[float], limit: float, stretch: float
) -> None:
    notes = notes_of(diameters, stretch=stretch)
    proposal = propose_scale(notes, sizes=SIZES, strength_mpa=modern_mpa, plain_limit=limit, most_changes=8)
    by_key = {note.key: note for note in notes}
    for option in proposal.options:
        for change in option.changes:
            note = by_key[change.key]
            assert note.state.breaking_share is not None
            share = note.state.stress_mpa.value / modern_mpa(change.to.diameter_mm)
            assert share <= max(limit, note.state.breaking_share.value) * (1 + 1e-12)


@settings(max_examples=25, deadline=None)
@given(diameters=wires)
def test_every_further_change_makes_the_scale_smoother_by_the_measure(diameters: list[float]) -> None:
    proposal = propose_scale(
        notes_of(diameters), sizes=SIZES, strength_mpa=modern_mpa, plain_limit=0.7, most_changes=10
    )
    objectives = [option.objective for option in proposal.options]
    assert objectives == sorted(objectives, reverse=True)
    numbers = [len(option.changes) for option in proposal.options]
    assert numbers == sorted(set(numbers))
    assert proposal.options[0].changes == ()


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_no_other_choice_of_wire_is_better(seed: int) -> None:
    """Six notes of up to four wires: every choice is tried, and none beats what was found."""
    rng = np.random.default_rng(seed)
    note = notes_of([0.9144])[0]
    stretch = []
    for _ in range(6):
        n = int(rng.integers(1, 5))
        diameters = rng.choice([size.diameter_mm for size in SIZES[3:9]], n, replace=False)
        offset = tuple(rng.normal(0.0, 0.05, 3))
        stretch.append(
            Candidates(note, diameters, (None, *SIZES[:n])[:n], offset[0], offset, float(rng.normal(-0.15, 0.1)))
        )
    weights = SmoothnessWeights(tension=1.0, inharmonicity=0.5, impedance=2.0)
    table = best_picks(stretch, weights, 6)
    for m in range(7):
        costs = [
            _cost(stretch, picks, weights)
            for picks in itertools.product(*(range(len(one.diameter_mm)) for one in stretch))
            if sum(pick > 0 for pick in picks) == m
        ]
        least = min(costs, default=np.inf)
        if np.isfinite(least):
            assert_close(table[m][1], least, rtol=1e-9, atol=1e-12, why="the same sum in another order")
            assert_close(_cost(stretch, table[m][0], weights), least, rtol=1e-9, atol=1e-12, why="its own picks")
        else:
            assert m not in table


def _cost(stretch: list[Candidates], picks: tuple[int, ...], weights: SmoothnessWeights) -> float:
    level = sum(
        (2.0 * np.log(one.diameter_mm[pick]) + one.level - one.trend) ** 2
        for one, pick in zip(stretch, picks, strict=True)
    )
    bend = sum(
        bend_cost(stretch[i - 2 : i + 1], weights)[picks[i - 2], picks[i - 1], picks[i]] for i in range(2, len(picks))
    )
    step = sum(step_cost(stretch[i - 1], stretch[i])[picks[i - 1], picks[i]] for i in range(1, len(picks)))
    return float(level + bend + step)


def test_one_wire_of_the_wrong_gauge_is_what_the_proposal_mends() -> None:
    diameters = [stepped_diameter_mm(key) for key in range(44, 70)]
    diameters[10] += 3 * 0.0254
    proposal = propose_scale(notes_of(diameters), sizes=SIZES, strength_mpa=modern_mpa, plain_limit=0.7, odd={54})
    assert [change.key for change in proposal.changes] == [54]
    assert_close(
        proposal.changes[0].to.diameter_mm, stepped_diameter_mm(54), rtol=0, atol=1e-3, why="the gauge of its run"
    )
    assert proposal.changes[0].n_strings == 3


def test_a_run_of_four_wrong_gauges_is_mended_together() -> None:
    """One of the four alone would only move the step: the gain comes with all of them."""
    diameters = [stepped_diameter_mm(key) for key in range(44, 70)]
    for place in (10, 11, 12, 13):
        diameters[place] += 3 * 0.0254
    proposal = propose_scale(
        notes_of(diameters), sizes=SIZES, strength_mpa=modern_mpa, plain_limit=0.7, odd={54, 55, 56, 57}
    )
    assert [change.key for change in proposal.changes] == [54, 55, 56, 57]


def test_a_smooth_scale_in_half_numbers_is_left_alone() -> None:
    rng = np.random.default_rng(12)
    diameters = [0.9906 - 0.0254 * (place // 6) + rng.normal(0, 0.004) for place in range(42)]  # seven runs of six
    proposal = propose_scale(notes_of(diameters), sizes=SIZES, strength_mpa=modern_mpa, plain_limit=0.7)
    assert proposal.changes == ()


def test_wire_of_unknown_strength_is_kept() -> None:
    notes = notes_of([0.9144, 1.0668, 0.9144, 0.9144, 0.889])
    proposal = propose_scale(notes, sizes=SIZES, strength_mpa=lambda _: None, plain_limit=0.7)
    assert proposal.changes == ()
    assert len(proposal.options) == 1


def test_weights_below_0_are_refused() -> None:
    with pytest.raises(InputError, match="weights"):
        SmoothnessWeights(tension=-1.0)
