"""The condition sheet as a reader meets it: in a browser, narrow and wide, light and dark, without a network."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.page
WIDTHS = (360, 1280)
Scheme = Literal["light", "dark"]
SCHEMES: tuple[Scheme, ...] = ("light", "dark")


SHEETS = (".", "staccato", "plucks")
"""Folders of the demo's three sheets."""


@contextmanager
def opened(browser: Browser, folder: Path, *, width: int, scheme: Scheme) -> Iterator[tuple[Page, list[str]]]:
    """Open the sheet; yield the page and the list of everything that went wrong or went out."""
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    events: list[str] = []
    address = (folder / "sheet.html").as_uri()
    page.on("console", lambda message: events.append(f"console {message.type}: {message.text}"))
    page.on("pageerror", lambda error: events.append(f"error: {error}"))
    page.on(
        "request", lambda request: None if request.url == address else events.append(f"request: {request.url[:80]}")
    )
    page.goto(address)
    yield page, events
    context.close()


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_the_page_opens_without_a_complaint_and_asks_nobody_for_anything(
    browser: Browser, demo_folder: Path, width: int, scheme: Scheme, sheet: str
) -> None:
    with opened(browser, demo_folder / sheet, width=width, scheme=scheme) as (page, events):
        page.wait_for_load_state("load")
        # Fonts and images embedded as data: addresses are part of the page.
        assert [event for event in events if not event.startswith("request: data:")] == []


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_no_barrier(
    browser: Browser, demo_folder: Path, axe_script: str, width: int, scheme: Scheme, sheet: str
) -> None:
    with opened(browser, demo_folder / sheet, width=width, scheme=scheme) as (page, _):
        page.evaluate(axe_script)
        violations = page.evaluate("async () => (await axe.run(document)).violations")
        found = [f"{v['id']}: {v['help']}: {[n['target'] for n in v['nodes']][:3]}" for v in violations]
        assert found == []


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_narrow_page_needs_no_sideways_scrolling(browser: Browser, demo_folder: Path, sheet: str) -> None:
    with opened(browser, demo_folder / sheet, width=360, scheme="light") as (page, _):
        assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_the_sheet_has_one_title_and_its_sections_in_order(browser: Browser, demo_folder: Path) -> None:
    with opened(browser, demo_folder, width=1280, scheme="light") as (page, _):
        levels = page.eval_on_selector_all("h1,h2,h3,h4", "hs => hs.map(h => Number(h.tagName[1]))")
        assert levels.count(1) == 1
        assert levels[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))
        text = page.inner_text("body").lower()
        for topic in ("pitch", "inharmonicity", "brightness", "sustain", "level"):
            assert topic in text


def test_every_chart_is_drawn_and_described(browser: Browser, demo_folder: Path) -> None:
    with opened(browser, demo_folder, width=1280, scheme="light") as (page, _):
        figures = page.locator("section[aria-labelledby=keyboard] figure").all()
        assert len(figures) >= 5
        for figure in figures:
            picture = figure.locator("svg").first
            box = picture.bounding_box()
            assert box is not None
            assert box["width"] > 200
            assert box["height"] > 40
            assert len((picture.get_attribute("aria-label") or "").split()) >= 5
            assert len(figure.locator("h3").inner_text().split()) >= 3
            assert figure.locator("table tbody tr").count() >= 70


@pytest.mark.parametrize(
    ("sheet", "sections"),
    [
        (".", ["unisons", "standing-out", "toning"]),
        ("staccato", ["keyboard", "dampers"]),
        ("plucks", ["strings"]),
    ],
)
def test_each_kind_of_sheet_has_its_own_sections(
    browser: Browser, demo_folder: Path, sheet: str, sections: list[str]
) -> None:
    with opened(browser, demo_folder / sheet, width=1280, scheme="light") as (page, _):
        assert all(page.locator(f"section[aria-labelledby={name}] h2").count() == 1 for name in sections)
        assert all(len(one.get_attribute("aria-label") or "") > 40 for one in page.locator("figure svg").all())


def test_there_is_a_language_and_a_title(browser: Browser, demo_folder: Path) -> None:
    with opened(browser, demo_folder, width=1280, scheme="light") as (page, _):
        assert page.evaluate("document.documentElement.lang")
        assert "upright of the 1920s" in page.title()
