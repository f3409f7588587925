"""Weak points of a scale: strings near breaking or slack, wire and lengths that do not fit their neighbours."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.special import ndtri

from strikeline.measured import Measured
from strikeline.physics.scale import ScaleNote
from strikeline.physics.scale_entry import CORE, MICROMETER_ZERO
from strikeline.physics.scale_jumps import ONE_GAUGE_MM

PLAIN_LIMIT: Final = 0.70
"""Ceiling of design, share of the average breaking load (technicians' mailing-list archive, as read in a survey)."""
WOUND_LIMIT: Final = 0.55
"""What a maker of strings would never exceed in the bass (technicians' mailing-list archive, 2008-02 and 2011-04)."""
SLACK: Final = 0.30
"""Lower end of what good scales have in the bass (technicians' mailing-list archive, 2000-01)."""
LEAST_MEANT: Final = 0.10
MOST_MEANT: Final = 0.80
"""Roughly what strings of pianos carry, as shares of the breaking load: a string at pitch beyond this was misread (our
reasoning: good scales have 30 to 70 %, old iron wire and a piano far below pitch half of that)."""
_ODD_SD: Final = 4.0
"""Robust standard deviations from the curve of its neighbours at which a length is odd (our choice)."""
_LEAST_ODD_LENGTH: Final = 0.01
"""Share of its length by which a string must be off before it is called odd: bridges bend, and pins stand aside (our
choice)."""
_FALSE_ALARM: Final = 0.05
"""Share of pianos without a fault in which any wire is called odd, at most."""
_MAD_TO_SD: Final = 1.4826
_NEIGHBOURS: Final = 2


class WeakKind(StrEnum):
    """What is weak."""

    CANNOT_BE_MEANT = "cannot be meant"
    NEAR_BREAKING = "near breaking"
    MAY_BE_NEAR_BREAKING = "may be near breaking"
    SLACK = "slack"
    MAY_BE_SLACK = "may be slack"
    ODD_WIRE = "odd wire"
    ODD_LENGTH = "odd length"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeakPoint:
    """One note with what is weak about it."""

    kind: WeakKind
    key: int
    value: Measured
    """Breaking share; diameter in mm; speaking length in mm."""
    beside: float
    """The limit; the diameter of its neighbours; the length that they lead to."""


def limit_of(note: ScaleNote, *, plain_limit: float = PLAIN_LIMIT, wound_limit: float = WOUND_LIMIT) -> float:
    """Return the share of the breaking load that the strings of a note should not exceed.

    Parameters
    ----------
    note : ScaleNote
        Plain or wound.
    plain_limit, wound_limit : float
        The limits of either.
    """
    return wound_limit if note.row.is_wound else plain_limit


def weak_points(
    notes: Sequence[ScaleNote], *, plain_limit: float = PLAIN_LIMIT, wound_limit: float = WOUND_LIMIT
) -> tuple[WeakPoint, ...]:
    """Return the weak points of a scale.

    Parameters
    ----------
    notes : sequence of ScaleNote
        Of a whole scale, ascending by key.
    plain_limit, wound_limit : float
        Shares of the breaking load that count as near breaking.

    Returns
    -------
    tuple of WeakPoint
        By kind, then by key. A string is near breaking when its share is above the limit, and *may* be when only the
        error of the share reaches over it; it is slack when its share lies below by more than the error, and *may* be
        when by less. A share below `LEAST_MEANT` by more than its error cannot be meant.
    """
    found = [*_odd_wires(notes), *_odd_lengths(notes)]
    for note in notes:
        share = note.state.breaking_share
        if share is None:
            continue
        limit = limit_of(note, plain_limit=plain_limit, wound_limit=wound_limit)
        if share.value > limit:
            found.append(WeakPoint(kind=WeakKind.NEAR_BREAKING, key=note.key, value=share, beside=limit))
        elif share.value + share.half_width > limit:
            found.append(WeakPoint(kind=WeakKind.MAY_BE_NEAR_BREAKING, key=note.key, value=share, beside=limit))
        elif share.value + share.half_width < LEAST_MEANT:
            found.append(WeakPoint(kind=WeakKind.CANNOT_BE_MEANT, key=note.key, value=share, beside=LEAST_MEANT))
        elif share.value < SLACK:
            is_sure = share.value + share.half_width < SLACK
            kind = WeakKind.SLACK if is_sure else WeakKind.MAY_BE_SLACK
            found.append(WeakPoint(kind=kind, key=note.key, value=share, beside=SLACK))
    order = list(WeakKind)
    return tuple(sorted(found, key=lambda point: (order.index(point.kind), point.key)))


def fitting_length_units(shares: Sequence[float]) -> tuple[str, ...]:
    """Return the units in which lengths that were taken for millimetres would be those of a piano's strings.

    At a pitch, tension goes with the square of the length.

    Examples
    --------
    >>> fitting_length_units([0.0035, 0.0048]), fitting_length_units([0.35]), fitting_length_units([0.0005])
    (('cm',), (), ('in',))
    """
    return tuple(
        unit
        for unit, mm in _MM_PER.items()
        if shares and all(LEAST_MEANT <= one * mm**2 <= MOST_MEANT for one in shares)
    )


_MM_PER: Final = {"cm": 10.0, "in": 25.4}


def _odd_wires(notes: Sequence[ScaleNote]) -> list[WeakPoint]:
    """Return notes whose wire is thicker or thinner than that of both neighbours, by more than they were read to.

    Between two notes wire has a diameter between theirs. How far one must lie outside is what the farthest of all notes
    would by chance in 5 of 100 pianos (Bonferroni), and more than half a step of half a number.
    """
    n = sum("diameter" not in note.row.filled for note in notes)
    beyond = float(ndtri(1.0 - _FALSE_ALARM / (2.0 * max(n, 1))))

    def test(beside: Sequence[ScaleNote], note: ScaleNote) -> WeakPoint | None:
        diameter = note.row.dimensions.core_diameter_mm
        others = [one.row.dimensions.core_diameter_mm.value for one in beside]
        nearest = min((0, 1), key=lambda place: abs(others[place] - diameter.value))
        is_between = min(others) <= diameter.value <= max(others)
        reading = math.hypot(_own_reading(note), _own_reading(beside[nearest]))
        if is_between or abs(diameter.value - others[nearest]) <= max(ONE_GAUGE_MM, beyond * reading):
            return None
        return WeakPoint(kind=WeakKind.ODD_WIRE, key=note.key, value=diameter, beside=float(np.mean(others)))

    return _between(notes, "diameter", 1, test)


def _own_reading(note: ScaleNote) -> float:
    """Return the error of a diameter without the zero of the micrometer, which its neighbours share."""
    zero = note.row.ties.get(CORE, {}).get(MICROMETER_ZERO, 0.0)
    return math.sqrt(max(note.row.dimensions.core_diameter_mm.se**2 - zero**2, 0.0))


def _odd_lengths(notes: Sequence[ScaleNote]) -> list[WeakPoint]:
    """Return notes whose length leaves the curve through the two measured notes on either side."""
    away: dict[int, tuple[float, float, ScaleNote]] = {}

    def test(beside: Sequence[ScaleNote], note: ScaleNote) -> WeakPoint | None:
        keys = [one.key - note.key for one in beside]
        logs = [math.log(one.row.dimensions.length_mm.value) for one in beside]
        led_to = math.exp(float(np.polyval(np.polyfit(keys, logs, 2), 0.0)))
        away[note.key] = (math.log(note.row.dimensions.length_mm.value / led_to), led_to, note)
        return None

    _between(notes, "length", _NEIGHBOURS, test)
    if not away:
        return []
    spread = _MAD_TO_SD * float(np.median([abs(one) for one, _, _ in away.values()]))
    found = []
    for key, (one, led_to, note) in away.items():
        length = note.row.dimensions.length_mm
        reading = length.se / length.value
        beside = [abs(away[other][0]) for other in away if 0 < abs(other - key) <= _NEIGHBOURS]
        # A wrong length pulls the curve of its neighbours too, but less than it is off itself.
        if abs(one) > max(_ODD_SD * max(spread, reading), _LEAST_ODD_LENGTH) and abs(one) > max(beside, default=0.0):
            found.append(WeakPoint(kind=WeakKind.ODD_LENGTH, key=key, value=length, beside=led_to))
    return found


def _between(
    notes: Sequence[ScaleNote],
    what: str,
    n_beside: int,
    test: Callable[[Sequence[ScaleNote], ScaleNote], WeakPoint | None],
) -> list[WeakPoint]:
    """Return what `test` finds in each measured note with enough measured notes of its section on either side."""
    found = []
    for section in dict.fromkeys(note.row.section for note in notes):
        known = [note for note in notes if note.row.section == section and what not in note.row.filled]
        for i in range(n_beside, len(known) - n_beside):
            point = test([*known[i - n_beside : i], *known[i + 1 : i + 1 + n_beside]], known[i])
            if point is not None:
                found.append(point)
    return found
