"""Sound that was clipped and then coded, as a phone does it, is still known to be clipped."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.media.encoding import encode
from tests.recordings import chromatic_pass

from strikeline.acoustics.quality import QualityMeter
from strikeline.media.sound import open_sound


def meter_of(path: Path) -> QualityMeter:
    sound = open_sound(path)
    meter = QualityMeter(sample_rate_hz=sound.sample_rate_hz, is_lossy=sound.codec.is_lossy)
    for block in sound.blocks():
        meter.feed(np.ascontiguousarray(block[:, 0]))
    return meter


def coded(path: Path, samples: NDArray[np.float32], rate: int) -> QualityMeter:
    codec = "aac" if path.suffix == ".m4a" else "libmp3lame"
    container = "ipod" if path.suffix == ".m4a" else None
    return meter_of(encode(path, samples, sample_rate_hz=rate, codec=codec, container=container))


@pytest.mark.parametrize("suffix", ["m4a", "mp3"])
@pytest.mark.parametrize("gain", [1.6, 4.0])
def test_clipped_notes_are_found_behind_lossy_coding(tmp_path: Path, suffix: str, gain: float) -> None:
    samples, rate, _ = chromatic_pass(range(40, 50), seconds=1.5)
    hot = gain * samples[:, 0] / np.abs(samples[:, 0]).max()
    meter = coded(tmp_path / f"a.{suffix}", np.clip(hot, -1, 1), rate)
    assert any(sentence.startswith("clipped") for sentence in meter.finish())
    truth_s = np.flatnonzero(np.abs(hot) > 1) / rate
    near = np.zeros(len(truth_s), bool)
    for start_s, end_s in meter.clipped_s:
        near |= (truth_s >= start_s - 0.05) & (truth_s <= end_s + 0.05)
    assert near.mean() > 0.95


@pytest.mark.parametrize("suffix", ["m4a", "mp3"])
def test_loud_notes_that_just_reach_full_scale_are_not_called_clipped(tmp_path: Path, suffix: str) -> None:
    samples, rate, _ = chromatic_pass(range(40, 50), seconds=1.5)
    loud = samples[:, 0] / np.abs(samples[:, 0]).max()
    assert coded(tmp_path / f"a.{suffix}", loud, rate).clipped_s == []
