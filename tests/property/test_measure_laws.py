"""Laws of measurement: what does not change the string does not change what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.closeness import assert_close
from tests.struck import struck_string

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.measured import Measured
from strikeline.units import db_from_amplitude, ratio_from_cents

KEYS = st.integers(4, 76)
FEW = settings(max_examples=8, deadline=None)


def measure(strike: Strike, *, key: int, f0_start_hz: float) -> Note:
    return measure_strike(strike, key=key, f0_start_hz=f0_start_hz, a4_hz=440.0)


def told(measured: Measured | None) -> Measured:
    assert measured is not None
    return measured


def early_decays(note: Note) -> dict[int, float]:
    return {p.n: p.decay_db_per_s.early.value for p in note.partials if p.decay_db_per_s.early is not None}


@FEW
@given(key=KEYS, gain_exponent=st.integers(-17, 6), seed=st.integers(0, 1000))
def test_gain_moves_the_levels_and_nothing_else(key: int, gain_exponent: int, seed: int) -> None:
    struck = struck_string(key, seed=seed, duration_s=1.2)
    gain = np.float32(2.0) ** gain_exponent  # a power of two: float32 samples stay exact
    louder = replace(struck.strike, samples=struck.strike.samples * gain)
    one = measure(struck.strike, key=key, f0_start_hz=struck.f0_hz)
    other = measure(louder, key=key, f0_start_hz=struck.f0_hz)
    for name in ("f0_hz", "inharmonicity_b", "pitch_cents", "brightness", "sustain_db_per_s"):
        plain, moved = told(getattr(one, name)), told(getattr(other, name))
        assert_close(moved.value, plain.value, rtol=1e-9, atol=1e-9, why=f"{name}: powers of two round alike")
        assert_close(moved.se, plain.se, rtol=1e-6, atol=0, why=f"{name}: powers of two round alike")
    assert (one.knock_db is None) == (other.knock_db is None)
    if one.knock_db is not None and other.knock_db is not None:
        assert_close(other.knock_db.value, one.knock_db.value, rtol=0, atol=1e-6, why="tone and blow move together")
    assert early_decays(one).keys() == early_decays(other).keys()
    assert_close(
        list(early_decays(other).values()), list(early_decays(one).values()), rtol=1e-9, atol=0, why="rates of fall"
    )
    moved_db = told(other.level_db).value - told(one.level_db).value
    assert_close(moved_db, db_from_amplitude(float(gain)), rtol=0, atol=1e-9, why="exactly the gain")
    shifts = [b.level_db.value - a.level_db.value for a, b in zip(one.partials, other.partials, strict=True)]
    assert_close(
        shifts, np.full(len(shifts), db_from_amplitude(float(gain))), rtol=0, atol=1e-6, why="exactly the gain"
    )


@FEW
@given(key=KEYS, start_s=st.floats(0.0, 7200.0), cut_s=st.floats(0.0, 0.15))
def test_when_the_recording_began_has_no_say(key: int, start_s: float, cut_s: float) -> None:
    struck = struck_string(key, duration_s=1.2)
    strike = struck.strike
    cut = round(cut_s * strike.sample_rate_hz)
    shifted = replace(strike, samples=strike.samples[cut:], onset_sample=strike.onset_sample - cut, start_s=start_s)
    one = measure(strike, key=key, f0_start_hz=struck.f0_hz)
    other = measure(shifted, key=key, f0_start_hz=struck.f0_hz)
    assert_close(other.onset_s, start_s + shifted.onset_sample / strike.sample_rate_hz, rtol=0, atol=1e-9, why="clock")
    for name in ("f0_hz", "inharmonicity_b", "brightness", "sustain_db_per_s", "level_db"):
        plain, moved = told(getattr(one, name)), told(getattr(other, name))
        assert abs(moved.value - plain.value) < 0.2 * plain.se + 1e-9, f"{name}: only the noise before is cut"


@FEW
@given(key=st.integers(4, 60), seed=st.integers(0, 1000))
def test_an_onset_a_little_early_or_late_moves_pitch_within_its_error(key: int, seed: int) -> None:
    struck = struck_string(key, seed=seed, duration_s=1.5)
    for late in (-100, 100):
        moved = replace(struck.strike, onset_sample=struck.strike.onset_sample + late)
        note = measure(moved, key=key, f0_start_hz=struck.f0_hz)
        assert abs(told(note.f0_hz).value - struck.f0_hz) < 4.5 * told(note.f0_hz).se
        assert abs(told(note.inharmonicity_b).value - struck.inharmonicity_b) < 4.5 * told(note.inharmonicity_b).se


@FEW
@given(key=st.integers(4, 70), seed=st.integers(0, 1000))
def test_sample_rates_agree_within_their_errors(key: int, seed: int) -> None:
    notes = []
    for sample_rate_hz in (44_100.0, 48_000.0, 96_000.0):
        struck = struck_string(key, seed=seed, sample_rate_hz=sample_rate_hz, duration_s=1.2)
        notes.append(measure(struck.strike, key=key, f0_start_hz=struck.f0_hz))
    for other in notes[1:]:
        for name in ("f0_hz", "inharmonicity_b", "brightness"):
            one, two = told(getattr(notes[0], name)), told(getattr(other, name))
            assert not one.differs_from(two, by_se=4.5), f"{name}: {one} and {two}"
        level, other_level = told(notes[0].level_db), told(other.level_db)
        assert_close(other_level.value, level.value, rtol=0, atol=0.05, why="the same sound, other noise")


@FEW
@given(key=st.integers(10, 60), cents=st.floats(-300.0, 300.0))
def test_a_tape_run_faster_raises_f0_in_proportion_and_leaves_b(key: int, cents: float) -> None:
    struck = struck_string(key, duration_s=1.5)
    ratio = float(ratio_from_cents(cents))
    faster = replace(struck.strike, sample_rate_hz=struck.strike.sample_rate_hz * ratio)
    one = measure(struck.strike, key=key, f0_start_hz=struck.f0_hz)
    other = measure(faster, key=key, f0_start_hz=struck.f0_hz * ratio)
    f0, b = told(one.f0_hz), told(one.inharmonicity_b)
    assert abs(told(other.f0_hz).value / ratio - f0.value) < 1.5 * f0.se, "other partials may fall below 10 kHz"
    assert abs(told(other.inharmonicity_b).value - b.value) < 1.5 * b.se
    assert abs(told(other.f0_hz).value / ratio - struck.f0_hz) < 4.5 * told(other.f0_hz).se / ratio


@FEW
@given(key=KEYS, start_cents=st.floats(-18.0, 18.0))
def test_where_the_search_begins_has_no_say(key: int, start_cents: float) -> None:
    struck = struck_string(key, duration_s=1.2)
    one = measure(struck.strike, key=key, f0_start_hz=struck.f0_hz)
    other = measure(struck.strike, key=key, f0_start_hz=struck.f0_hz * float(ratio_from_cents(start_cents)))
    assert abs(told(other.f0_hz).value - told(one.f0_hz).value) < 0.5 * told(one.f0_hz).se
    assert abs(told(other.inharmonicity_b).value - told(one.inharmonicity_b).value) < 0.5 * told(one.inharmonicity_b).se
