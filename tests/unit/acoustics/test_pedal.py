"""Former notes that ring on under later ones: the pedal, told from a late finger and from a bad damper."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from strikeline.acoustics.identity import gather_evidence, name_strikes
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.pedal import HeardStrike, find_ringing_on, without_dampers
from strikeline.acoustics.strikes import StrikeCutter
from strikeline.acoustics.unison_result import UnisonVerdict
from strikeline.keyboard import Compass
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import ascending, play
from strikeline.synthesis.rendering import render_pass

RATE_HZ = 44_100
COMPASS = Compass(30, 40)


@lru_cache(maxsize=4)
def strikes(*, overlap_s: float, pedal: tuple[float, float] | None = None) -> tuple[HeardStrike, ...]:
    """Return a pass of eleven keys, named and measured."""
    grand = piano(compass=COMPASS, seed=11, pitch_level_cents=-8.0)
    performance = play(ascending(COMPASS), speed_m_per_s=2.5, seed=11, length_ratio=0.6, overlap_s=overlap_s)
    if pedal is not None:
        from_s, to_s = (share * performance.duration_s for share in pedal)
        performance = performance.with_pedal_down(from_s=from_s, to_s=to_s)
    rendered = render_pass(grand, performance, sample_rate_hz=RATE_HZ, seed=11)
    cutter = StrikeCutter(sample_rate_hz=RATE_HZ)
    cut = cutter.feed(rendered.samples) + cutter.finish()
    evidence = [gather_evidence(strike, a4_hz=440.0) for strike in cut]
    naming = name_strikes(evidence, compass=None, a4_hz=440.0)
    heard = []
    for strike, about, key, f0_hz in zip(cut, evidence, naming.keys, naming.f0_hz, strict=True):
        note = None if key is None or f0_hz is None else measure_strike(strike, key=key, f0_start_hz=f0_hz, a4_hz=440.0)
        heard.append(HeardStrike(onset_s=strike.onset_s, note=note, peaks=about.peaks.heard))
    return tuple(heard)


@pytest.mark.parametrize("overlap_s", [-0.12, 0.5])
def test_dampers_at_work_are_not_taken_for_the_pedal_however_late_the_finger(overlap_s: float) -> None:
    assert find_ringing_on(strikes(overlap_s=overlap_s)) is None


def test_the_pedal_is_heard_all_through() -> None:
    ringing = find_ringing_on(strikes(overlap_s=-0.12, pedal=(0.0, 1.0)))
    assert ringing is not None
    assert ringing.n_strikes >= 0.9 * ringing.n_asked
    assert all(ringing.covers(strike.onset_s) for strike in strikes(overlap_s=-0.12, pedal=(0.0, 1.0)))
    assert ringing.warning.startswith("the sustain pedal was down, or the dampers do not reach the strings")
    assert "Play the pass again without the pedal" in ringing.warning


def test_the_pedal_is_heard_where_it_was_down() -> None:
    heard = strikes(overlap_s=-0.12, pedal=(0.4, 1.0))
    ringing = find_ringing_on(heard)
    assert ringing is not None
    assert not ringing.covers(heard[1].onset_s)
    assert ringing.covers(heard[-2].onset_s)
    assert " on, or the dampers" in ringing.warning


def test_what_other_strings_spoil_is_not_told_of_a_note_under_the_pedal() -> None:
    note = strikes(overlap_s=-0.12, pedal=(0.0, 1.0))[5].note
    assert isinstance(note, Note)
    told = without_dampers(note)
    assert told.f0_hz == note.f0_hz
    assert told.inharmonicity_b == note.inharmonicity_b
    assert told.singing_s is told.sustain_db_per_s is told.knock_db is None
    assert all(partial.decay_db_per_s.early is None for partial in told.partials)
    assert told.unison is None or told.unison.verdict is UnisonVerdict.CANNOT_TELL
    assert "the sustain pedal was down" in told.cannot_tell[-1]


def test_the_pitch_is_as_good_as_without_the_pedal() -> None:
    for plain, held in zip(strikes(overlap_s=-0.12), strikes(overlap_s=-0.12, pedal=(0.0, 1.0)), strict=True):
        assert plain.note is not None
        assert held.note is not None
        if plain.note.f0_hz is not None and held.note.f0_hz is not None:
            se = np.hypot(plain.note.f0_hz.se, held.note.f0_hz.se)
            assert abs(plain.note.f0_hz.value - held.note.f0_hz.value) < 3.0 * se
