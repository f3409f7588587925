from __future__ import annotations

import pytest
from tests.passes import InventedPiano, play_pass

from strikeline.acoustics.comparison_quantities import BALANCE
from strikeline.acoustics.comparison_result import Basis
from strikeline.acoustics.listening import Listening
from strikeline.workshop.comparison import Hearing, compare
from strikeline.workshop.listening import Interrupted
from strikeline.workshop.ports import Progress


def hearing(hand: int) -> Hearing:
    def hear(progress: Progress | None) -> Listening:
        if progress is not None:
            progress(0.5, f"hand {hand}")
            progress(1.0, f"hand {hand}")
        return play_pass(InventedPiano(), hand=hand)

    return hear


def test_progress_grows_over_all_recordings_in_order() -> None:
    told: list[tuple[float, str]] = []
    compare(
        hearing(1),
        hearing(2),
        after_again=[hearing(3)],
        progress=lambda fraction, words: told.append((round(fraction, 3), words)),
    )
    assert [words for _, words in told] == ["hand 1", "hand 1", "hand 2", "hand 2", "hand 3", "hand 3"]
    assert [fraction for fraction, _ in told] == [0.167, 0.333, 0.5, 0.667, 0.833, 1.0]


def test_passes_played_again_measure_the_repeatability() -> None:
    comparison = compare(hearing(1), hearing(2), before_again=[hearing(3)])
    balance = next(one for one in comparison.quantities if one.quantity is BALANCE)
    assert balance.basis is Basis.REPEATED


def test_stopping_one_listening_stops_the_comparison() -> None:
    def stopped(_progress: Progress | None) -> Listening:
        raise Interrupted(play_pass(InventedPiano(keys=range(40, 42)), hand=1))

    with pytest.raises(KeyboardInterrupt) as caught:
        compare(hearing(1), stopped)
    assert not isinstance(caught.value, Interrupted), "nobody is to keep half a comparison"
