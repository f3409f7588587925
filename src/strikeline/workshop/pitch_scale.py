"""The scale that was typed for a piano on its way to pitch: what its strings carry, and whether it is this piano's."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from strikeline.acoustics.listening import Listening
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.scale import ScaleState
from strikeline.physics.scale_against_hearing import ScaleAgainstHearing
from strikeline.physics.wire_strength import grade_for_year
from strikeline.workshop.scale import ScaleChoices, assess_scale

_OTHER_SHARE: Final = 0.3
"""Share of the notes compared that may lie beyond before the whole table counts as that of another piano, as in
`comparison_fitness` (our reasoning; on one generated piano its own scale had 10 % beyond, and a scale of another piano
73 %)."""
_FEWEST: Final = 6


class Fit(StrEnum):
    """Whether B from the dimensions agrees with B as heard."""

    FITS = "fits"
    SOME_NOTES = "fits but for some notes"
    OTHER = "does not fit"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleFit:
    """How a typed scale compares with the sound of the piano it was given for."""

    fit: Fit
    n_compared: int
    """Notes of which both are known."""
    n_beyond: int
    """Of these, notes whose B differs by more than all uncertainties."""
    places: tuple[tuple[str, str, Measured], ...]
    """First and last note of each run beyond, and by how many per cent B heard differs, 100·ln."""


def read_scale(text: str, *, year: int | None, a4_hz: float, listening: Listening) -> tuple[ScaleState, ScaleFit]:
    """Return what the strings of a typed scale do at the pitch that was heard, and whether their B is that heard.

    Parameters
    ----------
    text : str
        The table, as for ``strikeline scale``.
    year : int or None
        Year of the wire, for its strength; modern where ``None``.
    a4_hz : float
        Pitch of A4 for a scale of which nothing was heard, 380 to 480 Hz.
    listening : Listening
        A pass over the piano.

    Raises
    ------
    EntryError
        If the table has mistakes.
    InputError
        If no note of it can be told.
    """
    choices = ScaleChoices(grade=grade_for_year(year), a4_hz=a4_hz)
    report = assess_scale(text, choices=choices, listening=listening)
    return report.state, scale_fit(report.hearing)


def scale_fit(hearing: ScaleAgainstHearing | None) -> ScaleFit:
    """Return whether a scale is that of the piano that was heard.

    Parameters
    ----------
    hearing : ScaleAgainstHearing or None
        From `against_hearing`.
    """
    if hearing is None:
        return ScaleFit(fit=Fit.CANNOT_TELL, n_compared=0, n_beyond=0, places=())
    n, n_beyond = len(hearing.notes), sum(note.is_beyond for note in hearing.notes)
    fit = Fit.SOME_NOTES if n_beyond else Fit.FITS
    if n < _FEWEST:
        fit = Fit.CANNOT_TELL
    elif n_beyond > _OTHER_SHARE * n:
        fit = Fit.OTHER
    return ScaleFit(
        fit=fit,
        n_compared=n,
        n_beyond=n_beyond,
        places=tuple(
            (key_name(one.keys[0]), key_name(one.keys[-1]), one.difference_pct) for one in hearing.disagreements
        ),
    )
