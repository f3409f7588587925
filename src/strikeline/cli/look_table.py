"""Observations as plain text: what stops work first, then what needs work, to watch, cosmetic."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.cli.readings_table import EVIDENCE_WORDS
from strikeline.domain.observation import Judged
from strikeline.domain.observation_kinds import Grade, Measure, the_observation_kinds
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.reports.figures import count, number
from strikeline.workshop.observations import Look

_TITLES: Final = {
    Grade.STOPS_WORK: "Stops work, until somebody trained has seen it:",
    Grade.NEEDS_WORK: "Needs work:",
    Grade.WATCH: "To be watched; look and measure again at the next visit:",
    Grade.COSMETIC: "Cosmetic:",
}
_NEVER_ALONE: Final = (
    "Crown and bearing are no verdict by themselves: good pianos exist with a flat board or negative bearing. Listen "
    "first (strikeline listen)."
)


def look_table(look: Look, *, width: int | None) -> str:
    """Return observations as text.

    Parameters
    ----------
    look : Look
        From `workshop.observations.read_look`.
    width : int or None
        Columns to break sentences at.
    """
    counts = ", ".join(f"{len(look.of(grade))} {grade.value}" for grade in reversed(Grade) if look.of(grade))
    lines = [wrapped(f"{count(len(look.judged), 'observation').capitalize()}: {counts}.", width)]
    for grade, title in _TITLES.items():
        lines += bulleted(title, [_sentence(one) for one in look.of(grade)], width)
    if any(one.kind.is_never_alone for one in look.judged):
        lines += ["", wrapped(_NEVER_ALONE, width)]
    without = sum(not one.observation.photographs for one in look.judged)
    if without:
        lines += ["", wrapped(f"{count(without, 'observation').capitalize()} without a photograph.", width)]
    return "\n".join([*lines, *caution_lines(look.cautions, width)])


def _sentence(one: Judged) -> str:
    seen = one.observation
    place = ", ".join([*([seen.where] if seen.where else []), *([key_name(seen.key)] if seen.key is not None else [])])
    measures = {measure.id: measure for measure in one.kind.measures}
    sizes = ", ".join(f"{name} {_size(measures[name], value)}" for name, value in seen.measures.items())
    head = " ".join([one.kind.names["gb"], *([f"({place})"] if place else []), *([f"[{sizes}]"] if sizes else [])])
    parts = [f"{head}: {'; '.join(one.reasons)}."]
    if not one.is_settled:
        wanted = [*(f"whether {words}" for words in one.to_look_for), *(f"its {name}" for name in one.to_measure)]
        parts.append(f"Not settled, it could be '{one.could_be.value}': find out {'; '.join(wanted)}.")
    if seen.remark:
        parts.append(f"({seen.remark})")
    return " ".join(parts)


def _size(measure: Measure, value: Measured) -> str:
    return f"{figure(value)} {measure.unit}" if measure.unit else number(value.value, places=0)


def kinds_list(*, width: int | None) -> str:
    """Return what can be looked at, how, and the words for signs; `width` is where to break sentences."""
    lines = list[str]()
    for kind in the_observation_kinds().kinds.values():
        lines += ["", wrapped(f"{kind.id.replace('_', ' ')}: {kind.names['gb']} ({kind.part.value})", width)]
        lines.append(wrapped(kind.how, width))
        founded = EVIDENCE_WORDS[kind.evidence]
        rows = [["", "alone", kind.alone.value, kind.reason]]
        rows += [
            ["", sign.id.replace("_", " "), sign.grade.value, f"{sign.words}{' (look for it)' * sign.is_decisive}"]
            for sign in kind.signs
        ]
        rows += [
            ["", f"{limit.measure} from {limit.at_least:g}", limit.grade.value, limit.reason] for limit in kind.limits
        ]
        lines += aligned(rows)
        if kind.measures:
            lines.append(wrapped("Measure: " + " ".join(f"{one.id}: {one.how}" for one in kind.measures), width))
        lines.append(wrapped(f"({founded}: {kind.source})", width))
    cautions = dict.fromkeys(one for kind in the_observation_kinds().kinds.values() for one in kind.cautions)
    return "\n".join([*lines[1:], *caution_lines(tuple(cautions), width)])
