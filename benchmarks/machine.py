"""Speed, memory and start time, each beside something measured in the same run."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import librosa
import numpy as np
import soundfile

from strikeline.bootstrap import listen
from strikeline.media.wav import write_wav
from strikeline.synthesis.instrument import upright_1920s
from strikeline.synthesis.performance import ascending, play
from strikeline.synthesis.rendering import render_pass

SAMPLE_RATE_HZ = 44_100
_PYIN_S = 60.0
_PYIN_LOWEST_HZ = 44.0
"""The lowest its usual frame of 2048 samples takes; A0 to E1 would need longer and slower ones."""
_LONG_S = 1800.0
_STARTS = 9
_PEAK_SCRIPT = """
import resource, sys
from pathlib import Path
if __name__ == "__main__":
    if sys.argv[1]:
        import strikeline
        strikeline.listen(Path(sys.argv[1]))
    else:
        import strikeline.bootstrap, strikeline.acoustics.measure
    status = dict(line.split(":", 1) for line in open("/proc/self/status"))
    own = int(status["VmHWM"].split()[0])  # ru_maxrss would remember the parent that started us
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    print(own / 1024, children / 1024)
"""


def make_pass(path: Path) -> float:
    """Write the demo's pass over 85 keys and return its length in seconds."""
    instrument = upright_1920s(1927)
    performance = play(ascending(instrument.compass), speed_m_per_s=2.5, seed=1)
    rendered = render_pass(instrument, performance, sample_rate_hz=SAMPLE_RATE_HZ, seed=1)
    write_wav(path, rendered.samples, sample_rate_hz=SAMPLE_RATE_HZ)
    return rendered.samples.size / SAMPLE_RATE_HZ


def make_long(path: Path, source: Path) -> float:
    """Write half an hour of the same pass over and over and return its length in seconds."""
    samples, rate_hz = soundfile.read(source, dtype="float32")
    n_samples = int(_LONG_S * rate_hz)
    with soundfile.SoundFile(path, "w", rate_hz, 1, subtype="PCM_24") as sink:
        written = 0
        while written < n_samples:
            part = samples[: n_samples - written]
            sink.write(part)
            written += part.size
    return written / float(rate_hz)


def seconds(work: Callable[[], object]) -> float:
    """Return how long `work` takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def processor_seconds() -> float:
    """Return the processor time of this process and of the children it has waited for, in user and system mode."""
    spent = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in spent)


def listening_seconds(path: Path) -> tuple[float, float]:
    """Return how long the better of two full listenings takes, the libraries already loaded, and its processor time.

    The processor time is that of both processes; unlike the first figure it hardly depends on what else is running.
    """

    def spent() -> tuple[float, float]:
        before = processor_seconds()
        took_s = seconds(lambda: listen(path))
        return took_s, processor_seconds() - before

    return min(spent() for _ in range(2))


def pyin_seconds_per_second(path: Path) -> float:
    """Return how long librosa's pYIN takes for one second of the same file (over its first minute)."""
    samples, rate_hz = soundfile.read(path, dtype="float32", frames=int(_PYIN_S * SAMPLE_RATE_HZ))
    first = samples[: rate_hz * 2]
    track = partial(librosa.pyin, fmin=_PYIN_LOWEST_HZ, fmax=4200.0, sr=rate_hz)
    track(first)  # compiles
    return seconds(lambda: track(samples)) * float(rate_hz) / float(samples.size)


def peak_mb(path: Path | None) -> tuple[float, float]:
    """Return the largest resident memory of a process that listens to `path`, and of its helper; MB.

    With ``None`` it only loads the libraries: the share that does not depend on the sound.
    """
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "peak.py"
        script.write_text(_PEAK_SCRIPT)
        done = subprocess.run(  # noqa: S603  (our own script)
            [sys.executable, str(script), "" if path is None else str(path)], capture_output=True, text=True, check=True
        )
    own, helper = map(float, done.stdout.split())
    return own, helper


def start_seconds() -> tuple[float, float]:
    """Return the median time of ``strikeline --help`` and of a bare Python interpreter."""
    command = Path(sys.executable).with_name("strikeline")

    def median(arguments: list[str]) -> float:
        run = lambda: subprocess.run(arguments, capture_output=True, check=True)  # noqa: E731, S603
        return float(np.median([seconds(run) for _ in range(_STARTS)]))

    return median([str(command), "--help"]), median([sys.executable, "-c", "pass"])
