"""What several tests of reading need."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

import pytest

_READ_IN_A_FRESH_PROCESS = """
import resource, sys
from pathlib import Path
from strikeline.media.sound import open_sound
sound = open_sound(Path(sys.argv[1]))
blocks = sound.blocks()
next(blocks)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for _ in blocks:
    pass
sound.sha256
print(1024 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before))
"""


@pytest.fixture
def peak_growth_bytes() -> Callable[[str], int]:
    """Return how far the memory of a process grows while it reads a file."""

    def measure(path: str) -> int:
        command = [sys.executable, "-c", _READ_IN_A_FRESH_PROCESS, path]
        return int(subprocess.run(command, capture_output=True, text=True, check=True, timeout=120).stdout)

    return measure
