"""Whether a typed scale is that of the piano that was heard."""

from __future__ import annotations

import pytest

from strikeline.measured import Measured
from strikeline.physics.scale_against_hearing import Disagreement, NoteAgainstHearing, ScaleAgainstHearing
from strikeline.workshop.pitch_scale import Fit, scale_fit


def compared(n: int, n_beyond: int) -> ScaleAgainstHearing:
    notes = tuple(
        NoteAgainstHearing(
            key=40 + place,
            predicted_b=Measured(4e-4, 1e-5),
            heard_b=Measured(5e-4 if place < n_beyond else 4e-4, 1e-6),
            difference_pct=Measured(22.3 if place < n_beyond else 0.0, 5.6),
            model_pct=5.0,
            is_beyond=place < n_beyond,
        )
        for place in range(n)
    )
    beyond = tuple(note.key for note in notes if note.is_beyond)
    runs = (Disagreement(keys=beyond, difference_pct=Measured(22.3, 2.0), is_wound=False, meanings=()),)
    return ScaleAgainstHearing(notes=notes, disagreements=runs if beyond else (), common_pct={})


@pytest.mark.parametrize(
    ("n", "n_beyond", "fit"),
    [
        (40, 0, Fit.FITS),
        (40, 3, Fit.SOME_NOTES),
        (40, 12, Fit.SOME_NOTES),
        (40, 13, Fit.OTHER),
        (5, 5, Fit.CANNOT_TELL),
        (0, 0, Fit.CANNOT_TELL),
    ],
)
def test_a_scale_is_that_of_another_piano_when_too_many_notes_are_beyond(n: int, n_beyond: int, fit: Fit) -> None:
    told = scale_fit(compared(n, n_beyond))
    assert (told.fit, told.n_compared, told.n_beyond) == (fit, n, n_beyond)


def test_the_notes_beyond_are_named() -> None:
    assert scale_fit(compared(40, 3)).places == (("C4", "D4", Measured(22.3, 2.0)),)
    assert scale_fit(compared(40, 0)).places == ()


def test_without_a_hearing_nothing_is_told() -> None:
    assert scale_fit(None).fit is Fit.CANNOT_TELL
