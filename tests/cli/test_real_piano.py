"""The main job on a real grand: every key once, up the keyboard, through the command."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from tests.cli.conftest import Answer
from tests.closeness import assert_close
from tests.recordings import chromatic_pass

from strikeline.keyboard import FULL_COMPASS


@pytest.mark.real
def test_all_88_keys_of_a_real_grand_are_named_and_timed(tmp_path: Path, strikeline: Callable[..., Answer]) -> None:
    samples, rate, onsets_s = chromatic_pass(tuple(FULL_COMPASS), seconds=2.0, gap_s=0.3)
    soundfile.write(tmp_path / "grand.flac", samples, rate, subtype="PCM_24")
    answer = strikeline("listen", tmp_path / "grand.flac", "--json", "-")
    assert answer.code == 0, answer.err
    result = json.loads(answer.out)
    # Three files do not sound the key they are named after (tests/real/test_identity_real.py): A0 sounds A#0, A#0 and
    # B0 sound C1.
    assert [note["key"] for note in result["notes"]] == [{1: 2, 2: 4, 3: 4}.get(key, key) for key in FULL_COMPASS]
    assert result["recording"]["compass"] == "A#0-C8"
    assert result["recording"]["missing"] == ["B0"]
    heard_s = np.array([note["onset_s"] for note in result["notes"]])
    assert_close(
        heard_s, onsets_s, rtol=0, atol=0.05, why="the truth itself is known to about 10 ms, 30 ms in the bass"
    )
    cents = [note["pitch_cents"]["value"] for note in result["notes"] if note["pitch_cents"]]
    assert len(cents) >= 80
    assert np.median(cents[-12:]) > np.median(cents[36:48]) > np.median(cents[:12])
