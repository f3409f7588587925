"""The helpers that fetch and assemble real recordings."""

from __future__ import annotations

import numpy as np
import pytest
from tests import packages
from tests.closeness import assert_close
from tests.packages import Package, need
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES, chromatic_grand, chromatic_pass, layered_grand


def test_a_package_that_cannot_be_fetched_skips_locally_and_fails_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    absent = Package("no-such-file.tgz", "0" * 64, ("no-such-command-anywhere",))
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="no-such-command-anywhere"):
        need(absent)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="no-such-command-anywhere"):
        need(absent)


def test_a_file_that_is_not_the_expected_one_is_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = Package("changed.tgz", "0" * 64, ("no-such-command-anywhere",))
    packages.CACHE.mkdir(parents=True, exist_ok=True)
    file = packages.CACHE / "changed.tgz"
    file.write_bytes(b"something else")
    monkeypatch.delenv("CI", raising=False)
    try:
        with pytest.raises(pytest.skip.Exception, match="not the file these tests were written for"):
            need(changed)
    finally:
        file.unlink()


@pytest.mark.real
def test_both_sets_are_complete() -> None:
    assert all(chromatic_grand(key)[0].shape[1] == 2 for key in (1, 44, 88))
    for velocity in LAYERED_VELOCITIES:
        rates = {layered_grand(key, velocity)[1] for key in (LAYERED_KEYS[0], LAYERED_KEYS[-1])}
        assert rates == {48000}


@pytest.mark.real
def test_a_pass_has_each_note_at_its_onset_and_silence_between() -> None:
    samples, rate, onsets = chromatic_pass([40, 52, 40], seconds=1.0, gap_s=0.5)
    assert_close(np.diff(onsets), [1.5, 1.5], rtol=0, atol=0.05, why="recordings begin up to 50 ms before their attack")
    size = np.abs(samples).max(axis=1)
    for onset_s in onsets:
        at = round(onset_s * rate)
        assert size[at : at + rate // 2].max() > 0.05
        assert size[at + round(1.1 * rate) : at + round(1.4 * rate)].max() == 0.0


@pytest.mark.real
def test_notes_that_ring_over_are_added_to_the_next() -> None:
    short, _, onsets = chromatic_pass([40, 52], seconds=1.0)
    over, rate, same_onsets = chromatic_pass([40, 52], seconds=1.0, rings_over_s=0.5)
    assert onsets == same_onsets
    second = round(onsets[1] * rate)
    assert not np.array_equal(short[second : second + rate // 4], over[second : second + rate // 4])
