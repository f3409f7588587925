"""Two keys struck together are named and not measured as one."""

from __future__ import annotations

import numpy as np
import pytest
from tests.struck import Struck, struck_string

from strikeline.acoustics.evidence import gather_evidence
from strikeline.acoustics.identity import name_strikes
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.two_notes import TwoNotes, find_two_notes
from strikeline.keyboard import key_from_name


def heard(strike: Strike) -> tuple[Note, TwoNotes | None]:
    evidence = gather_evidence(strike, a4_hz=440.0)
    naming = name_strikes([evidence], compass=None, a4_hz=440.0)
    key, f0_hz = naming.keys[0], naming.f0_hz[0]
    assert key is not None
    assert f0_hz is not None
    note = measure_strike(strike, key=key, f0_start_hz=f0_hz, a4_hz=440.0)
    return note, find_two_notes(evidence.peaks, note, a4_hz=440.0)


def together(one: Struck, other: Struck, *, gain: float = 1.0, later_s: float = 0.0) -> Strike:
    samples = one.strike.samples.copy()
    at = one.strike.onset_sample + round(later_s * one.strike.sample_rate_hz)
    sound = other.strike.samples[other.strike.onset_sample :]
    samples[at:] += gain * sound[: samples.size - at]
    return Strike(
        samples=samples,
        sample_rate_hz=one.strike.sample_rate_hz,
        onset_sample=one.strike.onset_sample,
        start_s=0.0,
    )


@pytest.mark.parametrize("name", ["C2", "A2", "C4", "A4", "C6"])
def test_one_note_is_one_note(name: str) -> None:
    key = key_from_name(name)
    note, two = heard(struck_string(key, seed=key).strike)
    assert note.key == key
    assert two is None


@pytest.mark.parametrize(
    ("low", "high"),
    [("C4", "E4"), ("C4", "C#4"), ("A2", "B2"), ("C3", "G3"), ("F3", "A#3"), ("C4", "A4"), ("E2", "G#3"), ("G4", "B4")],
)
@pytest.mark.parametrize("gain", [0.5, 1.5])
def test_two_notes_are_both_named(low: str, high: str, gain: float) -> None:
    keys = key_from_name(low), key_from_name(high)
    strike = together(struck_string(keys[0], seed=3), struck_string(keys[1], seed=4), gain=gain, later_s=0.012)
    note, two = heard(strike)
    assert two is not None, f"taken for {note.name} alone"
    assert two.keys == keys
    instead = two.instead_of(note)
    assert instead.f0_hz is None
    assert instead.key in keys
    assert instead.notices == (f"two notes at once: {low} and {high}",)
    assert instead.cannot_tell == (f"everything: {instead.notices[0]}",)


def test_an_octave_is_not_found() -> None:
    """A limit: the upper note's partials lie on the lower one's."""
    strike = together(struck_string(28, seed=3), struck_string(40, seed=4))
    _, two = heard(strike)
    assert two is None or np.diff(two.keys) == 12
