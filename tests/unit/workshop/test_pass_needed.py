"""Tuning asks for a pass over the keyboard, and says so when it gets another kind of playing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.tuned_pianos import BREAK, heard_piano_of

from strikeline.acoustics.listening import Kind, Listening
from strikeline.errors import InputError
from strikeline.workshop.pass_needed import check_is_pass, pass_warnings
from strikeline.workshop.pitch import plan_pitch
from strikeline.workshop.pitch_job import WireStory
from strikeline.workshop.string_sections import StringSections
from strikeline.workshop.tuning import tune

PASS = heard_piano_of(np.full(88, -20.0))
SECTIONS = StringSections(break_after=BREAK)


def played(kind: Kind, *warnings: str) -> Listening:
    return replace(PASS, recording=replace(PASS.recording, kind=kind, warnings=warnings))


@pytest.mark.parametrize(
    ("kind", "what"), [(Kind.STACCATO, "short blows"), (Kind.PLUCKS, "plucked"), (Kind.NOTE, "one note")]
)
def test_another_kind_of_playing_is_refused_with_what_to_record(kind: Kind, what: str) -> None:
    other = played(kind)
    with pytest.raises(InputError, match=what) as caught:
        tune(other, sections=SECTIONS, temperament="equal", a4_hz=440.0, leaning="middle")
    assert "record every note once up the keyboard" in str(caught.value)
    with pytest.raises(InputError, match=f"listening is a listening to .*{what}"):
        plan_pitch(other, sections=SECTIONS, a4_hz=440.0, wire=WireStory())
    with pytest.raises(InputError, match=f"after is a listening to .*{what}"):
        plan_pitch(PASS, sections=SECTIONS, a4_hz=440.0, wire=WireStory(), after=other)


def test_a_pass_that_sounds_like_short_blows_is_warned_of() -> None:
    short = played(Kind.PASS, "these sound like short blows; listen with --kind staccato")
    check_is_pass(short, name="listening")
    assert pass_warnings(PASS, name="listening") == ()
    for told in (
        tune(short, sections=SECTIONS, temperament="equal", a4_hz=440.0, leaning="middle").warnings,
        plan_pitch(short, sections=SECTIONS, a4_hz=440.0, wire=WireStory()).warnings,
    ):
        assert "sounds like short blows" in told[0]
        assert "record every note" in told[0]
