"""A typed scale: cells as people write them, every mistake named, sound and proposal in one record."""

from __future__ import annotations

import json

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.scales import EXAMPLE, heard_scale

from strikeline.errors import InputError
from strikeline.keyboard import SHORT_COMPASS, equal_tempered_hz, key_from_name, key_name
from strikeline.physics.scale_entry import ReadingErrors
from strikeline.physics.scale_weak import WeakKind
from strikeline.physics.string_fixing import StringEnd
from strikeline.physics.string_order import CuttingAllowance
from strikeline.physics.wire_gauge import GaugeSystem
from strikeline.physics.wire_strength import grade_for_year
from strikeline.reports.scale_words import weak_sentences
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.order_sheet import make_order_sheet, read_order
from strikeline.workshop.scale import ScaleChoices, ScaleReport, assess_scale
from strikeline.workshop.scale_table import ScaleTable, read_scale_table

CHOICES_SMALL = ScaleChoices()
CHOICES = ScaleChoices(grade=grade_for_year(1905), compass=SHORT_COMPASS)


def read(text: str, *, system: GaugeSystem = GaugeSystem.THOU) -> ScaleTable:
    return read_scale_table(text, system=system, errors=ReadingErrors())


@pytest.fixture(scope="module")
def report() -> ScaleReport:
    return assess_scale(EXAMPLE.read_text(), choices=CHOICES)


def test_cells_are_read_as_people_write_them() -> None:
    table = read(
        "Note;Bridge;Strings;Length;Wire number;Dead top;Hitch\nA4;long;3;16 1/2 in;15½;1 3/4 in;Plain Hitch\n"
    )
    (entry,) = table.entries
    assert entry.length_mm is not None
    assert entry.core_diameter_mm is not None
    assert_close(entry.length_mm.value, 419.1, rtol=1e-12, atol=0, why="inches are exact")
    assert_close(entry.core_diameter_mm.value, 0.9144, rtol=1e-12, atol=0, why="2N + 5 thousandths")
    assert entry.windings == ()
    fixing = table.fixings[49]
    assert fixing.dead_top_mm is not None
    assert_close(fixing.dead_top_mm.value, 44.45, rtol=1e-12, atol=0, why="inches are exact")
    assert fixing.end is StringEnd.PLAIN_HITCH


def test_the_same_number_is_another_wire_in_the_metric_system() -> None:
    text = "note,gauge\nA4,16\n"
    diameters = [read(text, system=system).entries[0].core_diameter_mm for system in GaugeSystem]
    assert [one and round(one.value, 4) for one in diameters] == [0.9398, 0.925]


def test_a_written_error_replaces_that_of_the_tool_but_not_its_zero() -> None:
    entry = read("note,diameter\nA4,0.94 ± 0.02\n").entries[0]
    assert entry.core_diameter_mm is not None
    zero = 0.004 / 1.96
    assert_close(
        entry.core_diameter_mm.se, np.hypot(0.02 / 1.96, zero), rtol=1e-9, atol=0, why="own and shared by squares"
    )
    assert entry.ties["core_diameter_mm"] == {"zero of the micrometer": pytest.approx(zero)}


def test_a_winding_is_told_from_the_outside_of_the_string() -> None:
    single, double = read("note,core,outside,wrap\nA1,1.1,3.1,\nA0,1.4,6.4,1.1\n").entries[::-1]
    assert single.windings is not None
    assert double.windings is not None
    assert_close(single.windings[0].wrap_diameter_mm.value, 1.0, rtol=1e-9, atol=0, why="half of what is added")
    assert [round(one.wrap_diameter_mm.value, 6) for one in double.windings] == [1.1, 1.4]


def test_a_hexagonal_core_is_stiffer_and_its_winding_begins_at_the_corners() -> None:
    head = "note,strings,core,outside,core shape,length,bare top,bare bottom\n"
    text = head + "".join(f"{key_name(key)},2,1.0,2.8,{{}},{1000 - 10 * key},20,20\n" for key in (14, 15))
    shapes = [assess_scale(text.replace("{}", shape), choices=CHOICES_SMALL) for shape in ("round", "hexagonal")]
    plain, six = (one.state.notes[0] for one in shapes)
    wrap = six.row.dimensions.windings[0].wrap_diameter_mm.value
    assert_close(wrap, (2.8 - 2.0 / np.sqrt(3.0)) / 2.0, rtol=1e-9, atol=0, why="over the corners of 1 mm flats")
    assert six.state.stiffness_b.value * six.state.tension_n.value > 1.2 * (
        plain.state.stiffness_b.value * plain.state.tension_n.value
    )


def test_every_mistake_of_a_table_is_told_with_its_line() -> None:
    text = "note,length,diameter,core,wrap\nA4,540 m,0.94,,\nA#4,400,0.9,1.0,\nB4,380,,1.0,\nA4,419,0.94,,\n"
    with pytest.raises(EntryError) as caught:
        read(text)
    assert "did you mean 540 mm" in caught.value.mistakes[0]
    text = text.replace("540 m", "419")
    with pytest.raises(EntryError) as caught:
        read(text)
    assert [mistake.split(":")[0] for mistake in caught.value.mistakes] == ["line 3", "line 4", "line 5, note"]
    assert "of a plain string" in caught.value.mistakes[0]
    assert "core without wrap" in caught.value.mistakes[1]
    assert "twice" in caught.value.mistakes[2]


def test_a_gauge_and_a_diameter_that_contradict_each_other_are_noticed() -> None:
    table = read("note,gauge,diameter\nA4,15½,0.99\n")
    assert table.entries[0].core_diameter_mm is not None
    assert table.entries[0].core_diameter_mm.value == 0.99
    assert "measured were 0.99 mm" in table.notices[0]


def test_the_invented_upright_is_told_whole(report: ScaleReport) -> None:
    assert [note.key for note in report.state.notes] == list(range(1, 86))
    assert report.cannot_tell == ()
    assert report.break_after == 27
    load = report.state.load.tonnes_force
    # tuners' and restorers' pages: 16 to 18 tons for 220 to 230 strings; here are 215
    assert 14.5 < load.value < 18.0
    odd = [key_name(point.key) for point in report.weak if point.kind is WeakKind.ODD_WIRE]
    assert odd == ["C5"]
    assert key_from_name("C5") in {change.key for change in report.proposal.changes}
    assert report.after.load.tension_n.value < report.state.load.tension_n.value


def test_a_first_partial_in_equal_temperament_is_what_the_strings_are_at(report: ScaleReport) -> None:
    for note in report.state.notes:
        if not note.row.is_wound:
            cents = 1200.0 * np.log2(note.state.first_partial_hz.value / equal_tempered_hz(note.key, a4_hz=440.0))
            assert_close(cents, 0.0, rtol=0, atol=1e-6, why="B = β/f0² is solved exactly")


def test_a_piano_heard_flat_pulls_with_the_square_of_its_pitch(report: ScaleReport) -> None:
    heard = assess_scale(EXAMPLE.read_text(), choices=CHOICES, listening=heard_scale(report, cents=-50.0, b_factor={}))
    ratio = heard.state.load.tension_n.value / report.state.load.tension_n.value
    assert_close(ratio, 2 ** (-100.0 / 1200.0), rtol=1e-5, atol=0, why="T goes with f0²; notes not heard on the level")
    assert heard.is_pitch_heard
    assert any("not heard" in notice for notice in heard.notices)


def test_a_string_that_sounds_of_another_wire_is_a_disagreement(report: ScaleReport) -> None:
    """What was entered for D5 is right but for one string of another gauge: B is that of wire 15 % thicker."""
    listening = heard_scale(report, cents=0.0, b_factor={54: 1.15**2})
    heard = assess_scale(EXAMPLE.read_text(), choices=CHOICES, listening=listening)
    assert heard.hearing is not None
    assert [one.keys for one in heard.hearing.disagreements] == [(54,)]
    implied = heard.hearing.disagreements[0].meanings[0].implied
    assert implied is not None
    entered = report.state.by_key()[54].row.dimensions.core_diameter_mm.value
    assert_close(implied.value, 1.15 * entered, rtol=1e-3, atol=0, why="B goes with d²")


def test_wire_in_steps_of_0_025_mm_is_noticed_to_be_of_the_other_system() -> None:
    head = "note,strings,length,diameter\n"
    rows = [
        f"{key_name(key)},3,{419 * 2 ** ((49 - key) / 13):.1f},{0.95 - 0.025 * ((key - 49) // 4):.3f}\n"
        for key in range(49, 69)
    ]
    metric = assess_scale(head + "".join(rows), choices=CHOICES_SMALL)
    assert any("choose the metric gauge system" in notice for notice in metric.notices)
    right = assess_scale(head + "".join(rows), choices=ScaleChoices(system=GaugeSystem.METRIC))
    assert not any("gauge system" in notice for notice in right.notices)


def test_the_json_has_every_note_and_no_nan(report: ScaleReport) -> None:
    data = json.loads(json.dumps(report.to_json(), allow_nan=False))
    assert data["schema"] == "strikeline.scale/1"
    assert len(data["notes"]) == 85
    first = data["notes"][0]
    assert first["note"] == "A0"
    assert first["windings"][1]["material"] == "copper"
    assert {"value", "se"} == set(first["tension_n"])
    chosen = data["proposal"]["options"][data["proposal"]["chosen"]]
    assert chosen["n_strings"] == sum(change["n_strings"] for change in chosen["changes"])


def test_orders_name_notes_runs_and_single_strings(report: ScaleReport) -> None:
    assert read_order("C5:1, F4-G4", report) == {52: 1, 45: None, 46: None, 47: None}
    assert set(read_order("wound", report)) == set(range(1, 31))
    assert set(read_order("changed", report)) == {change.key for change in report.proposal.changes}
    assert len(read_order("all", report)) == 85
    with pytest.raises(InputError, match="twice"):
        read_order("C5, A4-D5", report)


def test_an_order_of_the_proposal_has_the_new_wire(report: ScaleReport) -> None:
    sheet = make_order_sheet(report, read_order("changed", report), is_rescaled=True, allowance=CuttingAllowance())
    line = next(line for line in sheet.order.lines if line.key == 52)
    change = next(change for change in report.proposal.changes if change.key == 52)
    assert line.size == change.to
    assert sheet.to_json()["schema"] == "strikeline.string-order/1"


def test_a_note_that_is_not_in_the_scale_cannot_be_ordered(report: ScaleReport) -> None:
    with pytest.raises(InputError, match="C8"):
        make_order_sheet(report, {88: None}, is_rescaled=False, allowance=CuttingAllowance())


def test_why_nothing_can_be_told_is_what_the_entered_notes_lack() -> None:
    with pytest.raises(InputError, match="how many strings") as refused:
        assess_scale("note;length;diameter\nC4;656,5;1,0\nC5;344;0,93\n", choices=CHOICES_SMALL)
    assert "speaking length" not in str(refused.value), "both have one; only the notes between them do not"


def test_a_wire_that_does_not_fit_its_neighbours_is_not_ordered_again_in_silence(report: ScaleReport) -> None:
    key = key_from_name("C5")
    allowance = CuttingAllowance()
    as_it_was, rescaled = (
        make_order_sheet(report, {key: None}, is_rescaled=is_rescaled, allowance=allowance).order.lines[0]
        for is_rescaled in (False, True)
    )
    assert "does not fit its neighbours, which have 0.915 mm" in as_it_was.to_check[0]
    assert not any("does not fit" in words for words in rescaled.to_check), "the proposal has given it another"


def test_a_word_for_many_strings_stands_by_itself(report: ScaleReport) -> None:
    with pytest.raises(InputError, match="'wound' by itself"):
        read_order("C5,wound", report)


def test_a_table_without_the_number_of_strings_is_told_which_column_to_add() -> None:
    with pytest.raises(InputError, match="add a column strings"):
        assess_scale("note,length,diameter\nA4,419,0.94\nA#4,399,0.92\n", choices=CHOICES_SMALL)


def test_plain_lengths_in_centimetres_are_refused_with_the_unit_that_fits() -> None:
    with pytest.raises(InputError, match="lengths in cm would fit") as refused:
        assess_scale("note,strings,length,diameter\nA4,3,41.9,0.94\nA#4,3,39.9,0.92\n", choices=CHOICES_SMALL)
    assert "A4, A#4" in str(refused.value)
    with pytest.raises(InputError, match="read them again"):
        assess_scale("note,strings,length,diameter\nA4,3,41.9,0.94\nC3,3,39.9,1.1\n", choices=CHOICES_SMALL)


def test_wound_lengths_in_centimetres_are_a_weak_point_that_cannot_be_meant() -> None:
    text = "note,strings,length,core,wrap\nA0,1,119.5,1.42,1.9\nA#0,1,118.8,1.42,1.8\n"
    (told,) = weak_sentences(assess_scale(text, choices=CHOICES_SMALL).weak)
    assert told.startswith("Cannot be meant: A0, A♯0")
    assert "lengths in cm would fit" in told
    ends = "note,strings,length,core,wrap,bare top,bare bottom\nA0,1,119.5,1.42,1.9,22,17.5\nA#0,1,118,1.4,1.8,22,17\n"
    with pytest.raises(InputError, match=r"A0: 80 mm of winding between the bare ends .* in the same unit\?"):
        assess_scale(ends, choices=CHOICES_SMALL)


def test_a_wire_number_under_diameter_is_sent_to_its_own_heading() -> None:
    for cell in ("14½", "14.5", "14 1/2", "No. 14"):
        with pytest.raises(EntryError, match="wire numbers go under the heading gauge") as refused:
            read(f"note,diameter\nA4,{cell}\n")
        assert "did you mean" not in str(refused.value), "no other figure in mm is suggested for it"
    with pytest.raises(EntryError, match="give cores by their diameter"):
        read("note,core,wrap\nA1,18,1.0\n")
    with pytest.raises(EntryError, match="goes into the column diameter"):
        read("note,gauge\nA4,0.94\n")


def test_mistakes_in_cells_and_between_rows_are_told_together_in_plain_words_and_units_stand_in_headings() -> None:
    with pytest.raises(EntryError) as refused:
        read("note,length [cm],diameter\nA4,x,0.94\nB4,37.8,\nA4,41.9,0.94\nH4,41.9,0.94\n")
    assert [mistake.split(",")[0] for mistake in refused.value.mistakes] == ["line 2", "line 4", "line 5"]
    assert not any(" = " in mistake for mistake in refused.value.mistakes)
    (entry,) = read("note,length [cm],diameter (thou)\nA4,41.9,37\n").entries
    assert entry.length_mm is not None
    assert entry.core_diameter_mm is not None
    assert_close(entry.length_mm.value, 419.0, rtol=1e-12, atol=0, why="the heading says cm")
    assert_close(entry.core_diameter_mm.value, 0.9398, rtol=1e-12, atol=0, why="the heading says thou")


def test_more_strings_than_a_note_has_are_refused_by_its_name(report: ScaleReport) -> None:
    with pytest.raises(InputError, match="C5 has 3 strings, not 5"):
        make_order_sheet(report, {52: 5}, is_rescaled=False, allowance=CuttingAllowance())
