"""What a listening loads: each of its two processes pays for it."""

from __future__ import annotations

import subprocess
import sys


def loaded(by: str, unwanted: set[str]) -> set[str]:
    program = f"import sys, {by}; print(*{unwanted!r} & {{*sys.modules}})"
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return set(answer.stdout.split())


def test_a_listening_loads_no_library_that_it_does_not_need() -> None:
    assert loaded("strikeline.workshop.listening", {"scipy.stats", "scipy.signal", "jinja2"}) == set()


def test_the_second_process_loads_only_what_names_and_measures_a_note() -> None:
    work = "strikeline.acoustics.evidence, strikeline.workshop.one_note"
    unwanted = {"scipy.ndimage", "scipy.linalg", "scipy.stats", "scipy.signal", "strikeline.acoustics.damping"}
    assert loaded(work, unwanted) == set()
