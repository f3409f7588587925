"""Seat, stool and desk from what people measure."""

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.workshop.seat import DeskPlace, Fit, advise_seat


def test_the_seat_follows_from_keys_and_elbow_and_cups_raise_it() -> None:
    plain = advise_seat(keys="74cm", elbow="24cm")
    assert (plain.seat_low_mm.value, plain.seat_mm.value, plain.seat_high_mm.value) == (500.0, 510.0, 520.0)
    assert_close(plain.seat_mm.se, np.hypot(3, 10) / 1.96, rtol=1e-9, atol=0, why="independent errors of tape and body")
    cups = advise_seat(keys="74cm", elbow="24cm", cups="15mm")
    assert cups.seat_mm.value == 525.0
    assert cups.cautions == ("lifting",)
    assert plain.cautions == ()


def test_the_stature_alone_is_flagged_and_far_less_sure() -> None:
    measured = advise_seat(keys="74cm", elbow="24cm")
    guessed = advise_seat(keys="74cm", stature="1.675 m")
    assert not guessed.is_elbow_measured
    assert guessed.seat_mm.se > 4 * measured.seat_mm.se
    with pytest.raises(InputError, match="measure --elbow"):
        advise_seat(keys="74cm")


@pytest.mark.parametrize(("keybed", "fit"), [("66cm", Fit.YES), ("54cm", Fit.NO), ("60cm", Fit.CANNOT_TELL)])
def test_legs_fit_only_where_the_room_is_sure(keybed: str, fit: Fit) -> None:
    advice = advise_seat(keys="74cm", elbow="24cm", keybed=keybed, knee="43cm")
    assert advice.legs is fit
    assert advise_seat(keys="74cm", elbow="24cm", keybed=keybed).legs is None, "nothing is known of the knee"


def test_a_stool_too_high_is_cut_along_its_legs_and_one_too_low_never() -> None:
    high = advise_seat(keys="74cm", elbow="24cm", stool="56cm", splay="10°")
    assert high.lower_by_mm is not None
    assert high.leg_cut_mm is not None
    assert high.lower_by_mm.value == pytest.approx(50.0)
    assert high.leg_cut_mm.value == pytest.approx(50.0 / np.cos(np.radians(10.0)))
    low = advise_seat(keys="74cm", elbow="24cm", stool="45cm")
    assert low.lower_by_mm is not None
    assert low.lower_by_mm.value < 0
    assert low.leg_cut_mm is None
    near = advise_seat(keys="74cm", elbow="24cm", stool="51.5cm")
    assert near.leg_cut_mm is None, "not surely too high"


@pytest.mark.parametrize(
    ("written", "fit", "at"),
    [
        ("48-58cm", Fit.YES, 510.0),
        ("19 to 23 in", Fit.YES, 510.0),
        ("19in-23in", Fit.YES, 510.0),
        ("45 cm – 0,6 m", Fit.YES, 510.0),
        ("51cm", Fit.CANNOT_TELL, 510.0),
        ("55-60cm", Fit.NO, None),
        ("40-47cm", Fit.NO, None),
    ],
)
def test_stools_are_chosen_by_what_they_reach(written: str, fit: Fit, at: float | None) -> None:
    # A fixed 51 cm lies in the band of 2 cm, but the elbow is known to 1 cm only.
    (stool,) = advise_seat(keys="74cm", elbow="24cm", choose=[written]).stools
    assert stool.fit is fit
    assert stool.set_to_mm == at


def test_of_two_desks_the_one_nearer_to_a_comfortable_look_is_named_only_where_sure() -> None:
    known = advise_seat(keys="74cm", elbow="24cm", eye="76cm", distance="65cm", desks=["10cm", "45cm"])
    assert [one.place for one in known.desks] == [DeskPlace.GOOD, DeskPlace.HIGH]
    assert known.better_desk == 0
    close = advise_seat(keys="74cm", stature="170cm", desks=["12cm", "18cm"])
    assert close.better_desk is None
    with pytest.raises(InputError, match="measure --eye"):
        advise_seat(keys="74cm", elbow="24cm", desks=["12cm"])


def test_feet_that_hang_get_what_they_need() -> None:
    child = advise_seat(keys="74cm", elbow="16cm", knee="30cm")
    assert child.foot_rest_mm is not None
    assert child.foot_rest_mm.value == pytest.approx(740 + 10 - 160 - 300 - 25)
    assert advise_seat(keys="74cm", elbow="24cm", knee="50cm").foot_rest_mm is None


def test_the_stated_error_holds_95_of_100_true_seats() -> None:
    rng = np.random.default_rng(4)
    hits = 0
    for _trial in range(400):
        key, elbow = rng.uniform(700, 780), rng.uniform(190, 290)
        read = advise_seat(keys=f"{key + rng.normal(0, 3 / 1.96):.2f}", elbow=f"{elbow + rng.normal(0, 10 / 1.96):.2f}")
        hits += abs(read.seat_mm.value - (key + 10 - elbow)) < 1.96 * read.seat_mm.se
    assert abs(hits / 400 - 0.95) < 0.033, "three standard errors of a share of 0.95 in 400"
