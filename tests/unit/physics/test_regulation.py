"""The relations of an action, and corrections tried on a simulated one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.regulation import (
    Change,
    NoteState,
    aftertouch_mm,
    blow_for_aftertouch_mm,
    dip_for_aftertouch_mm,
    estimate_ratio,
    ratio_from_regulation,
    ratio_from_rise,
)
from strikeline.physics.regulation_plan import (
    MeasuredNote,
    Screws,
    effects,
    nearest_papers,
    plan_corrections,
    regulate,
)
from strikeline.physics.regulation_targets import Floats, find_targets, share_targets

SCREWS = Screws(capstan_pitch_mm=0.8, capstan_ratio=0.5, set_off_mm_per_turn=2.0, papers_mm=(0.08, 0.13, 0.25, 0.5))
NOTE = NoteState(dip_mm=10.0, blow_mm=46.0, set_off_mm=3.0, lost_motion_mm=0.3, checking_mm=15.0, ratio=4.75)
ROUNDING = "rounding only"


@pytest.mark.parametrize(
    ("dip", "aftertouch", "blow", "set_off", "ratio"),
    # trade reference, geometry of regulation: the ratio that usual figures give.
    [(10.0, 1.0, 46.0, 2.0, 4.9), (10.0, 1.0, 47.0, 1.5, 5.06), (10.0, 1.0, 44.0, 2.0, 4.67)],
)
def test_usual_figures_give_the_ratios_of_the_trade_reference(
    dip: float, aftertouch: float, blow: float, set_off: float, ratio: float
) -> None:
    found = ratio_from_regulation(
        dip_mm=dip, blow_mm=blow, set_off_mm=set_off, aftertouch_mm=aftertouch, lost_motion_mm=0.0
    )
    assert_close(found, ratio, rtol=0, atol=0.012, why="printed to two decimals, 4.9 to one")


def test_a_longer_blow_and_a_wider_set_off_change_the_aftertouch_as_stated() -> None:
    # Trade reference: one millimetre more blow costs, one millimetre more set-off gives, about 0.2 mm of aftertouch.
    assert_close(effects(NOTE, Change.SET_OFF, 1.0)["aftertouch"], 0.2, rtol=0, atol=0.02, why="about, at R near 5")
    longer = NOTE.after(Change.CAPSTAN, 0.0)
    assert longer == NOTE
    worn = NoteState(dip_mm=10, blow_mm=47, set_off_mm=3, lost_motion_mm=0, checking_mm=15, ratio=4.75)
    fresh = NoteState(dip_mm=10, blow_mm=46, set_off_mm=3, lost_motion_mm=0, checking_mm=15, ratio=4.75)
    assert_close(worn.aftertouch_mm - fresh.aftertouch_mm, -0.2, rtol=0, atol=0.02, why="about, at R near 5")


@given(
    ratio=st.floats(3.5, 7.0),
    dip=st.floats(8.0, 12.0),
    blow=st.floats(38.0, 50.0),
    set_off=st.floats(0.5, 5.0),
    lost=st.floats(0.0, 1.0),
)
def test_each_of_the_relations_undoes_the_others(
    ratio: float, dip: float, blow: float, set_off: float, lost: float
) -> None:
    common = {"set_off_mm": set_off, "lost_motion_mm": lost}
    after = float(aftertouch_mm(dip_mm=dip, blow_mm=blow, ratio=ratio, **common))
    assert_close(
        dip_for_aftertouch_mm(aftertouch_mm=after, blow_mm=blow, ratio=ratio, **common),
        dip, rtol=1e-12, atol=1e-12, why=ROUNDING,
    )  # fmt: skip
    assert_close(
        blow_for_aftertouch_mm(aftertouch_mm=after, dip_mm=dip, ratio=ratio, **common),
        blow, rtol=1e-12, atol=1e-12, why=ROUNDING,
    )  # fmt: skip
    assert_close(
        ratio_from_regulation(dip_mm=dip, blow_mm=blow, aftertouch_mm=after, **common),
        ratio, rtol=1e-12, atol=0, why=ROUNDING,
    )  # fmt: skip


@given(
    lost=st.floats(0.0, 1.0),
    change=st.sampled_from([Change.DIP, Change.SET_OFF, Change.BLOW, Change.CAPSTAN, Change.CHECK]),
    amount=st.floats(-1.0, 1.0),
)
def test_a_change_taken_back_leaves_the_note_as_it_was(lost: float, change: Change, amount: float) -> None:
    note = NoteState(dip_mm=10, blow_mm=46, set_off_mm=3, lost_motion_mm=lost, checking_mm=15, ratio=4.9)
    back = note.after(change, amount).after(change, -amount)
    for name in ("dip_mm", "blow_mm", "set_off_mm", "lost_motion_mm", "checking_mm", "off_rail_mm", "aftertouch_mm"):
        assert_close(getattr(back, name), getattr(note, name), rtol=0, atol=1e-9, why=ROUNDING)


@given(lost=st.floats(0.0, 1.0), amount=st.floats(-3.0, 3.0))
def test_rail_and_capstan_never_part_the_hammer_from_both_rail_and_jack(lost: float, amount: float) -> None:
    note = NoteState(dip_mm=10, blow_mm=46, set_off_mm=3, lost_motion_mm=lost, checking_mm=15, ratio=4.9)
    for change in (Change.BLOW, Change.CAPSTAN):
        moved = note.after(change, amount)
        assert moved.lost_motion_mm == 0.0 or moved.off_rail_mm == 0.0
        assert moved.lost_motion_mm >= 0.0 and moved.off_rail_mm >= 0.0  # noqa: PT018  # one idea


def test_the_key_travel_to_set_off_is_what_the_hammer_travels_over_the_ratio() -> None:
    """The rail moved towards the strings opens lost motion only; the capstan that closes it gains the aftertouch."""
    nearer = NOTE.after(Change.BLOW, -2.0)
    assert_close(nearer.aftertouch_mm, NOTE.aftertouch_mm, rtol=0, atol=1e-12, why=ROUNDING)
    assert_close(nearer.lost_motion_mm, 0.3 + 2.0 / 4.75, rtol=1e-12, atol=0, why=ROUNDING)
    followed = nearer.after(Change.CAPSTAN, nearer.lost_motion_mm * nearer.capstan_ratio)
    assert_close(followed.aftertouch_mm, 10.0 - (44.0 - 3.0) / 4.75, rtol=1e-12, atol=0, why=ROUNDING)
    too_far = followed.after(Change.CAPSTAN, 0.1)
    assert_close(too_far.off_rail_mm, 0.1 * 4.75 / 0.5, rtol=1e-12, atol=0, why=ROUNDING)


def test_a_capstan_carries_the_check_of_an_upright_as_a_deeper_key_does_and_leaves_that_of_a_grand() -> None:
    upright = replace(NOTE, check_on_whippen=True)
    key_mm = 0.2
    by_key, by_capstan = effects(upright, Change.DIP, key_mm), effects(upright, Change.CAPSTAN, key_mm * 0.5)
    # Either puts the whippen at the bottom of the key as much higher: the same aftertouch, the same checking.
    for name in ("aftertouch", "checking"):
        assert_close(by_capstan[name], by_key[name], rtol=1e-9, atol=1e-12, why=ROUNDING)
    assert "checking" not in effects(NOTE, Change.CAPSTAN, key_mm * 0.5)


def test_a_refaced_hammer_moves_blow_set_off_and_checking_but_not_the_aftertouch() -> None:
    moved = effects(NOTE, Change.HAMMER_SHORTER, 1.5)
    assert moved == {"blow": 1.5, "set-off": 1.5, "checking": 1.5}


@pytest.mark.parametrize("n_notes", [1, 2, 3, 6, 20])
@pytest.mark.parametrize("scatter", [0.0, 0.02, 0.03])
def test_the_ratio_lies_within_its_error_as_often_as_said_however_few_the_notes(n_notes: int, scatter: float) -> None:
    rng = np.random.default_rng(20261125)
    hits, n = 0, 600
    for _ in range(n):
        true = rng.normal(4.9, scatter * 4.9, n_notes)
        estimate = estimate_ratio([Measured(float(rng.normal(one, 0.08)), 0.08) for one in true])
        hits += abs(estimate.ratio.value - 4.9) <= 1.96 * estimate.ratio.se
    # Binomial spread of 600 trials at 95 % is 0.9 %; notes that differ by less than supposed leave more than 95.
    assert hits / n >= 0.925


def test_figures_that_are_no_ratio_are_refused() -> None:
    with pytest.raises(InputError, match="3 to 8"):
        estimate_ratio([Measured(49.0, 1.0)])
    with pytest.raises(InputError, match="measure hammer_rise"):
        estimate_ratio([])


def test_one_reading_of_rise_gives_the_ratio_less_the_lost_motion() -> None:
    found = ratio_from_rise(hammer_rise_mm=27.36, key_travel_mm=6.0, lost_motion_mm=0.3)
    assert_close(found, 4.8, rtol=1e-12, atol=0, why=ROUNDING)
    with pytest.raises(InputError, match="less lost_motion"):
        ratio_from_rise(hammer_rise_mm=27.0, key_travel_mm=6.0, lost_motion_mm=6.0)


def test_the_floating_figure_follows_with_its_error() -> None:
    ratio = Measured(4.9, 0.05)
    given_dip = find_targets(
        ratio, floats=Floats.AFTERTOUCH, dip_mm=10.0, blow_mm=46.0, set_off_mm=2.0, lost_motion_mm=0.0
    )
    assert_close(given_dip.aftertouch_mm.value, 10 - 44 / 4.9, rtol=1e-12, atol=0, why=ROUNDING)
    assert_close(given_dip.aftertouch_mm.se, 44 / 4.9**2 * 0.05, rtol=1e-3, atol=0, why="second order of the error")
    with pytest.raises(InputError, match="dip floats, so give blow and aftertouch"):
        find_targets(ratio, floats=Floats.DIP, dip_mm=10.0, blow_mm=46.0, set_off_mm=2.0, lost_motion_mm=0.0)


@pytest.mark.parametrize("has_rest_rail", [True, False], ids=["upright", "grand"])
def test_the_plan_brings_a_worn_action_into_tolerance(has_rest_rail: bool) -> None:
    rng = np.random.default_rng(7)
    true = [_worn_note(rng, has_rest_rail) for _ in range(30)]
    ratio = estimate_ratio([Measured(one.ratio + rng.normal(0, 0.03), 0.03) for one in true[::5]])
    targets = find_targets(
        ratio.ratio, floats=Floats.DIP, blow_mm=46.0, aftertouch_mm=1.1, set_off_mm=3.0, lost_motion_mm=0.05,
        checking_mm=15.0,
    )  # fmt: skip
    notes = [_read(one, key, rng) for key, one in enumerate(true, start=1)]
    plan = plan_corrections(notes, targets=targets, ratio=ratio, screws=SCREWS, has_rest_rail=has_rest_rail)
    rail = 0.0 if plan.rail_mm is None else plan.rail_mm.value
    assert (plan.rail_mm is None) is not has_rest_rail
    for note, correction in zip(true, plan.corrections, strict=True):
        done = regulate(note, correction, rail_mm=rail)
        # Catalogue tolerances: set-off 0.5, blow 1, checking 1.5, dip 0.25, aftertouch 0.25.
        assert abs(done.set_off_mm - 3.0) < 0.5
        assert abs(done.blow_mm - 46.0) < 1.0
        assert abs(done.checking_mm - 15.0) < 1.5
        assert abs(done.dip_mm - targets.dip_mm.value) < 0.25
        assert abs(done.aftertouch_mm - 1.1) < 0.25
        assert abs(note.aftertouch_mm - 1.1) > 0.25 or abs(note.set_off_mm - 3.0) > 0.5


def _worn_note(rng: np.random.Generator, has_rest_rail: bool) -> NoteState:
    """Return a note of an unserviced action: deep dip, long blow, close set-off and checking."""
    return NoteState(
        dip_mm=10.9 + rng.normal(0, 0.15),
        blow_mm=47.8 + rng.normal(0, 0.2),
        set_off_mm=1.2 + rng.normal(0, 0.3),
        lost_motion_mm=abs(rng.normal(0.5, 0.2)) if has_rest_rail else 0.0,
        checking_mm=11.5 + rng.normal(0, 0.8),
        ratio=4.9 + rng.normal(0, 0.04),
        off_rail_mm=0.0 if has_rest_rail else 5.0,
        check_on_whippen=has_rest_rail,
    )


def _read(note: NoteState, key: int, rng: np.random.Generator) -> MeasuredNote:
    """Return readings of a note, each the mean of four, so that their errors are half those of the catalogue."""

    def read(value: float, half_width: float) -> Measured:
        se = half_width / 1.96 / 2.0
        return Measured(max(0.0, value + rng.normal(0, se)), se)

    return MeasuredNote(
        key=key,
        dip_mm=read(note.dip_mm, 0.1),
        blow_mm=read(note.blow_mm, 0.5),
        set_off_mm=read(note.set_off_mm, 0.3),
        lost_motion_mm=read(note.lost_motion_mm, 0.1),
        checking_mm=read(note.checking_mm, 1.0),
    )


def test_a_note_that_was_not_read_gets_no_correction() -> None:
    targets = find_targets(
        Measured(4.9, 0.05), floats=Floats.DIP, blow_mm=46, aftertouch_mm=1.1, set_off_mm=3, lost_motion_mm=0.05
    )
    ratio = estimate_ratio([Measured(4.9, 0.05)])
    plan = plan_corrections([MeasuredNote(key=40)], targets=targets, ratio=ratio, screws=SCREWS, has_rest_rail=True)
    only = plan.corrections[0]
    assert (only.dip_mm, only.capstan_mm, only.set_off_turns, only.check_mm, only.papers_mm) == (None,) * 4 + ((),)
    assert plan.rail_mm is None


@given(amount=st.floats(0.0, 2.0))
def test_papers_come_within_half_the_thinnest_of_any_amount(amount: float) -> None:
    papers = nearest_papers(amount, (0.08, 0.13, 0.25, 0.5))
    assert abs(sum(papers) - amount) <= 0.045
    assert list(papers) == sorted(papers, reverse=True)


@given(
    ratio=st.floats(4.0, 6.5),
    halves=st.tuples(st.floats(0.0, 2.0), st.floats(0.1, 1.0), st.floats(0.0, 0.5)),
)
def test_shared_figures_keep_the_relation_and_no_nearer_ones_do(
    ratio: float, halves: tuple[float, float, float]
) -> None:
    middle = {Floats.BLOW: 46.0, Floats.DIP: 10.25, Floats.AFTERTOUCH: 1.1}
    usual = {what: (value, half) for (what, value), half in zip(middle.items(), halves, strict=True)}
    found = share_targets(Measured(ratio, 0.05), set_off_mm=3.0, lost_motion_mm=0.1, usual=usual)
    blow, dip, after = found.blow_mm.value, found.dip_mm.value, found.aftertouch_mm.value
    assert_close(blow - 3.0, ratio * (dip - after - 0.1), rtol=1e-9, atol=1e-9, why=ROUNDING)

    def cost(*figures: float) -> float:
        away = zip(figures, middle.values(), halves, strict=True)
        return sum(((one - mid) / half) ** 2 for one, mid, half in away if half > 1e-6)

    best = cost(blow, dip, after)
    for more in (-0.02, 0.02):
        # Any other figures that keep the relation: change the blow, let the dip follow.
        if halves[0] > 1e-6:
            assert cost(blow + more, dip + more / ratio, after) >= best - 1e-9
        if halves[2] > 1e-6:
            assert cost(blow, dip + more, after + more) >= best - 1e-9


def test_lost_motion_is_taken_up_where_no_blow_was_read() -> None:
    targets = find_targets(
        Measured(4.9, 0.05), floats=Floats.DIP, blow_mm=46, aftertouch_mm=1.1, set_off_mm=3, lost_motion_mm=0.05
    )
    ratio = estimate_ratio([Measured(4.9, 0.05)])
    note = MeasuredNote(key=40, lost_motion_mm=Measured(0.65, 0.05))
    plan = plan_corrections([note], targets=targets, ratio=ratio, screws=SCREWS, has_rest_rail=True)
    capstan = plan.corrections[0].capstan_mm
    assert plan.rail_mm is None
    assert capstan is not None
    assert_close(capstan.value, (0.65 - 0.05) * 0.5, rtol=1e-9, atol=0, why="k times the lost motion to lose")
