"""The sheets of unisons, short blows and plucked strings: whole, the same on page and in print, and thin ones too."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from tests.reports.fake_listening import fake_listening
from tests.reports.fake_sounds import FASTEST, fake_pass, fake_plucks, fake_staccato
from tests.reports.test_sheet import MADE_ON, Outline, squeezed, text_of

from strikeline.acoustics.listening import Kind, Listening
from strikeline.reports.content import SheetContent
from strikeline.reports.sheet import render_sheet_html, render_sheet_pdf, sheet_content

LISTENINGS = {"pass": fake_pass(), "staccato": fake_staccato(), "plucks": fake_plucks()}


def sheet_of(listening: Listening) -> SheetContent:
    return sheet_content(listening, title="Invented upright", made_on=MADE_ON)


@pytest.fixture(scope="module")
def contents() -> dict[str, SheetContent]:
    return {name: sheet_of(listening) for name, listening in LISTENINGS.items()}


@pytest.mark.parametrize("name", LISTENINGS)
def test_page_and_print_say_the_same(contents: dict[str, SheetContent], name: str, tmp_path: Path) -> None:
    content = contents[name]
    page = render_sheet_html(content)
    printed, shown = text_of(render_sheet_pdf(content), tmp_path), squeezed(" ".join(Outline(page).text))
    sentences = [
        content.subtitle,
        *content.in_short,
        *(chart.finding for chart in content.charts),
        *(text for section in content.sections for text in (section.note, *section.paragraphs, *section.after)),
        *(text for _, text in content.definitions),
    ]
    for sentence in map(squeezed, sentences):
        assert sentence in shown
        assert sentence in printed
    for table in (table for section in content.sections for table in section.tables):
        for cell in (cell for row in table.rows for cell in row):
            assert squeezed(cell) in shown
            assert squeezed(cell) in printed


@pytest.mark.parametrize("name", LISTENINGS)
def test_headings_pictures_tables_and_identifiers_are_in_order(contents: dict[str, SheetContent], name: str) -> None:
    page = render_sheet_html(contents[name])
    outline = Outline(page)
    assert outline.headings.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(outline.headings, outline.headings[1:], strict=False))
    assert all(len(picture["aria-label"] or "") > 40 for picture in outline.all("svg"))
    assert len(outline.all("caption")) == len(outline.all("table"))
    identifiers = re.findall(r'\bid="([^"]+)"', page)
    assert len(identifiers) == len(set(identifiers))


def test_the_unisons_of_a_pass_have_their_chart_and_their_widest_notes(contents: dict[str, SheetContent]) -> None:
    section = contents["pass"].section("unisons")
    (chart,) = section.charts
    assert "13 notes beating, from 0.30 to 2.3 per second, 2 uneven, 68 without a beat" in chart.alt
    assert "Not told: G♯6, A7" in chart.alt
    (table,) = section.tables
    assert len(table.rows) == 12
    assert squeezed(" ".join(table.rows[0])) == "C5 2.30 ± 0.04 /s 1 11 dB 2: 4.60 7.60 ± 0.20"
    assert any("13 that beat" in text for text in section.paragraphs)
    assert "Uneven without a whole beat: D4, E4." in section.after
    assert section.after[-1] == (
        "The strings of a note are told apart taking them as alike in wire, struck at the same moment."
    )


def test_the_two_stages_of_the_decay_are_drawn_apart_by_shape(contents: dict[str, SheetContent]) -> None:
    (chart,) = [one for one in contents["pass"].charts if one.name == "stages"]
    assert "64 notes of 84 die away in two stages" in chart.finding
    assert "open circles" in chart.caption


def test_a_pass_without_a_unison_has_no_section_on_it() -> None:
    content = sheet_of(fake_listening())
    assert [section.name for section in content.sections] == ["keyboard", "standing-out", "scale-changes", "toning"]


def test_unisons_that_could_not_be_told_say_what_to_do_next() -> None:
    listening = fake_pass()
    untold = next(note for note in listening.notes if note.key == 85).unison
    notes = tuple(replace(note, unison=untold) for note in listening.notes)
    section = sheet_of(replace(listening, notes=notes)).section("unisons")
    assert not section.charts
    assert "Let each note ring for four seconds" in section.paragraphs[0]


def test_one_note_shows_what_sounds_in_each_partial() -> None:
    listening = fake_pass()
    one = replace(
        listening,
        recording=replace(listening.recording, kind=Kind.NOTE, compass=None, missing_keys=()),
        notes=tuple(note for note in listening.notes if note.key == FASTEST),
    )
    section = sheet_of(one).section("unisons")
    assert section.heading == "Unison"
    assert section.paragraphs[0].startswith("C5: it beats at")
    assert len(section.tables[0].rows) == 2
    assert render_sheet_pdf(sheet_of(one)).startswith(b"%PDF")


def test_the_dampers_to_look_at_are_a_table_and_are_marked_on_the_charts(contents: dict[str, SheetContent]) -> None:
    content = contents["staccato"]
    assert content.subtitle.startswith("Damper sheet")
    assert [row[0] for row in content.section("dampers").tables[0].rows] == ["A♯2", "B2", "D3", "F4", "C5", "E6"]
    assert "The damper lands 0.15 s later than its neighbours'." in content.section("dampers").tables[0].rows[3]
    stops, leaks, lands = content.charts
    assert "no damper heard" in (stops.svg or "")
    assert stops.alt.endswith("Not told: A0.")
    for word in ("A♯2 leaks", "F4 late", "C5 weak", "E6 rings on"):
        assert word in stops.alt
    assert "A♯2, B2, D3" in leaks.finding
    assert lands.finding == "F4 is damped later than the neighbours."
    assert "Other strings ring on after C5; that is not counted" in content.section("dampers").after[0]


def test_sound_dampers_give_a_quiet_sheet() -> None:
    content = sheet_of(fake_staccato(even=True))
    assert "All 68 dampers" in content.in_short[1]
    assert not content.section("dampers").tables
    assert [chart.name for chart in content.charts] == ["t60", "lands"]


def test_the_open_strings_are_set_strong_and_named_on_the_chart(contents: dict[str, SheetContent]) -> None:
    content = contents["plucks"]
    (table,) = content.section("strings").tables
    dark = {(table.rows[row][0], table.head[column], table.rows[row][column]) for row, column in table.dark}
    assert dark == {
        ("A4", "Left", "open (fairly sure)"),
        ("B4", "Middle", "open (fairly sure)"),
        ("B4", "Right", "open (fairly sure)"),
    }
    assert render_sheet_html(content).count("<strong>open (fairly sure)</strong>") == 3
    (chart,) = content.charts
    assert "A4 left open; B4 middle and right open" in chart.alt
    assert ("Open strings", "3") in content.facts


@pytest.mark.parametrize("kind", [Kind.STACCATO, Kind.PLUCKS])
@pytest.mark.parametrize("keys", [(), (40,), (40, 41)], ids=["no note", "one note", "two notes"])
def test_thin_listenings_give_whole_sheets_that_say_what_to_do_next(kind: Kind, keys: tuple[int, ...]) -> None:
    whole = fake_staccato() if kind is Kind.STACCATO else fake_plucks()
    recording = replace(whole.recording, compass=None, missing_keys=())
    thin = replace(whole, recording=recording, notes=tuple(note for note in whole.notes if note.key in keys))
    content = sheet_of(thin)
    if not keys:
        assert "listen again" in " ".join(content.sections[0].paragraphs)
    assert render_sheet_pdf(content).startswith(b"%PDF")
    assert "How to read this sheet" in render_sheet_html(content)
