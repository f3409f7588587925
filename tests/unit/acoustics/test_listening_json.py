from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from tests.passes import InventedPiano, play_pass
from tests.reports.fake_listening import fake_listening

from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import Decay, Kind, Listening
from strikeline.acoustics.listening_json import listening_from_json
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.errors import InputError
from strikeline.measured import Measured


def through_text(listening: Listening) -> Listening:
    return listening_from_json(json.loads(json.dumps(listening.to_json(), allow_nan=False)))


def full_listening(kind: Kind = Kind.PASS) -> Listening:
    """A listening in which every field that is written holds something."""
    whole = play_pass(InventedPiano(keys=range(40, 43)), hand=1)
    unison = Unison(
        verdict=UnisonVerdict.BEATING,
        beats=(Beat(partial=2, rate_hz=Measured(0.4, 0.01), depth_db=12.0),),
        string_f0_hz=(Measured(261.0, 0.01), Measured(261.2, 0.01)),
        spread_cents=Measured(1.3, 0.1),
        rests_on="two strings struck alike",
        is_false_beat=False,
    )
    damping = Damping(
        verdict=DamperVerdict.LEAKS,
        lands_s=Measured(0.3, 0.01),
        t60_s=Measured(0.4, 0.02),
        partials=(DampedPartial(n=3, decay_db_per_s=Measured(20.0, 1.0), leaks=True, confidence=0.9),),
        after_ring_hz=(523.3,),
    )
    note = replace(
        whole.notes[0],
        onset_s=1.25,
        unison=unison,
        damping=damping,
        plucks=(Pluck(string=StringPlace.LEFT, at_s=2.0, is_touched=None, confidence=0.5),),
        singing_s=Measured(4.0, 0.3),
        knock_db=Measured(-20.0, 1.0),
        partials=(
            replace(
                whole.notes[0].partials[0],
                decay_db_per_s=Decay(
                    early=Measured(20.0, 1.0),
                    late=Measured(4.0, 0.5),
                    crossing_s=Measured(1.2, 0.1),
                    crossing_db=Measured(-18.0, 1.0),
                ),
            ),
            *whole.notes[0].partials[1:],
        ),
        cannot_tell=("knock: hidden by noise",),
        notices=("clipped",),
    )
    unnamed = replace(whole.notes[1], key=None, partials=())
    recording = replace(
        whole.recording, kind=kind, warnings=("hum",), missing_keys=(42,), is_partial=True, duration_s=6.25
    )
    return Listening(recording=recording, notes=(note, unnamed, *whole.notes[2:]))


@pytest.mark.parametrize("kind", list(Kind))
def test_a_listening_comes_back_as_it_was_written(kind: Kind) -> None:
    listening = full_listening(kind)
    assert through_text(listening) == listening


def test_short_blows_say_what_they_leave_open_and_passes_do_not() -> None:
    def reasons(kind: Kind) -> list[str]:
        notes: list[dict[str, Any]] = full_listening(kind).to_json()["notes"]
        return [reason for reason in notes[0]["cannot_tell"] if "singing" in reason]

    assert len(reasons(Kind.STACCATO)) == 1
    assert reasons(Kind.PASS) == []


def test_a_whole_pass_comes_back_as_the_same_data() -> None:
    listening = fake_listening()
    assert through_text(listening).to_json() == listening.to_json()
    assert through_text(listening).recording.compass == listening.recording.compass


def test_an_older_file_without_later_fields_is_read_as_if_they_could_not_be_told() -> None:
    data = full_listening().to_json()
    for name in ("singing_s", "unison", "strings", "damping", "plucks", "pitch_cents", "notices", "level_db_se"):
        del data["notes"][0][name]
    del data["recording"]["partial_result"]
    note = listening_from_json(data).notes[0]
    assert (note.singing_s, note.unison, note.damping, note.plucks, note.pitch_cents) == (None,) * 5
    assert note.level_db is not None
    assert note.f0_hz is not None


def test_fields_of_a_newer_version_are_passed_over() -> None:
    data = full_listening().to_json()
    data["notes"][0]["colour"] = "blue"
    data["weather"] = None
    assert listening_from_json(data) == full_listening()


def _broken(**changes: Any) -> dict[str, Any]:
    data = full_listening().to_json()
    data["notes"][0].update(changes)
    return data


@pytest.mark.parametrize(
    ("data", "match"),
    [
        ([], "holds no JSON object"),
        ({"schema": "strikeline.truth/1"}, r"its schema is 'strikeline\.truth/1'.*strikeline listen --json"),
        ({}, "its schema is None"),
        ({"schema": "strikeline.listening/2"}, "newer strikeline"),
        ({"schema": "strikeline.listening/1"}, "recording = None, expected a JSON object"),
        (_broken(key=400), r"notes\[0\]\.key = 400, expected a key number"),
        (_broken(key="A4"), r"notes\[0\]\.key = 'A4', expected a finite number"),
        (_broken(f0_hz={"value": "high", "se": 1}), r"notes\[0\]\.f0_hz\.value"),
        (_broken(f0_hz={"value": 3.0, "se": -1}), r"notes\[0\]\.f0_hz\.se = -1, expected 0 or more"),
        (_broken(f0_hz=440), r"notes\[0\]\.f0_hz = 440, expected a JSON object"),
        (_broken(partials={}), r"notes\[0\]\.partials = \{\}, expected a list"),
        (_broken(onset_s=None), r"notes\[0\]\.onset_s"),
        (_broken(unison={"verdict": "lovely"}), r"notes\[0\]\.unison\.verdict = 'lovely', expected 'locked' or"),
        (
            _broken(damping={"verdict": "stops", "after_ring_hz": [440.0, None]}),
            r"notes\[0\]\.damping\.after_ring_hz\[1\] = None, expected a finite number",
        ),
        (_broken(notices="clipped"), r"notes\[0\]\.notices"),
        (_broken(level_db=float("nan")), r"notes\[0\]\.level_db"),
    ],
)
def test_what_is_no_listening_is_refused_with_the_field_and_a_next_step(data: object, match: str) -> None:
    with pytest.raises(InputError, match=match):
        listening_from_json(data)


def test_a_note_that_was_never_heard_has_no_times_and_comes_back_so() -> None:
    whole = full_listening(Kind.PLUCKS)
    silent = replace(whole.notes[0], onset_s=0.0, end_s=0.0)
    listening = replace(whole, notes=(silent, *whole.notes[1:]))
    first, second, *_ = listening.to_json()["notes"]
    assert (first["onset_s"], first["end_s"]) == (None, None)
    assert second["end_s"] > second["onset_s"]
    assert through_text(listening) == listening
