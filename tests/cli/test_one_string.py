"""What ``strikeline string`` and ``strikeline wire`` print and write."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.closeness import assert_close

from strikeline.cli.main import EXIT_USAGE, run

PLAIN = ["string", "--length", "404mm", "--diameter", "0.947mm", "--hz", "440.68"]
BASS = ["string", "--length", "1120mm", "--core", "1.05mm", "--wrap", "0.8mm", "--note", "A1"]


def result_of(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    assert run([*arguments, "--json", "-"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def table_of(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert run(arguments) == 0
    return capsys.readouterr().out


def refusal_of(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert run(arguments) == EXIT_USAGE
    printed = capsys.readouterr()
    assert not printed.out
    return printed.err


def test_a_published_string_comes_out_as_published(capsys: pytest.CaptureFixture[str]) -> None:
    result = result_of(PLAIN, capsys)
    assert result["schema"] == "strikeline.string/1"
    state = result["state"]
    # A4 of Chabassier & Duruflé (2012): 701 N, B = 6.88e-4
    assert_close(state["tension_n"]["value"], 701.0, rtol=1e-3, atol=0, why="printed to 0.1 %")
    assert_close(state["inharmonicity_b"]["value"], 6.88e-4, rtol=1e-3, atol=0, why="three figures")
    half = 1.96 * state["tension_n"]["se"] / 701.0
    expected = ((2 * 0.01 / 0.947) ** 2 + (2 * 1 / 404) ** 2 + (1.96 * 25.2 / 7850) ** 2) ** 0.5
    assert_close(half, expected, rtol=0.01, atol=0, why="d ± 0.01 mm, L ± 1 mm, density 7800 to 7870")


def test_the_table_says_what_it_means_what_it_took_and_the_caution(capsys: pytest.CaptureFixture[str]) -> None:
    table = table_of([*PLAIN, "--year", "1905"], capsys)
    assert "below the elastic limit" in table
    assert "no ± written, so ± 0.01 mm" in table
    assert "no ± written, so ± 1 mm" in table
    assert "a piano of 1905: 1886 to 1930" in table
    assert "eye protection" in table


def test_bare_ends_raise_b_and_their_absence_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    without, with_ends = result_of(BASS, capsys), result_of([*BASS, "--bare", "18mm,22mm"], capsys)
    b = [one["state"]["inharmonicity_b"]["value"] for one in (without, with_ends)]
    assert b[1] > 1.2 * b[0]
    assert any("bare ends of the winding were not given" in notice for notice in without["notices"])
    assert with_ends["state"]["fitted_partials"] == 20
    table = table_of([*BASS, "--bare", "18mm ± 0.5mm; 22mm ± 0.5mm"], capsys)
    assert "of the bare ends" in table
    assert "18.0 ± 0.5 and 22.0 ± 0.5 mm" in table


def test_a_double_wound_string_is_heavier_by_its_second_winding(capsys: pytest.CaptureFixture[str]) -> None:
    single = result_of(BASS, capsys)["state"]["linear_density_kg_per_m"]["value"]
    second = ["--second-wrap", "1.1mm", "--second-inset", "8mm", "--bare", "15mm"]
    double = result_of([*BASS, *second], capsys)
    assert double["state"]["linear_density_kg_per_m"]["value"] > 1.5 * single
    assert len(double["dimensions"]["windings"]) == 2


def test_a_wanted_tension_names_the_diameter_and_the_sizes_sold(capsys: pytest.CaptureFixture[str]) -> None:
    wanted = result_of([*PLAIN, "--want-tension", "160 lbf"], capsys)["wanted"][0]
    assert_close(wanted["wanted"]["value"], 711.7, rtol=1e-4, atol=0, why="160 lbf")
    assert_close(wanted["diameter_mm"]["value"], 0.947 * (711.715 / 701.0) ** 0.5, rtol=1e-4, atol=0, why="T as d²")
    assert {size["system"] for size in wanted["stock"]} == {"thou", "metric"}
    assert "For a tension of 712 N at this pitch the wire must be" in table_of(
        [*PLAIN, "--want-tension", "160lbf"], capsys
    )


def test_a_wanted_b_and_a_wanted_tension_of_a_wound_string_change_core_and_winding(
    capsys: pytest.CaptureFixture[str],
) -> None:
    wanted = result_of([*BASS, "--want-b", "1,2e-4", "--want-tension", "700N"], capsys)["wanted"]
    assert [(one["quantity"], one["part"]) for one in wanted] == [("tension_n", "wrap"), ("inharmonicity_b", "core")]
    assert wanted[0]["stock"] == []  # winding wire is drawn in sizes of its own


def test_a_tension_gives_the_pitch(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["string", "--length", "404mm", "--diameter", "0.947mm", "--tension", "701N"]
    state = result_of(arguments, capsys)["state"]
    assert_close(state["f0_hz"]["value"], 440.68, rtol=1e-4, atol=0, why="printed to 5 figures")
    assert "701.0" in table_of(arguments, capsys)


def test_rust_takes_its_share_and_an_overloaded_string_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    sound = result_of(PLAIN, capsys)["state"]["breaking_share"]["value"]
    rusted = result_of([*PLAIN, "--section-lost", "40 %"], capsys)["state"]["breaking_share"]["value"]
    assert_close(rusted, sound / 0.6, rtol=1e-9, atol=0, why="three fifths are left")
    assert "above the elastic limit" in table_of([*PLAIN, "--section-lost", "0.5"], capsys)


def test_old_wire_whose_strength_may_be_anything_is_not_judged(capsys: pytest.CaptureFixture[str]) -> None:
    assert "cannot tell whether it is above the elastic limit" in table_of([*PLAIN, "--year", "1840"], capsys)
    assert "no strength is known of brass wire" in table_of([*PLAIN, "--material", "brass"], capsys)


def test_a_wire_number_needs_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["string", "--length", "404mm", "--diameter", "14½", "--note", "A4"]
    assert "0.864 mm (thou) or 0.850 mm (metric)" in refusal_of(arguments, capsys)
    result = result_of([*arguments, "--gauge", "metric"], capsys)
    assert result["dimensions"]["core_diameter_mm"]["value"] == 0.85


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--length", "540m", "--diameter", "0.9mm", "--note", "A4"], "did you mean 540 mm?"),
        (["--length", "540", "--diameter", "0.9mm"], "give one of --note, --hz and --tension"),
        (["--length", "540", "--diameter", "0.9mm", "--note", "A4", "--section-lost", "15"], "did you mean 15 %?"),
        (["--length", "1000", "--core", "1mm", "--wrap", "1mm", "--bare", "12,10", "--note", "A1"], "12mm,10mm"),
        (["--length", "1000", "--core", "1mm", "--second-wrap", "1mm", "--note", "A1"], "give --wrap too"),
        (["--length", "1000", "--core", "1mm", "--bare", "10mm", "--note", "A1"], "no winding"),
        (["--length", "540", "--diameter", "0.9mm", "--note", "A4", "--want-b", "4"], "such as 4e-4"),
        (["--length", "540", "--diameter", "0.9mm", "--note", "A4", "--want-b", "0.1"], "gives B = 0.1 at this pitch"),
        (["--length", "1000", "--core", "1mm", "--outside", "0.9mm", "--note", "A1"], "no more than the 1 mm of what"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_likely_meaning(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert words in refusal_of(["string", *arguments], capsys)


def test_the_result_is_written_where_it_was_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "string.json"
    assert "inharmonicity B" in table_of([*PLAIN, "--json", str(out)], capsys)
    assert json.loads(out.read_text())["schema"] == "strikeline.string/1"


def test_a_wire_number_is_looked_up_in_both_tables(capsys: pytest.CaptureFixture[str]) -> None:
    result = result_of(["wire", "14½"], capsys)
    assert result["schema"] == "strikeline.wire/1"
    assert result["is_number"] is True
    assert [row["diameter_mm"]["value"] for row in result["rows"]] == [0.8636, 0.85]
    assert "14½ (0.864 mm)" in table_of(["wire", "14 1/2"], capsys)


@pytest.mark.parametrize("written", ["0.875mm", "0,875", "0.875 mm ± 0.005 mm"])
def test_a_diameter_keeps_its_fraction_of_a_number(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    result = result_of(["wire", written], capsys)
    assert result["is_number"] is False
    assert_close([row["number"] for row in result["rows"]], [14.724, 15.0], rtol=0, atol=1e-3, why="both tables")


def test_wire_beyond_the_tables_is_said_to_be(capsys: pytest.CaptureFixture[str]) -> None:
    table = table_of(["wire", "2.5mm"], capsys)
    assert "Could not be told:" in table
    assert "as far as the metric table goes" in table
    refusal = refusal_of(["wire", "30"], capsys)
    assert "from 12 to 23 in the thou table and from 12 to 25 in the metric table" in refusal


def test_a_size_in_which_no_wire_is_sold_has_no_nearest_and_a_slip_of_the_point_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    result = result_of(["wire", "5"], capsys)
    assert [(row["nearest"], row["tension_change_ratio"]) for row in result["rows"]] == [(None, None)] * 2
    table = table_of(["wire", "5"], capsys)
    assert "No music wire of 5 mm is sold; sizes go from 0.725 to 1.500 mm. Did you mean 0.5 mm?" in table
    assert " = " not in table
    assert "Did you mean" not in table_of(["wire", "2.5mm"], capsys)
    assert result_of(["wire", "0.875"], capsys)["notices"] == []


@pytest.mark.parametrize(
    ("written", "fits"),
    [
        (["--length", "40.3", "--diameter", "0.95", "--note", "A4"], "with length 40.3 cm it would be 43 %"),
        (["--length", "404", "--diameter", "0.95", "--note", "A5"], "with note A4 it would be 43 %"),
        (["--length", "404", "--diameter", "0.95", "--tension", "60"], "with tension 60 kgf it would be 36 %"),
        (["--length", "40.4mm", "--diameter", "0.95", "--note", "A4"], "read length, diameters and pitch again"),
    ],
)
def test_a_string_that_cannot_be_meant_is_said_to_be_none_with_what_would_fit(
    written: list[str], fits: str, capsys: pytest.CaptureFixture[str]
) -> None:
    table = table_of(["string", *written], capsys)
    assert table.index("This cannot be meant") < table.index("first partial")
    assert "about 10 to 80 %" in table
    assert fits in table
    assert "It carries" not in table
    assert fits in result_of(["string", *written], capsys)["cannot_be_meant"]


def test_strings_of_pianos_can_be_meant_and_no_wire_is_five_millimetres_thick(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for written in (PLAIN, BASS, [*PLAIN, "--section-lost", "60 %"], [*PLAIN, "--year", "1840"]):
        assert result_of(written, capsys)["cannot_be_meant"] is None
        assert "breaking share" in table_of(written, capsys)
    too_thick = ["string", "--length", "404mm", "--diameter", "5.0", "--note", "A4"]
    assert "0.15 to 2.5 mm" in refusal_of(too_thick, capsys)


def test_the_strength_is_that_of_the_year(capsys: pytest.CaptureFixture[str]) -> None:
    assert "the strongest of 1867" in table_of(["wire", "14", "--year", "1865"], capsys)
    assert "broken by technicians" in table_of(["wire", "14", "--grade", "tested"], capsys)


def test_what_no_wire_can_bear_is_said_and_an_impossible_reference_is_refused(
    capsys: pytest.CaptureFixture[str],
) -> None:
    an_octave_off = ["string", "--length", "404mm", "--diameter", "0.947mm", "--note", "A5"]
    assert "no such wire bears this tension" in table_of(an_octave_off, capsys)
    assert "no such wire bears" not in table_of([*PLAIN, "--year", "1905"], capsys)
    assert "380 to 480 Hz" in refusal_of([*an_octave_off, "--a4", "4400"], capsys)


def test_a_year_beside_a_grade_is_said_not_to_count(capsys: pytest.CaptureFixture[str]) -> None:
    assert "the year 1840 was not used" in table_of([*PLAIN, "--year", "1840", "--grade", "a228"], capsys)
