"""What docs/record.md shows is run as it stands."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

_PAGE = Path(__file__).parents[2] / "docs" / "record.md"


def test_the_example_runs_and_leaves_what_the_page_says(tmp_path: Path) -> None:
    (code,) = re.findall(r"^```python\n(.*?)^```", _PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL)
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == "10.0 mm by B. Bench because the block had tilted\n"
    assert (tmp_path / "workshop" / "records.sqlite3").is_file()
    assert (tmp_path / "workshop" / "media").is_dir()
    assert (tmp_path / "workshop-again" / "records.sqlite3").is_file()
    assert (tmp_path / "workshop-backup.zip").is_file()
