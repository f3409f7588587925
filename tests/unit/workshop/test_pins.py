from __future__ import annotations

import json

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.pin_care import PinChange
from strikeline.physics.pin_pattern import Pattern
from strikeline.physics.wrest_pins import Direction, GripClass, StringSide
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.pins import PinsReport, read_pins

NAMES = ("C", "D", "E", "F", "G", "A", "B")


def survey(*, weak: range = range(0), lift: float = 0.0, extra: str = "") -> str:
    """42 pins of one row, 70 to 80 in-lb; `weak` have 35."""
    rows = [
        f"{NAMES[i % 7]}{2 + i // 7},left,{(35 if i in weak else 70 + 5 * (i % 3)) + lift} in-lb,1,frame{extra}"
        for i in range(42)
    ]
    return "note,string,torque,row,place" + (",diameter" if extra else "") + "\n" + "\n".join(rows)


def read(text: str, **asked: object) -> PinsReport:
    return read_pins(text, **{"direction": Direction.SHARP, **asked})  # type: ignore[arg-type]  # the tests choose


def test_a_survey_is_read_in_any_unit() -> None:
    report = read("note;string;torque\nC4;L;8,5\nC4;M;75 in-lb\nC4;3;100 kgf·cm\n")
    torques = [one.pin.torque_nm.value for one in report.pins]
    assert_close(torques, [8.5, 75 * 0.1129848, 9.80665], rtol=1e-6, atol=0, why="the units' definitions")
    assert [one.pin.string for one in report.pins] == list(StringSide)


def test_a_run_along_the_frame_is_told_with_its_meaning() -> None:
    report = read(survey(weak=range(12, 20)))
    assert report.pattern.pattern is Pattern.RUNS
    assert report.pattern.runs[0].n == 8
    assert report.meaning is not None
    assert "flange" in report.meaning
    assert report.advice.stops_pitch_raise


def test_a_firm_survey_has_no_meaning_and_no_rungs() -> None:
    report = read(survey())
    assert (report.meaning, report.advice.rungs, report.larger_pins) == (None, (), ())
    assert report.field.classes[GripClass.SERVICEABLE] == 28


def test_torque_both_ways_gives_the_grip_alone() -> None:
    report = read("note,string,torque,torque flat\nC4,L,10,6\nC4,M,9,5\n")
    assert report.direction is Direction.BOTH
    assert_close([one.pin.torque_nm.value for one in report.pins], [8.0, 7.0], rtol=1e-12, atol=0, why="half the sum")


def test_a_measured_diameter_leads_to_larger_stock() -> None:
    report = read(survey(extra=",7.01"))
    assert [one.size.label for one in report.larger_pins] == ["2/0", "2½/0", "3/0"]


def test_two_surveys_are_compared() -> None:
    report = read(
        survey(weak=range(12, 20)), after_text=survey(weak=range(12, 20), lift=25.0), rh_pct=45.0, rh_after_pct=46.0
    )
    assert report.comparison is not None
    assert report.comparison.verdict is PinChange.ROSE
    assert (report.comparison.n_weak_before, report.comparison.n_weak_after) == (8, 0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("note,string,torque\nC4,L,80\n", "80.*in-lb"),
        ("note,string,torque\nC4,L,8\nC4,left,9\n", "C4 left stands there twice .lines 2, 3"),
        ("note,string,torque,torque flat\nC4,L,8,5\nC4,M,8,\n", "line 3.*no torque flat"),
        ("note,string,torque\nC4,upper,8\n", "string.*left"),
        ("note,string,torque,row\nC4,L,8,1.5\n", "row.*whole number"),
        ("note,string,torque\n", "no rows"),
    ],
)
def test_what_cannot_be_meant_is_refused(text: str, words: str) -> None:
    with pytest.raises(EntryError, match=words):
        read(text)


def test_surveys_in_different_directions_do_not_compare() -> None:
    both = "note,string,torque,torque flat\nC4,L,10,6\n"
    with pytest.raises(EntryError, match="do not compare"):
        read("note,string,torque\nC4,L,10\n", after_text=both)


def test_the_json_is_plain_and_has_its_schema() -> None:
    data = read(survey(weak=range(12, 20)), after_text=survey()).to_json()
    assert json.loads(json.dumps(data, allow_nan=False))["schema"] == "strikeline.pins/1"
    assert data["pattern"]["pattern"] == "in runs along the plank"
    assert data["class_limits"][-1]["below_nm"] is None


def test_empty_torques_are_left_out_and_counted() -> None:
    report = read("note,string,torque\nC4,L,8\nC4,M,\nD4,L,-\n")
    assert (len(report.pins), report.n_empty, report.to_json()["n_empty"]) == (1, 2, 2)


def test_a_table_without_any_torque_is_refused() -> None:
    with pytest.raises(EntryError, match="no row has a torque"):
        read("note,string,torque\nC4,L,\n")


def test_turned_flat_the_pull_of_the_string_is_put_back_with_its_error() -> None:
    text = "note,torque\nC4,4\n"
    sharp, flat = (read(text, direction=way).pins[0] for way in (Direction.SHARP, Direction.FLAT))
    assert_close(flat.pin.torque_nm.value - sharp.pin.torque_nm.value, 3.0, rtol=0, atol=1e-12, why="3 N·m are added")
    added = (flat.pin.torque_nm.se**2 - sharp.pin.torque_nm.se**2) ** 0.5
    assert_close(1.96 * added, 1.0, rtol=1e-3, atol=0, why="known to 1 N·m in 95 of 100")
    assert (sharp.grip, flat.grip) == (GripClass.MARGINAL, GripClass.SERVICEABLE)


def test_two_surveys_turned_flat_are_compared_by_the_error_of_reading_alone() -> None:
    both = [
        read(survey(weak=range(12, 20)), after_text=survey(weak=range(12, 20), lift=2.0), direction=way).comparison
        for way in (Direction.SHARP, Direction.FLAT)
    ]
    changes = [one.mean_change_nm.value for one in both if one is not None and one.mean_change_nm is not None]
    assert_close(changes[0], changes[1], rtol=1e-9, atol=0, why="the pull drops out")


def test_fewer_pins_in_the_piano_than_read_names_the_option() -> None:
    with pytest.raises(InputError, match="--pins 1 is fewer than the 2 that were read"):
        read("note,torque\nC4,8\nD4,8\n", n_in_piano=1)


def test_wrong_torques_are_told_beside_wrong_notes() -> None:
    with pytest.raises(EntryError) as caught:
        read("note,torque\nH4,800\nC4,x\nC4,7\nC4,7\n")
    assert [one[:14] for one in caught.value.mistakes] == [
        "C4 left stands",
        "line 2, note: ",
        "line 2, torque",
        "line 3, torque",
    ]
