"""The demo's sheet, opened in Debian's chromium."""

from __future__ import annotations

import io
import os
import shutil
import tarfile
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, sync_playwright
from tests.packages import Package, need

from strikeline.cli.main import run

_FLAGS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
_AXE: Final = Package.from_npm(
    "axe-core@4.14.1",
    file_name="axe-core-4.14.1.tgz",
    sha256="e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745",
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium without a window; skipped where it is not installed, failed in CI."""
    chromium = shutil.which("chromium")
    if chromium is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI must open the pages: chromium is not installed")
        pytest.skip("chromium is not installed")
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=list(_FLAGS))
        yield running
        running.close()


@dataclass(frozen=True)
class Demo:
    """What `strikeline demo` leaves behind and says."""

    folder: Path
    said: str


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """One run of the demo."""
    folder = tmp_path_factory.mktemp("demo")
    said = io.StringIO()
    with redirect_stdout(said):
        assert run(["demo", "--out", str(folder), "--no-open"]) == 0
    return Demo(folder, said.getvalue())


@pytest.fixture(scope="session")
def demo_folder(demo: Demo) -> Path:
    """Where the demo's sheet is."""
    return demo.folder


@pytest.fixture(scope="session")
def axe_script() -> str:
    """The accessibility checker axe-core, as a script to run inside a page."""
    with tarfile.open(need(_AXE)) as archive:
        file = archive.extractfile("package/axe.min.js")
        assert file is not None
        return file.read().decode()
