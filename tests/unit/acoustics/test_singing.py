"""How long a note sings: prompt sound and aftersound in one figure that nothing but the strings decides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.struck import in_noise, struck_string

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.singing import a_weighting_power
from strikeline.acoustics.strikes import Strike
from strikeline.measured import Measured
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.units import DB_PER_NEPER

RATE_HZ = 48_000.0
F0_HZ = 261.6
B = 3e-4
N = np.arange(1, 9)


def chord(
    *,
    alphas_per_s: tuple[float, ...],
    shares: tuple[float, ...],
    apart_hz: float = 0.0,
    seed: int = 1,
    held_s: float = 3.0,
) -> Strike:
    """Return C4 whose partials all hold the same modes, in partial n the second one n·`apart_hz` above the first."""
    time_s = np.arange(round(held_s * RATE_HZ)) / RATE_HZ
    sound = np.zeros(time_s.size)
    rng = np.random.default_rng(seed)
    for n, f_hz in zip(N, partial_frequencies_hz(N, f0_hz=F0_HZ, inharmonicity_b=B), strict=True):
        phase = rng.uniform(0.0, 2 * np.pi)
        for place, (alpha, share) in enumerate(zip(alphas_per_s, shares, strict=True)):
            turn = 2 * np.pi * (f_hz + place * apart_hz * n) * time_s + phase
            sound += 0.05 * 10.0 ** (-0.1 * n) * share * np.exp(-alpha * time_s) * np.cos(turn)
    return in_noise(sound, sample_rate_hz=RATE_HZ, noise_sd=1e-5, seed=seed)


def note_of(strike: Strike) -> Note:
    return measure_strike(strike, key=40, f0_start_hz=F0_HZ, a4_hz=440.0)


def singing(strike: Strike) -> Measured:
    note = note_of(strike)
    assert note.singing_s is not None, note.cannot_tell
    return note.singing_s


def shortened(strike: Strike, held_s: float) -> Strike:
    return replace(strike, samples=strike.samples[: strike.onset_sample + round(held_s * RATE_HZ)])


def test_a_weighting_has_the_values_of_the_standard() -> None:
    # IEC 61672-1, table of A-weightings (from memory): 31.5, 63, 125, 250, 500 Hz, 1, 2, 4, 8 kHz.
    nominal_hz = np.asarray(1000.0 * 10.0 ** (np.arange(-5, 4) * 0.3), dtype=np.float64)
    table_db = [-39.4, -26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1]
    assert_close(10.0 * np.log10(a_weighting_power(nominal_hz)), table_db, rtol=0, atol=0.06, why="printed to 0.1 dB")


@pytest.mark.parametrize("decay_db_per_s", [4.0, 10.0, 40.0])
def test_one_rate_sings_until_it_has_fallen_by_20_db(decay_db_per_s: float) -> None:
    told = singing(chord(alphas_per_s=(decay_db_per_s / DB_PER_NEPER,), shares=(1.0,)))
    why = "a quarter of the loudness is 20 dB of a single exponential"
    assert_close(told.value, 20.0 / decay_db_per_s, rtol=0.01, atol=0.003, why=why)


def test_prompt_sound_and_aftersound_both_count() -> None:
    # The aftersound takes over 15 dB down: its rate and its share decide.
    early_knee = singing(chord(alphas_per_s=(3.0, 0.8), shares=(0.85, 0.15))).value
    assert singing(chord(alphas_per_s=(3.0, 1.2), shares=(0.85, 0.15))).value < 0.9 * early_knee
    assert singing(chord(alphas_per_s=(3.0, 0.8), shares=(0.92, 0.08))).value < 0.9 * early_knee
    # It takes over 35 dB down: the prompt sound decides.
    late_knee = singing(chord(alphas_per_s=(3.0, 0.8), shares=(0.98, 0.02))).value
    assert singing(chord(alphas_per_s=(4.5, 0.8), shares=(0.98, 0.02))).value < 0.9 * late_knee


def test_gain_has_no_say() -> None:
    strike = chord(alphas_per_s=(3.0, 0.5), shares=(0.8, 0.2))
    quiet = replace(strike, samples=strike.samples * np.float32(0.01))
    assert_close(singing(quiet).value, singing(strike).value, rtol=1e-4, atol=0, why="single precision")


def test_the_noise_has_no_say() -> None:
    rough = struck_string(40, snr_db=30.0, duration_s=3.0, n_partials=8)
    clean = struck_string(40, snr_db=60.0, duration_s=3.0, n_partials=8)
    told = [measure_strike(s.strike, key=40, f0_start_hz=s.f0_hz, a4_hz=440.0).singing_s for s in (rough, clean)]
    assert told[0] is not None
    assert told[1] is not None
    assert not told[0].differs_from(told[1])
    assert_close(
        told[0].value, told[1].value, rtol=0.1, atol=0, why="a tenth of what a note differs from its neighbour"
    )


def test_how_long_the_key_was_held_has_no_say_beyond_the_error() -> None:
    whole = chord(alphas_per_s=(3.0, 0.5), shares=(0.8, 0.2), held_s=4.0)
    truth = singing(whole).value
    errors = []
    for held_s in (3.0, 2.0, 1.2):
        told = singing(shortened(whole, held_s))
        assert abs(told.value - truth) < 1.96 * told.se
        errors.append(told.se)
    assert errors == sorted(errors), "the shorter, the less is known"


@pytest.mark.parametrize("beat_hz", [1.5, 3.0])
def test_beats_have_no_say(beat_hz: float) -> None:
    told = [singing(chord(alphas_per_s=(1.0, 1.0), shares=(0.6, 0.4), apart_hz=hz)).value for hz in (0.0, beat_hz)]
    # |1/(1 − pW)| leaves 0.28 of a beat of 1.5 Hz at these rates: 1.4 dB of 20 for one partial alone, beating from the
    # onset on; higher partials beat faster.
    assert_close(
        told[1], told[0], rtol=0.05, atol=0, why="0.07 for the first of eight partials, a third for the others"
    )


def test_a_key_let_go_too_soon_cannot_be_told() -> None:
    note = note_of(shortened(chord(alphas_per_s=(1.0,), shares=(1.0,)), 0.8))
    assert note.singing_s is None
    assert any("singing: held for 0.8 s" in reason for reason in note.cannot_tell)


def test_two_stages_are_told_within_the_error_whatever_the_noise_and_the_phases() -> None:
    strikes = [chord(alphas_per_s=(2.0, 0.7), shares=(0.75, 0.25), seed=seed, held_s=2.5) for seed in range(6)]
    told = [singing(strike) for strike in strikes]
    middle = float(np.mean([one.value for one in told]))
    assert all(not one.differs_from(middle) for one in told)
    assert_close([one.value for one in told], np.full(6, middle), rtol=0.05, atol=0, why="the same strings each time")
