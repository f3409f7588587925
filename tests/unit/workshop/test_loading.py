"""What a listening loads: each of its two processes pays for it."""

from __future__ import annotations

import subprocess
import sys


def test_a_listening_loads_no_library_that_it_does_not_need() -> None:
    program = (
        "import sys, strikeline.workshop.listening; print(*{'scipy.stats', 'scipy.signal', 'jinja2'} & {*sys.modules})"
    )
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert answer.stdout.split() == []
