"""The sheet of a comparison in a browser: narrow and wide, light and dark, without a network."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser
from tests.pages.test_sheet_page import SCHEMES, WIDTHS, Scheme
from tests.passes import InventedPiano, play_pass, tilted

from strikeline import bootstrap
from strikeline.acoustics.comparison import compare

pytestmark = pytest.mark.page


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A sheet with changes of every kind."""
    worked_on = InventedPiano(toned=dict.fromkeys(range(45, 60), -2.0), all_cents=12.0, spread_cents={64: 6.0})
    before, after = play_pass(InventedPiano(), hand=1), play_pass(worked_on, hand=2, colour_db=tilted(1.0))
    folder: Path = tmp_path_factory.mktemp("comparison")
    files = bootstrap.make_comparison_sheet(compare(before, after), out_dir=folder, title="An invented grand")
    return files.html.as_uri()


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_no_barrier_and_nobody_is_asked_for_anything(
    browser: Browser, address: str, axe_script: str, width: int, scheme: Scheme
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    events: list[str] = []
    page.on("console", lambda message: events.append(f"console {message.type}: {message.text}"))
    page.on("pageerror", lambda error: events.append(f"error: {error}"))
    page.on("request", lambda request: None if request.url == address else events.append(request.url[:80]))
    page.goto(address)
    assert [event for event in events if not event.startswith("data:")] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate(axe_script)
    violations = page.evaluate("async () => (await axe.run(document)).violations")
    assert [f"{v['id']}: {v['help']}: {[n['target'] for n in v['nodes']][:3]}" for v in violations] == []
    context.close()
