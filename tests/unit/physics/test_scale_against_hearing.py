"""B of the sound against B of the dimensions: false alarms as rare as said, what is wrong is found and named."""

from __future__ import annotations

import numpy as np
from tests.closeness import assert_close
from tests.scales import plain_row, wound_row

from strikeline.measured import Measured
from strikeline.physics.scale import ScaleNote, scale_state
from strikeline.physics.scale_against_hearing import HEXAGONAL_RATIO, PLAIN_MODEL_SD, Cause, against_hearing
from strikeline.reports.figures import note_name
from strikeline.reports.scale_words import disagreement_sentence, meaning_words

PLAIN = scale_state([plain_row(key) for key in range(40, 80)]).notes
WOUND = scale_state([wound_row(key) for key in range(14, 24)]).notes


def heard(notes: tuple[ScaleNote, ...], *, factor: dict[int, float] | None = None) -> dict[int, Measured]:
    return {
        note.key: Measured(b := note.state.inharmonicity_b.value * (factor or {}).get(note.key, 1.0), 0.01 * b)
        for note in notes
    }


def test_what_fits_raises_no_alarm() -> None:
    found = against_hearing(PLAIN, heard(PLAIN))
    assert not found.disagreements
    assert len(found.notes) == len(PLAIN)


def test_sound_pianos_raise_an_alarm_in_five_of_a_hundred_at_most() -> None:
    """B of the sound is drawn with the errors that are claimed for it, of string, formula and hearing."""
    rng, n_alarms, n_pianos = np.random.default_rng(8), 0, 400
    for _ in range(n_pianos):
        sounded = {}
        for note in PLAIN:
            b = note.state.inharmonicity_b
            spread = np.sqrt((b.se / b.value) ** 2 + PLAIN_MODEL_SD**2 + 0.01**2)
            value = float(b.value * np.exp(rng.normal(0.0, spread)))
            sounded[note.key] = Measured(value, 0.01 * value)
        n_alarms += bool(against_hearing(PLAIN, sounded).disagreements)
    # a binomial of 400 with 0.05 stays below 0.083 in 999 of 1000
    assert n_alarms / n_pianos <= 0.083, n_alarms / n_pianos
    assert n_alarms > 0, "a test that never alarms would be blind"


def test_one_string_of_the_wrong_gauge_is_found_with_the_gauge_that_fits() -> None:
    true_mm = PLAIN[12].row.dimensions.core_diameter_mm.value * 1.2
    found = against_hearing(PLAIN, heard(PLAIN, factor={PLAIN[12].key: 1.2**2}))
    (only,) = found.disagreements
    assert only.keys == (PLAIN[12].key,)
    first = only.meanings[0]
    assert first.cause is Cause.THICKER_WIRE
    assert first.implied is not None
    assert f"mm on {note_name(only.keys[0])} would fit" in meaning_words(first)
    assert_close(first.implied.value, true_mm, rtol=1e-9, atol=0, why="B goes with d² at one pitch and length")
    length = next(one for one in only.meanings if one.cause is Cause.LENGTH)
    assert length.implied is not None
    ratio = length.implied.value / PLAIN[12].row.dimensions.length_mm.value
    assert_close(ratio, 1.2**-0.5, rtol=1e-9, atol=0, why="B goes with 1/L⁴ at one pitch and wire")


def test_lost_section_is_named_where_b_is_too_low() -> None:
    (only,) = against_hearing(PLAIN, heard(PLAIN, factor={52: 0.7})).disagreements
    assert [one.cause for one in only.meanings[:2]] == [Cause.THINNER_WIRE, Cause.LOST_SECTION]
    assert "differs by −30\u00a0±\u00a0" in disagreement_sentence(only), "0.7 times is 30 % less, and 36 in 100·ln"


def test_neighbours_that_differ_to_one_side_are_one_disagreement() -> None:
    keys = range(50, 56)
    (only,) = against_hearing(PLAIN, heard(PLAIN, factor=dict.fromkeys(keys, 1.2))).disagreements
    assert only.keys == tuple(keys)
    assert_close(only.difference_pct.value, 100 * np.log(1.2), rtol=1e-9, atol=0, why="all alike")
    wire, length = (
        next(one for one in only.meanings if one.cause is cause) for cause in (Cause.THICKER_WIRE, Cause.LENGTH)
    )
    assert wire.implied is None, "one diameter cannot be that of six notes"
    assert length.implied is None
    assert wire.implied_pct is not None
    assert length.implied_pct is not None
    assert_close(wire.implied_pct.value, 100 * (1.2**0.5 - 1), rtol=1e-9, atol=0, why="B goes with d²")
    assert_close(length.implied_pct.value, 100 * (1.2**-0.25 - 1), rtol=1e-9, atol=0, why="B goes with 1/L⁴")
    assert "% on every note would fit" in meaning_words(wire)
    assert " mm" not in meaning_words(length)


def test_rows_one_note_off_are_recognised() -> None:
    """A table in which every note got the dimensions of the next one up."""
    shifted = scale_state(
        [
            plain_row(
                key,
                length_mm=plain_row(key + 1).dimensions.length_mm.value,
                diameter_mm=plain_row(key + 1).dimensions.core_diameter_mm.value,
            )
            for key in range(40, 80)
        ]
    ).notes
    true_b = {note.key: note.state.inharmonicity_b.value for note in PLAIN}
    found = against_hearing(shifted, {key: Measured(b, 0.005 * b) for key, b in true_b.items() if key < 79})
    first = found.disagreements[0]
    assert first.meanings[0].cause is Cause.ROWS_SHIFTED
    assert first.meanings[0].implied == Measured(-1.0, 0.0)


def test_hexagonal_cores_are_named_for_wound_strings_that_are_all_stiffer_by_as_much() -> None:
    assert_close(HEXAGONAL_RATIO, 0.06014 / 0.04909, rtol=1e-3, atol=0, why="as the reference notes have it")
    factor = dict.fromkeys((note.key for note in WOUND), HEXAGONAL_RATIO)
    (only,) = against_hearing(WOUND, heard(WOUND, factor=factor)).disagreements
    assert only.is_wound
    assert only.meanings[0].cause is Cause.HEXAGONAL_CORE


def test_longer_bare_ends_that_would_fit_are_told_in_millimetres() -> None:
    """B of a string with 40 mm bare at both ends is heard where 22 and 18 mm were entered."""
    from dataclasses import replace

    row = wound_row(18)
    longer = replace(row, dimensions=replace(row.dimensions, bare_mm=(Measured(40.0, 1.0), Measured(40.0, 1.0))))
    b = scale_state([longer]).notes[0].state.inharmonicity_b.value
    (only,) = against_hearing(scale_state([row]).notes, {18: Measured(b, 0.01 * b)}).disagreements
    bare = next(one for one in only.meanings if one.cause is Cause.BARE_ENDS)
    assert bare.implied is not None
    assert_close(bare.implied.value, 40.0, rtol=0, atol=0.05, why="the same string is solved")


def test_without_measured_bare_ends_a_wound_string_is_only_judged_roughly() -> None:
    notes = scale_state([wound_row(key, with_bare_ends=False) for key in range(14, 24)]).notes
    found = against_hearing(notes, heard(notes, factor={18: 1.5}))
    assert not found.disagreements
    assert found.notes[0].model_pct == 30.0
