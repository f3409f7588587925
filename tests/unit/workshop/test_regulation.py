"""From readings of an action to advice."""

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.regulation_targets import Floats
from strikeline.workshop.regulation import RegulationAdvice, advise
from strikeline.workshop.regulation_wear import Wear

WORN = """note;blow;set-off;key dip;lost motion;checking;hammer rise for 6 mm of key
C2;48;1,5;11,0;0,5;12;28,5
F2;48,2;1;11,1;0,4;11;
C3;48;1,2;10,9;0,6;12;28,0
F3;47,8;1;10,9;0,5;12;
C4;48;1,4;11,1;0,5;11,5;28,4
"""
FULL = "note,dip,blow,set-off,aftertouch\nC4,10,46,2,1.0\nC5,10,46,2,1.1\n"


def ask(text: str = WORN, **others: object) -> RegulationAdvice:
    given = {"action": "upright_under_damper", "floats": "shared", "capstan_pitch": "0.8mm", "capstan_ratio": 0.5}
    return advise(text, **(given | others))  # type: ignore[arg-type]  # the tests change one at a time


def test_a_worn_action_is_known_by_its_four_quantities_together() -> None:
    assert ask().wear is Wear.UNSERVICED
    served = WORN.replace(";12;", ";16;").replace(";11;\n", ";16;\n").replace(";11,5;", ";16;")
    assert ask(served).wear is Wear.PARTLY_SERVICED
    sound = "note,blow,set-off,key dip,checking,hammer rise for 6 mm of key\n" + "".join(
        f"{note},46,3,10.25,16,29\n" for note in ("C2", "F2", "C3", "F3", "C4", "F4", "C5", "F5", "C6")
    )
    assert ask(sound).wear is Wear.NONE
    assert ask("note,blow,hammer rise for 6 mm of key\nC4,48,29\n").wear is Wear.CANNOT_TELL


@pytest.mark.parametrize(
    ("dip", "blow", "wear"),
    [
        # 47 mm of blow serve most old instruments; old British makes go towards 11.1 mm of dip (digest archive).
        ("10.25", "47.6", Wear.CANNOT_TELL),
        ("11.0", "47.6", Wear.CANNOT_TELL),
        # No source has a blow of 51 mm.
        ("10.25", "51", Wear.PARTLY_SERVICED),
    ],
)
def test_what_a_maker_may_have_meant_is_not_called_wear(dip: str, blow: str, wear: Wear) -> None:
    notes = ("C2", "F2", "C3", "F3", "C4", "F4", "C5", "F5", "C6")
    rows = "".join(f"{note},{blow},3,{dip},16,29\n" for note in notes)
    assert ask(f"note,blow,set-off,key dip,checking,hammer rise for 6 mm of key\n{rows}").wear is wear


def test_the_ratio_comes_from_the_rise_or_else_from_fully_measured_notes() -> None:
    rise = ask()
    assert_close(
        rise.ratio.ratio.value, 28.3 / 5.48, rtol=0.01, atol=0, why="three notes with slightly different lost motion"
    )
    assert rise.ratio.n_notes == 3
    full = ask(FULL)
    assert_close(full.ratio.ratio.value, (44 / 9.0 + 44 / 8.9) / 2, rtol=1e-3, atol=0, why="equal errors nearly")
    assert full.ratio_from != rise.ratio_from
    with pytest.raises(InputError, match="nothing tells the ratio of hammer to key; read hammer rise"):
        ask("note,blow\nC4,46\n")


def test_the_rail_moves_by_the_middle_and_the_capstans_follow_what_it_opens() -> None:
    advice = ask(wanted=["blow=46"])
    assert advice.plan is not None
    rail = advice.plan.rail_mm
    assert rail is not None
    assert_close(rail.value, 46.0 - 48.0, rtol=0, atol=1e-12, why="median of the blows is 48")
    first = advice.plan.corrections[0].capstan_turns
    assert first is not None
    expected = (0.5 + 2.0 / advice.ratio.ratio.value - 0.1) * 0.5 / 0.8
    assert_close(first.value, expected, rtol=1e-9, atol=0, why="the algebra of the module")
    assert advice.plan.corrections[0].set_off_turns is None
    again = ask(set_off_per_turn="2 mm").plan
    assert again is not None
    turned = again.corrections[0].set_off_turns
    assert turned is not None
    assert_close(turned.value, 0.75, rtol=1e-9, atol=0, why="3.0 - 1.5 mm at 2 mm a turn")


def test_wanted_figures_replace_the_usual_ones_and_the_floating_one_cannot_be_wanted() -> None:
    advice = ask(floats="aftertouch", wanted=["blow=45mm", "dip = 10"])
    assert (advice.targets.blow_mm.value, advice.targets.dip_mm.value) == (45.0, 10.0)
    assert advice.targets.floats is Floats.AFTERTOUCH
    assert advice.targets.aftertouch_mm.se > 0
    with pytest.raises(InputError, match="dip floats, so it cannot be wanted"):
        ask(floats="dip", wanted=["dip=10"])
    with pytest.raises(InputError, match="cannot all be wanted"):
        ask(wanted=["dip=10", "blow=46", "aftertouch=1"])
    with pytest.raises(InputError, match="one of key dip, blow distance"):
        ask(wanted=["crown=5"])


def test_figures_that_do_not_go_together_are_said_so_and_nothing_is_turned() -> None:
    far = ask(floats="aftertouch", wanted=["dip=12"])
    assert far.unusual == ("aftertouch",)
    assert far.plan is None
    shared = ask()
    assert shared.unusual == ()
    assert shared.plan is not None


def test_sharing_keeps_the_relation_and_leaves_what_is_wanted() -> None:
    for wanted in ([], ["blow=45mm"], ["dip = 10"], ["aftertouch=1", "blow=46"]):
        advice = ask(wanted=wanted)
        targets, ratio = advice.targets, advice.ratio.ratio.value
        travel = targets.dip_mm.value - targets.aftertouch_mm.value - targets.lost_motion_mm
        assert_close(targets.blow_mm.value - targets.set_off_mm, ratio * travel, rtol=1e-12, atol=0, why="the relation")
        assert len(advice.wanted) == len(wanted)
    assert ask(wanted=["blow=45mm"]).targets.blow_mm.value == 45.0


def test_a_grand_has_no_rest_rail() -> None:
    advice = ask(action="grand")
    assert not any("rail" in words or "distance off the rest rail" in moves for words, moves in advice.follows)
    assert advice.plan is None or advice.plan.rail_mm is None


def test_the_stated_example_of_what_dip_does_to_checking() -> None:
    ratio = ask().ratio.ratio.value
    moves = dict(ask().follows)["0.4 mm more dip"]
    assert_close(moves["checking"], -0.4 * ratio, rtol=1e-9, atol=0, why="the check is carried along by the key")
    assert_close(moves["aftertouch"], 0.4, rtol=1e-9, atol=0, why="all of the added dip lies after set-off")


def test_a_table_without_the_action_is_refused() -> None:
    with pytest.raises(InputError, match="no reading of the action"):
        ask("note,pin torque\nC4,60 in-lb\n")
