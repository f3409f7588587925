from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.climate_drift import DriftVerdict, judge_drift
from strikeline.physics.drift_shape import fit_shape

KEYS = np.arange(1, 89)
BREAK_AFTER = 30
HUMIDITY = np.where(
    KEYS <= BREAK_AFTER, 0.6, np.where(KEYS <= 49, 2.0 ** (0.7 * (49 - KEYS) / 12), np.exp(-(KEYS - 49) / 15))
)
"""An invented drift, 1 at A4: gentler below A4 than the rule doubles, so that the judge is tried on another rule."""
N = 40
MOST = N - 4
"""What a verdict has to reach of 40: nine in ten."""


def heard(seed: int, drift: np.ndarray, *, scatter: float = 0.8) -> dict[int, Measured]:
    rng = np.random.default_rng(seed)
    cents = drift + rng.normal(0, scatter, 88) + rng.normal(0, 0.5, 88) + rng.normal(0, 0.1, 88)
    return {int(key): Measured(float(value), 0.1) for key, value in zip(KEYS, cents, strict=True)}


def verdicts(
    drift: np.ndarray, *, rh: float | None, scatter: float = 0.8, known_break: bool = True
) -> Counter[DriftVerdict]:
    found = Counter[DriftVerdict]()
    for seed in range(N):
        rng = np.random.default_rng([seed, 2])
        change = None if rh is None else Measured(rh + float(rng.normal(0, 2.1)), 2.1)
        told = judge_drift(
            heard(seed, drift, scatter=scatter), rh_change_pct=change, break_after=BREAK_AFTER if known_break else None
        )
        found[told.verdict] += 1
    return found


@pytest.mark.parametrize("known_break", [True, False])
@pytest.mark.parametrize("rh", [12.0, -12.0])
def test_a_drift_with_the_air_fits_climate(rh: float, known_break: bool) -> None:
    assert verdicts(0.8 * rh * HUMIDITY, rh=rh, known_break=known_break)[DriftVerdict.CLIMATE] >= MOST


def test_a_drift_against_the_air_does_not() -> None:
    assert verdicts(-8.0 * HUMIDITY, rh=12.0)[DriftVerdict.NOT_CLIMATE] >= MOST


def test_notes_that_moved_one_by_one_are_not_climate() -> None:
    for rh in (12.0, 1.0):
        assert verdicts(np.zeros(88), rh=rh, scatter=6.0)[DriftVerdict.NOT_CLIMATE] >= MOST


def test_a_drift_and_slipped_pins_are_climate_in_part() -> None:
    slipped = np.zeros(88)
    slipped[[4, 13, 33, 41, 52, 66, 80]] = -25.0
    assert verdicts(9.6 * HUMIDITY + slipped, rh=12.0)[DriftVerdict.PARTLY] >= MOST


def test_a_large_drift_in_still_air_is_not_climate() -> None:
    assert verdicts(25.0 * HUMIDITY, rh=0.0)[DriftVerdict.NOT_CLIMATE] >= MOST


@pytest.mark.parametrize("rh", [0.0, 12.0])
def test_what_a_warmer_room_may_have_done_is_left_open_and_what_it_cannot_have_done_is_not(rh: float) -> None:
    warmer, air = Measured(10.0, 0.7), Measured(rh, 2.1)
    flatter = heard(5, np.full(88, -15.0))  # 10 K lower the strings by up to 22 cents while the frame lags
    told = judge_drift(flatter, rh_change_pct=air, temperature_change_degc=warmer, break_after=BREAK_AFTER)
    assert told.verdict is DriftVerdict.CANNOT_TELL
    assert any("Temperature moves A3 to A4 that way" in words for words in told.left_open)
    for drift, change in ((15.0, warmer), (-15.0, None), (-60.0, warmer)):
        other = heard(5, np.full(88, drift))
        still = judge_drift(
            other, rh_change_pct=Measured(-rh if drift > 0 else rh, 2.1), temperature_change_degc=change
        )
        assert still.verdict is DriftVerdict.NOT_CLIMATE


def test_all_notes_alike_are_left_open() -> None:
    assert verdicts(np.full(88, 6.0), rh=12.0)[DriftVerdict.CANNOT_TELL] >= MOST - 4


def test_a_piano_that_stayed_is_said_to_have_stayed() -> None:
    # Four looks share 5 %: of 40, two are expected to speak up falsely.
    found = verdicts(np.zeros(88), rh=12.0, scatter=0.0)
    assert found[DriftVerdict.NO_CHANGE] >= MOST - 2
    assert found[DriftVerdict.CLIMATE] <= 1


def test_without_humidity_nothing_is_called_climate() -> None:
    found = verdicts(9.6 * HUMIDITY, rh=None)
    assert set(found) == {DriftVerdict.CANNOT_TELL}
    told = judge_drift(heard(1, 9.6 * HUMIDITY), rh_change_pct=None)
    assert any("humidity is not known" in words for words in told.left_open)


def test_a_few_notes_are_too_few() -> None:
    few = {key: Measured(3.0, 0.1) for key in range(40, 50)}
    told = judge_drift(few, rh_change_pct=Measured(10.0, 1.0))
    assert told.verdict is DriftVerdict.CANNOT_TELL
    assert told.shape is None


def test_notes_that_moved_by_themselves_are_named() -> None:
    drift = np.zeros(88)
    drift[[19, 59]] = [-15.0, 12.0]
    shape = judge_drift(heard(3, drift), rh_change_pct=None, break_after=BREAK_AFTER).shape
    assert shape is not None
    assert shape.off_the_curve == (20, 60)


def test_level_and_curve_are_honest() -> None:
    n, inside, curved = 400, 0, 0
    for seed in range(n):
        shape = fit_shape(heard(seed, np.full(88, 6.0)), break_after=BREAK_AFTER, repeats_cents=0.5)
        inside += not shape.mean_cents.differs_from(6.0)
        curved += shape.is_curved
    assert abs(inside - 0.95 * n) <= 13, f"{inside} of {n}: 95 % within three standard deviations"
    assert curved <= 0.05 * n + 13, f"{curved} of {n} level drifts called curved"


@pytest.mark.parametrize("known_break", [True, False])
@pytest.mark.parametrize("drift", [4.0 * np.exp(-(((KEYS - 41) / 18) ** 2)), 9.6 * HUMIDITY], ids=["hump", "humidity"])
def test_registers_are_told_honestly_where_no_curve_of_few_bends_can_follow(
    drift: np.ndarray, known_break: bool
) -> None:
    n, inside, loners = 200, np.zeros(3, dtype=int), 0
    registers = ((KEYS >= 37) & (KEYS <= 49), KEYS >= 76, KEYS > 0)
    for seed in range(n):
        shape = fit_shape(heard(seed, drift), break_after=BREAK_AFTER if known_break else None, repeats_cents=0.5)
        for i, told in enumerate((shape.tenor_cents, shape.top_cents, shape.mean_cents)):
            assert told is not None
            inside[i] += not told.differs_from(float(drift[registers[i]].mean()))
        loners += len(shape.off_the_curve)
    assert (inside >= 0.95 * n - 9).all(), f"{inside} of {n}: 95 % less three standard deviations"
    assert loners <= 0.05 * n, f"{loners} notes called loners in {n} pianos, the step at the break among them"


def test_scatter_that_is_not_seen_is_not_known_to_be_none() -> None:
    still = {int(key): Measured(0.0, 0.1) for key in KEYS}
    scatter = fit_shape(still, break_after=BREAK_AFTER, repeats_cents=0.5).scatter_cents
    # The variance of 88 residuals of 0.51 cents is good to √(2/82), 16 %: 0.2 cents may hide beside them.
    assert_close([scatter.value, scatter.se], [0.0, 0.1], rtol=0, atol=0.02, why="half the root of 0.26 * 0.16")


def test_an_impossible_repeatability_is_refused() -> None:
    with pytest.raises(InputError, match="repeats_cents"):
        judge_drift(heard(1, HUMIDITY), rh_change_pct=None, repeats_cents=-1.0)
