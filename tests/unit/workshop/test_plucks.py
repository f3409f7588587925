"""Listening to plucked strings, from a sound to notes, through the real ear."""

from __future__ import annotations

import json

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.sounds import MemorySound

from strikeline.acoustics.listening import Kind, Listening
from strikeline.errors import InputError, SignalError
from strikeline.keyboard import FULL_COMPASS
from strikeline.reports.pluck_words import mating_sentence
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.noises import disturbance
from strikeline.synthesis.performance import DisturbanceKind, play
from strikeline.synthesis.plucking import Hand, pluck_section
from strikeline.synthesis.plucks import RenderedPlucks, render_plucks
from strikeline.synthesis.rendering import render_pass
from strikeline.workshop.listening import Interrupted
from strikeline.workshop.plucks import listen_to_plucks
from strikeline.workshop.ports import Progress

RATE_HZ = 22_050
KEYS = (50, 51, 52)
GRAND = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-10.0)
HAND = Hand(
    pace_s=0.55,
    change_s=1.0,
    timing_scatter=0.1,
    force_n=2.0,
    force_scatter_db=2.0,
    release_s=3e-4,
    click_db=-14.0,
)


@pytest.fixture(scope="module")
def made() -> RenderedPlucks:
    touch = {(50, 0): 0.1, (50, 1): 0.15, (51, 2): 0.1, (52, 1): 0.12}
    performance = pluck_section(GRAND, KEYS, touch_t60_s=touch, hand=HAND, seed=6).disturbed(action_noise_db=-35.0)
    return render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=6)


def heard(
    samples: NDArray[np.floating],
    *,
    notes: tuple[int, ...] | None = KEYS,
    n_strings: int | None = 3,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
    broke_off: str | None = None,
) -> Listening:
    source = MemorySound(samples, sample_rate_hz=RATE_HZ, broke_off=broke_off)
    return listen_to_plucks(source, notes=notes, n_strings=n_strings, a4_hz=a4_hz, analyser="test", progress=progress)


def test_every_string_of_every_note_is_told_from_left_to_right(made: RenderedPlucks) -> None:
    listening = heard(made.samples)
    assert listening.recording.kind is Kind.PLUCKS
    assert tuple(note.key for note in listening.notes) == KEYS
    for note in listening.notes:
        assert note.plucks is not None
        assert note.key is not None
        said = [pluck.is_touched for pluck in note.plucks]
        true = [made.is_touched[note.key, string] for string in range(3)]
        assert all(answer is None or answer is truth for answer, truth in zip(said, true, strict=True)), note.name
        assert said.count(None) <= 1
    assert all("low sample rate" in warning for warning in listening.recording.warnings)


def test_the_json_has_the_plucks_and_says_what_plucks_do_not_tell(made: RenderedPlucks) -> None:
    data = json.loads(json.dumps(heard(made.samples).to_json()))
    first = data["notes"][0]
    assert [pluck["string"] for pluck in first["plucks"]] == ["left", "middle", "right"]
    assert first["plucks"][0]["touched"] is True
    assert first["f0_hz"] is None
    assert any("record a pass" in why for why in first["cannot_tell"])


def test_notes_and_strings_are_found_when_not_given(made: RenderedPlucks) -> None:
    listening = heard(made.samples, notes=None, n_strings=None)
    assert tuple(note.key for note in listening.notes) == KEYS
    assert all(note.plucks is not None and len(note.plucks) == 3 for note in listening.notes)


def test_progress_never_falls_and_ends_at_the_whole(made: RenderedPlucks) -> None:
    told: list[float] = []
    heard(made.samples, progress=lambda fraction, _words: told.append(fraction))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_stopping_keeps_what_was_found(made: RenderedPlucks) -> None:
    def stop(_fraction: float, words: str) -> None:
        if words.startswith("listening, 0:05"):
            raise KeyboardInterrupt

    with pytest.raises(Interrupted) as stopped:
        heard(made.samples, progress=stop)
    so_far = stopped.value.so_far
    assert so_far is not None
    assert so_far.recording.is_partial
    assert "stopped by the user" in so_far.recording.warnings[0]
    assert so_far.notes[0].plucks is not None


def test_stopping_before_any_pluck_leaves_nothing(made: RenderedPlucks) -> None:
    def stop(_fraction: float, _words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(Interrupted) as stopped:
        heard(np.concatenate([1e-4 * np.ones(RATE_HZ * 2), made.samples]), progress=stop)
    assert stopped.value.so_far is None


def test_a_file_that_broke_off_is_told_as_far_as_it_goes(made: RenderedPlucks) -> None:
    recording = heard(made.samples, broke_off="the file ends after 7.0 s of 20.0 s").recording
    assert recording.is_partial
    assert any("7.0 s of 20.0 s" in warning for warning in recording.warnings)


def test_silence_noise_and_emptiness_are_refused() -> None:
    noise = 0.01 * np.random.default_rng(1).standard_normal(6 * RATE_HZ)
    for samples in (np.zeros(0), np.zeros(3 * RATE_HZ), noise):
        with pytest.raises(SignalError):
            heard(samples)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_talk_is_no_plucking(seed: int) -> None:
    rng = np.random.default_rng(seed)
    talk = disturbance(DisturbanceKind.TALK, duration_s=7.0, sample_rate_hz=RATE_HZ, rng=rng)
    samples = 1e-4 * rng.standard_normal(9 * RATE_HZ)
    samples[RATE_HZ : 8 * RATE_HZ] += 0.1 * talk
    for notes in (KEYS, None):
        with pytest.raises(SignalError, match="pluck"):
            heard(samples, notes=notes)


@pytest.mark.parametrize("n_strings", [None, 3])
def test_struck_notes_offered_as_plucks_are_called_so(n_strings: int | None) -> None:
    keys = tuple(range(40, 46))
    struck = render_pass(GRAND, play(keys, speed_m_per_s=2.5, seed=5, length_ratio=0.4), sample_rate_hz=RATE_HZ, seed=5)
    listening = heard(struck.samples, notes=keys, n_strings=n_strings)
    (warning,) = [one for one in listening.recording.warnings if "struck notes" in one]
    assert warning.endswith("for struck notes use --kind pass")
    for note in listening.notes:
        assert note.plucks is not None
        assert all(pluck.is_touched is None for pluck in note.plucks)
        assert any("struck" in why for why in note.cannot_tell)


def test_what_was_clipped_is_marked(made: RenderedPlucks) -> None:
    loud = np.clip(made.samples / np.abs(made.samples).max() * 2.0, -1.0, 1.0)
    assert any("clipped" in note.notices for note in heard(loud).notes)


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"notes": ()}, "notes"),
        ({"notes": (40, 40)}, "notes"),
        ({"notes": (400,)}, "notes"),
        ({"n_strings": 4}, "n_strings"),
        ({"a4_hz": 300.0}, "a4_hz"),
        ({"a4_hz": float("nan")}, "a4_hz"),
    ],
)
def test_impossible_arguments_are_refused(wrong: dict[str, object], name: str) -> None:
    with pytest.raises(InputError, match=name):
        heard(np.zeros(10), **wrong)  # type: ignore[arg-type]  # wrong on purpose


def test_a_listed_note_that_was_never_plucked_has_no_time(made: RenderedPlucks) -> None:
    data = heard(made.samples, notes=(*KEYS, 53)).to_json()
    *played, missing = data["notes"]
    assert all(note["end_s"] > note["onset_s"] for note in played)
    assert [pluck["at_s"] for pluck in missing["plucks"]] == [None] * 3
    assert (missing["note"], missing["onset_s"], missing["end_s"]) == ("C#5", None, None)


@pytest.mark.parametrize("notes", [(52,), (26, 27, 28), (74, 75, 76)])
def test_a_list_that_does_not_fit_tells_nothing_and_says_so_first(made: RenderedPlucks, notes: tuple[int, ...]) -> None:
    listening = heard(made.samples, notes=notes, n_strings=None)
    assert "the list does not fit what was plucked; say which notes were plucked" in listening.recording.warnings[0]
    for note in listening.notes:
        assert all(pluck.is_touched is None for pluck in note.plucks or ())
        assert any("does not fit" in why for why in note.cannot_tell)
    assert "mated" not in mating_sentence(listening)


def test_a_list_of_other_pitches_names_the_row_that_was_heard(made: RenderedPlucks) -> None:
    first = heard(made.samples, notes=(52,), n_strings=None).recording.warnings[0]
    assert first.startswith("the pitches heard are not those of C5: ")
    assert first.endswith("they sound like A♯4–C5")


def test_more_plucks_than_the_strings_listed_are_told_in_numbers(made: RenderedPlucks) -> None:
    first = heard(made.samples, notes=KEYS, n_strings=1).recording.warnings[0]
    assert "plucks were heard for 3 strings of A♯4–C5: the list does not fit what was plucked" in first


def test_a_list_that_fits_is_not_doubted(made: RenderedPlucks) -> None:
    assert not any("fit" in warning or "by ear" in warning for warning in heard(made.samples).recording.warnings)


def test_a_row_listed_high_to_low_is_heard_in_that_order() -> None:
    down = KEYS[::-1]
    touch = {(50, 0): 0.1, (50, 1): 0.15, (51, 2): 0.1, (52, 1): 0.12}
    performance = pluck_section(GRAND, down, touch_t60_s=touch, hand=HAND, seed=6)
    played = render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=6)
    listening = heard(played.samples, notes=down)
    assert tuple(note.key for note in listening.notes) == down
    assert not any("fit" in warning for warning in listening.recording.warnings)
    assert [note.onset_s for note in listening.notes] == sorted(note.onset_s for note in listening.notes)


def test_a_row_with_a_gap_found_by_ear_asks_for_the_notes() -> None:
    keys = (40, 41, 60)
    performance = pluck_section(GRAND, keys, touch_t60_s={}, hand=HAND, seed=6)
    played = render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=6)
    first = heard(played.samples, notes=None, n_strings=None).recording.warnings[0]
    assert first == "the notes were found by ear; say which were plucked, as --notes F3-F4"


@pytest.mark.parametrize(
    ("listed", "said"),
    [
        ((50, 51), "strings of C5 were plucked, too, which is not in the list A♯4–B4: the list does not fit"),
        ((51, 52), "strings of A♯4 were plucked, too, which is not in the list B4–C5: the list does not fit"),
        ((52, 51, 50), "the notes were plucked in the reverse of the order of C5–A♯4: the list does not fit"),
    ],
)
def test_a_list_that_lacks_a_note_or_runs_the_other_way_is_refused(
    made: RenderedPlucks, listed: tuple[int, ...], said: str
) -> None:
    listening = heard(made.samples, notes=listed, n_strings=None)
    assert listening.recording.warnings[0].startswith(said)
    assert all(pluck.is_touched is None for note in listening.notes for pluck in note.plucks or ())


def test_a_row_that_lies_between_two_names_asks_for_the_notes() -> None:
    flat = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-55.0)
    performance = pluck_section(flat, KEYS, touch_t60_s={}, hand=HAND, seed=6)
    played = render_plucks(flat, performance, sample_rate_hz=RATE_HZ, seed=6)
    listening = heard(played.samples, notes=None, n_strings=None)
    assert tuple(note.key for note in listening.notes) == KEYS
    assert listening.recording.warnings[0] == "the notes were found by ear; say which were plucked, as --notes F3-F4"
