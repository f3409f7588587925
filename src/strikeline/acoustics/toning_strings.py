"""Signs that a note departs by its strings: inharmonicity, the strike point, and upper partials that die away early."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_fit import MIN_NOTES, fit_trend
from strikeline.acoustics.evenness_model import Floats, Series
from strikeline.acoustics.evenness_quantities import INHARMONICITY
from strikeline.acoustics.evenness_result import Evenness
from strikeline.acoustics.listening import Note

SURE: Final = 0.05
"""Chance of a false alarm up to which a sign is believed."""
_RATIOS: Final = np.arange(0.070, 0.2005, 0.0025)
"""Strike points over speaking length that are tried; pianos have 1/7 to 1/17 (common practice, no source)."""
_STRIKE_PARTIALS: Final = (14, 32)
"""Partials needed, and the highest looked at."""
_STRIKE_NEIGHBOURS: Final = 6
_FEWEST_NEIGHBOURS: Final = 7
_STRIKE_GAIN: Final = 18.0
"""By how much twice the log-likelihood must be larger at another strike point than at the neighbours' (a choice: on
rendered pianos sound notes stay below 16, moved ones mostly lie above 20)."""
_STRIKE_PATTERN: Final = 10.0
"""By how much the pattern must be better than none: in the tenor of a recorded grand the board hides it."""
_STRIKE_DISTANCE: Final = 0.008
_DEEPEST_DIP: Final = 0.06
"""A partial at its node is never wholly missing: strings have no sharp ends and hammers are wide."""
_UPPER_OCTAVES: Final = 1.5
"""Partials so far above the first count as upper ones."""
_DECAY_SCATTER: Final = 0.25
"""Scatter of the logarithm of the decay rate from note to note: as for the sustain (see `evenness_quantities`)."""


def odd_strings(evenness: Evenness) -> frozenset[int]:
    """Return the keys whose B leaves its neighbours'."""
    surely = [s for s in evenness.of(INHARMONICITY).standouts if s.p_false <= SURE]
    return frozenset(key for s in surely for key in range(s.first_key, s.last_key + 1))


def odd_strike_points(notes: Mapping[int, Note]) -> frozenset[int]:
    """Return the keys whose partials dip elsewhere than those of their neighbours.

    A hammer at the share r of a string's length leaves partial n out in proportion to abs(sin n pi r) (Hall 1986-87, in
    a secondary survey). For each note the levels of its partials less a smooth curve are compared with this pattern at
    every r; the neighbours' patterns added together give the r that is to be expected.
    """
    misfit = {key: m for key, note in notes.items() if (m := _strike_misfit(note)) is not None}
    odd = set()
    for key, own in misfit.items():
        around = [other for there, other in misfit.items() if there != key and abs(there - key) <= _STRIKE_NEIGHBOURS]
        if len(around) < _FEWEST_NEIGHBOURS:
            continue
        together = np.mean(around, axis=0)
        expected, found = int(np.argmin(together)), int(np.argmin(own))
        near = own[max(0, expected - 2) : expected + 3].min()
        far = abs(float(_RATIOS[found] - _RATIOS[expected])) >= _STRIKE_DISTANCE
        # Where neighbours agree, most of them show the pattern at the expected place, not only their mean.
        agree = float(np.median([other[max(0, expected - 2) : expected + 3].min() for other in around]))
        is_pattern = max(agree, float(own[found])) < -_STRIKE_PATTERN
        if far and is_pattern and near - own[found] > _STRIKE_GAIN:
            odd.add(key)
    return frozenset(odd)


def _strike_misfit(note: Note) -> Floats | None:
    """Return -2 log likelihood of each strike point against none, shape of `_RATIOS`; ``None`` with few partials."""
    fewest, highest = _STRIKE_PARTIALS
    heard = [partial for partial in note.partials if partial.n <= highest]
    if len(heard) < fewest:
        return None
    number = np.array([partial.n for partial in heard], dtype=np.float64)
    level_db = np.array([partial.level_db.value for partial in heard])
    x = (number - number.mean()) / number.std()
    smooth, _ = np.linalg.qr(np.column_stack([x**power for power in range(4)]))
    pattern = 20.0 * np.log10(np.maximum(np.abs(np.sin(np.pi * np.outer(_RATIOS, number))), _DEEPEST_DIP))
    pattern -= pattern @ smooth @ smooth.T
    rest = level_db - smooth @ (smooth.T @ level_db)
    residual = rest - pattern
    return np.asarray(number.size * np.log(np.mean(residual**2, axis=1) / np.mean(rest**2)))


def fast_decays(notes: Mapping[int, Note], *, break_after: float | None) -> frozenset[int]:
    """Return the keys whose upper partials die away sooner than their neighbours'.

    Parameters
    ----------
    notes : mapping of int to Note
        By key.
    break_after : float or None
        Key after which the trend may step.
    """
    rates = {key: rate for key, note in sorted(notes.items()) if (rate := _upper_rate(note)) is not None}
    if len(rates) < MIN_NOTES:
        return frozenset()
    keys = np.array(list(rates), dtype=np.float64)
    series = Series(
        keys=keys,
        values=np.array([value for value, _ in rates.values()]),
        se=np.array([se for _, se in rates.values()]),
        scatter=np.full(keys.size, _DECAY_SCATTER),
        wander_ratio=1.0,
        wander_keys=5.0,
        max_degree=3,
    )
    fit = fit_trend(series, break_after=break_after, n_looks=1)
    quick = [shift for shift in fit.shifts if shift.effect > 0.0 and shift.p_false <= SURE]
    return frozenset(int(keys[i]) for shift in quick for i in range(shift.first, shift.last + 1))


def _upper_rate(note: Note) -> tuple[float, float] | None:
    """Return the logarithm of the median decay of the upper partials, in octaves' slope taken off, and its error."""
    if not note.partials:
        return None
    lowest_hz = note.partials[0].f_hz.value * 2.0**_UPPER_OCTAVES
    early = [p.decay_db_per_s.early for p in note.partials if p.f_hz.value >= lowest_hz]
    rates = np.log([decay.value for decay in early if decay is not None and decay.value > 0.0])
    if rates.size < 3:
        return None
    spread = 1.4826 * float(np.median(np.abs(rates - np.median(rates))))
    return float(np.median(rates)), float(np.sqrt(np.pi / 2.0)) * spread / float(np.sqrt(rates.size))
