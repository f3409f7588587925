"""One short blow: when the damper lands, what it leaves ringing, and what cannot be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.acoustics.damping import leaks, measure_damping
from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.staccato import measure_staccato
from strikeline.acoustics.strikes import Strike
from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS
from strikeline.measured import Measured
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import SynthesisedPiano, piano
from strikeline.synthesis.performance import KeyBlow, Performance
from strikeline.synthesis.rendering import render_pass
from strikeline.synthesis.room import WORKSHOP
from strikeline.synthesis.truth import TrueStrike

RATE_HZ = 44_100
GRAND = piano(compass=FULL_COMPASS, seed=31, pitch_level_cents=3.0)
KEYS = (8, 20, 33, 45, 57)


def blow(
    instrument: SynthesisedPiano,
    key: int,
    *,
    noise_db: float = WORKSHOP.noise_db,
    hold_s: float = 0.2,
    gain: float = 1.0,
) -> tuple[Strike, TrueStrike]:
    """One short blow in the workshop, with the thump of the key coming back."""
    played = Performance(blows=(KeyBlow(key=key, at_s=0.4, speed_m_per_s=2.5, hold_s=hold_s),), duration_s=1.9)
    heard = replace(instrument, release_noise_db=-8.0)
    rendered = render_pass(heard, played, sample_rate_hz=RATE_HZ, seed=5, room=replace(WORKSHOP, noise_db=noise_db))
    true = rendered.truth.strikes[0]
    strike = Strike(
        samples=(gain * rendered.samples[round(0.15 * RATE_HZ) :]).astype(np.float32),
        sample_rate_hz=float(RATE_HZ),
        onset_sample=round((true.onset_s - 0.15) * RATE_HZ),
        start_s=0.15,
    )
    return strike, true


def damping_of(strike: Strike, true: TrueStrike) -> Damping:
    return measure_damping(strike, key=true.key, f0_hz=true.f0_hz * 1.002, inharmonicity_b=true.inharmonicity_b)


@pytest.mark.parametrize("key", KEYS)
def test_a_sound_damper_lands_when_it_lands_and_nothing_leaks(key: int) -> None:
    strike, true = blow(with_dampers(GRAND, seed=2), key)
    damping = damping_of(strike, true)
    assert damping.verdict is DamperVerdict.STOPS
    assert damping.leaking_partials == ()
    assert damping.lands_s is not None
    assert true.damping is not None
    assert_close(damping.lands_s.value, true.damping.lands_s, rtol=0, atol=0.025, why="what 3 standard errors allow")
    assert damping.t60_s is not None
    assert damping.t60_s.value < 1.2


@pytest.mark.parametrize(("key", "partial"), [(20, 4), (33, 3), (45, 2), (57, 3)])
def test_a_partial_on_whose_node_the_felt_lies_leaks(key: int, partial: int) -> None:
    strike, true = blow(with_dampers(GRAND, seed=2, at_node_of={key: partial}), key)
    assert true.damping is not None
    damping = damping_of(strike, true)
    assert damping.verdict is DamperVerdict.LEAKS
    assert partial in damping.leaking_partials
    assert set(damping.leaking_partials) <= set(true.damping.leaking_partials)
    found = next(p for p in damping.partials if p.n == partial)
    assert found.confidence > 0.95
    assert found.lasts_s is not None
    assert found.lasts_s > 0.3


def test_a_string_that_the_felt_misses_leaves_it_to_the_neighbours_whether_anything_landed() -> None:
    strike, true = blow(with_dampers(GRAND, seed=2, misses={24: (0,)}), 24)
    damping = damping_of(strike, true)
    assert true.damping is not None
    assert damping.verdict is DamperVerdict.NONE
    assert not damping.is_landing_sure
    assert damping.lands_s is not None
    assert_close(damping.lands_s.value, true.damping.lands_s, rtol=0, atol=0.025, why="what 3 standard errors allow")


@pytest.mark.parametrize("key", [33, 45, 80])
def test_a_note_that_nothing_stops_has_no_damper_and_no_leak(key: int) -> None:
    strike, true = blow(with_dampers(GRAND, seed=2, without=(33, 45)), key)
    damping = damping_of(strike, true)
    assert damping.verdict is DamperVerdict.NONE
    assert damping.lands_s is None or not damping.is_landing_sure
    assert damping.leaking_partials == ()


def test_what_noise_hides_is_not_told() -> None:
    strike, true = blow(with_dampers(GRAND, seed=2), 33, noise_db=-24.0)
    damping = damping_of(strike, true)
    assert damping.verdict is DamperVerdict.CANNOT_TELL
    assert "noise" in damping.cannot_tell[0]


def test_too_short_a_sound_is_not_judged() -> None:
    strike, true = blow(with_dampers(GRAND, seed=2), 33)
    short = replace(strike, samples=strike.samples[: strike.onset_sample + round(0.4 * RATE_HZ)])
    damping = damping_of(short, true)
    assert damping.verdict is DamperVerdict.CANNOT_TELL
    assert "too short" in damping.cannot_tell[0]


def test_the_answer_does_not_depend_on_gain() -> None:
    fitted = with_dampers(GRAND, seed=2, at_node_of={33: 3})
    soft, loud = (damping_of(*blow(fitted, 33, gain=gain)) for gain in (0.1, 1.0))
    assert soft.leaking_partials == loud.leaking_partials
    assert soft.lands_s is not None
    assert loud.lands_s is not None
    assert_close(soft.lands_s.value, loud.lands_s.value, rtol=0, atol=1e-3, why="rounding of float32, one step of 1 ms")


def test_strings_that_ring_along_are_told_apart_from_leaks() -> None:
    fitted = replace(with_dampers(GRAND, seed=2, misses={50: (0, 1, 2)}), after_ring_db=-34.0)
    strike, true = blow(fitted, 43)
    assert true.damping is not None
    damping = damping_of(strike, true)
    assert damping.leaking_partials == ()
    nearest = [min(abs(hz - other) for other in true.damping.after_ring_hz) for hz in damping.after_ring_hz]
    assert damping.after_ring_hz
    assert max(nearest) < 3.0, "every tone said to be another string's is one"


def test_a_leak_must_be_slow_sure_and_long() -> None:
    slow = DampedPartial(n=3, decay_db_per_s=Measured(10.0, 1.0), leaks=None, lasts_s=1.0)
    assert leaks(slow, t60_s=0.4)[0] is True
    assert leaks(replace(slow, decay_db_per_s=Measured(150.0, 5.0)), t60_s=0.4)[0] is False
    assert leaks(replace(slow, decay_db_per_s=Measured(45.0, 20.0)), t60_s=0.4)[0] is None
    assert leaks(replace(slow, lasts_s=0.1), t60_s=0.4)[0] is None
    assert leaks(slow, t60_s=4.0)[0] is False


def test_a_short_blow_gives_pitch_level_and_damping_and_no_unison() -> None:
    strike, true = blow(with_dampers(GRAND, seed=2), 45)
    note = measure_staccato(strike, key=45, f0_start_hz=true.f0_hz * 1.003, a4_hz=440.0)
    assert note.f0_hz is not None
    assert abs(note.f0_hz.value - true.f0_hz) < 5.0 * note.f0_hz.se
    assert note.level_db is not None
    assert note.damping is not None
    assert note.damping.verdict is DamperVerdict.STOPS
    assert note.unison is None
    assert note.end_s == strike.end_s


def test_values_out_of_range_are_refused() -> None:
    strike, _ = blow(with_dampers(GRAND, seed=2), 45)
    with pytest.raises(InputError, match="f0_hz"):
        measure_damping(strike, key=45, f0_hz=0.0, inharmonicity_b=1e-4)
