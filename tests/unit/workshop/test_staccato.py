"""A pass of short blows through the whole listening."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.sounds import MemorySound

from strikeline.acoustics.damping_result import DamperVerdict
from strikeline.acoustics.identity import Naming
from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import FULL_COMPASS
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import staccato
from strikeline.synthesis.rendering import RenderedPass, render_pass
from strikeline.workshop import hearing
from strikeline.workshop.listening import listen
from strikeline.workshop.staccato import find_releases, join_releases

RATE_HZ = 44_100
KEYS = tuple(range(44, 54))
LEAKING, LATE = 47, 50


@pytest.fixture(scope="module")
def rendered() -> RenderedPass:
    """Ten short blows; one damper leaks, one is late, and every key thumps as it comes back."""
    plain = piano(compass=FULL_COMPASS, seed=8, pitch_level_cents=2.0)
    fitted = with_dampers(plain, seed=8, at_node_of={LEAKING: 3}, late_s={LATE: 0.2})
    thumping = replace(fitted, release_noise_db=-6.0)
    played = staccato(KEYS, speed_m_per_s=2.5, seed=8, hold_s=0.2, rest_s=1.1)
    return render_pass(thumping, played, sample_rate_hz=RATE_HZ, seed=8)


@pytest.fixture(scope="module")
def heard(rendered: RenderedPass) -> Listening:
    return listened(rendered)


def listened(rendered: RenderedPass, *, kind: Kind = Kind.STACCATO) -> Listening:
    source = MemorySound(rendered.samples, sample_rate_hz=RATE_HZ)
    return listen(source, kind=kind, note=None, compass=None, a4_hz=440.0, analyser="test")


def test_every_blow_is_one_note_and_no_thump_is(heard: Listening) -> None:
    assert tuple(note.key for note in heard.notes) == KEYS
    assert heard.recording.kind is Kind.STACCATO
    assert not any("left out" in warning for warning in heard.recording.warnings)


def test_short_blows_taken_for_a_pass_are_called_so(rendered: RenderedPass, heard: Listening) -> None:
    warning = "these sound like short blows; listen with --kind staccato"
    assert listened(rendered, kind=Kind.PASS).recording.warnings.count(warning) == 1
    assert warning not in heard.recording.warnings


def test_each_note_has_its_damping_and_the_faulty_ones_are_found(heard: Listening) -> None:
    found = {note.key: note.damping.verdict for note in heard.notes if note.damping is not None}
    assert found.pop(LEAKING) is DamperVerdict.LEAKS
    assert found.pop(LATE) is DamperVerdict.LATE
    assert set(found.values()) == {DamperVerdict.STOPS}
    leaking = next(note.damping for note in heard.notes if note.key == LEAKING)
    assert leaking is not None
    assert 3 in leaking.leaking_partials


def test_the_landing_is_that_of_the_truth(heard: Listening, rendered: RenderedPass) -> None:
    lands = [note.damping.lands_s for note in heard.notes if note.damping is not None]
    truth = [strike.damping.lands_s for strike in rendered.truth.strikes if strike.damping is not None]
    measured = [one.value for one in lands if one is not None]
    assert_close(measured, truth, rtol=0, atol=0.03, why="three standard errors of 7 ms, and 5 ms of the onset")


def test_the_result_is_published(heard: Listening) -> None:
    note = heard.to_json()["notes"][0]
    assert note["damping"]["verdict"] == "stops"
    assert note["damping"]["lands_s"] > 0.0
    assert note["unison"] is None
    assert not any(reason.startswith("damping: needs short blows") for reason in note["cannot_tell"])


def test_a_long_recording_is_read_again_and_gives_the_same(
    heard: Listening, rendered: RenderedPass, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hearing, "_KEPT_VALUES", RATE_HZ)
    assert listened(rendered) == heard


def strike(start_s: float, seconds: float, value: float) -> Strike:
    samples = np.full(round(seconds * 1000.0), value, dtype=np.float32)
    return Strike(samples=samples, sample_rate_hz=1000.0, onset_sample=min(100, samples.size - 1), start_s=start_s)


def test_what_follows_a_blow_at_once_and_has_no_name_is_its_release() -> None:
    spans_s = [(1.0, 1.2), (1.2, 1.9), (3.0, 3.8), (5.0, 6.0), (5.1, 6.0)]
    naming = Naming(
        keys=(40, None, None, 41, 42),
        f0_hz=(260.0, None, None, 277.0, 293.0),
        continues=(False,) * 5,
        notices=((),) * 5,
        compass=None,
        missing_keys=(),
        pitch_level_cents=None,
        warnings=(),
    )
    assert find_releases(naming, spans_s) == (False, True, False, False, False)


def test_a_release_is_joined_in_its_place() -> None:
    blow, release, later = strike(0.0, 0.5, 1.0), strike(0.4, 0.6, 2.0), strike(2.0, 0.5, 3.0)
    first, second = join_releases([blow, release, later], (False, True, False))
    assert second is later
    assert first.onset_sample == blow.onset_sample
    assert_close(first.end_s, release.end_s, rtol=0, atol=1e-9, why="rounding")
    expected = np.concatenate([np.full(400, 1.0), np.full(600, 2.0)])
    assert_close(first.samples, expected, rtol=0, atol=0, why="copies")
