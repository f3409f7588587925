"""The two stages of the decay over the keyboard: prompt sound and aftersound of the strongest partial."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.listening import Listening, Note, Partial
from strikeline.reports.chart_layout import Scale
from strikeline.reports.content import SheetChart, Table
from strikeline.reports.figures import count, note_name, with_error
from strikeline.reports.keyboard_chart import Mark, Point
from strikeline.reports.plain_chart import FEWEST_TO_DRAW, keyboard_of, plain_chart, point

_LEAST_SHARE: Final = 0.2
"""An error bar that reaches 0 or below ends at this share of its value on the logarithmic axis."""


def decay_chart(listening: Listening, *, break_after: int | None) -> SheetChart | None:
    """Return the chart of early and late decay, ``None`` where too few notes have them.

    Parameters
    ----------
    listening : Listening
        Of kind pass or note.
    break_after : int or None
        Last key below the break, where it is known.
    """
    told = {
        key: partial
        for key, note in listening.best_by_key().items()
        if (partial := strongest_decaying(note)) is not None
    }
    both = {key: partial for key, partial in told.items() if partial.decay_db_per_s.late is not None}
    if len(told) < FEWEST_TO_DRAW:
        return None
    points: list[Point] = []
    for key, partial in told.items():
        for rate, mark in ((partial.decay_db_per_s.early, Mark.EVEN), (partial.decay_db_per_s.late, Mark.SECOND)):
            if rate is not None and rate.value > 0.0:
                points.append(point(key, rate, mark, lowest=_LEAST_SHARE * rate.value))
    values = [one.value for one in points]
    untold = [key for key in listening.best_by_key() if key not in told]
    return plain_chart(
        name="stages",
        title="Prompt sound and aftersound",
        finding=f"Prompt sound and aftersound: {count(len(both), 'note')} of {len(told)} die away in two stages.",
        shows=f"Chart of how fast the strongest partial falls, in dB per second, for {len(told)} notes: "
        f"{min(values):.1f} to {max(values):.0f}.",
        axis_title="dB per second",
        keys=keyboard_of(listening),
        points=points,
        scale=Scale.LOG,
        untold=sorted([*untold, *listening.recording.missing_keys]),
        break_after=break_after,
        caption="Dots: the prompt sound of each note’s strongest partial; open circles: its aftersound where heard.",
        table=Table(
            head=("Note", "Partial", "Prompt sound (dB/s)", "Aftersound (dB/s)", "Crossing (s)", "Sings (s)"),
            rows=tuple(
                (
                    note_name(key),
                    str(partial.n),
                    with_error(partial.decay_db_per_s.early, max_places=1),
                    with_error(partial.decay_db_per_s.late, max_places=1),
                    with_error(partial.decay_db_per_s.crossing_s, max_places=2),
                    with_error(listening.best_by_key()[key].singing_s, max_places=1),
                )
                for key, partial in told.items()
            ),
        ),
    )


def strongest_decaying(note: Note) -> Partial | None:
    """Return the loudest partial whose early decay is known."""
    known = [partial for partial in note.partials if partial.decay_db_per_s.early is not None]
    return max(known, key=lambda partial: partial.level_db.value, default=None)
