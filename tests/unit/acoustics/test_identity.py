"""Names on generated passes: what was struck is known, and so is what was not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.acoustics.identity import Naming, StrikeEvidence, gather_evidence, name_strikes
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS, SHORT_COMPASS, Compass
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.performance import (
    DisturbanceKind,
    ascending,
    descending,
    every_note_twice,
    play,
    white_keys,
    with_wrong_strike,
    without,
)
from strikeline.synthesis.rendering import RenderedPass, render_pass

RATE = 44_100


def hear(samples: NDArray[np.float32]) -> tuple[list[Strike], list[StrikeEvidence]]:
    cutter = StrikeCutter(sample_rate_hz=float(RATE))
    strikes = cutter.feed(samples) + cutter.finish()
    return strikes, [gather_evidence(strike, a4_hz=440.0) for strike in strikes]


def check(made: RenderedPass, *, compass: Compass | None = None) -> Naming:
    """Name a rendered pass and expect every note right and no false note."""
    strikes, evidence = hear(made.samples)
    naming = name_strikes(evidence, compass=compass, a4_hz=440.0)
    found_s = np.array([strike.onset_s for strike in strikes])
    struck = [strike for strike in made.truth.strikes if strike.key not in made.truth.dead_keys]
    wrong, taken = [], set()
    for strike in struck:
        nearest = int(np.argmin(np.abs(found_s - strike.onset_s)))
        taken.add(nearest)
        if abs(found_s[nearest] - strike.onset_s) > 0.02 or naming.keys[nearest] != strike.key:
            wrong.append((strike.key, naming.keys[nearest], strike.onset_s, found_s[nearest]))
    false = [(found_s[i], key) for i, key in enumerate(naming.keys) if key is not None and i not in taken]
    assert (wrong, false) == ([], [])
    return naming


def test_a_flat_85_note_piano_with_a_dead_key_a_wrong_strike_talk_and_a_door_is_named_throughout() -> None:
    keys = with_wrong_strike(ascending(SHORT_COMPASS), at=40, wrong_key=47)
    pass_ = play(keys, speed_m_per_s=2.5, seed=1, length_ratio=0.35)
    pass_ = pass_.interrupted(DisturbanceKind.TALK, after_blow=20, duration_s=2.0, peak_db=-18.0)
    pass_ = pass_.interrupted(DisturbanceKind.DOOR, after_blow=60, duration_s=0.8, peak_db=-14.0)
    pass_ = pass_.interrupted(DisturbanceKind.KEY_DROP, after_blow=70, duration_s=0.8, peak_db=-14.0)
    made = render_pass(
        piano(compass=SHORT_COMPASS, seed=2, pitch_level_cents=-100.0, dead_keys=(30,)),
        pass_,
        sample_rate_hz=RATE,
        seed=3,
    )
    naming = check(made)
    assert naming.compass == SHORT_COMPASS
    assert naming.missing_keys == (30,)
    assert naming.pitch_level_cents is not None
    assert_close(naming.pitch_level_cents.value, -100.0, rtol=0, atol=4.0, why="tuning scatter and another stretch")


def test_a_descending_run_over_88_keys_half_a_semitone_sharp_is_named() -> None:
    made = render_pass(
        piano(compass=FULL_COMPASS, seed=4, pitch_level_cents=50.0),
        play(without(descending(FULL_COMPASS), [44, 71]), speed_m_per_s=2.0, seed=5, length_ratio=0.3),
        sample_rate_hz=RATE,
        seed=6,
    )
    naming = check(made)
    assert naming.compass == FULL_COMPASS
    assert naming.missing_keys == (44, 71)


def test_white_keys_and_every_note_twice_are_named() -> None:
    for keys in (white_keys(FULL_COMPASS), every_note_twice(ascending(Compass(28, 60)))):
        made = render_pass(
            piano(compass=FULL_COMPASS, seed=7, pitch_level_cents=-35.0),
            play(keys, speed_m_per_s=2.5, seed=8, length_ratio=0.3),
            sample_rate_hz=RATE,
            seed=9,
        )
        check(made)


def test_talk_alone_and_doors_alone_give_no_note() -> None:
    quiet = play([40], speed_m_per_s=2.0, seed=11, length_ratio=0.3, lead_in_s=12.0)
    for kind in DisturbanceKind:
        pass_ = quiet.interrupted(kind, after_blow=0, duration_s=4.0, peak_db=-15.0)
        made = render_pass(
            piano(compass=Compass(40, 60), seed=10, pitch_level_cents=0.0, dead_keys=(40,)),
            pass_,
            sample_rate_hz=RATE,
            seed=12,
        )
        _, evidence = hear(made.samples)
        assert evidence, "something was cut, so that there is something to reject"
        assert [k for k in name_strikes(evidence, compass=None, a4_hz=440.0).keys if k is not None] == []


@pytest.fixture(scope="module")
def one_note() -> list[StrikeEvidence]:
    made = render_pass(
        piano(compass=FULL_COMPASS, seed=13, pitch_level_cents=-80.0),
        play([49], speed_m_per_s=2.0, seed=14),
        sample_rate_hz=RATE,
        seed=15,
    )
    return hear(made.samples)[1]


def test_one_note_80_cents_flat_is_named_with_a_doubt_and_without_one_when_the_player_names_it(
    one_note: list[StrikeEvidence],
) -> None:
    guessed = name_strikes(one_note, compass=None, a4_hz=440.0)
    assert [key for key in guessed.keys if key is not None] in ([48], [49])
    assert any("one key" in warning for warning in guessed.warnings)
    told = name_strikes(one_note, compass=None, a4_hz=440.0, key=49)
    assert [key for key in told.keys if key is not None] == [49]
    assert told.warnings == ()
    f0_hz = next(f for f in told.f0_hz if f is not None)
    assert_close(1200.0 * np.log2(f0_hz / 440.0), -80.0, rtol=0, atol=8.0, why="a starting value, within its spread")


def test_a_name_that_the_sound_contradicts_is_not_confirmed(one_note: list[StrikeEvidence]) -> None:
    told = name_strikes(one_note, compass=None, a4_hz=440.0, key=60)
    assert all(key is None for key in told.keys)


def test_no_strikes_give_an_empty_naming() -> None:
    naming = name_strikes([], compass=None, a4_hz=440.0)
    assert (naming.keys, naming.f0_hz, naming.notices, naming.missing_keys) == ((), (), (), ())
    assert naming.compass is None
    assert naming.pitch_level_cents is None


def test_evidence_is_compact(one_note: list[StrikeEvidence]) -> None:
    arrays = ("position", "f0_hz", "inharmonicity_b", "note_nats", "new_level_db")
    for evidence in one_note:
        assert sum(getattr(evidence, name).nbytes for name in arrays) < 2048


def test_a_reference_or_key_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="a4_hz"):
        name_strikes([], compass=None, a4_hz=0.0)
    with pytest.raises(InputError, match="key"):
        name_strikes([], compass=None, a4_hz=440.0, key=400)


@pytest.mark.parametrize(("nats", "named"), [(1.0, False), (6.0, True)])
def test_among_talk_a_note_must_speak_clearly(nats: float, named: bool) -> None:
    note = max(
        hear(
            render_pass(
                piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=0.0),
                play([40], speed_m_per_s=2.5, seed=3),
                sample_rate_hz=RATE,
                seed=3,
            ).samples
        )[1],
        key=lambda strike: strike.note_nats.max(initial=-np.inf),
    )
    best = note.note_nats.max()
    said = replace(note, note_nats=note.note_nats - best + nats)
    talk = [replace(note, onset_s=float(at), end_s=at + 0.4, note_nats=note.note_nats - best - 9.0) for at in range(30)]
    keys = name_strikes([*talk, replace(said, onset_s=40.0, end_s=43.0)], compass=None, a4_hz=440.0).keys
    assert [key is not None for key in keys] == [*[False] * 30, named]
