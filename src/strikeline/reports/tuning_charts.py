"""Charts of a tuning: where the piano is and where it goes, its B, and how its octaves end up."""

from __future__ import annotations

from typing import Final

from strikeline.keyboard import Compass, key_from_name
from strikeline.reports.chart_layout import Scale
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark, Point
from strikeline.reports.plain_chart import point
from strikeline.workshop.tuning import IntervalBeat, NoteTarget, Tuning

_OCTAVES: Final = ("2:1", "4:2", "6:3")
_MOST_LABELS: Final = 6


def tuning_charts(tuning: Tuning) -> tuple[KeyboardChart, ...]:
    """Return the charts of a tuning, all on the keyboard from left to right.

    Parameters
    ----------
    tuning : Tuning
        From `workshop.tuning.tune`.

    Returns
    -------
    tuple of KeyboardChart
        Pitch with its targets, B with the values taken for the notes that were not heard, and the octaves by type.
    """
    compass = Compass.parse(tuning.compass)
    keys = (compass.lowest, compass.highest)
    the_break = None if tuning.break_after is None else key_from_name(tuning.break_after)
    charts = [_pitch(tuning, keys, the_break), _stiffness(tuning, keys, the_break)]
    charts += [_octaves(tuning, partials, keys, the_break) for partials in _OCTAVES]
    return tuple(chart for chart in charts if chart is not None)


def _pitch(tuning: Tuning, keys: tuple[int, int], the_break: int | None) -> KeyboardChart | None:
    heard = [(note.key, note.now_cents) for note in tuning.notes if note.now_cents is not None]
    if not heard:
        return None
    return KeyboardChart(
        name="targets",
        description="First partial of each note as heard (dots) and where it is to be (line), cents from equal "
        f"temperament at A4 = {tuning.a4_hz:g} Hz.",
        axis_title=f"pitch now, and target (line), cents from equal temperament at {tuning.a4_hz:g} Hz",
        keys=keys,
        points=tuple(point(key, now, Mark.EVEN) for key, now in heard),
        trend=(_line(tuning.notes),),
        reference=None,
        zero=0.0,
        labels=(),
        untold=tuple(note.key for note in tuning.notes if note.now_cents is None),
        break_after=the_break,
        scale=Scale.LINEAR,
        tick_places=None,
    )


def _line(notes: tuple[NoteTarget, ...]) -> Line:
    halves = [note.cents.half_width for note in notes]
    return Line(
        keys=tuple(float(note.key) for note in notes),
        values=tuple(note.cents.value for note in notes),
        low=tuple(note.cents.value - half for note, half in zip(notes, halves, strict=True)),
        high=tuple(note.cents.value + half for note, half in zip(notes, halves, strict=True)),
    )


def _stiffness(tuning: Tuning, keys: tuple[int, int], the_break: int | None) -> KeyboardChart:
    odd = [note for note in tuning.notes if note.b_is_odd]
    labels = [
        ChartLabel(
            text="stiffer" if _departure(note) > 0.0 else "less stiff",
            first_key=note.key,
            last_key=note.key,
            is_hint=True,
        )
        for note in sorted(odd, key=lambda one: -abs(_departure(one)))[:_MOST_LABELS]
    ]
    return KeyboardChart(
        name="stiffness",
        description="Inharmonicity B of each note: dots as heard, hollow where it follows from the notes about it; "
        "diamonds lie beyond four scatters of their section by themselves, as one sound string in a hundred does.",
        axis_title="B × 10 000",
        keys=keys,
        points=tuple(
            Point(
                key=note.key,
                value=1e4 * note.inharmonicity_b.value,
                low=1e4 * max(note.inharmonicity_b.value - note.inharmonicity_b.half_width, 1e-7),
                high=1e4 * (note.inharmonicity_b.value + note.inharmonicity_b.half_width),
                mark=Mark.HINT if note.b_is_odd else Mark.EVEN if note.b_is_heard else Mark.SECOND,
            )
            for note in tuning.notes
        ),
        trend=(),
        reference=None,
        zero=None,
        labels=tuple(labels),
        untold=(),
        break_after=the_break,
        scale=Scale.LOG,
        tick_places=None,
    )


def _departure(note: NoteTarget) -> float:
    return 0.0 if note.b_departure_pct is None else note.b_departure_pct.value


def _octaves(tuning: Tuning, partials: str, keys: tuple[int, int], the_break: int | None) -> KeyboardChart | None:
    beats = [one for one in tuning.octave_beats if one.interval == "octave" and one.partials == partials]
    if not beats:
        return None
    return KeyboardChart(
        name=f"octaves-{partials.replace(':', '-')}",
        description=f"Width of {partials} octaves on target, at their lower note, cents; hollow where they beat faster "
        "than once a second.",
        axis_title=f"{partials} octaves on target, cents, wide above 0; hollow: beats faster than once a second",
        keys=keys,
        points=tuple(point(key_from_name(one.low), one.width_cents, _mark(one)) for one in beats),
        trend=(),
        reference=None,
        zero=0.0,
        labels=(),
        untold=(),
        break_after=the_break,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(-2.0, 2.0),
    )


def _mark(beat: IntervalBeat) -> Mark:
    return Mark.EVEN if abs(beat.beat_hz.value) < 1.0 else Mark.SECOND
