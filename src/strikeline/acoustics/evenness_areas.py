"""Stretches of the keyboard that depart together, gathered from what stands out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.acoustics.evenness_quantities import INHARMONICITY, PITCH
from strikeline.acoustics.evenness_result import Area, QuantityEvenness, Standout
from strikeline.measured import Measured

_FEWEST: Final = 3
"""Departing notes that make an area."""
_WIDEST_GAP: Final = 3
"""Notes between two runs of the same direction over which they are one area, if these lean the same way on average."""


def find_areas(quantities: Sequence[QuantityEvenness]) -> tuple[Area, ...]:
    """Return the areas of all quantities, the surest first.

    Parameters
    ----------
    quantities : sequence of QuantityEvenness
        With their standouts. Areas of B are changes of the scale, and areas of pitch are tuning: both are left out.
    """
    found = [area for one in quantities if one.quantity not in (INHARMONICITY, PITCH) for area in _areas(one)]
    return tuple(sorted(found, key=lambda area: (area.p_false, area.first_key)))


def _areas(one: QuantityEvenness) -> list[Area]:
    groups: list[list[Standout]] = []
    for standout in sorted(one.standouts, key=lambda standout: standout.first_key):
        if groups and _is_one_area(groups[-1][-1], standout, one):
            groups[-1].append(standout)
        else:
            groups.append([standout])
    return [_area(group, one) for group in groups if sum(standout.n_notes for standout in group) >= _FEWEST]


def _is_one_area(below: Standout, above: Standout, one: QuantityEvenness) -> bool:
    if below.departure.value * above.departure.value <= 0.0:
        return False
    between = [note for note in one.notes if below.last_key < note.key < above.first_key]
    if len(between) > _WIDEST_GAP:
        return False
    return sum(note.residual.value for note in between) * below.departure.value >= 0.0


def _area(group: Sequence[Standout], one: QuantityEvenness) -> Area:
    first, last = group[0].first_key, group[-1].last_key
    n = sum(standout.n_notes for standout in group)
    mean = sum(standout.n_notes * standout.departure.value for standout in group) / n
    # The runs share one trend, so their errors go together: they are added, not their squares.
    se = sum(standout.n_notes * standout.departure.se for standout in group) / n
    return Area(
        quantity=one.quantity,
        first_key=first,
        last_key=last,
        n_notes=sum(first <= note.key <= last for note in one.notes),
        n_departing=n,
        departure=Measured(mean, se),
        p_false=min(standout.p_false for standout in group),
    )
