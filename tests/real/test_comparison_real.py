"""Before and after on open recordings: one grand at three strengths is unchanged, another grand is another piano."""

from __future__ import annotations

from itertools import combinations

import pytest
from tests.real.lone_strikes import chromatic_note, layered_note
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES

from strikeline.acoustics.comparison import compare
from strikeline.acoustics.comparison_quantities import BALANCE, BRIGHTNESS, INHARMONICITY, PITCH
from strikeline.acoustics.comparison_result import Strings, Verdict
from strikeline.acoustics.listening import Kind, Listening, Note, Recording

pytestmark = pytest.mark.real


def listening(notes: list[Note], name: str, *, a4_hz: float = 440.0) -> Listening:
    recording = Recording(
        sha256=name,
        sample_rate_hz=44100,
        duration_s=3.0 * len(notes),
        kind=Kind.PASS,
        analyser="0.1.0",
        reference_a4_hz=a4_hz,
    )
    return Listening(recording=recording, notes=tuple(notes))


def layered(velocity: int) -> Listening:
    return listening([layered_note(key, velocity) for key in LAYERED_KEYS], f"layered {velocity}")


@pytest.mark.parametrize(("soft", "loud"), list(combinations(LAYERED_VELOCITIES, 2)))
def test_the_same_grand_struck_harder_is_unchanged(soft: int, loud: int) -> None:
    comparison = compare(layered(soft), layered(loud))
    assert comparison.strings is Strings.SAME
    by_quantity = {one.quantity: one for one in comparison.quantities}
    for quantity in (PITCH, INHARMONICITY, BRIGHTNESS, BALANCE):
        assert by_quantity[quantity].changes == (), quantity.name
    assert not by_quantity[PITCH].is_common_changed
    assert comparison.verdict is Verdict.NO_CHANGE


def test_another_grand_is_another_piano() -> None:
    other = listening([chromatic_note(key) for key in LAYERED_KEYS if key > 3], "chromatic", a4_hz=441.0)
    comparison = compare(layered(LAYERED_VELOCITIES[-1]), other)
    assert comparison.strings is Strings.OTHER
    assert comparison.verdict is Verdict.NOT_COMPARABLE
