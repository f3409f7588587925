"""Charts of a pitch raise: where the notes stand, where to put them, and where they are expected to end."""

from __future__ import annotations

from collections.abc import Sequence

from strikeline.reports.chart_layout import Scale
from strikeline.reports.keyboard_chart import KeyboardChart, Line, Mark, Point
from strikeline.reports.plain_chart import point
from strikeline.workshop.pitch_result import NotePlan, Pitch


def pitch_charts(pitch: Pitch) -> tuple[KeyboardChart, ...]:
    """Return the charts of the next pass.

    Parameters
    ----------
    pitch : Pitch
        From `workshop.pitch.plan_pitch`.

    Returns
    -------
    tuple of KeyboardChart
        Notes as they stand against their targets, with the overpull as a line; and where the pass is expected to leave
        them.
    """
    heard = [note for note in pitch.notes if note.now_cents is not None]
    stand = [point(note.key, note.now_cents, Mark.EVEN) for note in heard if note.now_cents is not None]
    expected = [
        Point(
            key=note.key,
            value=note.expected_cents.value,
            low=note.expected_cents.value,
            high=note.expected_cents.value,
            mark=Mark.SECOND,
        )
        for note in pitch.notes
    ]
    return (
        _chart(
            pitch,
            name="stand",
            axis_title="now (dots) and where to put it (line), cents from its target",
            description="Each note as it stands against its target (dots), and where to put it in this pass (line).",
            points=stand,
            line=_line(pitch.notes),
        ),
        _chart(
            pitch,
            name="expected",
            axis_title="expected when the pass is done, cents from its target",
            description="Where each note is expected to stand when the pass is done, with the range that holds it "
            "in 95 cases of 100.",
            points=expected,
            line=_band(pitch.notes),
        ),
    )


def _line(notes: Sequence[NotePlan]) -> Line:
    values = tuple(note.overpull_cents for note in notes)
    return Line(keys=tuple(float(note.key) for note in notes), values=values, low=values, high=values)


def _band(notes: Sequence[NotePlan]) -> Line:
    halves = [note.expected_cents.half_width for note in notes]
    values = tuple(note.expected_cents.value for note in notes)
    return Line(
        keys=tuple(float(note.key) for note in notes),
        values=values,
        low=tuple(value - half for value, half in zip(values, halves, strict=True)),
        high=tuple(value + half for value, half in zip(values, halves, strict=True)),
    )


def _chart(
    pitch: Pitch, *, name: str, axis_title: str, description: str, points: Sequence[Point], line: Line
) -> KeyboardChart:
    bass = [note.key for note in pitch.notes if "bass" in note.section]
    return KeyboardChart(
        name=name,
        description=description,
        axis_title=axis_title,
        keys=(pitch.notes[0].key, pitch.notes[-1].key),
        points=tuple(points),
        trend=(line,),
        reference=None,
        zero=0.0,
        labels=(),
        untold=tuple(note.key for note in pitch.notes if note.now_cents is None),
        break_after=max(bass, default=None),
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(-5.0, 5.0, min(line.low), max(line.high)),
    )
