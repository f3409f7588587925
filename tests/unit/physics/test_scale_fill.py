"""Filling a scale: marked, honest about its error, and never over the break or from plain to wound."""

from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.scales import smooth_length_mm, stepped_diameter_mm

from strikeline.errors import InputError
from strikeline.keyboard import Compass, equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.gauge_steps import diameters_between
from strikeline.physics.scale import ScaleRow, scale_state
from strikeline.physics.scale_entry import CORE, LENGTH, MICROMETER_ZERO, TAPE_ZERO, ScaleEntry
from strikeline.physics.scale_fill import FilledNote, fill_scale
from strikeline.physics.smooth_fit import fit_smooth
from strikeline.physics.stringing import StringDimensions
from strikeline.physics.winding import Winding
from strikeline.physics.wire import MATERIALS


def entry(key: int, *, length_mm: float | None = None, section: str | None = None, wound: bool = False) -> ScaleEntry:
    winding = (Winding(Measured(0.5, 0.005), MATERIALS["copper"]),) if wound else ()
    return ScaleEntry(
        key=key,
        section=section,
        n_strings=2 if wound else 3,
        length_mm=Measured(smooth_length_mm(key) if length_mm is None else length_mm, 0.3),
        core_diameter_mm=Measured(stepped_diameter_mm(key), 0.005),
        windings=winding,
    )


def test_filled_notes_lie_near_the_truth_and_are_marked() -> None:
    scale = fill_scale([entry(key) for key in range(40, 86, 5)], compass=Compass(40, 85))
    assert [note.entry.key for note in scale.notes] == list(range(40, 86))
    for note in scale.notes:
        length, diameter = note.entry.length_mm, note.entry.core_diameter_mm
        assert length is not None
        assert diameter is not None
        assert bool(note.filled) == ((note.entry.key - 40) % 5 != 0)
        assert not length.differs_from(smooth_length_mm(note.entry.key), by_se=3.0)
        assert not diameter.differs_from(stepped_diameter_mm(note.entry.key), by_se=3.0)


def test_the_truth_lies_within_the_error_of_filled_lengths_as_often_as_said() -> None:
    rng, inside = np.random.default_rng(11), []
    for _ in range(150):
        # lengths of an invented bridge: a bent line in ln L, pins set with a scatter of 0.4 %
        bend, scatter = rng.normal(0, 0.00006), 0.004
        keys = np.arange(30, 86)
        truth = 6.9 - 0.053 * (keys - 30) + bend * (keys - 50) ** 2 + rng.normal(0, scatter, len(keys))
        measured = np.sort(rng.choice(keys, 14, replace=False))
        wanted = tuple(int(key) for key in keys if key not in measured)
        fit = fit_smooth(measured, truth[measured - 30], least_scatter=0.0005, wanted=wanted)
        assert fit is not None
        for key in fit.keys:
            value, moves = fit.at(key)
            inside.append(abs(value - truth[key - 30]) <= 1.96 * np.hypot(fit.scatter, np.linalg.norm(moves)))
    # notes of one piano share a fit, so the count of independent trials is nearer 150 than 6000
    assert 0.93 <= np.mean(inside) <= 0.985, np.mean(inside)


def test_too_few_measured_notes_make_no_curve() -> None:
    scale = fill_scale([entry(key) for key in (40, 50, 60)], compass=Compass(40, 60))
    assert [note.entry.key for note in scale.notes] == [40, 50, 60]
    assert {why for _, why in scale.cannot_tell} == {
        "no speaking length: fewer than 4 notes of its section (plain) were measured"
    }


def test_nothing_is_filled_far_beyond_the_measured_notes() -> None:
    scale = fill_scale([entry(key) for key in range(50, 71, 4)], compass=Compass(40, 80))
    assert [note.entry.key for note in scale.notes] == list(range(47, 74))


def test_no_curve_crosses_the_break() -> None:
    """Below the break strings are 30 % shorter: a curve through both sides would be far off on either."""
    below = [entry(key, length_mm=0.7 * smooth_length_mm(key), section="bass") for key in range(40, 53, 3)]
    above = [entry(key, section="treble") for key in range(56, 80, 3)]
    scale = fill_scale([*below, *above], compass=Compass(40, 77))
    by_key = {note.entry.key: note for note in scale.notes}
    for key in (41, 50):
        length = by_key[key].entry.length_mm
        assert length is not None
        assert not length.differs_from(0.7 * smooth_length_mm(key), by_se=3.0)
    assert [key for key, _ in scale.cannot_tell] == [53, 54, 55]
    assert "which section" in scale.cannot_tell[0][1]


@pytest.mark.parametrize(("upper", "break_after", "untold"), [(53, 52, []), (56, None, [53, 54, 55])])
def test_the_break_is_found_where_lengths_grow_and_only_there(
    upper: int, break_after: int | None, untold: list[int]
) -> None:
    below = [entry(key, length_mm=0.7 * smooth_length_mm(key)) for key in (40, 43, 46, 49, 51)]
    above = [entry(key) for key in range(upper, 80, 3)]
    edge = entry(52, length_mm=0.7 * smooth_length_mm(52))
    scale = fill_scale([*below[:-1], edge, *above], compass=Compass(40, above[-1].key))
    assert scale.sections.break_after == break_after
    assert [key for key, _ in scale.cannot_tell] == untold


def test_notes_between_plain_and_wound_ones_are_not_guessed() -> None:
    wound = [entry(key, wound=True) for key in (40, 41, 42, 43)]
    plain = [entry(key) for key in (47, 48, 49, 50, 51)]
    scale = fill_scale([*wound, *plain], compass=Compass(40, 51))
    assert [key for key, _ in scale.cannot_tell] == [44, 45, 46]
    assert "plain or wound" in scale.cannot_tell[0][1]


def test_between_two_gauges_the_likelier_one_is_taken_with_the_chance_of_the_other_in_its_error() -> None:
    between = diameters_between(range(41, 50), below=(40, 1.0), above=(50, 0.9746))
    assert between.n_steps == 1
    assert list(between.diameter_mm[:4]) == [1.0] * 4
    covariance = between.moves_mm @ between.moves_mm.T
    # one step of 0.0254 mm that lies below the first note with a chance of 1 in 10
    assert_close(covariance[0, 0], 0.0254**2 * 0.1, rtol=1e-9, atol=0, why="one step or none")


def test_how_notes_between_two_gauges_err_together_is_what_random_steps_do() -> None:
    rng, n_steps, keys = np.random.default_rng(3), 3, np.arange(41, 48)
    between = diameters_between(keys.tolist(), below=(40, 1.0), above=(48, 1.0 - n_steps * 0.0254))
    places = rng.uniform(40, 48, (200_000, n_steps))
    truth = 1.0 - 0.0254 * np.sum(places[:, :, None] < keys, axis=1)
    off = truth - between.diameter_mm
    assert_close(
        between.moves_mm @ between.moves_mm.T,
        off.T @ off / len(off),
        rtol=0.03,
        atol=0.002 * 0.0254**2,
        why="200 000 draws, whose squares scatter by 0.3 % and more",
    )


def test_the_load_of_a_filled_scale_is_within_its_error_as_often_as_said() -> None:
    """Pianos with random steps of gauge and zeros of the tools, a third of their notes measured."""
    rng, inside, n_pianos = np.random.default_rng(6), 0, 100
    keys = np.arange(40, 86)
    f0 = equal_tempered_hz(keys, a4_hz=440.0)
    for _ in range(n_pianos):
        length = np.array([smooth_length_mm(int(key)) for key in keys]) * np.exp(rng.normal(0, 0.004, len(keys)))
        steps = np.sort(rng.choice(keys[1:], 8, replace=False))
        diameter = 0.9906 - 0.0254 * np.searchsorted(steps, keys, side="right")
        density = rng.uniform(7815, 7885)  # as wide as what is not known of it, about the value that is used
        zeros = rng.normal(0, 0.15), rng.normal(0, 0.002)
        measured = np.unique(np.r_[40, 85, rng.choice(keys, 14, replace=False)])
        entries = [
            ScaleEntry(
                key=int(key),
                n_strings=3,
                length_mm=Measured(length[key - 40] + zeros[0] + rng.normal(0, 0.25), float(np.hypot(0.15, 0.25))),
                core_diameter_mm=Measured(
                    diameter[key - 40] + zeros[1] + rng.normal(0, 0.005), float(np.hypot(0.002, 0.005))
                ),
                windings=(),
                ties={LENGTH: {TAPE_ZERO: 0.15}, CORE: {MICROMETER_ZERO: 0.002}},
            )
            for key in measured
        ]
        notes = fill_scale(entries, compass=Compass(40, 85)).notes
        load = scale_state([_row(note, float(f0[note.entry.key - 40])) for note in notes]).load.tension_n
        true_n = 3.0 * np.pi / 4.0 * density * (diameter * 1e-3) ** 2 * (2e-3 * length * f0) ** 2
        inside += not load.differs_from(float(true_n.sum()))
    # a binomial of 100 with 0.95 is 0.89 to 0.99 in 98 of 100
    assert 0.89 <= inside / n_pianos <= 0.995, inside / n_pianos


def _row(note: FilledNote, f0_hz: float) -> ScaleRow:
    entry = note.entry
    assert entry.length_mm is not None
    assert entry.core_diameter_mm is not None
    return ScaleRow(
        key=entry.key,
        n_strings=3,
        dimensions=StringDimensions(entry.length_mm, entry.core_diameter_mm, entry.core),
        f0_hz=Measured(f0_hz, 0.0),
        strength=None,
        section=note.section,
        filled=note.filled,
        ties=entry.ties,
    )


def test_a_note_outside_the_compass_is_refused() -> None:
    with pytest.raises(InputError, match="compass"):
        fill_scale([entry(key) for key in (40, 86)], compass=Compass(40, 85))
