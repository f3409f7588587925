"""Rendered sound against its own truth, by means that know nothing of how it was made."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import Compass
from strikeline.synthesis.instrument import KeyCondition, SynthesisedPiano, piano, upright_1920s
from strikeline.synthesis.performance import DisturbanceKind, KeyBlow, Performance, play
from strikeline.synthesis.rendering import RenderedPass, render_pass
from strikeline.synthesis.room import DRY, WORKSHOP, put_into_room

RATE_HZ = 16_000
UPRIGHT = upright_1920s(7)


def one_note(
    key: int, instrument: SynthesisedPiano = UPRIGHT, *, hold_s: float = 3.0, speed: float = 2.5
) -> RenderedPass:
    blow = KeyBlow(key=key, at_s=0.5, speed_m_per_s=speed, hold_s=hold_s)
    return render_pass(instrument, Performance(blows=(blow,), duration_s=4.0), sample_rate_hz=RATE_HZ, seed=2, room=DRY)


@pytest.mark.parametrize("key", [1, 6])
def test_a_fourier_transform_finds_the_true_partials_of_a_single_string(key: int) -> None:
    rendered = one_note(key)
    strike = rendered.truth.strikes[0]
    start = round((strike.onset_s + 0.3) * RATE_HZ)  # after the knock
    sound = rendered.samples[start : start + 2 * RATE_HZ].astype(np.float64)
    n_fft = 8 * sound.size
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(sound.size), n_fft))
    resolution_hz = 1 / 2.0
    for partial in strike.partials[3:20]:
        if partial.modes[0].level_db < -70:
            continue
        true_hz = partial.modes[0].f_hz
        centre, reach = round(true_hz * n_fft / RATE_HZ), round(3 * n_fft / RATE_HZ)
        peak = centre - reach + int(np.argmax(spectrum[centre - reach : centre + reach + 1]))
        found_hz = peak * RATE_HZ / n_fft
        assert_close(found_hz, true_hz, rtol=0, atol=0.25 * resolution_hz, why="one of eight bins each way")


def test_modes_stay_within_some_cents_of_the_law() -> None:
    rendered = one_note(30)
    for partial in rendered.truth.strikes[0].partials[:10]:
        for mode in partial.modes:
            assert abs(1200 * np.log2(mode.f_hz / partial.law_hz)) < 20


def test_before_the_onset_there_is_only_microphone_noise_and_after_it_there_is_sound() -> None:
    rendered = one_note(49)
    onset = round(rendered.truth.strikes[0].onset_s * RATE_HZ)
    assert onset == RATE_HZ // 2
    noise = 10 ** (DRY.noise_db / 20)
    assert np.abs(rendered.samples[:onset]).max() < 6 * noise
    assert np.abs(rendered.samples[onset : onset + 16]).max() > 50 * noise


def test_the_damper_ends_the_note() -> None:
    held, let_go = (one_note(40, hold_s=hold).samples for hold in (3.2, 1.0))
    late = slice(round(2.5 * RATE_HZ), round(3.0 * RATE_HZ))
    assert rms_db(let_go[late]) < rms_db(held[late]) - 20


def test_the_top_notes_have_no_damper() -> None:
    held, let_go = (one_note(75, hold_s=hold).samples for hold in (3.2, 0.1))
    assert (held == let_go).all()


def test_a_weak_key_is_softer_and_a_dead_key_has_no_strings_and_a_missing_key_no_sound() -> None:
    def with_condition(condition: KeyCondition) -> RenderedPass:
        return one_note(40, UPRIGHT.replacing(replace(UPRIGHT[40], condition=condition)))

    sound, weak, dead, missing = (with_condition(condition) for condition in KeyCondition)
    assert weak.truth.strikes[0].level_db < sound.truth.strikes[0].level_db - 6
    assert dead.truth.strikes == ()
    assert [(event.kind, event.key) for event in dead.truth.events] == [("dead key", 40)]
    second = slice(round(1.0 * RATE_HZ), None)
    assert rms_db(dead.samples[second]) < -90 < -80 < rms_db(dead.samples[RATE_HZ // 2 :])
    assert missing.truth.strikes == ()
    assert missing.truth.events == ()
    assert rms_db(missing.samples) < -95


def test_a_repeated_note_starts_afresh() -> None:
    blows = tuple(KeyBlow(key=40, at_s=at, speed_m_per_s=2.5, hold_s=5.0) for at in (0.5, 1.5))
    rendered = render_pass(UPRIGHT, Performance(blows=blows, duration_s=3.0), sample_rate_hz=RATE_HZ, seed=2, room=DRY)
    assert [strike.onset_s for strike in rendered.truth.strikes] == [0.5, 1.5]
    assert rendered.truth.strikes[0].release_s == 1.5


def test_the_same_seed_gives_the_same_samples_and_another_one_others() -> None:
    performance = play([40, 41, 75], speed_m_per_s=2.0, seed=1, length_ratio=0.2)
    first, again, other = (render_pass(UPRIGHT, performance, sample_rate_hz=RATE_HZ, seed=s) for s in (5, 5, 6))
    assert (first.samples == again.samples).all()
    assert first.truth == again.truth
    assert not (first.samples == other.samples).all()


def test_the_truth_goes_into_json_and_names_every_note() -> None:
    performance = play([40, 41], speed_m_per_s=2.0, seed=1, length_ratio=0.2)
    performance = performance.interrupted(DisturbanceKind.TALK, after_blow=0, duration_s=0.8, peak_db=-20.0)
    rendered = render_pass(UPRIGHT, performance, sample_rate_hz=RATE_HZ, seed=5)
    back = json.loads(json.dumps(rendered.truth.to_dict()))
    assert back["schema"] == "strikeline.truth/1"
    assert [note["note"] for note in back["notes"]] == ["C4", "C#4"]
    assert [event["kind"] for event in back["events"]] == ["talk"]
    assert len(back["notes"][0]["strings"]) == 3
    assert len(back["notes"][0]["partials"][0]["modes"]) == 3
    assert rendered.samples.size == round(back["recording"]["duration_s"] * RATE_HZ)


def test_stronger_blows_are_louder() -> None:
    levels = [one_note(40, speed=speed).truth.strikes[0].level_db for speed in (1.0, 2.0, 4.0)]
    assert (np.diff(levels) > 3).all()


def test_the_stated_level_is_that_of_the_sound() -> None:
    rendered = one_note(49)
    start = round(rendered.truth.strikes[0].onset_s * RATE_HZ)
    heard_db = rms_db(rendered.samples[start : start + RATE_HZ // 2]) + 3.01
    assert_close(heard_db, rendered.truth.strikes[0].level_db, rtol=0, atol=0.5, why="the knock adds a little")


def test_the_room_is_linear_and_keeps_onsets() -> None:
    quiet_room = replace(WORKSHOP, noise_db=-300.0)
    click = np.zeros(8000, dtype=np.float32)
    click[1000] = 0.5
    heard = put_into_room(click, quiet_room, sample_rate_hz=RATE_HZ, seed=1)
    louder = put_into_room(2 * click, quiet_room, sample_rate_hz=RATE_HZ, seed=1)
    assert int(np.argmax(np.abs(heard) > 1e-4)) == 1000
    assert_close(louder, 2 * heard, rtol=0, atol=1e-7, why="single precision")


def test_a_whole_piano_of_any_compass_can_be_played() -> None:
    small = piano(compass=Compass(45, 50), seed=1, pitch_level_cents=-60.0)
    rendered = render_pass(
        small, play(tuple(small.compass), speed_m_per_s=2.5, seed=1, length_ratio=0.1), sample_rate_hz=RATE_HZ, seed=1
    )
    assert [strike.key for strike in rendered.truth.strikes] == list(range(45, 51))
    assert -30 < 20 * np.log10(np.abs(rendered.samples).max()) < 0


def test_what_cannot_be_rendered_is_refused() -> None:
    late = Performance(blows=(KeyBlow(key=40, at_s=2.0, speed_m_per_s=2.0, hold_s=1.0),), duration_s=1.0)
    with pytest.raises(InputError, match="at_s"):
        render_pass(UPRIGHT, late, sample_rate_hz=RATE_HZ, seed=1)
    with pytest.raises(InputError, match="sample_rate_hz"):
        render_pass(UPRIGHT, late, sample_rate_hz=4000, seed=1)


def rms_db(samples: NDArray[np.float32]) -> float:
    return float(10 * np.log10(np.mean(samples.astype(np.float64) ** 2) + 1e-30))
