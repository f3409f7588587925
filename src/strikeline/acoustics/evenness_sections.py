"""The run of one quantity through each section of the scale, as a line that single faulty notes hardly move."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_model import Floats
from strikeline.acoustics.evenness_quantities import Quantity
from strikeline.acoustics.evenness_result import NoteEvenness, SectionTrend
from strikeline.acoustics.evenness_scale import Section
from strikeline.acoustics.evenness_steps import in_plain_unit
from strikeline.measured import Measured

_FEWEST: Final = 5
_TAIL_DOF: Final = 5.0
_ROUNDS: Final = 20


def section_trends(
    notes: Sequence[NoteEvenness], quantity: Quantity, sections: Sequence[Section]
) -> tuple[SectionTrend, ...]:
    """Return the line through each section that has five notes or more.

    Parameters
    ----------
    notes : sequence of NoteEvenness
        Values on the judged scale; those that stand out are left out.
    quantity : Quantity
        What they are values of.
    sections : sequence of Section
        Sections of the scale.

    Returns
    -------
    tuple of SectionTrend
        Student's t with five degrees of freedom is taken for the scatter, by reweighting. The errors are those of
        independent notes and rest on the scatter found.
    """
    found = [_trend(notes, quantity, section) for section in sections]
    return tuple(trend for trend in found if trend is not None)


def _trend(notes: Sequence[NoteEvenness], quantity: Quantity, section: Section) -> SectionTrend | None:
    inside = [note for note in notes if section.first_key <= note.key <= section.last_key and not note.stands_out]
    if len(inside) < _FEWEST:
        return None
    keys = np.array([note.key for note in inside], dtype=np.float64)
    values = np.array([note.value for note in inside])
    middle_key = 0.5 * (section.first_key + section.last_key)
    columns = np.column_stack([np.ones(keys.size), (keys - middle_key) / 12.0])
    weight, square = np.ones(keys.size), 1.0
    spread: Floats = np.eye(2)
    line: Floats = np.zeros(2)
    for _ in range(_ROUNDS):
        spread = np.asarray(np.linalg.inv(columns.T @ (weight[:, None] * columns)), dtype=np.float64)
        line = spread @ columns.T @ (weight * values)
        residual = values - columns @ line
        square = max(float(weight @ residual**2) / (keys.size - 2), 1e-18)
        weight = (_TAIL_DOF + 1.0) / (_TAIL_DOF + residual**2 / square)
    # Variance of the estimate under Student's t: (dof + 3)/(dof + 1) times the squared scale.
    se = np.sqrt(np.diag(spread) * square * (_TAIL_DOF + 3.0) / (_TAIL_DOF + 1.0))
    scatter = float(np.sqrt(square * _TAIL_DOF / (_TAIL_DOF - 2.0)))
    middle = Measured(float(line[0]), float(se[0]))
    if quantity.is_log:
        middle = Measured(float(np.exp(line[0])), float(np.exp(line[0]) * se[0]))
    return SectionTrend(
        section=section,
        n_notes=len(inside),
        middle=middle,
        slope_per_octave=in_plain_unit(Measured(float(line[1]), float(se[1])), quantity),
        scatter=100.0 * float(np.expm1(scatter)) if quantity.is_log else scatter,
    )
