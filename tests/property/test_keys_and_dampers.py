"""Corrections carried out on invented keyboards and dampers bring them to where they should be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.domain.catalogue import Action, the_catalogue
from strikeline.keyboard import SHORT_COMPASS, is_white, key_name
from strikeline.measured import Measured
from strikeline.physics.even_run import fit_run
from strikeline.workshop.dampers import Timing, judge_dampers
from strikeline.workshop.keys import Arms, KeysAdvice, judge_keys

ARMS = Arms(front_mm=220.0, back_mm=190.0, capstan_mm=110.0)
RISE = 1.0 + ARMS.front_mm / ARMS.back_mm
NATURALS = [key for key in SHORT_COMPASS if is_white(key)]


def told(level: NDArray[np.float64], dip: NDArray[np.float64], rng: np.random.Generator, goal: str) -> KeysAdvice:
    """Return the advice on a keyboard read with a careful hand's error, 0.1 mm in 95 of 100."""
    rows = ["note;key level;key dip"]
    for place, key in enumerate(NATURALS):
        read = [value + rng.normal(0, 0.1 / 1.96) for value in (level[place], dip[place])]
        rows.append(f"{key_name(key)};{read[0]:.3f};{read[1]:.3f}")
    return judge_keys(
        "\n".join(rows),
        action="upright_under_damper",
        goal=goal,
        arms=ARMS,
        papers_mm=(0.05, 0.08, 0.13, 0.25, 0.5),
        n_keys=None,
        n_naturals=None,
        lowest_letter=None,
    )


@pytest.mark.parametrize("goal", ["run", "figure"])
def test_papers_laid_as_told_bring_an_invented_keyboard_into_tolerance(goal: str) -> None:
    rng = np.random.default_rng(21)
    tolerance = {name: the_catalogue()[name].nominals[0].tolerance for name in ("key_level", "key_dip")}
    n_out = n_left = 0
    for _piano in range(12):
        x = (np.array(NATURALS) - 43) / 42
        bend = 0.2 * x - 0.4 * (1 - x**2) if goal == "run" else np.zeros(len(x))
        sunk = np.where(rng.random(len(x)) < 0.2, rng.uniform(-1.8, -0.6, len(x)), 0.0)
        level = bend + sunk + rng.normal(0, 0.05, len(x))
        dip = 10.25 + sunk + np.where(rng.random(len(x)) < 0.1, 0.8, 0.0) + rng.normal(0, 0.05, len(x))
        wanted_dip = 10.25
        n_out += int(np.sum(np.abs(level - bend) > tolerance["key_level"] + 0.2))
        for _round in range(2):
            levels, dips = told(level, dip, rng, goal).runs
            for place, (high, deep) in enumerate(zip(levels.keys, dips.keys, strict=True)):
                # The truth: a paper at the balance rail turns the key about the back rail; the front rail stays.
                raised = sum(high.papers_mm) * RISE * (1 if high.papers_are_added else -1)
                level[place] += raised
                dip[place] += raised - sum(deep.papers_mm) * (1 if deep.papers_are_added else -1)
        # What a reading cannot tell may stay: the tolerance, and twice the half-width of a reading.
        n_left += int(np.sum(np.abs(level - bend) > tolerance["key_level"] + 0.2))
        n_left += int(np.sum(np.abs(dip - wanted_dip) > tolerance["key_dip"] + 0.2))
    assert n_out > 80, "the keyboards were out of order before"
    # Beyond that lies what is read wrong by more than the half-width of 95 of 100, both times: under 1 in 200.
    assert n_left <= 2 * 12 * len(NATURALS) / 200


def test_dampers_set_as_told_start_half_way() -> None:
    rng = np.random.default_rng(5)
    keys = list(range(10, 60, 2))
    blow, ratio = 46.0, 5.0
    start = 50.0 + np.where(rng.random(len(keys)) < 0.3, rng.choice([-30.0, 30.0], len(keys)), 0.0)
    rows = ["note,quantity,value"]
    rows += [
        f"{key_name(key)},damper timing,{value + rng.normal(0, 2):.2f}" for key, value in zip(keys, start, strict=True)
    ]
    rows.append(f"{key_name(keys[0])},blow,{blow}")
    advice = judge_dampers("\n".join(rows), action="grand", ratio=Measured(ratio, 0.0))
    for place, one in enumerate(advice.by_key):
        if one.later_key_mm is not None:
            start[place] += 100.0 * one.later_key_mm.value * ratio / blow
    assert sum(one.timing in {Timing.EARLY, Timing.LATE} for one in advice.by_key) >= 5
    nominal = the_catalogue()["damper_start"].nominal(Action.GRAND)
    assert nominal is not None
    assert np.all(np.abs(start - 50.0) <= nominal.tolerance)


values = st.lists(st.floats(-5, 5), min_size=8, max_size=20)


@settings(max_examples=60, deadline=None)
@given(read=values, shift=st.floats(-10, 10), tilt=st.floats(-2, 2), scale=st.floats(0.1, 10))
def test_a_run_follows_what_is_done_to_all_readings(read: list[float], shift: float, tilt: float, scale: float) -> None:
    keys = list(range(1, 4 * len(read), 4))
    x = np.linspace(-1, 1, len(read))
    plain = fit_run(keys, [Measured(one, 0.05) for one in read], degree=1)
    changed = fit_run(
        keys,
        [Measured(scale * (one + shift + tilt * at), scale * 0.05) for one, at in zip(read, x, strict=True)],
        degree=1,
    )
    assert plain is not None
    assert changed is not None
    for key, at in ((keys[0], -1.0), (keys[-1], 1.0)):
        wanted = scale * (plain.at(key).value + shift + tilt * at)
        size = scale * (max(map(abs, read)) + abs(shift) + abs(tilt) + 1.0)
        assert_close(changed.at(key).value, wanted, rtol=0, atol=1e-6 * size, why="rounding")
