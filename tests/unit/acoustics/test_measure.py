"""One strike in, one note out: what it tells, and what it says it cannot tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.struck import PRE_ROLL_S, Struck, in_noise, struck_string

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError
from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import Measured
from strikeline.units import DB_PER_NEPER, cents_from_ratio, ratio_from_cents


def measure(struck: Struck, *, key: int, start_cents: float = 3.0, a4_hz: float = 440.0) -> Note:
    f0_start_hz = struck.f0_hz * float(ratio_from_cents(start_cents))
    return measure_strike(struck.strike, key=key, f0_start_hz=f0_start_hz, a4_hz=a4_hz)


def told(measured: Measured | None) -> Measured:
    assert measured is not None
    return measured


def assert_within(measured: Measured | None, truth: float, *, by_se: float = 3.5) -> None:
    found = told(measured)
    off = (found.value - truth) / found.se
    assert abs(off) < by_se, f"{found} is {off:.1f} standard errors from {truth}"


def says(note: Note, *words: str) -> bool:
    return any(all(word in reason for word in words) for reason in note.cannot_tell)


@pytest.mark.parametrize("key", [1, 10, 20, 28, 40, 49, 60, 70, 80, 88])
def test_a_string_is_measured_within_its_errors(key: int) -> None:
    struck = struck_string(key)
    note = measure(struck, key=key, a4_hz=442.0)
    assert_within(note.f0_hz, struck.f0_hz)
    assert_within(note.inharmonicity_b, struck.inharmonicity_b)
    tempered_hz = float(equal_tempered_hz(key, a4_hz=442.0))
    assert_within(note.cents_from_et, float(cents_from_ratio(struck.f0_hz / tempered_hz)))
    assert_within(note.pitch_cents, float(cents_from_ratio(struck.f_hz[0] / tempered_hz)))
    for partial in note.partials:
        assert_within(partial.f_hz, struck.f_hz[partial.n - 1], by_se=4.5)
        assert_within(partial.level_db, struck.level_db[partial.n - 1], by_se=4.5)
        assert partial.in_law
        assert partial.law_cents is not None
        assert abs(partial.law_cents) < 4.5 * 1731.2 * partial.f_hz.se / partial.f_hz.value + 0.01
        mode = partial.modes[0]
        assert_within(mode.decay_db_per_s, DB_PER_NEPER * struck.decay_per_s[partial.n - 1], by_se=4.5)
        assert_close(mode.level_db, partial.level_db.value, rtol=0, atol=1e-9, why="one mode is the whole partial")
    assert [partial.n for partial in note.partials] == sorted({partial.n for partial in note.partials})
    assert note.key == key
    assert_close(note.onset_s, PRE_ROLL_S, rtol=0, atol=1e-9, why="passed through")


def test_level_and_sustain_are_those_of_the_sound() -> None:
    struck = struck_string(40, decay_per_s=2.0)
    note = measure(struck, key=40)
    power = np.sum(10.0 ** (struck.level_db / 10.0)) * (1.0 - np.exp(-2.0)) / 2.0
    assert_close(told(note.level_db).value, 10.0 * np.log10(power), rtol=0, atol=0.1, why="beats between partials")
    assert_close(told(note.sustain_db_per_s).value, 2.0 * DB_PER_NEPER, rtol=0.01, atol=0, why="one rate for all")


def test_a_wound_strings_lowest_partials_may_lie_off_the_law() -> None:
    struck = struck_string(10, n_partials=30)
    strike = struck.strike
    t = np.arange(strike.samples.size - strike.onset_sample) / strike.sample_rate_hz
    level = 10.0 ** (struck.level_db[0] / 20.0)
    at = np.random.default_rng(1).uniform(0.0, 2 * np.pi, struck.f_hz.size)[0]
    alpha = struck.decay_per_s[0]
    samples = strike.samples.astype(np.float64)
    for cents, sign in ((0.0, -1.0), (-12.0, 1.0)):
        turn = 2 * np.pi * struck.f_hz[0] * float(ratio_from_cents(cents)) * t + at
        samples[strike.onset_sample :] += sign * level * np.exp(-alpha * t) * np.cos(turn)
    moved = replace(struck, strike=replace(strike, samples=samples.astype(np.float32)))
    note = measure(moved, key=10)
    assert_within(note.f0_hz, struck.f0_hz)
    first = note.partials[0]
    assert first.n == 1
    assert not first.in_law
    assert first.law_cents is not None
    assert_close(first.law_cents, -12.0, rtol=0, atol=0.3, why="partial 1 and f0 are two numbers")


def test_one_partial_gives_a_pitch_but_no_inharmonicity() -> None:
    struck = struck_string(84, n_partials=1)
    note = measure(struck, key=84)
    assert note.inharmonicity_b is None
    assert note.brightness is None
    assert says(note, "inharmonicity", "only partial 1")
    assert says(note, "brightness")
    pitch = told(note.pitch_cents)
    expected = float(cents_from_ratio(struck.f_hz[0] / float(equal_tempered_hz(84, a4_hz=440.0))))
    assert_within(pitch, expected)
    assert pitch.se < 0.1, "partial 1 itself is heard"
    assert_within(note.f0_hz, struck.f0_hz)
    assert 1731.2 * told(note.f0_hz).se / struck.f0_hz > 2.0, "f0 rests on a typical B"


def test_two_partials_give_b_only_as_far_as_such_strings_are_known() -> None:
    low, high = struck_string(49, n_partials=2), struck_string(80, n_partials=2)
    note = measure(low, key=49)
    assert note.inharmonicity_b is None
    assert says(note, "inharmonicity", "2 partials")
    assert_within(note.f0_hz, low.f0_hz)
    note = measure(high, key=80)
    assert_within(note.inharmonicity_b, high.inharmonicity_b)
    b = told(note.inharmonicity_b)
    assert b.se > 0.02 * b.value, "two partials fit any law exactly"


def test_a_unison_too_far_apart_to_be_one_string_gives_no_false_certainty() -> None:
    one = struck_string(52, seed=3)
    other = struck_string(52, seed=4, f0_hz=one.f0_hz * float(ratio_from_cents(6.0)))
    both = replace(one, strike=replace(one.strike, samples=one.strike.samples + other.strike.samples))
    f0 = told(measure(both, key=52).f0_hz)
    middle_hz = one.f0_hz * float(ratio_from_cents(3.0))
    assert abs(f0.value - middle_hz) < 3.0 * f0.se
    assert 1731.2 * f0.se / f0.value > 0.3, "which string is the note cannot be told"


@pytest.mark.parametrize("duration_s", [0.0, 0.0005, 0.05])
def test_too_short_a_sound_tells_nothing(duration_s: float) -> None:
    struck = struck_string(40)
    strike = struck.strike
    end = strike.onset_sample + round(duration_s * strike.sample_rate_hz)
    note = measure(replace(struck, strike=replace(strike, samples=strike.samples[:end])), key=40)
    assert note.f0_hz is None
    assert note.level_db is None
    assert says(note, "everything", "too short")


def test_a_bass_note_of_a_quarter_second_is_too_short_for_brightness_and_decay() -> None:
    struck = struck_string(8, duration_s=0.3)
    note = measure(struck, key=8)
    assert note.brightness is None
    assert note.sustain_db_per_s is None
    assert note.knock_db is None
    assert all(p.decay_db_per_s.early is None and p.decay_db_per_s.late is None for p in note.partials)
    assert says(note, "brightness", "sustain", "knock", "too short")
    assert_within(note.f0_hz, struck.f0_hz)


def test_a_treble_note_of_a_fifth_second_is_too_short_for_sustain_only() -> None:
    note = measure(struck_string(60, duration_s=0.2), key=60)
    assert note.sustain_db_per_s is None
    assert note.brightness is not None
    assert says(note, "sustain")


def test_noise_alone_tells_nothing() -> None:
    strike = in_noise(np.zeros(96_000), sample_rate_hz=48_000.0, noise_sd=0.1, seed=4)
    note = measure_strike(strike, key=40, f0_start_hz=262.0, a4_hz=440.0)
    assert note.f0_hz is None
    assert note.pitch_cents is None
    assert note.partials == ()
    assert says(note, "pitch")
    assert note.level_db is None or note.level_db.se > 1.0


def test_silence_tells_nothing() -> None:
    strike = in_noise(np.zeros(96_000), sample_rate_hz=48_000.0, noise_sd=0.0, seed=4)
    note = measure_strike(strike, key=40, f0_start_hz=262.0, a4_hz=440.0)
    assert note.level_db is None
    assert says(note, "everything", "silence")


def test_a_weak_note_says_what_the_noise_hides() -> None:
    note = measure(struck_string(88, snr_db=10.0), key=88)
    assert note.knock_db is None
    assert says(note, "knock")
    assert note.inharmonicity_b is None
    assert says(note, "inharmonicity")


def test_a_note_above_the_band_of_a_telephone_says_so() -> None:
    strike = in_noise(np.zeros(16_000), sample_rate_hz=8_000.0, noise_sd=0.01, seed=4)
    note = measure_strike(strike, key=88, f0_start_hz=4186.0, a4_hz=440.0)
    assert note.f0_hz is None
    assert says(note, "pitch", "3680 Hz")


@pytest.mark.parametrize("sample_rate_hz", [8_000.0, 11_025.0, 192_000.0])
@pytest.mark.parametrize("key", [1, 28, 49, 64])
def test_any_sample_rate_will_do(key: int, sample_rate_hz: float) -> None:
    struck = struck_string(key, sample_rate_hz=sample_rate_hz, duration_s=1.5)
    note = measure(struck, key=key)
    assert_within(note.f0_hz, struck.f0_hz)


def test_nothing_before_the_blow_hides_the_knock_only() -> None:
    struck = struck_string(40)
    strike = struck.strike
    cut = replace(strike, samples=strike.samples[strike.onset_sample :], onset_sample=0)
    note = measure(replace(struck, strike=cut), key=40)
    assert note.knock_db is None
    assert says(note, "knock", "nothing was heard before")
    assert_within(note.f0_hz, struck.f0_hz)


@pytest.mark.parametrize("offset", [0.02, -0.3])
def test_a_constant_offset_changes_nothing(offset: float) -> None:
    struck = struck_string(5)
    strike = struck.strike
    moved = replace(struck, strike=replace(strike, samples=strike.samples + np.float32(offset)))
    plain, shifted = measure(struck, key=5), measure(moved, key=5)
    assert plain.knock_db is None, "a string that starts without a blow"
    assert shifted.knock_db is None
    for name in ("f0_hz", "inharmonicity_b", "level_db", "brightness", "sustain_db_per_s"):
        one, other = told(getattr(plain, name)), told(getattr(shifted, name))
        assert abs(one.value - other.value) < 0.3 * one.se + 1e-9, name


@pytest.mark.parametrize("damper_s", [0.5, 1.0])
def test_what_sounds_under_the_damper_is_left_out(damper_s: float) -> None:
    struck = struck_string(40, decay_per_s=1.0)
    strike = struck.strike
    t = (np.arange(strike.samples.size) - strike.onset_sample) / strike.sample_rate_hz
    damped = strike.samples * 10.0 ** (-10.0 * np.maximum(t - damper_s, 0.0))
    noisy = (
        damped.astype(np.float32)
        + in_noise(
            np.zeros(strike.samples.size - strike.onset_sample), sample_rate_hz=48_000.0, noise_sd=1e-4, seed=9
        ).samples
    )
    note = measure(replace(struck, strike=replace(strike, samples=noisy)), key=40)
    assert_within(note.f0_hz, struck.f0_hz)
    assert_close(told(note.sustain_db_per_s).value, DB_PER_NEPER, rtol=0.03, atol=0, why="the free string's rate")


def test_above_the_last_damper_every_fall_is_the_strings_own() -> None:
    struck = struck_string(80, decay_per_s=25.0, duration_s=1.0)
    note = measure(struck, key=80)
    assert_close(told(note.sustain_db_per_s).value, 25.0 * DB_PER_NEPER, rtol=0.03, atol=0, why="217 dB/s")


@pytest.mark.parametrize("f0_start_hz", [0.0, -1.0, np.nan, np.inf])
def test_a_start_that_is_no_frequency_is_refused(f0_start_hz: float) -> None:
    with pytest.raises(InputError, match="f0_start_hz"):
        measure_strike(struck_string(40).strike, key=40, f0_start_hz=f0_start_hz, a4_hz=440.0)


def test_a_reference_that_is_no_frequency_is_refused() -> None:
    with pytest.raises(InputError, match="a4_hz"):
        measure(struck_string(40), key=40, a4_hz=0.0)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_sound_that_is_not_finite_is_refused(bad: float) -> None:
    strike: Strike = struck_string(40).strike
    samples = strike.samples.copy()
    samples[20_000] = bad
    with pytest.raises(InputError, match="NaN or infinity"):
        measure_strike(replace(strike, samples=samples), key=40, f0_start_hz=262.0, a4_hz=440.0)
