"""Shellac: cuts, quantities, drying."""

from __future__ import annotations

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.finish import Gallon, drying_factor, polish_needed, shellac_g_per_l
from strikeline.physics.finish_stages import STAGES, Treatment


@pytest.mark.parametrize(("cut", "g_per_l"), [(1.0, 120.0), (1.5, 180.0), (2.0, 240.0), (3.0, 359.0)])
def test_american_cuts_are_those_of_the_mixing_chart(cut: float, g_per_l: float) -> None:
    # A shellac mixing chart of 2013, as read in a secondary survey: grams to a litre of alcohol.
    assert_close(shellac_g_per_l(cut, gallon=Gallon.US), g_per_l, rtol=0, atol=0.6, why="the chart has whole grams")


def test_a_pound_to_the_imperial_gallon_is_100_grams_to_a_litre() -> None:
    assert_close(shellac_g_per_l(1.0, gallon=Gallon.UK), 99.78, rtol=0, atol=0.01, why="453.592 g to 4.54609 L")


@pytest.mark.parametrize("cut", [0.0, -1.0, 7.0, float("nan")])
def test_cuts_that_nobody_uses_are_refused(cut: float) -> None:
    with pytest.raises(InputError, match="cut"):
        shellac_g_per_l(cut, gallon=Gallon.US)


def needed(area: float = 3.0, brushed: float = 3.0, rubbed: float = 20.0, waste: float = 0.0) -> Measured:
    return polish_needed(
        Measured(area, 0.0),
        brushed_coats=Measured(brushed, 0.0),
        rubbed_coats=Measured(rubbed, 0.0),
        g_per_l=240.0,
        waste_ratio=waste,
    ).polish_l


def test_polish_goes_with_area_coats_and_waste() -> None:
    one = needed()
    assert_close(one.value, 3.0 * (3.0 / 8.5 + 20.0 / 40.0), rtol=1e-12, atol=0, why="area × coats ÷ coverage")
    assert_close(needed(area=6.0).value, 2.0 * one.value, rtol=1e-12, atol=0, why="twice the area")
    assert_close(needed(waste=0.2).value, 1.2 * one.value, rtol=1e-12, atol=0, why="a fifth more")
    assert one.se > 0.1 * one.value, "coverage is from memory"


def test_a_litre_of_alcohol_with_its_shellac_is_the_polish_that_is_needed() -> None:
    told = polish_needed(
        Measured(3.0, 0.1),
        brushed_coats=Measured(3.0, 0.0),
        rubbed_coats=Measured(20.0, 2.0),
        g_per_l=240.0,
        waste_ratio=0.1,
    )
    room = told.alcohol_l.value + told.shellac_g.value / 1150.0
    assert_close(room, told.polish_l.value, rtol=1e-12, atol=0, why="alcohol and resin together")
    assert_close(told.shellac_g.value, 240.0 * told.alcohol_l.value, rtol=1e-12, atol=0, why="the cut")


def test_alcohol_leaves_as_its_vapour_pressure_lets_it() -> None:
    # Vapour pressure of ethanol in kPa at 10, 20, 30 °C: 3.11, 5.85, 10.5 (Antoine's equation, from memory).
    for degc, kpa in ((10.0, 3.11), (30.0, 10.5)):
        assert_close(
            drying_factor(degc, rh_pct=50.0), 5.85 / kpa, rtol=0.03, atol=0, why="one heat for all temperatures"
        )


def test_damp_air_dries_slower_and_dry_air_not_faster() -> None:
    factors = [drying_factor(20.0, rh_pct=rh) for rh in (20.0, 50.0, 60.0, 75.0)]
    assert factors[0] == factors[1] == 1.0
    assert factors[1] < factors[2] < factors[3] == 1.5


@pytest.mark.parametrize(("degc", "rh"), [(5.0, 50.0), (40.0, 50.0), (20.0, 85.0), (20.0, 5.0)])
def test_nobody_polishes_in_such_air(degc: float, rh: float) -> None:
    with pytest.raises(InputError, match=r"temperature|rh"):
        drying_factor(degc, rh_pct=rh)


def test_the_full_sequence_takes_about_thirty_coats() -> None:
    # "About 30 coats, then wax": a UK restorers' price page, as read in a secondary survey.
    fewest, most = (
        sum(stage.sessions[side] * stage.coats_per_session for stage in STAGES[Treatment.STRIP]) for side in (0, 1)
    )
    assert fewest <= 30 <= most


def test_the_full_sequence_on_an_upright_takes_the_hours_remembered() -> None:
    low, high = (
        sum(stage.sessions[side] * stage.session_h[side] * 3.5 for stage in STAGES[Treatment.STRIP]) for side in (0, 1)
    )
    assert_close([low, high], [25.0, 60.0], rtol=0.15, atol=0, why="from memory, in fives")


def test_each_treatment_takes_more_than_the_one_before() -> None:
    ends = [sum(stage.sessions[1] * stage.session_h[1] for stage in STAGES[one]) for one in Treatment]
    assert ends == sorted(ends)


def test_ranges_are_the_right_way_round() -> None:
    for stage in (stage for stages in STAGES.values() for stage in stages):
        for low, high in (stage.sessions, stage.session_h, stage.wait_between_h, stage.wait_after_h):
            assert 0 <= low <= high, stage.name
        assert stage.source
