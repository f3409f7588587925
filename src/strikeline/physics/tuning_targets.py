"""Tuning targets for one piano: the stretch that its own partials ask for, by a criterion stated openly.

First the curve. Let d_k be how far the first partial of key k is raised above the temperament, d of A4 = 0, and take
for B the smooth curve of each section. Choose d to make least, in cents::

    Σ over intervals  w·(width of the interval - its width in the temperament on strings without stiffness)²
    + Σ over keys     λ_k·(d_(k-1) - 2·d_k + d_(k+1))²

The width is that between one pair of partials (2:1, 4:2, …); the weights w are those of a leaning (`tuning_leanings`),
and they run over the compass. The second sum keeps the curve smooth: λ_k = W_k·(P/2π)⁴, W_k being the weights that hang
on key k, keeps what turns over more than P = 12 keys and irons out what turns faster. Both are squares of straight
lines in d, so the answer is one linear system. Without stiffness d is exactly 0.

Then each string. One whose own B leaves the curve of its section has other partials than its neighbours, and they ask
for another place. It alone moves: it gets ``own_share`` of what they ask for; the rest stays as width of its intervals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY, equal_tempered_hz
from strikeline.measured import Measured, measured_from
from strikeline.physics.beat_rates import (
    Interval,
    beat_rate_hz,
    interval_width_cents,
    partial_above_first_cents,
    partial_above_first_slope,
)
from strikeline.physics.inharmonicity_curve import InharmonicityCurve
from strikeline.physics.ranges import above_zero
from strikeline.physics.temperaments import Temperament
from strikeline.physics.tuning_leanings import Leaning
from strikeline.units import CENTS_PER_NEPER, ratio_from_cents

Floats = NDArray[np.float64]

OWN_SHARE: Final = 0.5
"""Share that an odd string gets of what its own partials ask for (our reasoning: halfway between its octaves and the
evenness of the scale; neither leaves more than half of the fault to the other)."""
SMOOTH_KEYS: Final = 12.0
"""What turns faster than over this many keys is ironed out of the curve (our reasoning: an octave, so that no pattern
within one octave repeats in the next; 2:1 octaves of the close leaning stay within half a cent up to C8)."""
_FEWEST_KEYS: Final = 25
"""Two octaves and a note: fewer leave the keys of one octave tied to nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TuningTargets:
    """Where each note is to be tuned. All arrays have the shape of `key`, (k,)."""

    key: NDArray[np.int64]
    a4_hz: float
    stretch_cents: Floats
    """First partial above the temperament, cents; 0 at A4."""
    cents_from_equal: Floats
    """First partial f0·√(1+B) above equal temperament at the same A4, cents: stretch and temperament together."""
    f0_cents_from_equal: Floats
    """f0 of the stiff-string law above the same, cents: lower than the first partial by √(1+B)."""
    first_partial_hz: Floats
    f0_hz: Floats
    stretch_shares: Floats
    """Signed shares of the error of `stretch_cents`, cents, shape (k, s), tied to those of ln B."""
    curve: InharmonicityCurve
    """B of every key, and the smooth curve of each section."""
    own_part_cents: Floats
    """The part of `stretch_cents` that the note has for its own B; 0 where B lies on the curve of the section."""
    own_wish_cents: Floats
    """What the note's own partials ask for beyond its target, its neighbours staying where they are, cents."""

    @property
    def inharmonicity_b(self) -> Floats:
        """B of each note's own string."""
        return self.curve.inharmonicity_b

    @property
    def log_b_shares(self) -> Floats:
        """Signed shares of the error of its logarithm, shape (k, s)."""
        return self.curve.log_shares

    @property
    def stretch_se_cents(self) -> Floats:
        """Standard error of `stretch_cents` and `cents_from_equal`, from that of B; 0 at A4."""
        return np.asarray(np.sqrt(np.sum(self.stretch_shares**2, axis=1)))

    @property
    def first_partial_se_hz(self) -> Floats:
        """Standard error of `first_partial_hz`."""
        return np.asarray(self.first_partial_hz * self.stretch_se_cents / CENTS_PER_NEPER)

    @property
    def f0_se_cents(self) -> Floats:
        """Standard error of `f0_cents_from_equal`, cents."""
        b = self.inharmonicity_b
        own = 0.5 * CENTS_PER_NEPER * (b / (1.0 + b))[:, None] * self.log_b_shares
        return np.asarray(np.sqrt(np.sum((self.stretch_shares - own) ** 2, axis=1)))

    def place(self, key: int) -> int:
        """Return where a key stands in the arrays."""
        place = int(np.searchsorted(self.key, key))
        if place >= self.key.size or self.key[place] != key:
            raise InputError.of("key", key, f"a key from {self.key[0]} to {self.key[-1]}")
        return place

    def width_cents(self, interval: Interval, *, low_key: int) -> Measured:
        """Return how much wider than pure an interval ends up, cents, at its pair of partials.

        Parameters
        ----------
        interval : Interval
            Which.
        low_key : int
            Its lower note; the upper one must be on the piano.
        """
        low, high = self.place(low_key), self.place(low_key + interval.semitones)
        width = interval_width_cents(interval, **self._ends(low, high))
        return measured_from(width, self._width_shares(interval, low, high))

    def beat_hz(self, interval: Interval, *, low_key: int) -> Measured:
        """Return how fast an interval beats, hertz, above 0 for wide and below for narrow.

        Parameters
        ----------
        interval : Interval
            Which.
        low_key : int
            Its lower note; the upper one must be on the piano.
        """
        low, high = self.place(low_key), self.place(low_key + interval.semitones)
        rate = beat_rate_hz(interval, **self._ends(low, high))
        # The rate is the width at the frequency where the partials meet; the common part of their errors moves both.
        hz_per_cent = self.meeting_hz(interval, low_key=low_key) / CENTS_PER_NEPER
        return measured_from(rate, hz_per_cent * self._width_shares(interval, low, high))

    def meeting_hz(self, interval: Interval, *, low_key: int) -> float:
        """Return the frequency of the lower note's partial of the pair, hertz: where to listen for the beat.

        Parameters
        ----------
        interval : Interval
            Which.
        low_key : int
            Its lower note.
        """
        low = self.place(low_key)
        above = partial_above_first_cents(interval.low_partial, inharmonicity_b=self.inharmonicity_b[low])
        return float(self.first_partial_hz[low] * interval.low_partial * ratio_from_cents(above))

    def _ends(self, low: int, high: int) -> dict[str, float]:
        return {
            "low_first_hz": float(self.first_partial_hz[low]),
            "high_first_hz": float(self.first_partial_hz[high]),
            "low_inharmonicity_b": float(self.inharmonicity_b[low]),
            "high_inharmonicity_b": float(self.inharmonicity_b[high]),
        }

    def _width_shares(self, interval: Interval, low: int, high: int) -> Floats:
        b = self.inharmonicity_b
        at_high = partial_above_first_slope(interval.high_partial, inharmonicity_b=b[high]) * self.log_b_shares[high]
        at_low = partial_above_first_slope(interval.low_partial, inharmonicity_b=b[low]) * self.log_b_shares[low]
        return np.asarray(self.stretch_shares[high] - self.stretch_shares[low] + at_high - at_low)


def tuning_targets(
    curve: InharmonicityCurve,
    *,
    temperament: Temperament,
    leaning: Leaning,
    a4_hz: float,
    own_share: float = OWN_SHARE,
) -> TuningTargets:
    """Return the tuning of a piano by the criterion at the head of this module.

    Parameters
    ----------
    curve : InharmonicityCurve
        B of all keys, one after the other, 25 or more and A4 among them; from `inharmonicity_curve` or `exact_curve`.
    temperament : Temperament
        From `temperaments.TEMPERAMENTS`.
    leaning : Leaning
        From `tuning_leanings.LEANINGS`.
    a4_hz : float
        Where the first partial of A4 is to be, above 0.
    own_share : float
        Share of what an odd string's own partials ask for that it gets, 0 to 1.

    Returns
    -------
    TuningTargets
        Errors are those that B brings; that of a leaning is no error but a choice.

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] F. Rigaud, B. David and L. Daudet, "A parametric model of piano tuning", Proc. DAFx-11, Paris (2011): the
       octave type that runs over the compass; criterion and weights are our own.

    Examples
    --------
    >>> from strikeline.physics.inharmonicity_curve import exact_curve
    >>> from strikeline.physics.stretch import typical_inharmonicity_b
    >>> from strikeline.physics.temperaments import TEMPERAMENTS
    >>> from strikeline.physics.tuning_leanings import LEANINGS
    >>> keys = np.arange(1, 89)
    >>> made = tuning_targets(
    ...     exact_curve(keys, inharmonicity_b=typical_inharmonicity_b(keys)),
    ...     temperament=TEMPERAMENTS["equal"], leaning=LEANINGS["middle"], a4_hz=440.0,
    ... )
    >>> float(made.first_partial_hz[48]), float(made.f0_hz[48].round(3))
    (440.0, 439.842)
    """
    keys = curve.key
    if keys.ndim != 1 or keys.size < _FEWEST_KEYS or (np.diff(keys) != 1).any() or A4_KEY not in keys:
        expected = f"{_FEWEST_KEYS} or more keys one after the other, A4 among them"
        raise InputError.of("key", f"{keys.size} keys", expected)
    above_zero("a4_hz", a4_hz)
    if not 0.0 <= own_share <= 1.0:
        raise InputError.of("own_share", own_share, "0 to 1")
    a4 = int(np.searchsorted(keys, A4_KEY))
    smooth, own = (_system(keys, b, leaning) for b in (curve.smooth_b, curve.inharmonicity_b))
    bent = smooth.matrix.T @ (smooth.weight[:, None] * smooth.matrix)
    held = np.diag(bent)
    gain = _anchored_inverse(bent + _stiffness(held), a4) @ (smooth.matrix.T * smooth.weight)
    # Each string answers for its own B only: in row i, column k, what the end of interval i at key k asks for.
    to_own = (smooth.matrix * smooth.weight[:, None]) * (own_share / held)
    to_own[:, a4] = 0.0
    own_part = np.sum(to_own * (own.ends - smooth.ends), axis=0)
    stretch = gain @ smooth.wanted + own_part
    cents = stretch + temperament.offset_cents(keys)
    first_hz = equal_tempered_hz(keys, a4_hz=a4_hz) * ratio_from_cents(cents)
    b = curve.inharmonicity_b
    return TuningTargets(
        key=keys,
        a4_hz=float(a4_hz),
        stretch_cents=stretch,
        cents_from_equal=cents,
        f0_cents_from_equal=cents - 0.5 * CENTS_PER_NEPER * np.log1p(b),
        first_partial_hz=first_hz,
        f0_hz=first_hz / np.sqrt(1.0 + b),
        stretch_shares=(gain @ smooth.slope - np.diag(np.sum(to_own * smooth.slope, axis=0))) @ curve.smooth_log_shares
        + np.sum(to_own * own.slope, axis=0)[:, None] * curve.log_shares,
        curve=curve,
        own_part_cents=own_part,
        own_wish_cents=own.matrix.T @ (own.weight * (own.wanted - own.matrix @ stretch)) / held,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    """All intervals as straight lines in the stretch: ``matrix @ stretch`` is to be `wanted`, by `weight`."""

    matrix: Floats  # shape (i, k)
    weight: Floats  # shape (i,)
    ends: Floats  # shape (i, k): what each end adds to `wanted`, cents
    slope: Floats  # shape (i, k): how that moves with ln B

    @property
    def wanted(self) -> Floats:
        """Stretch between both ends at which the partials meet, cents, shape (i,)."""
        return np.asarray(self.ends.sum(axis=1))


def _system(keys: NDArray[np.int64], b: Floats, leaning: Leaning) -> _System:
    matrices, ends, weights, slopes = list[Floats](), list[Floats](), list[Floats](), list[Floats]()
    for interval in leaning.intervals:
        n = keys.size - interval.semitones
        if n <= 0:
            continue
        low, high, row = np.arange(n), np.arange(n) + interval.semitones, np.arange(n)
        matrix, end, slope = np.zeros((n, keys.size)), np.zeros((n, keys.size)), np.zeros((n, keys.size))
        matrix[row, high], matrix[row, low] = 1.0, -1.0
        for column, partial, sign in ((low, interval.low_partial, 1.0), (high, interval.high_partial, -1.0)):
            end[row, column] = sign * partial_above_first_cents(partial, inharmonicity_b=b[column])
            slope[row, column] = sign * partial_above_first_slope(partial, inharmonicity_b=b[column])
        matrices.append(matrix)
        ends.append(end)
        weights.append(leaning.weight(interval, low_key=keys[low]))
        slopes.append(slope)
    return _System(np.vstack(matrices), np.concatenate(weights), np.vstack(ends), np.vstack(slopes))


def _stiffness(held: Floats) -> Floats:
    """Return the matrix of the second sum of the criterion, shape (k, k); `held` are the weights on each key."""
    bend = np.diff(np.eye(held.size), n=2, axis=0)
    strength = held[1:-1] * (SMOOTH_KEYS / (2.0 * np.pi)) ** 4
    return np.asarray(bend.T @ (strength[:, None] * bend))


def _anchored_inverse(matrix: Floats, anchor: int) -> Floats:
    """Return the inverse with the row and column of the anchored key at 0: that key does not move."""
    free = np.arange(matrix.shape[0]) != anchor
    inverse = np.zeros_like(matrix)
    pick = np.ix_(free, free)
    inverse[pick] = np.linalg.inv(matrix[pick])
    return inverse
