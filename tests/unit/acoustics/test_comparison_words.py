"""Verdicts in words, before and after: what was told of neither is no evidence that nothing changed."""

from __future__ import annotations

import pytest

from strikeline.acoustics.comparison import compare
from strikeline.acoustics.comparison_result import Verdict
from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Unison, UnisonVerdict


def listening(note: Note, kind: Kind) -> Listening:
    recording = Recording(
        sha256="", sample_rate_hz=8000, duration_s=2.0, kind=kind, analyser="test", reference_a4_hz=440.0
    )
    return Listening(recording=recording, notes=(note,))


def struck(verdict: UnisonVerdict) -> Listening:
    return listening(Note(key=49, onset_s=0.0, end_s=2.0, unison=Unison(verdict=verdict)), Kind.PASS)


def damped(verdict: DamperVerdict) -> Listening:
    return listening(Note(key=49, onset_s=0.0, end_s=2.0, damping=Damping(verdict=verdict)), Kind.STACCATO)


def plucked(is_touched: bool | None) -> Listening:
    pluck = Pluck(
        string=StringPlace.LEFT, at_s=1.0, is_touched=is_touched, confidence=0.5 if is_touched is None else 1.0
    )
    return listening(Note(key=49, onset_s=0.0, end_s=2.0, plucks=(pluck,)), Kind.PLUCKS)


@pytest.mark.parametrize(
    ("told", "untold"),
    [
        (struck(UnisonVerdict.LOCKED), struck(UnisonVerdict.CANNOT_TELL)),
        (damped(DamperVerdict.STOPS), damped(DamperVerdict.CANNOT_TELL)),
        (plucked(True), plucked(None)),
    ],
    ids=["unison", "damper", "pluck"],
)
def test_no_change_needs_something_told_both_times(told: Listening, untold: Listening) -> None:
    assert compare(told, told).verdict is Verdict.NO_CHANGE
    for before, after in ((untold, untold), (told, untold), (untold, told)):
        found = compare(before, after)
        assert found.verdict is Verdict.NOT_COMPARABLE
        assert found.warnings[0] == "nothing was told of any key in both recordings"
