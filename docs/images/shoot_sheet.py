"""Make the picture of the README: the top of the demo's sheet, as a browser shows it.

Run ``.venv/bin/python docs/images/shoot_sheet.py`` from the root of the repository; needs Debian's chromium.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from strikeline.cli.main import run

PICTURE = Path(__file__).with_name("sheet.png")


def main() -> int:
    """Run the demo and photograph its page."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        code = run(["demo", "--out", folder, "--no-open"])
        if code != 0:
            return code
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1100, "height": 1500}, device_scale_factor=1.5)
        page.goto((Path(folder) / "sheet.html").as_uri())
        page.screenshot(path=PICTURE)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
