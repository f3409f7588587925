from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.unit.physics.pin_fields import field, pin

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.pin_care import (
    LADDER,
    Advice,
    PinChange,
    advise,
    compare_surveys,
    larger_pins,
    meaning_of_place,
)
from strikeline.physics.pin_pattern import find_pattern
from strikeline.physics.wrest_pins import Pin, StringSide, describe_field


def advice(pins: list[Pin]) -> Advice:
    return advise(describe_field(pins), find_pattern(pins))


def even(torque_nm: float, *, weak: dict[int, float] | None = None) -> list[Pin]:
    return [pin(key, (weak or {}).get(key, torque_nm)) for key in range(1, 61)]


def test_a_firm_field_needs_nothing() -> None:
    assert advice(even(9.0)).rungs == ()


def test_single_weak_pins_are_treated_singly() -> None:
    told = advice(even(9.0, weak={7: 4.0, 21: 4.5, 40: 4.1, 55: 4.2}))
    assert told.rungs == ("check", "tap", "glue")
    assert not told.stops_pitch_raise


@pytest.mark.parametrize(("torque_nm", "rungs"), [(9.0, ()), (4.5, ("check", "tap", "glue"))])
def test_a_handful_of_pins_says_nothing_of_the_field(torque_nm: float, rungs: tuple[str, ...]) -> None:
    for n in (1, 2, 19):
        told = advice(even(torque_nm)[:n])
        assert told.rungs == rungs
        assert "nothing of the others" in told.words
        assert not told.stops_pitch_raise
    assert advice(even(2.5)[:3]).stops_pitch_raise, "what fails is looked at before anything is pulled up"


def test_pins_in_line_stop_the_pitch_raise() -> None:
    told = advice(even(9.0, weak=dict.fromkeys(range(20, 29), 3.0)))
    assert told.stops_pitch_raise
    assert "crack" in told.words


def test_a_field_marginal_all_over_is_glued_or_repinned() -> None:
    told = advice(even(4.5))
    assert told.rungs == ("check", "glue", "oversize pin")
    assert not told.stops_pitch_raise


def test_a_field_failing_all_over_stops_the_pitch_raise() -> None:
    assert advice(even(2.5)).stops_pitch_raise


def test_every_rung_that_is_advised_stands_on_the_ladder_with_its_source() -> None:
    names = [rung.name for rung in LADDER]
    for pins in (even(9.0), even(4.5), even(2.5), field(1), field(1, run=range(10, 20))):
        rungs = advice(pins).rungs
        assert [name for name in names if name in rungs] == list(rungs), "the least first"
    assert all(rung.source for rung in LADDER)
    assert all(rung.caution for rung in LADDER if rung.name != "check")


def test_the_same_row_means_different_things_by_its_place() -> None:
    at_frame, in_field, unknown = (meaning_of_place(place) for place in (True, False, None))
    assert "flange" in at_frame
    assert "ends the plank" in in_field
    assert "not noted" in unknown


def test_a_larger_pin_is_larger_beyond_the_calliper() -> None:
    (nearest, *_) = larger_pins(Measured(7.15, 0.01), n=3)
    assert nearest.size.label == "2½/0", "2/0 is 7.16 mm, within the reading of 7.15"
    assert larger_pins(Measured(7.64, 0.002), n=3)[0].size.label == "6/0"
    assert larger_pins(Measured(7.9, 0.01), n=3) == ()


def test_a_diameter_in_inches_is_refused() -> None:
    with pytest.raises(InputError, match="diameter_mm"):
        larger_pins(Measured(0.282, 0.001), n=1)


def moved(pins: list[Pin], by_nm: float, seed: int) -> list[Pin]:
    rng = np.random.default_rng([seed, 9])
    return [
        Pin(key=p.key, string=p.string, torque_nm=Measured(p.torque_nm.value + by_nm + float(rng.normal(0, 1.0)), 0.3))
        for p in pins
    ]


def test_a_change_is_found_and_none_is_not() -> None:
    n = 200
    found = [compare_surveys(field(s, n_notes=6), moved(field(s, n_notes=6), 0.0, s)).verdict for s in range(n)]
    false_alarms = sum(one is not PinChange.NONE_TOLD for one in found)
    assert false_alarms <= 20, f"{false_alarms} of {n}: 5 % and three standard deviations"
    assert compare_surveys(field(1), moved(field(1), 1.5, 1)).verdict is PinChange.ROSE
    assert compare_surveys(field(1), moved(field(1), -1.5, 1)).verdict is PinChange.FELL


def test_pins_are_paired_by_note_and_string() -> None:
    before = [pin(key, 4.0) for key in range(1, 21)]
    after = [pin(key, 8.0) for key in range(5, 25)]
    told = compare_surveys(before, after, rh_before_pct=45.0, rh_after_pct=46.0)
    assert (told.n_pairs, told.only_before, told.only_after) == (16, 4, 4)
    assert (told.n_weak_before, told.n_weak_after, told.still_weak) == (16, 0, ())
    assert told.cautions == ()


def test_weak_pins_that_nobody_touched_seem_to_rise_by_what_picking_them_does() -> None:
    # Readings with an error of 1 on grips that spread by 1: half of any distance below the mean is error.
    rises, picked = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        grip = rng.normal(6.5, 1.0, 120)
        reads = [
            [
                Pin(key=1 + i % 88, string=list(StringSide)[i // 88], torque_nm=Measured(float(value), 1.0))
                for i, value in enumerate(grip + rng.normal(0, 1.0, 120))
            ]
            for _ in range(2)
        ]
        told = compare_surveys(*reads)
        assert told.weak_change_nm is not None
        assert told.picked_nm is not None
        rises.append(told.weak_change_nm.value)
        picked.append(told.picked_nm)
    why = "60 means of some 33 pins that each move by √2: 0.03; three times that, and the weak end is not quite linear"
    assert_close(np.mean(picked), np.mean(rises), rtol=0, atol=0.1, why=why)


def test_five_pairs_are_too_few() -> None:
    pins = [pin(key, 4.0) for key in range(1, 6)]
    told = compare_surveys(pins, pins)
    assert told.verdict is PinChange.CANNOT_TELL
    assert told.mean_change_nm is None


@pytest.mark.parametrize(("after", "words"), [(None, "not noted"), (60.0, "differs by \\+15 %")])
def test_humidity_is_said_to_have_a_share(after: float | None, words: str) -> None:
    told = compare_surveys(field(1), field(2), rh_before_pct=45.0, rh_after_pct=after)
    assert words.replace("\\", "") in told.cautions[0]
