"""Dampers and pedals from tables."""

import pytest

from strikeline.domain.catalogue import Place
from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.workshop.dampers import Timing, judge_dampers, read_ratio

RATIO = Measured(5.0, 0.05)


def wide(quantity: str, values: dict[int, float], condition: str = "") -> str:
    return "".join(f"{key_name(key)},{quantity},{value},{condition}\n" for key, value in values.items())


def table(*parts: str) -> str:
    return "note,quantity,value,condition\n" + "".join(parts)


def test_an_early_damper_is_told_how_much_later_it_should_start_in_hammer_and_key() -> None:
    text = table(wide("damper timing", {40: 20, 45: 50, 50: 85}), wide("blow", {40: 44, 50: 46}))
    early, good, late = judge_dampers(text, action="grand", ratio=RATIO).by_key
    assert [one.timing for one in (early, good, late)] == [Timing.EARLY, Timing.WITHIN, Timing.LATE]
    assert early.later_hammer_mm is not None
    assert early.later_key_mm is not None
    assert early.later_hammer_mm.value == pytest.approx(0.30 * 44)
    assert early.later_key_mm.value == pytest.approx(0.30 * 44 / 5)
    assert late.later_hammer_mm is not None
    assert late.later_hammer_mm.value == pytest.approx(-0.35 * 46)
    assert good.later_hammer_mm is None
    without = judge_dampers(table(wide("damper timing", {40: 20})), action="grand").by_key[0]
    assert without.later_hammer_mm is None, "no blow is known"


def test_where_most_start_early_the_blow_is_named_before_the_spoons() -> None:
    early = dict.fromkeys(range(20, 30), 25.0)
    text = table(wide("damper timing", early), wide("blow", {20: 38, 25: 38, 29: 38}))
    advice = judge_dampers(text, action="upright_under_damper")
    assert advice.common is Timing.EARLY
    assert advice.is_blow_usual is Place.LOW
    few = table(wide("damper timing", {**dict.fromkeys(range(20, 30), 50.0), 24: 20.0}))
    assert judge_dampers(few, action="upright_under_damper").common is None


def test_one_damper_out_of_line_by_pedal_stands_out_and_an_even_slope_is_a_slope() -> None:
    even = {key: 4.0 + 0.03 * key for key in range(1, 70, 4)}
    lift = judge_dampers(table(wide("pedal travel to damper lift", even)), action="grand").pedal
    assert lift is not None
    assert lift.tilt_mm is not None
    assert lift.tilt_mm.value == pytest.approx(0.03 * 68)
    assert {one.timing for one in lift.dampers} == {Timing.WITHIN}
    assert lift.own_scatter_mm is not None
    assert lift.own_scatter_mm.value == 0.0
    assert lift.first_mm.value == pytest.approx(4.03)
    one_late = judge_dampers(table(wide("pedal travel to damper lift", {**even, 33: 8.5})), action="grand").pedal
    assert one_late is not None
    assert [one.key for one in one_late.dampers if one.timing is Timing.LATE] == [33]


def test_the_pedal_should_lift_slightly_more_than_the_key() -> None:
    text = table(
        wide("damper rise", {40: 4, 45: 4, 50: 1.5}, "key"), wide("damper rise", {40: 2.5, 45: 5.5}, "by pedal")
    )
    less, more, low = judge_dampers(text, action="upright_under_damper").rises
    assert [one.pedal_lifts_more for one in (less, more, low)] == [False, True, None]
    assert low.place is Place.LOW


def test_the_half_blow_leaves_a_half_to_two_thirds() -> None:
    text = table(wide("blow", {10: 46, 40: 46, 70: 46}), wide("half-blow distance", {10: 40, 40: 27, 70: 30.5, 75: 20}))
    advice = judge_dampers(text, action="upright_under_damper")
    high, usual, near = advice.half_blows
    assert [one.is_usual for one in (high, usual, near)] == [False, True, None]
    assert high.share.value == pytest.approx(40 / 46)
    assert high.rail_mm is not None
    assert high.rail_mm.value == pytest.approx(40 - 7 / 12 * 46)
    assert judge_dampers(text, action="grand").half_blows == (), "a grand has no half-blow rail"


def test_free_play_is_held_against_its_figure() -> None:
    advice = judge_dampers("note,quantity,value\n,damper pedal free play,9\n", action="grand")
    assert advice.free_play_place is Place.HIGH


def test_a_table_without_dampers_is_refused_with_what_to_read() -> None:
    with pytest.raises(InputError, match="pedal travel to damper lift"):
        judge_dampers(table(wide("blow", {40: 46})), action="grand")


def test_the_ratio_is_read_with_or_without_its_error() -> None:
    assert read_ratio("5,0 +- 0.2") == Measured(5.0, 0.2 / 1.96)
    assert read_ratio("5").se == pytest.approx(0.1 / 1.96)
    for wrong in ("50", "five", "5±x"):
        with pytest.raises(InputError, match="ratio = "):
            read_ratio(wrong)
