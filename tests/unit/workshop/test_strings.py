"""The use case that listens to the strings of one note, on sounds in memory."""

from __future__ import annotations

import pytest
from benchmarks.unison_notes import unison_note
from tests.sounds import MemorySound

from strikeline.acoustics.pluck_result import StringPlace
from strikeline.errors import InputError, SignalError
from strikeline.workshop.strings import hear_strings

LEFT, RIGHT = StringPlace.LEFT, StringPlace.RIGHT
RATE_HZ = 22_050


def sound(only: int | None, *, key: int = 49, scale: float = 1.0) -> MemorySound:
    note = unison_note(
        3,
        key=key,
        n_strings=2,
        spread_cents=3.0,
        coupled=True,
        even=True,
        polarised=False,
        sample_rate_hz=RATE_HZ,
        duration_s=3.0,
        only_string=only,
    )
    source = MemorySound(scale * note.samples, sample_rate_hz=RATE_HZ)
    source.sha256 = f"{key} {only} {scale}"
    return source


def test_the_strings_are_heard_in_order_and_progress_runs_through_all_recordings() -> None:
    told: list[tuple[float, str]] = []
    heard = hear_strings(
        sound(None),
        {RIGHT: sound(1), LEFT: sound(0)},
        note=None,
        n_strings=None,
        a4_hz=440.0,
        analyser="test",
        progress=lambda fraction, words: told.append((fraction, words)),
    )
    assert [string.string for string in heard.note.strings] == [LEFT, RIGHT]
    assert heard.note.spread_cents is not None
    assert abs(heard.note.spread_cents.value - 3.0) < 0.1
    fractions = [fraction for fraction, _ in told]
    assert fractions == sorted(fractions)
    assert fractions[-1] == 1.0
    assert any(words.startswith("the right string: ") for _, words in told)
    data = heard.to_json()
    assert data["schema"] == "strikeline.unison/1"
    assert list(data["recordings"]) == ["together", "left", "right"]
    assert data["recordings"]["left"]["sha256"] == "49 0 1.0"


def hear(together: MemorySound, alone: dict[StringPlace, MemorySound], n_strings: int | None = None) -> None:
    hear_strings(together, alone, note=None, n_strings=n_strings, a4_hz=440.0, analyser="test")


def test_recordings_of_different_notes_are_refused_with_their_names() -> None:
    with pytest.raises(InputError, match="recording of the left string sounds B4, that of all strings A4"):
        hear(sound(None), {LEFT: sound(0, key=51)})


def test_the_same_file_twice_is_refused_before_anything_is_heard() -> None:
    twice = sound(0)
    with pytest.raises(InputError, match="the left string and of the right string are the same file"):
        hear(sound(None), {LEFT: twice, RIGHT: twice})
    assert twice.n_samples_read == 0


def test_the_same_sound_in_two_files_is_refused() -> None:
    again = sound(0)
    again.sha256 = "coded otherwise"
    with pytest.raises(InputError, match="same sound"):
        hear(sound(None), {LEFT: sound(0), RIGHT: again})


def test_silence_says_in_which_recording() -> None:
    with pytest.raises(SignalError, match="the recording of the right string"):
        hear(sound(None), {LEFT: sound(0), RIGHT: sound(1, scale=0.0)})


def test_numbers_of_strings_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="no recording of a string alone"):
        hear(sound(None), {})
    with pytest.raises(InputError, match="n_strings"):
        hear(sound(None), {LEFT: sound(0), RIGHT: sound(1)}, n_strings=1)
