"""Small recordings of invented pianos, and a way to run the command."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from strikeline.cli.main import run
from strikeline.keyboard import FULL_COMPASS
from strikeline.media.sound import write_wav
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import Disturbance, DisturbanceKind, KeyBlow, Performance, play
from strikeline.synthesis.rendering import render_pass

RATE_HZ = 44100
KEYS = (40, 41, 42, 43, 44)
NAMES = ["C4", "C#4", "D4", "D#4", "E4"]


@dataclass(frozen=True)
class Answer:
    """What a run of the command left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def strikeline(capfd: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """Return a function that runs the command as a shell would and gives code, output and errors."""

    def call(*arguments: object) -> Answer:
        code = run([str(argument) for argument in arguments])
        captured = capfd.readouterr()
        return Answer(code, captured.out, captured.err)

    return call


def played(keys: Sequence[int], *, sample_rate_hz: int = RATE_HZ) -> NDArray[np.float32]:
    """Return a short pass over `keys` of an invented grand, about 1.5 s a note."""
    performance = play(keys, speed_m_per_s=2.5, seed=3, length_ratio=0.5)
    grand = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-5.0)
    return render_pass(grand, performance, sample_rate_hz=sample_rate_hz, seed=3).samples


@pytest.fixture(scope="session")
def pass_samples() -> NDArray[np.float32]:
    """Five notes, mono, 44.1 kHz."""
    samples = played(KEYS)
    samples.flags.writeable = False
    return samples


@pytest.fixture(scope="session")
def sounds(tmp_path_factory: pytest.TempPathFactory, pass_samples: NDArray[np.float32]) -> dict[str, Path]:
    """Sound files by what is the matter with them."""
    folder = tmp_path_factory.mktemp("sounds")
    whole = {
        "pass": pass_samples,
        "silence": np.zeros(5 * RATE_HZ, np.float32),
        "speech": speech(),
        "clipped": np.clip(pass_samples * (2.0 / np.abs(pass_samples).max()), -1.0, 1.0),
        "dead channel": np.stack([pass_samples, np.zeros_like(pass_samples)], axis=1),
        "dc": pass_samples + np.float32(0.2),
    }
    paths = {name: folder / f"{name}.wav" for name in (*whole, "note", "8 kHz", "192 kHz")}
    for name, samples in whole.items():
        write_wav(paths[name], samples, sample_rate_hz=RATE_HZ)
    write_wav(paths["note"], played([49]), sample_rate_hz=RATE_HZ)
    write_wav(paths["8 kHz"], played(KEYS, sample_rate_hz=8000), sample_rate_hz=8000)
    write_wav(paths["192 kHz"], played(KEYS, sample_rate_hz=192000), sample_rate_hz=192000)
    return paths


def speech() -> NDArray[np.float32]:
    """Return ten seconds of speech-like babble; the piano's one key that is struck makes no sound."""
    silent = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=0.0, missing_keys=(49,))
    talk = [Disturbance(kind=DisturbanceKind.TALK, at_s=at_s, duration_s=2.5, peak_db=-12.0) for at_s in (1.0, 5.0)]
    blow = KeyBlow(key=49, at_s=9.0, speed_m_per_s=1.0, hold_s=0.5)
    performance = Performance(blows=(blow,), duration_s=10.0).disturbed(*talk)
    return render_pass(silent, performance, sample_rate_hz=RATE_HZ, seed=3).samples
