"""What to do with a finish, and when."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from tests.closeness import assert_close

from strikeline.domain.cautions import the_cautions
from strikeline.errors import InputError
from strikeline.physics.finish_stages import Treatment
from strikeline.workshop.finish import CAUTIONS, FinishPlan, PlanAsked, judge_finish, plan_finish, read_area
from strikeline.workshop.finish_choice import SIGHTS, Finish, FinishChoice, Verdict, read_sight

MONDAY = dt.date(2026, 11, 30)


def choice(*sights: str, finish: Finish = Finish.SHELLAC, is_original: bool | None = True) -> FinishChoice:
    return judge_finish(sights, finish=finish, is_original=is_original).choice


def verdicts(told: FinishChoice) -> dict[Treatment, Verdict]:
    return {one.treatment: one.verdict for one in told.options}


@pytest.mark.parametrize(
    ("sights", "advised"),
    [
        (["dirt"], Treatment.CLEAN),
        (["dirt", "dull"], Treatment.REVIVE),
        (["water-marks"], Treatment.REVIVE),
        (["dull", "crackle"], Treatment.REAMALGAMATE),
        (["crackle", "thin"], Treatment.PAD_OVER),
        (["flaking=30%", "dirt"], Treatment.STRIP),
        (["wrong coating"], Treatment.STRIP),
    ],
)
def test_the_least_that_mends_all_that_was_seen_is_advised(sights: list[str], advised: Treatment) -> None:
    told = choice(*sights)
    assert told.advised is advised
    less = list(Treatment)[: list(Treatment).index(advised)]
    assert all(verdicts(told)[one] is Verdict.NOT_ENOUGH for one in less)


def test_stripping_is_never_advised_for_what_less_will_mend() -> None:
    mended = [name for name, sight in SIGHTS.items() if sight.needs is not Treatment.STRIP]
    for pair in itertools.combinations(mended, 2):
        assert verdicts(choice(*pair))[Treatment.STRIP] is Verdict.MORE_THAN_NEEDED


def test_small_losses_are_mended_in_their_place() -> None:
    told = choice("flaking=5%", "dirt")
    assert told.local == ("flaking",)
    assert told.advised is Treatment.REVIVE
    assert choice("flaking=15%").advised is Treatment.STRIP


def test_where_nobody_said_how_far_a_loss_reaches_the_less_is_done_and_asked() -> None:
    told = choice("flaking")
    assert told.advised is Treatment.REVIVE
    assert any("how much of the surface: flaking" in note for note in told.notes)


def test_alcohol_is_not_put_on_a_finish_that_it_does_not_soften() -> None:
    told = verdicts(choice("crackle", finish=Finish.OTHER))
    assert told[Treatment.REAMALGAMATE] is Verdict.EXCLUDED
    assert told[Treatment.PAD_OVER] is Verdict.EXCLUDED
    assert Verdict.ADVISED not in told.values()


def test_an_unknown_finish_is_tested_first() -> None:
    told = choice("crackle", finish=Finish.UNKNOWN)
    assert told.advised is None
    assert verdicts(told)[Treatment.REAMALGAMATE] is Verdict.TEST_FIRST
    assert any("cotton bud" in note for note in told.notes)
    assert judge_finish(["crackle"], finish=Finish.UNKNOWN, is_original=None).cautions == ("ammonia", "alcohol")


def test_what_is_in_order_is_left_alone() -> None:
    told = choice()
    assert told.advised is None
    assert any("left alone" in note for note in told.notes)


def test_an_original_finish_speaks_against_stripping_and_a_refinished_one_does_not() -> None:
    def against(is_original: bool | None) -> str:
        told = choice("flaking=80%", is_original=is_original)
        return " ".join(told.options[-1].speaks_against) + " ".join(told.notes)

    assert "originals hold value" in against(True)
    assert "in writing first" in against(None)
    assert "originals hold value" not in against(False)
    assert "in writing first" not in against(False)


@pytest.mark.parametrize("text", ["crackel", "flaking=0", "flaking=120%", "flaking=much"])
def test_what_is_not_known_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="sees"):
        read_sight(text)


def test_every_caution_is_in_the_catalogue() -> None:
    assert {one for ids in CAUTIONS.values() for one in ids} <= set(the_cautions())
    assert set(CAUTIONS) == set(Treatment)
    assert all("alcohol" in CAUTIONS[one] for one in (Treatment.REAMALGAMATE, Treatment.PAD_OVER, Treatment.STRIP))
    assert all("oily_rags" in CAUTIONS[one] for one in (Treatment.REVIVE, Treatment.PAD_OVER, Treatment.STRIP))


def plan(
    treatment: Treatment = Treatment.STRIP,
    *,
    degc: float = 20.0,
    rh: float = 50.0,
    start: dt.date = MONDAY,
    area: str = "3.5 m²",
    every_day: bool = False,
) -> FinishPlan:
    asked = PlanAsked(
        areas=(area,), g_per_l=240.0, waste_ratio=0.2, start=start, temperature_degc=degc, rh_pct=rh,
        works_every_day=every_day,
    )  # fmt: skip
    return plan_finish(treatment, asked)


@pytest.mark.parametrize("treatment", Treatment)
def test_stages_follow_each_other_and_the_slow_course_is_never_ahead(treatment: Treatment) -> None:
    told = plan(treatment)
    for stage in told.stages:
        assert stage.begins[0] <= stage.begins[1]
        assert stage.ends[0] <= stage.ends[1]
        assert all(begin <= end for begin, end in zip(stage.begins, stage.ends, strict=True))
    for one, after in itertools.pairwise(told.stages):
        assert one.ends[0] <= after.begins[0]
        assert one.ends[1] <= after.begins[1]
    assert told.stages[0].begins == (MONDAY, MONDAY)
    assert told.ready == told.stages[-1].ends


def test_nobody_works_at_the_weekend_unless_told_to() -> None:
    saturday = dt.date(2026, 12, 5)
    told = plan(start=saturday)
    assert told.stages[0].begins[0] == dt.date(2026, 12, 7)
    work = [one for one in told.stages if one.work_h[1]]
    assert all(day.weekday() < 5 for one in work for day in one.begins)
    assert plan(start=saturday, every_day=True).stages[0].begins[0] == saturday
    assert plan(every_day=True).ready[0] <= told.ready[0]


def test_cold_and_damp_make_it_later() -> None:
    ready = [plan(degc=degc, rh=rh).ready for degc, rh in ((28.0, 50.0), (20.0, 50.0), (12.0, 50.0), (12.0, 70.0))]
    assert all(one[1] < other[1] for one, other in itertools.pairwise(ready))
    assert all(one[0] <= other[0] for one, other in itertools.pairwise(ready))
    assert any("Below 16 °C" in one for one in plan(degc=12.0).notices)
    assert any("Above 65 %" in one for one in plan(rh=70.0).notices)


def test_it_hardens_two_to_four_weeks_in_any_air() -> None:
    harden = plan(Treatment.PAD_OVER, degc=25.0).stages[-1]
    assert [(end - begin).days for begin, end in zip(harden.begins, harden.ends, strict=True)] == [14, 28]


def test_a_treatment_without_alcohol_does_not_ask_for_its_air() -> None:
    told = plan(Treatment.REVIVE, degc=5.0, rh=80.0)
    assert told.polish is None
    assert told.drying_factor == 1.0
    with pytest.raises(InputError, match="temperature"):
        plan(Treatment.PAD_OVER, degc=5.0)


def test_a_day_has_nine_hours_of_work() -> None:
    told = plan(area="12 m²")
    strip = told.stages[1]
    assert_close(strip.work_h, [18.0, 36.0], rtol=1e-9, atol=0, why="1.5 to 3 h a square metre")
    assert (strip.ends[0] - strip.begins[0]).days >= 2


def test_areas_are_added_in_any_unit() -> None:
    told = read_area(("1400mm x 600mm", "1,2 m2", "20 ft²", "500 × 400"))
    assert_close(told.value, 0.84 + 1.2 + 20 * 0.3048**2 + 0.2, rtol=1e-9, atol=0, why="a sum")
    assert told.se > 0
    with pytest.raises(InputError, match="area"):
        read_area(())
    with pytest.raises(InputError, match="area"):
        read_area(("much",))


def test_a_plan_against_the_advice_says_so() -> None:
    asked = PlanAsked(areas=("1 m2",), g_per_l=240.0, waste_ratio=0.2, start=MONDAY, temperature_degc=20.0, rh_pct=50.0)
    for finish, treatment, words in (
        (Finish.OTHER, Treatment.REAMALGAMATE, "reamalgamate is excluded: alcohol does not soften"),
        (Finish.SHELLAC, Treatment.STRIP, "strip and repolish is more than needed: the original finish is gone"),
        (Finish.SHELLAC, Treatment.CLEAN, "clean is not enough"),
    ):
        report = judge_finish(["crackle"], finish=finish, is_original=None, treatment=treatment, asked=asked)
        assert report.plan is not None
        assert words in report.plan.notices[0]
    advised = judge_finish(["crackle"], finish=Finish.SHELLAC, is_original=None, asked=asked)
    assert advised.plan is not None
    assert not any("advised" in one for one in advised.plan.notices)


def test_the_json_has_days_as_text() -> None:
    asked = PlanAsked(areas=("1 m2",), g_per_l=240.0, waste_ratio=0.2, start=MONDAY, temperature_degc=20.0, rh_pct=50.0)
    told = judge_finish(["thin"], finish=Finish.SHELLAC, is_original=None, asked=asked).to_json()
    assert told["schema"] == "strikeline.finish/1"
    assert told["plan"]["stages"][0]["begins"] == ["2026-11-30", "2026-11-30"]
    assert told["choice"]["advised"] == "pad over"
