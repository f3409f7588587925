"""Decay and singing of two recorded grands, and passes assembled from them with the pedal down or two keys at once.

- The strengths of one note agree: pp, mf and ff do not change the rate of decay (Cheng, Dixon & Mauch 2015, abstract).
- Late rates of partial 1 against those read off the same recordings by another method, a fit of two exponentials to the
  envelope (dB/s; the list in `LATE_DB_PER_S`).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
import scipy.stats
from numpy.typing import NDArray
from tests.real.lone_strikes import chromatic_note, layered_note
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES, attack_sample, chromatic_grand, chromatic_pass

from strikeline.acoustics.evidence import StrikeEvidence, gather_evidence
from strikeline.acoustics.identity import name_strikes
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.pedal import HeardStrike, RingingOn, find_ringing_on
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.acoustics.two_notes import TwoNotes, find_two_notes
from strikeline.keyboard import key_from_name

pytestmark = pytest.mark.real

LATE_DB_PER_S = {"C2": 2.2, "F2": 1.3, "A2": 2.3, "C3": 1.9, "A3": 1.3, "C4": 2.5, "A4": 3.1, "C5": 2.9, "A5": 4.4}
A4_HZ = 441.0


def singing_ln(notes: dict[int, Note]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    told = {key: note.singing_s.value for key, note in notes.items() if note.singing_s is not None}
    return np.array(list(told), dtype=np.float64), np.log(np.array(list(told.values())))


def about_a_local_line(keys: NDArray[np.float64], values: NDArray[np.float64], *, reach: float) -> NDArray[np.float64]:
    """Return how far each value lies from a line through its neighbours, itself left out."""
    off = []
    for key, value in zip(keys, values, strict=True):
        near = (np.abs(keys - key) <= reach) & (keys != key)
        off.append(value - np.polyval(np.polyfit(keys[near], values[near], 1), key))
    return np.array(off)


def test_singing_does_not_depend_on_the_strength_of_the_blow() -> None:
    spread, surprise, n_told = [], 0.0, 0
    for key in LAYERED_KEYS:
        told = [layered_note(key, velocity).singing_s for velocity in LAYERED_VELOCITIES]
        values = np.array([one.value for one in told if one is not None])
        assert values.size == len(LAYERED_VELOCITIES), f"key {key}"
        errors = np.array([one.se for one in told if one is not None])
        spread.append(float(np.std(np.log(values), ddof=1)))
        surprise += float(np.sum(((values - np.average(values, weights=errors**-2.0)) / errors) ** 2))
        n_told += 1
    assert np.median(spread) < 0.05, "5 %, a sixth of what a note differs from its neighbours by nature"
    assert surprise < float(scipy.stats.chi2.ppf(0.999, 2 * n_told))


def test_late_decay_does_not_depend_on_the_strength_of_the_blow() -> None:
    spread = []
    for key in LAYERED_KEYS:
        by_partial: dict[int, list[float]] = {}
        for velocity in LAYERED_VELOCITIES:
            for partial in layered_note(key, velocity).partials[:8]:
                if partial.decay_db_per_s.late is not None:
                    by_partial.setdefault(partial.n, []).append(partial.decay_db_per_s.late.value)
        spread += [float(np.std(np.log(v), ddof=1)) for v in by_partial.values() if len(v) == len(LAYERED_VELOCITIES)]
    assert len(spread) >= 40
    assert np.median(spread) < 0.08, f"median {np.median(spread):.3f} of ln rate over {len(spread)} partials"


def test_singing_runs_evenly_from_a_long_bass_to_a_short_treble() -> None:
    keys, values = singing_ln({key: chromatic_note(key) for key in range(4, 89)})
    assert keys.size >= 80
    off = about_a_local_line(keys, values, reach=5.0)
    assert np.std(off) < 0.4
    assert 1.4826 * np.median(np.abs(off)) < 0.3, "as even as other measures of decay on this grand (0.25)"
    octaves = [float(np.median(values[(keys >= low) & (keys < low + 12)])) for low in range(16, 76, 12)]
    assert all(one > other for one, other in pairwise(octaves)), np.exp(octaves)


def test_late_rates_are_those_read_off_the_envelope() -> None:
    ratios = []
    for name, rate in LATE_DB_PER_S.items():
        key = key_from_name(name)
        note = measure_strike(lone(key), key=key, f0_start_hz=A4_HZ * 2.0 ** ((key - 49) / 12.0), a4_hz=A4_HZ)
        late = next(partial.decay_db_per_s.late for partial in note.partials if partial.n == 1)
        if late is not None:
            ratios.append(late.value / rate)
    assert len(ratios) >= 4
    # Four seconds against the whole note, and beats in both: a factor, not per cent.
    assert 0.6 < np.median(ratios) < 1.7, np.round(ratios, 2)


@lru_cache(maxsize=32)
def lone(key: int) -> Strike:
    """Return twelve seconds of a key of the chromatic grand."""
    samples, rate = chromatic_grand(key)
    mono, onset = samples.mean(axis=1), attack_sample(samples)
    before = min(onset, round(0.25 * rate))
    sound = mono[onset - before : onset + 12 * rate]
    return Strike(samples=sound, sample_rate_hz=float(rate), onset_sample=before, start_s=0.0)


def test_the_first_seconds_foretell_the_singing_of_four() -> None:
    off, told = [], 0
    for key in range(6, 89, 3):
        f0_hz = A4_HZ * 2.0 ** ((key - 49) / 12.0)
        whole = measure_strike(lone(key), key=key, f0_start_hz=f0_hz, a4_hz=A4_HZ).singing_s
        for held_s in (1.5, 2.5):
            part = replace(lone(key), samples=lone(key).samples[: lone(key).onset_sample + round(held_s * 44_100)])
            short = measure_strike(part, key=key, f0_start_hz=f0_hz, a4_hz=A4_HZ).singing_s
            if whole is not None and short is not None:
                told += 1
                off.append(abs(np.log(short.value / whole.value)) / (short.se / short.value))
    assert told >= 45
    assert np.mean(np.array(off) < 1.96) > 0.85, "95 of 100 are expected; 88 of 100 is three sd less for 45 notes"


def listened(samples: NDArray[np.float32], rate: int) -> tuple[list[Note | None], list[TwoNotes], RingingOn | None]:
    cutter = StrikeCutter(sample_rate_hz=float(rate))
    cut = cutter.feed(samples.mean(axis=1)) + cutter.finish()
    evidence: list[StrikeEvidence] = [gather_evidence(strike, a4_hz=A4_HZ) for strike in cut]
    naming = name_strikes(evidence, compass=None, a4_hz=A4_HZ)
    notes: list[Note | None] = []
    two = []
    for strike, about, key, f0_hz in zip(cut, evidence, naming.keys, naming.f0_hz, strict=True):
        note = None
        if key is not None and f0_hz is not None:
            note = measure_strike(strike, key=key, f0_start_hz=f0_hz, a4_hz=A4_HZ)
            both = find_two_notes(about.peaks, note, a4_hz=A4_HZ)
            two += [] if both is None else [both]
        notes.append(note)
    heard = [
        HeardStrike(onset_s=strike.onset_s, note=note, peaks=about.peaks.heard)
        for strike, note, about in zip(cut, notes, evidence, strict=True)
    ]
    return notes, two, find_ringing_on(heard)


@pytest.mark.parametrize("rings_over_s", [0.0, 0.6])
def test_a_good_pass_raises_neither_warning(rings_over_s: float) -> None:
    samples, rate, _ = chromatic_pass(tuple(range(22, 62, 2)), seconds=2.2, gap_s=0.2, rings_over_s=rings_over_s)
    _, two, ringing = listened(samples, rate)
    assert ringing is None
    assert two == []


def test_notes_that_ring_on_are_the_pedal() -> None:
    samples, rate, _ = chromatic_pass(tuple(range(22, 62, 2)), seconds=2.2, gap_s=0.2, rings_over_s=8.0)
    _, two, ringing = listened(samples, rate)
    assert ringing is not None
    assert ringing.n_strikes >= 0.8 * ringing.n_asked
    assert two == []


@pytest.mark.parametrize(("low", "high"), [("C3", "E3"), ("C4", "C#4"), ("A3", "E4"), ("D4", "B4"), ("F4", "A4")])
def test_two_real_notes_are_both_named(low: str, high: str) -> None:
    keys = key_from_name(low), key_from_name(high)
    first, second = lone(keys[0]), lone(keys[1])
    samples = first.samples[: 3 * 44_100].copy()
    at = first.onset_sample + round(0.015 * 44_100)
    samples[at:] += second.samples[second.onset_sample :][: samples.size - at]
    strike = replace(first, samples=samples)
    evidence = gather_evidence(strike, a4_hz=A4_HZ)
    naming = name_strikes([evidence], compass=None, a4_hz=A4_HZ)
    key, f0_hz = naming.keys[0], naming.f0_hz[0]
    assert key is not None
    assert f0_hz is not None
    note = measure_strike(strike, key=key, f0_start_hz=f0_hz, a4_hz=A4_HZ)
    two = find_two_notes(evidence.peaks, note, a4_hz=A4_HZ)
    assert two is not None
    assert two.keys == keys
