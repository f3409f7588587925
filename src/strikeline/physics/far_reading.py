"""Readings far from the run of their neighbours: a digit misread, a decimal mark lost, a unit mixed up.

A key of its own is often truly worse than its neighbours, and that is what a survey is for. So only what leaves the run
by a large factor is named, and only to be read again: nothing is changed or left out for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from strikeline.measured import Measured
from strikeline.physics.touch import Outlier, find_outliers

LEAST_FACTOR: Final = 1.6
"""A reading that is so many times its neighbours, or they so many times it, is far from them (our reasoning: a lost
decimal mark is a factor of 10, two digits changed about, such as 27 for 72, are 1.6 or more for half of all pairs)."""
LEAST_HALF_WIDTHS: Final = 12.0
"""Half-widths of reading by which one must leave its neighbours where values may be 0 or below (our reasoning)."""


def far_readings(keys: Sequence[int], values: Sequence[Measured], *, half_width: float) -> tuple[Outlier, ...]:
    """Return the readings that are far from the run of the others.

    Where all values are above 0, factors count, since lengths and tensions change by them over the compass; else
    differences.

    Parameters
    ----------
    keys : sequence of int
        Key numbers in any order; of several readings of a key each counts.
    values : sequence of Measured
        One for each key.
    half_width : float
        What a careful hand repeats to, above 0, in the values' unit.

    Returns
    -------
    tuple of Outlier
        Farthest first, in the values' unit; empty with fewer than six readings, where no run can be told.

    See Also
    --------
    strikeline.physics.touch.find_outliers : The run and the scatter about it.

    Examples
    --------
    >>> drops = [Measured(value, 0.1) for value in (2.2, 2.1, 2.3, 21.0, 2.0, 2.2, 1.9)]
    >>> [(one.key, one.value.value) for one in far_readings(range(40, 47), drops, half_width=0.2)]
    [(43, 21.0)]
    """
    order = sorted(range(len(keys)), key=lambda place: keys[place])
    ordered, own = [keys[place] for place in order], [values[place] for place in order]
    if len(set(ordered)) < 2:
        return ()
    if all(one.value > 0.0 for one in own):
        logs = [Measured(math.log(one.value), max(one.se, half_width / 2.0) / one.value) for one in own]
        found = find_outliers(ordered, logs, least=math.log(LEAST_FACTOR))
        return tuple(
            Outlier(
                key=one.key,
                value=own[logs.index(one.value)],
                expected=math.exp(one.expected),
                by_scatters=one.by_scatters,
            )
            for one in found
        )
    return find_outliers(ordered, own, least=LEAST_HALF_WIDTHS * half_width)
