"""The sheet as a reader gets it: whole, self-contained, safe against hostile titles, the same on page and in print."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest
from tests.reports.fake_listening import fake_listening

from strikeline.acoustics.listening import Listening
from strikeline.keyboard import key_name
from strikeline.reports.content import SheetContent
from strikeline.reports.sheet import render_sheet_html, render_sheet_pdf, sheet_content

MADE_ON = date(2026, 11, 25)
HOSTILE = '<script>alert("1")</script> & #panic("x") $x$ *b* @ref \\ {{ 7*7 }} "quoted"'


@pytest.fixture(scope="module")
def content() -> SheetContent:
    return sheet_content(fake_listening(), title="Invented upright", made_on=MADE_ON)


@pytest.fixture(scope="module")
def page(content: SheetContent) -> str:
    return render_sheet_html(content)


@pytest.fixture(scope="module")
def pdf(content: SheetContent) -> bytes:
    return render_sheet_pdf(content)


class Outline(HTMLParser):
    """Collects what a test wants to know of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def text_of(pdf: bytes, folder: Path) -> str:
    """Return the text of a PDF in reading order; needs pdftotext of poppler-utils, which the test command installs."""
    if shutil.which("pdftotext") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI must read the print: pdftotext (poppler-utils) is not installed")
        pytest.skip("pdftotext (poppler-utils) is not installed")
    path = folder / "sheet.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"],  # noqa: S607  (found on the path by the system's own rules)
        check=True,
        capture_output=True,
    )
    return squeezed(done.stdout.decode())


def squeezed(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").split())


def test_the_page_needs_nothing_from_elsewhere(page: str) -> None:
    outline = Outline(page)
    for _, attributes in outline.tags:
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            value = attributes.get(name)
            assert value is None or value.startswith(("data:", "#"))
    assert not outline.all("script")
    assert not re.search(r"url\((?!data:|#)", page)
    assert "@import" not in page


def test_the_page_has_language_title_and_headings_in_order(page: str) -> None:
    outline = Outline(page)
    assert outline.all("html")[0]["lang"] == "en"
    assert "Invented upright – condition sheet" in page
    assert outline.headings[0] == 1
    assert outline.headings.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(outline.headings, outline.headings[1:], strict=False))


def test_every_picture_says_what_it_shows_and_every_table_names_its_cells(page: str) -> None:
    outline = Outline(page)
    pictures = outline.all("svg")
    assert len(pictures) == 6
    assert all(picture["role"] == "img" and len(picture["aria-label"] or "") > 40 for picture in pictures)
    assert all(head.get("scope") in {"col", "row"} for head in outline.all("th"))
    assert len(outline.all("caption")) == len(outline.all("table"))


def test_identifiers_are_used_once(page: str) -> None:
    identifiers = re.findall(r'\bid="([^"]+)"', page)
    assert len(identifiers) == len(set(identifiers))


def test_negative_numbers_carry_a_real_minus(content: SheetContent) -> None:
    cells = [cell for row in content.annex.rows for cell in row]
    assert any(cell.startswith("−") for cell in cells)
    assert not any(re.search(r"(?<![\w–])-\d", cell) for cell in cells)


def test_a_hostile_title_stays_text_on_the_page() -> None:
    page = render_sheet_html(sheet_content(fake_listening(only=(49,)), title=HOSTILE, made_on=MADE_ON))
    assert not Outline(page).all("script")
    assert "&lt;script&gt;" in page
    assert "{{ 7*7 }}" in page


def test_a_hostile_title_stays_text_in_print(tmp_path: Path) -> None:
    pdf = render_sheet_pdf(sheet_content(fake_listening(only=(49,)), title=HOSTILE, made_on=MADE_ON))
    printed = text_of(pdf, tmp_path)
    for part in ('#panic("x")', "$x$", "*b*", "@ref", "{{ 7*7 }}", "<script>"):
        assert part in printed


@pytest.mark.parametrize("title", ["古いピアノ", "🎹 Пианино", "\u202e\x00", "", "   ", None, "Ł" * 5000])
def test_any_title_gives_a_page_and_a_print(title: str | None) -> None:
    content = sheet_content(fake_listening(only=(49,)), title=title, made_on=MADE_ON)
    assert content.title
    assert len(content.title) <= 200
    assert render_sheet_html(content).startswith("<!DOCTYPE html>")
    assert render_sheet_pdf(content).startswith(b"%PDF")


def test_page_and_print_say_the_same(content: SheetContent, page: str, pdf: bytes, tmp_path: Path) -> None:
    printed, shown = text_of(pdf, tmp_path), squeezed(" ".join(Outline(page).text))
    sentences = [
        content.title,
        content.made_on,
        *content.in_short,
        *content.warnings,
        *(chart.finding for chart in content.charts),
        *content.section("standing-out").after,
        *(text for _, text in content.definitions),
    ]
    for sentence in map(squeezed, sentences):
        assert sentence in shown
        assert sentence in printed
    for row in (*content.section("standing-out").tables[0].rows, *content.annex.rows):
        for cell in map(squeezed, row):
            assert cell in shown
            assert cell in printed


def test_the_print_names_its_standards_and_carries_the_listening(content: SheetContent, pdf: bytes) -> None:
    assert b"pdfuaid" in pdf
    assert b"pdfaid" in pdf
    assert b"listening.json" in pdf
    attached = json.loads(content.listening_json)
    assert attached["schema"] == "strikeline.listening/1"
    assert [area["quantity"] for area in attached["evenness"]["areas"]] == ["brightness"]
    assert attached["toning"]["schema"] == "strikeline.toning/1"


def test_the_same_listening_gives_the_same_print(content: SheetContent, pdf: bytes) -> None:
    assert render_sheet_pdf(content) == pdf


WHITE = tuple(key for key in range(1, 86) if "#" not in key_name(key))


@pytest.mark.parametrize(
    ("listening", "in_short"),
    [
        (fake_listening(only=(), compass=None), "No note was recognised"),
        (fake_listening(only=(49,), compass=None), "One note was heard"),
        (fake_listening(only=(40, 41), compass=None), "Two notes were heard"),
        (fake_listening(only=WHITE, compass=None), "50 notes were heard"),
        (fake_listening(compass=None), "84 notes were heard"),
    ],
    ids=["no note", "one note", "two notes", "white keys", "compass unknown"],
)
def test_thin_listenings_give_whole_sheets(listening: Listening, in_short: str) -> None:
    content = sheet_content(listening, title=None, made_on=MADE_ON)
    assert content.in_short[0].startswith(in_short)
    assert "What could not be told" in render_sheet_html(content)
    assert render_sheet_pdf(content).startswith(b"%PDF")


def test_notes_without_a_single_number_give_a_whole_sheet() -> None:
    listening = fake_listening()
    bare = tuple(
        replace(
            note,
            f0_hz=None,
            inharmonicity_b=None,
            cents_from_et=None,
            pitch_cents=None,
            brightness=None,
            level_db=None,
            knock_db=None,
            sustain_db_per_s=None,
            singing_s=None,
            cannot_tell=("everything: hidden by noise",),
        )
        for note in listening.notes
    )
    content = sheet_content(replace(listening, notes=bare), title=None, made_on=MADE_ON)
    assert all(chart.svg is None for chart in content.charts)
    assert any("Hidden by noise." in row for row in content.untold.rows)
    assert render_sheet_pdf(content).startswith(b"%PDF")
    assert "could not be told for any note" in render_sheet_html(content)


def test_a_partial_listening_says_so_first() -> None:
    listening = fake_listening(only=(40, 41))
    recording = replace(listening.recording, is_partial=True)
    content = sheet_content(replace(listening, recording=recording), title=None, made_on=MADE_ON)
    assert content.warnings[0].startswith("This is a partial result")
