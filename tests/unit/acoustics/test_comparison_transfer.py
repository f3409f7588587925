from __future__ import annotations

import numpy as np
from tests.closeness import assert_close
from tests.passes import tilted

from strikeline.acoustics.comparison_transfer import LevelChanges, fit_transfer


def changes(
    *, seed: int = 1, scatter_db: float = 2.0, odd_notes: int = 0, n_notes: int = 60, n_partials: int = 15
) -> LevelChanges:
    """Partials of many notes through a bent and tilted transfer, each note at its own gain, some notes dulled."""
    rng = np.random.default_rng(seed)
    note = np.repeat(np.arange(n_notes), n_partials)
    n = np.tile(np.arange(1.0, n_partials + 1), n_notes)
    f_hz = n * np.repeat(np.geomspace(40.0, 1500.0, n_notes), n_partials)
    change = tilted(2.0, bend_db=5.0)(f_hz) + np.repeat(10.0 * rng.standard_normal(n_notes), n_partials)
    change -= np.where(np.abs(note - n_notes // 2) < odd_notes // 2, 4.0 * np.log2(n), 0.0)
    change += scatter_db * rng.standard_normal(change.size)
    return LevelChanges(note=note, f_hz=f_hz, change_db=change, se_db=np.full(change.size, 0.2))


def test_a_smooth_transfer_comes_back_whatever_the_gain_of_each_note() -> None:
    given = changes()
    transfer = fit_transfer(given)
    assert transfer is not None
    f_hz = np.geomspace(60.0, 8000.0, 40)
    expected = tilted(2.0, bend_db=5.0)(f_hz)
    found = transfer.at(f_hz)
    why = "900 partials of 2 dB over 18 knots: 0.3 dB each, three of them; the level of the curve is free"
    assert_close(found - found.mean(), expected - expected.mean(), rtol=0, atol=0.9, why=why)
    assert_close(transfer.scatter_db, 2.0, rtol=0, atol=0.2, why="900 partials tell a scatter to 3 %")


def test_a_minority_that_was_dulled_does_not_draw_the_curve_along() -> None:
    plain, drawn = fit_transfer(changes()), fit_transfer(changes(odd_notes=9))
    assert plain is not None
    assert drawn is not None
    f_hz = np.geomspace(200.0, 6000.0, 20)
    moved = drawn.at(f_hz) - plain.at(f_hz)
    why = "15 % of the notes fall by 16 dB over their range; plain least squares lets the curve bend by 2 dB with them"
    assert_close(moved - moved.mean(), np.zeros(20), rtol=0, atol=1.0, why=why)


def test_the_curve_goes_on_level_beyond_the_partials() -> None:
    transfer = fit_transfer(changes())
    assert transfer is not None
    low, high = transfer.at(np.array([1.0, 1e6])), transfer.at(np.array([transfer.low_hz, transfer.high_hz]))
    assert_close(low, high, rtol=0, atol=1e-9, why="clamped at the ends")


def test_too_few_partials_give_no_curve() -> None:
    assert fit_transfer(changes(n_notes=2, n_partials=10)) is None
    assert fit_transfer(changes(n_notes=0)) is None
