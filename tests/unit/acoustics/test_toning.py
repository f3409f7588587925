"""The toning list: what is listed, in which order, by how much, and what is laid to the strings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.even_pianos import even_piano, listening_of

from strikeline.acoustics.listening import Decay, Listening, Note, Partial
from strikeline.acoustics.toning import toning_list
from strikeline.acoustics.toning_balance import db_per_semitone
from strikeline.acoustics.toning_result import Action, Cause, Sign
from strikeline.acoustics.toning_strings import fast_decays, odd_strike_points
from strikeline.measured import Measured

STRIKE_RATIO = 0.12


def partials(
    key: int,
    *,
    rng: np.random.Generator,
    n: int = 24,
    tilt_db: float = 0.0,
    strike_ratio: float = STRIKE_RATIO,
    quicker: float = 1.0,
) -> tuple[Partial, ...]:
    f0_hz = 440.0 * 2.0 ** ((key - 49) / 12.0)
    return tuple(
        Partial(
            n=k,
            f_hz=Measured(k * f0_hz, 0.01),
            level_db=Measured(
                -20.0
                - 2.0 * k
                + tilt_db * float(np.log2(k))
                + 20.0 * float(np.log10(max(0.06, abs(np.sin(np.pi * k * strike_ratio)))))
                + 1.5 * float(rng.standard_normal()),
                0.2,
            ),
            decay_db_per_s=Decay(
                early=Measured(6.0 * quicker * float(np.exp(0.3 * rng.standard_normal())), 0.5), late=None
            ),
            modes=(),
            law_cents=None,
            in_law=True,
        )
        for k in range(1, n + 1)
    )


def with_partials(listening: Listening, *, seed: int = 1, **special: dict[int, float]) -> Listening:
    rng = np.random.default_rng(seed)
    notes = []
    for note in listening.notes:
        assert note.key is not None
        given = {what: by_key[note.key] for what, by_key in special.items() if note.key in by_key}
        notes.append(replace(note, partials=partials(note.key, rng=rng, **given)))  # type: ignore[arg-type]
    return replace(listening, notes=tuple(notes))


def piano(seed: int, *, brighter: dict[int, float] | None = None, log_b: dict[int, float] | None = None) -> Listening:
    values = even_piano(np.random.default_rng(seed), scatter_times=0.5)
    for key, semitones in (brighter or {}).items():
        values["brightness"][key - 1] += semitones
    for key, more in (log_b or {}).items():
        values["inharmonicity_b"][key - 1] += more
    return with_partials(listening_of(values))


def test_a_worn_area_comes_first_then_single_bright_notes_then_dull_ones() -> None:
    area = dict.fromkeys(range(36, 48), 6.0)
    told = toning_list(piano(1, brighter={**area, 20: 10.0, 65: -9.0}))
    acting = [item for item in told.items if item.action in (Action.SOFTEN, Action.HARDEN)]
    assert [(item.first_key, item.last_key, item.action) for item in acting] == [
        (36, 47, Action.SOFTEN),
        (20, 20, Action.SOFTEN),
        (65, 65, Action.HARDEN),
    ]
    assert all(item.cause is Cause.HAMMER for item in acting)


def test_no_more_is_advised_than_the_error_leaves_no_doubt_of_and_half_of_it_first() -> None:
    told = toning_list(piano(2, brighter=dict.fromkeys(range(30, 42), 7.0)))
    (item,) = [item for item in told.items if item.action is Action.SOFTEN]
    assert len(item.hammers) == 12
    for hammer in item.hammers:
        sure = hammer.balance_db.value - 1.645 * hammer.balance_db.se
        assert_close(hammer.advised_db, max(0.0, sure), rtol=0, atol=1e-9, why="the one-sided 95 % bound")
    assert_close(item.first_step_db, 0.5 * item.advised_db, rtol=1e-12, atol=0, why="half first")


def test_even_pianos_hardly_get_advice() -> None:
    told = [toning_list(piano(seed)) for seed in range(30, 38)]
    assert sum(item.action in (Action.SOFTEN, Action.HARDEN) for one in told for item in one.items) <= 2


def test_what_is_less_sure_than_one_in_twenty_is_only_listened_to_again() -> None:
    told = [toning_list(piano(seed, brighter={50: 5.0})) for seed in range(50, 55)]
    items = [item for one in told for item in one.items]
    assert all(item.action is Action.LISTEN_AGAIN for item in items if item.p_false > 0.05)
    assert all(item.advised_db == 0.0 for item in items if item.action is Action.LISTEN_AGAIN)


def test_a_note_of_another_wire_that_is_bright_too_is_said_to_be_both() -> None:
    told = toning_list(piano(3, brighter={45: 10.0}, log_b={45: 0.7}))
    (item,) = [item for item in told.items if item.first_key == 45]
    assert item.cause is Cause.BOTH
    assert item.action is Action.SOFTEN
    assert item.signs == (Sign.INHARMONICITY,)
    assert "partly the string" in item.sentence


def test_a_note_of_another_wire_that_is_as_bright_as_its_neighbours_is_left_alone() -> None:
    told = toning_list(piano(4, log_b={45: 0.7}))
    (item,) = [item for item in told.items if item.first_key == 45]
    assert (item.action, item.cause, item.balance_db) == (Action.LEAVE, Cause.STRING, None)


def test_a_dull_note_whose_upper_partials_die_early_is_laid_to_the_wire() -> None:
    dull = dict.fromkeys(range(40, 46), -8.0)
    values = even_piano(np.random.default_rng(5), scatter_times=0.5)
    for key, semitones in dull.items():
        values["brightness"][key - 1] += semitones
    listening = with_partials(listening_of(values), quicker=dict.fromkeys(dull, 4.0))
    (item,) = [item for item in toning_list(listening).items if item.first_key == 40]
    assert (item.action, item.cause) == (Action.LEAVE, Cause.STRING)
    assert item.signs == (Sign.FAST_DECAY,)
    assert "disguise" in item.sentence


def test_a_weak_blow_is_not_taken_for_a_dull_hammer() -> None:
    values = even_piano(np.random.default_rng(6), scatter_times=0.5)
    values["brightness"][54] -= 3.0
    values["level_db"][54] -= 14.0
    items = [i for i in toning_list(with_partials(listening_of(values))).items if i.first_key <= 55 <= i.last_key]
    assert all(item.action is Action.LISTEN_AGAIN for item in items)


def test_a_moved_strike_point_is_found_by_the_partials_that_are_missing() -> None:
    rng = np.random.default_rng(7)
    notes = {
        key: Note(
            key=key,
            onset_s=float(key),
            end_s=key + 1.0,
            partials=partials(key, rng=rng, strike_ratio=0.16 if key == 30 else STRIKE_RATIO),
        )
        for key in range(15, 46)
    }
    assert odd_strike_points(notes) == {30}


def test_where_the_neighbours_show_no_pattern_nothing_is_said_of_the_strike_point() -> None:
    rng = np.random.default_rng(8)
    ratios = rng.uniform(0.08, 0.19, 40)
    notes = {
        key: Note(key=key, onset_s=0.0, end_s=1.0, partials=partials(key, rng=rng, strike_ratio=float(ratios[key])))
        for key in range(15, 40)
    }
    assert odd_strike_points(notes) == set()


def test_slow_and_even_decays_are_no_sign() -> None:
    rng = np.random.default_rng(9)
    notes = {
        key: Note(key=key, onset_s=0.0, end_s=1.0, partials=partials(key, rng=rng, quicker=0.3 if key == 30 else 1.0))
        for key in range(10, 60)
    }
    assert fast_decays(notes, break_after=None) == set()


@pytest.mark.parametrize("tilt_db", [-0.05, 0.05])
def test_the_balance_follows_from_a_tilt_of_the_spectrum(tilt_db: float) -> None:
    # The relation of the module, checked by tilting: halves of the spectrum against the centroid.
    f_hz = 110.0 * np.arange(1, 25)
    level_db = -2.0 * np.arange(1, 25) + 3.0 * np.cos(np.arange(1, 25))

    def note_of(level: np.ndarray) -> Note:
        return Note(
            key=25,
            onset_s=0.0,
            end_s=1.0,
            partials=tuple(
                Partial(
                    n=i + 1,
                    f_hz=Measured(float(f_hz[i]), 0.01),
                    level_db=Measured(float(level[i]), 0.1),
                    decay_db_per_s=Decay(early=None, late=None),
                    modes=(),
                    law_cents=None,
                    in_law=True,
                )
                for i in range(24)
            ),
        )

    def centroid_semitones(level: np.ndarray) -> float:
        amplitude = 10.0 ** (level / 20.0)
        return 12.0 * float(np.log2(f_hz @ amplitude / amplitude.sum()))

    faint = 10.0 ** (0.3 * level_db / 20.0)
    octave = np.log2(f_hz)
    centre = faint @ octave / faint.sum()
    upper = octave > centre
    tilted = level_db + tilt_db * (octave - centre)
    rise = np.average(tilted - level_db, weights=faint * upper) - np.average(tilted - level_db, weights=faint * ~upper)
    ratio = db_per_semitone(note_of(level_db))
    assert ratio is not None
    moved = centroid_semitones(tilted) - centroid_semitones(level_db)
    assert_close(
        ratio * moved, rise, rtol=0.01, atol=0, why="exact for a small tilt; 0.05 dB an octave is not infinitely small"
    )


def test_too_few_notes_are_not_judged() -> None:
    keys = np.arange(40.0, 48.0)
    values = even_piano(np.random.default_rng(10), keys=keys)
    told = toning_list(with_partials(listening_of(values, keys=keys, compass=None)))
    assert told.items == ()
    assert told.cannot_tell
    assert told.scatter_db is None


def test_the_list_becomes_plain_data_with_its_caution() -> None:
    told = toning_list(piano(11, brighter={45: 10.0}, log_b={60: 0.7})).to_json()
    assert told["schema"] == "strikeline.toning/1"
    assert "cannot be undone" in told["caution"]
    assert {item["first"] for item in told["items"]} >= {"F4", "G#5"}
    assert all(item["sentence"].endswith(".") for item in told["items"])
