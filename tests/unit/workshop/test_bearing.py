from __future__ import annotations

import json

import pytest
from tests.closeness import assert_close

from strikeline.measured import Measured
from strikeline.physics.bearing import Sign
from strikeline.workshop.bearing import BearingErrors, BearingReport, read_bearing
from strikeline.workshop.entry_table import EntryError

DROPS = "note,speaking length,back length,front drop,back drop\n"


def read(text: str, **asked: object) -> BearingReport:
    return read_bearing(text, errors=BearingErrors(), **asked)  # type: ignore[arg-type]  # the tests choose


def test_drops_and_heights_of_the_same_string_give_the_same_bend() -> None:
    drops = read(DROPS + "C4,640,95,2.1,1.3").notes[0].bearing
    heights = (
        read("note,speaking length,back length,front height,bridge height,back height\nC4,640,95,10.4,12.5,11.2")
        .notes[0]
        .bearing
    )
    assert drops.front_deg is not None
    assert heights.front_deg is not None
    pair = [heights.total_deg.value, heights.front_deg.value], [drops.total_deg.value, drops.front_deg.value]
    assert_close(*pair, rtol=1e-9, atol=0, why="the same geometry; rounding only")
    assert heights.total_deg.se > drops.total_deg.se, "three heights are three readings, two drops are two"


def test_the_height_at_the_bridge_ties_both_sides() -> None:
    # Front and back share the bridge's height: the whole is less sure than two sides measured apart would be.
    one = (
        read("note,speaking length,back length,front height,bridge height,back height\nC4,100,100,10,11,10")
        .notes[0]
        .bearing
    )
    assert one.front_deg is not None
    assert one.back_deg is not None
    apart = (one.front_deg.se**2 + one.back_deg.se**2) ** 0.5
    assert_close(one.total_deg.se / apart, (6 / 4) ** 0.5, rtol=0.01, atol=0, why="1+1+4 against 2+2 units of variance")


def test_the_gap_of_a_rocking_gauge_is_read_over_its_span() -> None:
    one = read("note,gap\nC4,0.5 ± 0.0001", gauge_span_mm=Measured(28.6, 0.0)).notes[0].bearing
    assert_close(one.total_deg.value, 1.0016, rtol=1e-3, atol=0, why="0.5 mm in 28.6 mm")
    assert one.front_deg is None


def test_a_plus_minus_in_the_cell_comes_before_the_usual_error() -> None:
    usual, own = (read(f"note,angle\nC4,{cell}").notes[0].bearing.total_deg.se for cell in ("1.0", "1.0 ± 0.02"))
    assert_close([usual, own], [0.1 / 1.96, 0.02 / 1.96], rtol=1e-9, atol=0, why="half-widths of 95 %")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("note,angle,gap\nC4,1,0.5", "line 2.*give one of"),
        ("note,angle\nC4,", "line 2.*nothing says how the string is bent"),
        ("note,gap\nC4,0.5", "line 2.*--gauge-span"),
        (DROPS + "C4,640,,2.1,1.3", "line 2.*'back length' is empty"),
        ("note,front angle,back angle\nC4,0.5,", "line 2.*'back angle' is empty"),
        ("note,angle\nC4,1\nC4,1.1", "C4 stands there 2 times"),
        ("note,angle\nC4,30", "angle.*10"),
        ("note,angle\n", "no rows"),
        ("note,speaking length,back length,front drop,back drop\nC4,640 m,95,2,1", "640 m.*mm"),
    ],
)
def test_a_row_that_cannot_be_meant_is_refused_by_line(text: str, words: str) -> None:
    with pytest.raises(EntryError, match=words):
        read(text)


def test_two_bridges_have_the_same_note_apart() -> None:
    report = read("note,bridge,angle\nC3,bass,1\nC3,treble,0.5\n")
    assert [bridge.name for bridge in report.bridges] == ["bass", "treble"]


TABLE = "note,bridge,strings,angle\n" + "".join(
    f"{note},long,3,{angle}\n" for note, angle in (("C4", 1.0), ("F4", 0.9), ("A4", 0.2), ("C5", -0.6), ("F5", 0.4))
)


def test_the_load_of_a_bridge_counts_every_string_between() -> None:
    (bridge,) = read(TABLE, tension_n=Measured(700.0, 30.0)).bridges
    assert bridge.load.force_n is not None
    assert (bridge.load.n_measured, bridge.load.n_between, bridge.load.n_strings) == (5, 13, 54)
    assert [bend.is_measured for bend in bridge.bends].count(True) == 5
    assert len(bridge.bends) == 18


@pytest.mark.parametrize(
    ("text", "tension", "words"),
    [
        (TABLE, None, "no tension"),
        (TABLE.replace("strings,", "").replace(",3,", ","), Measured(700.0, 30.0), "how many strings"),
        ("note,strings,angle\nC4,3,1\nF4,3,1\n", Measured(700.0, 30.0), "needs 4"),
    ],
)
def test_a_load_that_cannot_be_told_says_why(text: str, tension: Measured | None, words: str) -> None:
    (bridge,) = read(text, tension_n=tension).bridges
    assert bridge.load.force_n is None
    assert bridge.load.cannot_tell is not None
    assert words in bridge.load.cannot_tell


def test_negative_bearing_is_named_and_condemns_nothing() -> None:
    report = read(TABLE)
    assert [note.note for note in report.notes if note.bearing.total_sign is Sign.NEGATIVE] == ["C5"]
    assert "condemn nothing" in report.tone_first


def test_crown_comes_from_a_table_of_its_own() -> None:
    report = read(TABLE, crown_text="rib;span;middle;ends\n3;1020;12,6;9\n9;880;9,1;9\n")
    assert [rib.rib for rib in report.ribs] == ["3", "9"]
    assert report.ribs[0].crown.radius_m is not None
    assert report.ribs[1].crown.radius_m is None


def test_the_json_is_plain_and_has_its_schema() -> None:
    data = read(TABLE, tension_n=Measured(700.0, 30.0), crown_text="rib,span,middle\n1,900,4\n").to_json()
    assert json.loads(json.dumps(data, allow_nan=False))["schema"] == "strikeline.bearing/1"
    assert data["notes"][0]["bearing"]["total_sign"] == "positive"


LONG = DROPS + "\n".join(f"{note}{octave},{600 - 60 * octave},95,2.1,1.3" for octave in (3, 4, 5) for note in "CEGA")


def test_one_empty_cell_leaves_its_row_out_and_says_so() -> None:
    report = read(LONG + "\nC6,240,95,,1.3\nD6,230,95,-,n/a\n", crown_text="rib,span,middle\n3,1000,4\n4,1000,\n")
    assert len(report.notes) == 12
    assert [one.split(":")[0] for one in report.left_out] == ["line 14, C6", "line 15, D6", "line 3, rib 4"]
    assert [rib.rib for rib in report.ribs] == ["3"]


@pytest.mark.parametrize(
    ("right", "wrong", "what", "about"),
    [
        ("C4,360,95,2.1", "C4,360,95,21", "front drop", 2.1),
        ("C4,360,95,2.1", "C4,36,95,2.1", "speaking length", 380.0),
    ],
)
def test_a_lost_decimal_mark_is_told_to_be_read_again(right: str, wrong: str, what: str, about: float) -> None:
    assert read(LONG).read_again == ()
    [one] = read(LONG.replace(right, wrong)).read_again
    assert (one.note, one.what) == ("C4", what)
    assert_close(one.about, about, rtol=0.1, atol=0, why="the run through its neighbours")


def test_all_mistakes_are_told_in_one_go_with_the_unit_of_a_heading_known() -> None:
    with pytest.raises(EntryError) as caught:
        read("note,angle [°],tension [lbf]\nH4,1,160\nC4,30,160\nD4,1,1\n")
    assert [one.split(":")[0] for one in caught.value.mistakes] == ["line 2, note", "line 3, angle", "line 4, tension"]
    one = read("note,angle [°],tension [lbf]\nD4,1,160\n").notes[0].bearing
    assert one.total_n is not None
    assert_close(one.total_n.value, 711.7 * 0.017452, rtol=1e-3, atol=0, why="160 lbf times the sine of one degree")
