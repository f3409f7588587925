"""Touch and centres from tables."""

import pytest

from strikeline.errors import InputError
from strikeline.workshop.centres import CentreState, judge_centres
from strikeline.workshop.touch import TouchFault, judge_touch

TOUCH = """note;down weight;up weight;friction of the key alone
C2;52;28;2
F2;52;28;
C3;51;27;
F3;72;10;9
C4;50;27;
F4;50;26;
C5;49;26;
"""


def test_faults_are_told_only_where_they_are_sure() -> None:
    keys = {one.touch.key: one for one in judge_touch(TOUCH, action="grand").keys}
    assert keys[33].faults == (TouchFault.FRICTION_HIGH, TouchFault.UP_WEIGHT_LOW, TouchFault.KEY_TIGHT)
    assert all(not one.faults for key, one in keys.items() if key != 33)
    assert [one.key for one in judge_touch(TOUCH, action="grand").friction_outliers] == [33]


def test_lead_is_told_where_friction_is_in_order_and_never_for_uprights() -> None:
    keys = judge_touch(TOUCH, action="grand", wanted_balance_g=38.0).keys
    assert [one.lead_g is None for one in keys] == [False, False, False, True, False, False, False]
    assert keys[0].lead_g is not None
    assert keys[0].lead_g.value == pytest.approx(2.0)
    with pytest.raises(InputError, match="springs carry part"):
        judge_touch(TOUCH, action="upright_under_damper", wanted_balance_g=38.0)


def test_swapped_weights_are_told_with_their_line() -> None:
    with pytest.raises(InputError, match=r"line 3: .*were they swapped"):
        judge_touch(TOUCH.replace("F2;52;28", "F2;28;52"), action="grand")
    with pytest.raises(InputError, match="no key has both"):
        judge_touch("note,down weight\nC4,52\n", action="grand")


def test_centres_are_good_tight_loose_or_worn_in_the_wood() -> None:
    table = "note;friction of a centre;sideways play of a centre\nC2;85;0,2\nF2;10;0,3\nC3;160;\nF3;90;1,2\nC4;125;\n"
    advice = judge_centres(table, action="grand", n_all=88)
    assert [one.state for one in advice.centres] == [
        CentreState.GOOD,
        CentreState.LOOSE,
        CentreState.TIGHT,
        CentreState.WORN_IN_THE_WOOD,
        CentreState.CANNOT_TELL,
    ]
    assert advice.to_repin is None
    assert advice.hours is None


def test_play_without_a_friction_that_tells_is_loose_or_worn() -> None:
    """Sideways play with normal swings is wear in the wood; without them it may as well be the cloth."""
    advice = judge_centres("note;sideways play of a centre\nC2;1,2\nF2;0,1\n", action="grand", n_all=88)
    assert [one.state for one in advice.centres] == [CentreState.LOOSE_OR_WORN, CentreState.CANNOT_TELL]


def test_only_hammer_centres_swing_and_weigh_by_the_ratio_of_the_action() -> None:
    table = "note,place,friction of a centre\nC4,hammer,80\nC4,whippen,80\nF4,,80\n"
    advice = judge_centres(table, action="grand", n_all=88, ratio=5.0, reach="130mm")
    assert [one.at_key_g is None for one in advice.centres] == [False, True, False]
    with pytest.raises(InputError, match="hammer centres only"):
        judge_centres(
            "note,place,swings of a hammer\nC4,jack,5\n", action="grand", n_all=88, hammer_weight="8g", arm="110mm"
        )


def test_the_set_is_spoken_of_only_from_a_sample_that_can_carry_it() -> None:
    heads, rows = "note;friction of a centre\n", [f"{note}{octave};85\n" for octave in range(1, 6) for note in "CF"]
    rows[3] = rows[3].replace("85", "10")
    advice = judge_centres(heads + "".join(rows), action="grand", n_all=88)
    assert advice.to_repin is not None
    assert advice.to_repin[0] < 8.8 < advice.to_repin[2]
    assert judge_centres(heads + "".join(rows[:7]), action="grand", n_all=88).to_repin is None
    with pytest.raises(InputError, match="at least the 10 that were read"):
        judge_centres(heads + "".join(rows), action="grand", n_all=9)


def test_swings_need_the_weight_and_the_arm() -> None:
    table = "note,swings\nC4,5\n".replace("swings", "swings of a hammer")
    with pytest.raises(InputError, match="give --weight and --arm"):
        judge_centres(table, action="grand", n_all=88)
    only = judge_centres(table, action="grand", n_all=88, hammer_weight="8 g", arm="110mm").centres[0]
    assert only.torque_gf_mm is not None
    assert 40 < only.torque_gf_mm.value < 90


def test_the_friction_of_a_hammer_centre_weighs_at_the_key_by_the_levers_between() -> None:
    table = "note,friction of a centre\nC4,80\n"
    only = judge_centres(table, action="grand", n_all=88, ratio=5.0, reach="130 mm").centres[0]
    assert only.at_key_g is not None
    assert only.at_key_g.value == pytest.approx(80.0 * 5.0 / 130.0)
    assert judge_centres(table, action="grand", n_all=88).centres[0].at_key_g is None


def test_several_readings_of_a_key_count_as_their_mean() -> None:
    table = "note,place,down weight,up weight\nC4,first,50,26\nC4,second,54,30\n"
    (key,) = judge_touch(table, action="grand").keys
    assert (key.touch.balance_weight_g.value, key.touch.friction_g.value) == (40.0, 12.0)
    (once,) = judge_touch("note,down weight,up weight\nC4,52,28\n", action="grand").keys
    assert key.touch.friction_g.se < once.touch.friction_g.se


def test_no_lead_is_told_that_would_stop_the_key_from_lifting() -> None:
    table = "note,down weight,up weight\nC4,56,26\n"
    (roomy,) = judge_touch(table, action="grand", wanted_balance_g=38.0).keys
    assert (roomy.faults, roomy.lead_g is None) == ((), False)
    # 15 g of friction leave 32 - 15 = 17 g to lift with, of the 20 g that repetition needs.
    (tight,) = judge_touch(table, action="grand", wanted_balance_g=32.0).keys
    assert (tight.faults, tight.lead_g) == ((TouchFault.NO_ROOM_FOR_LEAD,), None)


@pytest.mark.parametrize("wanted", [-5.0, 200.0, float("nan")])
def test_a_balance_weight_that_cannot_be_meant_is_refused(wanted: float) -> None:
    with pytest.raises(InputError, match="balance"):
        judge_touch("note,down weight,up weight\nC4,56,26\n", action="grand", wanted_balance_g=wanted)


def test_keys_with_one_weight_only_are_named() -> None:
    advice = judge_touch("note,down weight,up weight\nC4,52,28\nD4,52,\nE4,,27\n", action="grand")
    assert advice.left_out == (42, 44)
