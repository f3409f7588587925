"""Sounds put beside strings: what follows from the row alone."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.plucked import heard_pluck, plucked_row

from strikeline.acoustics.plucks_sequence import Alignment, align_plucks


def placed(alignment: Alignment) -> list[tuple[int, int] | None]:
    """Return key and string of each sound, or ``None`` where it is more likely no pluck."""
    places: list[tuple[int, int] | None] = []
    for one in alignment.probability:
        note, string = np.unravel_index(int(one.argmax()), one.shape)
        places.append((alignment.keys[int(note)], int(string)) if one.sum() > 0.5 else None)
    return places


ALL = [(key, string) for key in (40, 41, 42) for string in range(3)]


def test_a_row_without_mistakes_is_placed_string_by_string_also_where_it_has_no_pitch() -> None:
    row = plucked_row([40, None, None, None, 41, None, None, None, 42])
    alignment = align_plucks(row, notes=(40, 41, 42), n_strings=3)
    assert placed(alignment) == ALL
    assert (alignment.probability.sum(axis=(1, 2)) > 0.9).all()


def test_the_number_of_strings_is_found_from_the_row() -> None:
    row = plucked_row([8, 9, None, 10, 10, 30, 30, None])
    alignment = align_plucks(row, notes=(8, 9, 10, 30), n_strings=None)
    assert alignment.count_probability.argmax(axis=1).tolist() == [0, 1, 1, 2]


def test_notes_are_found_from_the_pitches_when_not_listed() -> None:
    row = plucked_row([40, None, 40, 41, 41, None, None, 42, 42])
    alignment = align_plucks(row, notes=None, n_strings=3)
    assert placed(alignment) == ALL


def test_a_missed_pluck_costs_its_own_note_and_no_other() -> None:
    row = plucked_row([40, 40, 40, 41, 41, 42, 42, 42])
    alignment = align_plucks(row, notes=(40, 41, 42), n_strings=3)
    probability = alignment.probability
    assert (probability[:3, 0, [0, 1, 2]].diagonal() > 0.9).all()
    assert (probability[5:, 2, [0, 1, 2]].diagonal() > 0.9).all()
    in_doubt = probability[3:5, 1]
    assert (in_doubt.max(axis=1) < 0.9).all()
    assert in_doubt[0, 2] < 0.05
    assert in_doubt[1, 0] < 0.05


def test_a_noise_between_plucks_is_left_out() -> None:
    row = plucked_row([40, None, 40, 41, None, 41, 42, 42, None])
    noise = heard_pluck(1.0 + 0.6 * 2 + 0.35, None, bright_db=-75.0, step_db=1.0)
    alignment = align_plucks([*row[:3], noise, *row[3:]], notes=(40, 41, 42), n_strings=3)
    assert placed(alignment) == [*ALL[:3], None, *ALL[3:]]


def test_a_damper_that_falls_is_no_pluck_however_loud() -> None:
    row = plucked_row([40, None, 40, 41, None, 41])
    thump = heard_pluck(1.0 + 0.6 * 2 + 0.35, None, bright_db=-42.0, cut_db=15.0, step_db=1.0)
    alignment = align_plucks([*row[:3], thump, *row[3:]], notes=(40, 41), n_strings=3)
    assert placed(alignment)[3] is None


def test_a_string_of_a_neighbour_is_not_taken_for_one_of_the_note() -> None:
    row = plucked_row([40, 40, 39, 40, 44, 44, 44])
    alignment = align_plucks(row, notes=(40, 44), n_strings=3)
    assert placed(alignment)[2] is None
    assert alignment.heard_key[2] == 39
    assert placed(alignment)[3] == (40, 2)


def test_a_piano_a_third_of_a_semitone_flat_is_followed() -> None:
    row = plucked_row([40, None, 40, 41, 41, None])
    flat = [heard_pluck(one.onset_s, None) if one.position.size == 0 else one for one in row]
    for one in flat:
        one.position[:] -= 0.35
    alignment = align_plucks(flat, notes=(40, 41), n_strings=3)
    assert_close(alignment.pitch_level, -0.35, rtol=0, atol=0.08, why="steps of 0.02 and the natural stretch")
    assert placed(alignment) == ALL[:6]


def test_a_pluck_done_again_is_the_same_string() -> None:
    row = plucked_row([40, 40, 40, 41, 41, 41, 41])
    alignment = align_plucks(row, notes=(40, 41), n_strings=3)
    per_string = alignment.probability[3:, 1].sum(axis=0)
    assert (per_string > 0.9).all()
    assert_close(per_string.sum(), 4.0, rtol=0, atol=0.3, why="all four are plucks of this note")


def test_notes_may_be_listed_downwards() -> None:
    row = plucked_row([42, None, 42, 41, 41, 41, None, None, 40])
    alignment = align_plucks(row, notes=(42, 41, 40), n_strings=None)
    assert placed(alignment) == [(key, string) for key in (42, 41, 40) for string in range(3)]


@pytest.mark.parametrize("n", [1, 2, 3])
def test_probabilities_are_probabilities(n: int) -> None:
    row = plucked_row([40, None, 41, None, 42, None])
    for notes in ((40, 41, 42), None):
        probability = align_plucks(row, notes=notes, n_strings=n).probability
        assert (probability >= 0.0).all()
        assert (probability.sum(axis=(1, 2)) <= 1.0 + 1e-9).all()


@pytest.mark.parametrize(("off", "named"), [(-0.6, 0), (-0.3, 0), (0.2, 0), (0.4, 1)])
def test_a_row_found_by_ear_is_rather_named_flat_than_sharp(off: float, named: int) -> None:
    row = plucked_row([key for key in (40, 41, 42, 43) for _ in range(3)])
    for one in row:
        one.position[:] += off
    alignment = align_plucks(row, notes=None, n_strings=3)
    keys = {place[0] for place in placed(alignment) if place is not None}
    assert keys == {key + named for key in (40, 41, 42, 43)}
    assert_close(alignment.pitch_level, off - named, rtol=0, atol=0.08, why="steps of 0.02 and the natural stretch")
