"""What a sheet says of the places where the strings change: the break, and the end of the wound strings."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.evenness_result import ChangeVerdict, Evenness, ScaleStep, StepVerdict, Sureness
from strikeline.acoustics.evenness_scale import ChangePoint
from strikeline.reports.content import Section, Table
from strikeline.reports.figures import ABSENT, listed, note_name, places_for, plus_minus, sentence

_HEARD: Final = {
    StepVerdict.HEARD: "a step that is heard",
    StepVerdict.TOO_SMALL: "a step, smaller than what is heard",
    StepVerdict.MEASURED: "a step; from how far on it is heard is not known",
}
"""Verdicts that make a row; the others are summed up in a sentence."""


def scale_section(evenness: Evenness) -> Section | None:
    """Return the section on where the scale changes, ``None`` where no change was found or known."""
    if not evenness.change_points:
        return None
    told = [step for step in evenness.steps if step.verdict in _HEARD]
    table = Table(
        head=("Between", "Measure", "From below to above", "What a listener hears"),
        rows=tuple((between(step.change), step.quantity.name, step_words(step), _HEARD[step.verdict]) for step in told),
        caption="Measures that step where the scale changes",
        widths=("auto", "auto", "auto", "1fr"),
    )
    return Section(
        name="scale-changes",
        heading="Where the scale changes",
        paragraphs=tuple(change_sentence(verdict) for verdict in evenness.change_verdicts),
        tables=(table,) if table.rows else (),
        after=tuple(filter(None, (_untold(evenness, change) for change in evenness.change_points))),
    )


_TOGETHER: Final = ", all measures taken together; in which of them cannot be told"


def change_sentence(verdict: ChangeVerdict) -> str:
    """Return whether a listener hears one change of the scale."""
    sure = "known beforehand" if verdict.change.is_given else str(Sureness.of(verdict.change.p_false))
    where = f"{verdict.change.kind.value}, between {between(verdict.change)} ({sure})"
    if verdict.verdict is StepVerdict.HEARD:
        names = listed([quantity.name for quantity in verdict.heard_in])
        what = f"a listener hears a step{f' in {names}' if names else _TOGETHER}"
    elif verdict.verdict is StepVerdict.NONE:
        what = "a listener hears no step there"
    elif verdict.verdict is StepVerdict.CANNOT_TELL:
        what = "whether a step is heard there cannot be told"
    else:
        what = "the tone steps, but by less than a listener hears"
    return sentence(f"{where}: {what}")


def heard_step_sentence(evenness: Evenness) -> str | None:
    """Return the surest change of the scale that is heard, for the first page; ``None`` where none is."""
    heard = [one for one in evenness.change_verdicts if one.verdict is StepVerdict.HEARD]
    if not heard:
        return None
    surest = min(heard, key=lambda one: 1.0 if one.p_value is None else one.p_value)
    steps = [
        f"{step.quantity.name} {step_words(step)}"
        for step in evenness.steps
        if step.change == surest.change and step.quantity in surest.heard_in
    ]
    where = f"at {surest.change.kind.value}, between {between(surest.change)}, the tone steps"
    return sentence(f"{where}: {listed(steps)}" if steps else f"{where}{_TOGETHER}")


def between(change: ChangePoint) -> str:
    """Return the two notes on either side of a change."""
    return f"{note_name(change.after_key)} and {note_name(change.after_key + 1)}"


def step_words(step: ScaleStep) -> str:
    """Return how far a measure steps going up over the change, with its sign."""
    if step.step is None:
        return ABSENT
    half = step.step.half_width
    places = min(step.quantity.decimals, places_for(half))
    size = plus_minus(f"{abs(step.step.value):.{places}f}", f"{half:.{places}f}", step.quantity.deviation_unit)
    return f"{'up' if step.step.value > 0.0 else 'down'} {size}"


def _untold(evenness: Evenness, change: ChangePoint) -> str | None:
    """Return which measures show no step at a change, and which could not be told."""
    here = [step for step in evenness.steps if step.change == change]
    none = [step.quantity.name for step in here if step.verdict is StepVerdict.NONE]
    untold = [step.quantity.name for step in here if step.verdict is StepVerdict.CANNOT_TELL]
    parts = [f"no step beyond scatter in {listed(none)}"] if none else []
    parts += [f"not told: {listed(untold)}"] if untold else []
    return f"Between {between(change)}: {'; '.join(parts)}." if parts else None
