"""Which stiff strings could have made these peaks: candidates with f0, B and a log-likelihood ratio.

Each peak is compared with the nearest partial ``f_n = n·f0·√(1 + B·n²)`` of a candidate string. If the string made
the peak, the peak lies within its spread σ of f_n; if not, it lies anywhere between two partials, whose spacing is D.
With a share ε of foreign peaks the log-likelihood ratio of "this string" against "anything" is
``ln(ε + (1 - ε)·D·N(f - f_n; σ))`` per peak. The spacing D is what settles octaves without any rule of thumb: a string
an octave too low has its partials twice as dense and gains ln 2 less for every peak; a string an octave too high
leaves every other peak foreign and pays ln ε for it. Partials that ought to be heard and are not cost as well.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.newpeaks import NewPeaks
from strikeline.keyboard import A4_KEY, HIGHEST_KEY, LOWEST_KEY
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.units import CENTS_PER_NEPER

_FOREIGN_SHARE: Final = 0.06
_SLACK_CENTS: Final = 5.0
"""Real partials scatter about the law by 1 to 4 cents (Fletcher 1964, Table VI, as read in a secondary survey)."""
_TREBLE_SLACK_CENTS: Final = 5.0
"""The strings of one treble unison may lie that far apart and still be one note."""
_KNOCK_BELOW_HZ: Final = 450.0
_KNOCK_SHARE: Final = 0.8
"""The blow makes the soundboard and the keybed ring below about 450 Hz (own observation on two recorded grands); a
treble string is not to blame for such peaks."""
_FAINT_DB: Final = 26.0
"""A foreign peak costs less the fainter it is beside the candidate's own strongest partial, least from 23 dB down."""
_LN_B_SD: Final = 0.55
"""Spread of ln B between pianos about the typical curve."""
_FITTED_LN_B_SD: Final = 0.04
_SAME_SEMITONES: Final = 0.33
_NEPER_PER_CENT: Final = 1.0 / CENTS_PER_NEPER
_SQRT_TWO_PI: Final = float(np.sqrt(2.0 * np.pi))
_STEPS_PER_SEMITONE: Final = 14
_N_SEEDS: Final = 40
_N_KEPT: Final = 14
_GROWTH: Final = (5, 8, 12, 18, 27, 40, 60)
Floats = NDArray[np.floating]
_B_STARTS: Final = (0.4, 0.7, 1.0, 1.8)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StringCandidates:
    """Strings that could have made the peaks, best first. All arrays have shape (k,)."""

    position: NDArray[np.float64]
    """First partial as a fractional key number: 49.0 is A4 of equal temperament exactly."""
    f0_hz: NDArray[np.float64]
    inharmonicity_b: NDArray[np.float64]
    score: NDArray[np.float64]
    """Log-likelihood ratio against "no string", nats; above 0 speaks for the string."""
    n_matched: NDArray[np.float64]
    """Partials heard, each counted with its weight."""
    new_level_db: NDArray[np.float64]
    """Level of the partials that the blow brought, dB re full scale."""
    stiffness_nats: NDArray[np.float64]
    """How much better the stiff string explains the peaks than exact harmonics do. Voices are exactly harmonic."""


def find_candidates(peaks: NewPeaks, *, a4_hz: float) -> StringCandidates:
    """Return the strings between C0 and A8, a semitone beyond at either end, that explain the peaks best.

    Parameters
    ----------
    peaks : NewPeaks
        The peaks of the new sound; none gives no candidates.
    a4_hz : float
        Frequency of A4, above 0.
    """
    if peaks.f_hz.size == 0:
        none = np.zeros(0)
        return StringCandidates(
            position=none,
            f0_hz=none,
            inharmonicity_b=none,
            score=none,
            n_matched=none,
            new_level_db=none,
            stiffness_nats=none,
        )
    grid = np.arange(LOWEST_KEY - 1.5, HIGHEST_KEY + 1.0, 1.0 / _STEPS_PER_SEMITONE)
    typical_b = typical_inharmonicity_b(grid)
    first_hz = a4_hz * np.exp2((grid - A4_KEY) / 12.0)
    f0_hz = first_hz / np.sqrt(1.0 + typical_b)
    single = np.float32  # the grid is long and only its tops are wanted: half the digits, half the time
    in_single = _in_single(peaks)
    coarse = _total(in_single, _log_ratio(in_single, f0_hz.astype(single), typical_b.astype(single), ln_b_sd=_LN_B_SD))
    padded = np.pad(coarse, 1, constant_values=-np.inf)
    is_top = (coarse > padded[:-2]) & (coarse >= padded[2:])
    tops = np.flatnonzero(is_top)
    seeds = tops[np.argsort(-coarse[tops])[:_N_SEEDS]]
    starts_f0 = np.repeat(f0_hz[seeds], len(_B_STARTS))
    starts_b = (typical_b[seeds, None] * np.array(_B_STARTS)).ravel()
    fitted_f0, fitted_b = _grow(peaks, starts_f0, starts_b, np.repeat(typical_b[seeds], len(_B_STARTS)))
    return _select(peaks, fitted_f0, fitted_b, a4_hz=a4_hz)


def _in_single(peaks: NewPeaks) -> NewPeaks:
    names = ("f_hz", "f_sd_hz", "level_db", "weight", "new_power")
    return replace(peaks, **{name: getattr(peaks, name).astype(np.float32) for name in names})


def _nearest_number(f_hz: Floats, f0_hz: Floats, b: Floats) -> Floats:
    """Nearest partial number of every peak (columns) for every string (rows)."""
    number = np.square(f_hz / f0_hz[:, None])
    root = (4.0 * b)[:, None] * number
    root += 1.0
    np.sqrt(root, out=root)
    root += 1.0
    number *= 2.0
    number /= root  # no difference of like numbers
    np.sqrt(number, out=number)
    return np.maximum(np.rint(number, out=number), 1.0, out=number)


def _nearest_partial(f_hz: Floats, f0_hz: Floats, b: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Nearest partial number of every peak (columns) for every string (rows), B·n², its frequency and the spacing."""
    n, f0_column = _nearest_number(f_hz, f0_hz, b), f0_hz[:, None]
    stiffness = np.square(n)
    stiffness *= b[:, None]
    stiffening = np.sqrt(1.0 + stiffness)
    partial_hz = n * f0_column
    partial_hz *= stiffening
    spacing_hz = 2.0 * stiffness
    spacing_hz += 1.0
    spacing_hz *= f0_column
    spacing_hz /= stiffening
    return n, stiffness, partial_hz, spacing_hz


def _log_ratio(peaks: NewPeaks, f0_hz: Floats, b: Floats, *, ln_b_sd: float) -> Floats:
    """Log-likelihood ratio of each peak (columns) for each string (rows), B known to within `ln_b_sd`."""
    _, stiffness, partial_hz, spacing_hz = _nearest_partial(peaks.f_hz, f0_hz, b)
    slack = (_SLACK_CENTS + _TREBLE_SLACK_CENTS * np.clip(f0_hz / 2000.0, 0.0, 1.0)[:, None]) * _NEPER_PER_CENT
    drift = stiffness / (1.0 + stiffness)
    drift *= 0.5 * ln_b_sd
    variance = np.square(drift, out=drift)
    variance += np.square(slack)
    variance *= np.square(partial_hz)
    variance += np.square(peaks.f_sd_hz)
    z_squared = np.square(np.subtract(peaks.f_hz, partial_hz, out=partial_hz), out=partial_hz)
    z_squared /= variance
    z_squared *= -0.5
    density = np.exp(z_squared, out=z_squared)
    density *= spacing_hz
    density /= np.sqrt(variance, out=variance)
    is_knock = peaks.f_hz < np.minimum(_KNOCK_BELOW_HZ, 0.7 * f0_hz[:, None])
    foreign = np.where(is_knock, f0_hz.dtype.type(_KNOCK_SHARE), f0_hz.dtype.type(_FOREIGN_SHARE))
    density *= (1.0 - foreign) / _SQRT_TWO_PI
    density += foreign
    return np.log(density, out=density)


def _total(peaks: NewPeaks, log_ratio: Floats) -> Floats:
    """Log-likelihood ratio of each string, faint peaks that speak against it counting less."""
    own_db = np.where(log_ratio > 0.0, peaks.level_db, -200.0).max(axis=1, keepdims=True)
    discount = np.clip((peaks.level_db + (_FAINT_DB - own_db)) / 20.0, 0.15, 1.0)
    return np.where(log_ratio < 0.0, log_ratio * discount, log_ratio) @ peaks.weight


_ASSIGN_CENTS: Final = 12.0
_START_SD_CENTS: Final = 25.0


def _grow(
    peaks: NewPeaks, f0_hz: NDArray[np.float64], b: NDArray[np.float64], typical_b: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit f0 and B of every start to the peaks, low partials first, then ever higher ones.

    ``(f_n/n)² = f0² + f0²·B·n²`` is linear in f0² and f0²·B; both carry a weak prior (the start, the typical B).
    """
    low_n = peaks.f_hz.min() / f0_hz  # where the lowest partials are not heard, growth begins above them
    f_squared, f_variance = np.square(peaks.f_hz), np.square(peaks.f_sd_hz)
    weight = peaks.weight / (4.0 * f_squared)
    for limit in _GROWTH:
        n = _nearest_number(peaks.f_hz, f0_hz, b)
        n2 = np.square(n)
        partial_hz = np.sqrt(1.0 + b[:, None] * n2)
        partial_hz *= n
        partial_hz *= f0_hz[:, None]
        variance = np.square(partial_hz)
        variance *= (_ASSIGN_CENTS * _NEPER_PER_CENT) ** 2
        variance += f_variance
        off = np.square(np.subtract(peaks.f_hz, partial_hz, out=partial_hz), out=partial_hz)
        off *= -0.125
        off /= variance
        trust = np.exp(off, out=off)
        trust *= n <= limit + low_n[:, None]
        # An error of f moves y = (f/n)² by 2f/n² of it, so that y weighs n⁴ times as much as f does.
        trust *= weight
        trust /= variance
        per_y_n2 = trust * n2
        per_y = per_y_n2 * n2
        a, ab = np.square(f0_hz), np.square(f0_hz) * typical_b
        prior_a = 1.0 / np.square(2.0 * a * _START_SD_CENTS * _NEPER_PER_CENT)
        prior_b = 1.0 / np.square(_LN_B_SD * ab)
        s00 = per_y.sum(axis=1) + prior_a
        s01 = np.einsum("sp,sp->s", per_y, n2)
        s11 = np.einsum("sp,sp->s", per_y, np.square(n2)) + prior_b
        t0 = per_y_n2 @ f_squared + prior_a * a
        t1 = per_y @ f_squared + prior_b * ab
        determinant = s00 * s11 - np.square(s01)
        fitted_a = (s11 * t0 - s01 * t1) / determinant
        fitted_ab = (s00 * t1 - s01 * t0) / determinant
        f0_hz = np.sqrt(np.maximum(fitted_a, 1.0))
        b = np.clip(fitted_ab / np.square(f0_hz), 0.2 * typical_b, 4.0 * typical_b)
    return f0_hz, b


_NO_STIFFNESS: Final = 1e-7
_MISSING_COST: Final = 0.7
_UNHEARD_BELOW_HZ: Final = 75.0
_N_PARTIALS: Final = 40


def _missing(peaks: NewPeaks, f0_hz: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many partials ought to be heard and are not, for every string.

    Partials are owed up to the one below which nine tenths of what matches lies. Below 75 Hz neither soundboards nor
    telephones radiate much (common practice, no source), so nothing is owed there.
    """
    n, _, partial_hz, spacing_hz = _nearest_partial(peaks.f_hz, f0_hz, b)
    reach = np.minimum(3.0 * np.hypot(peaks.f_sd_hz[None, :], partial_hz * 0.005), 0.25 * spacing_hz)
    is_near = np.abs(peaks.f_hz[None, :] - partial_hz) < reach
    heard = np.zeros((f0_hz.size, _N_PARTIALS + 1))
    rows, columns = np.nonzero(is_near & (n <= _N_PARTIALS))
    np.maximum.at(heard, (rows, n[rows, columns].astype(np.int64)), peaks.weight[columns])
    total = np.cumsum(heard, axis=1)
    number = np.arange(_N_PARTIALS + 1)
    is_owed = (total < 0.9 * total[:, -1:]) & (number[None, :] >= 1)
    is_owed &= number[None, :] * f0_hz[:, None] > _UNHEARD_BELOW_HZ
    return np.asarray((np.clip(0.5 - heard, 0.0, None) * 2.0 * is_owed).sum(axis=1))


def _select(peaks: NewPeaks, f0_hz: NDArray[np.float64], b: NDArray[np.float64], *, a4_hz: float) -> StringCandidates:
    """Score the fitted strings, drop doubles (within a third of a semitone), keep the best."""
    log_ratio = _log_ratio(peaks, f0_hz, b, ln_b_sd=_FITTED_LN_B_SD)
    score = _total(peaks, log_ratio)
    position = A4_KEY + 12.0 * np.log2(f0_hz * np.sqrt(1.0 + b) / a4_hz)
    odd_b = np.log(b / typical_inharmonicity_b(np.clip(position, LOWEST_KEY, HIGHEST_KEY))) / _LN_B_SD
    total = score - 0.5 * np.square(odd_b) - _MISSING_COST * _missing(peaks, f0_hz, b)
    kept = _apart(position.tolist(), np.argsort(-total).tolist())
    no_b = np.full(len(kept), _NO_STIFFNESS)
    harmonic_f0, harmonic_b = _grow(peaks, f0_hz[kept], no_b, no_b)
    harmonic = _total(peaks, _log_ratio(peaks, harmonic_f0, harmonic_b, ln_b_sd=_FITTED_LN_B_SD))
    is_own = log_ratio[kept] > 0.0
    return StringCandidates(
        position=position[kept],
        f0_hz=f0_hz[kept],
        inharmonicity_b=b[kept],
        score=total[kept],
        n_matched=is_own @ peaks.weight,
        new_level_db=10.0 * np.log10(is_own @ peaks.new_power + 1e-18),
        stiffness_nats=score[kept] - harmonic,
    )


def _apart(position: list[float], by_worth: list[int]) -> list[int]:
    """Return the first so many, by worth, that lie more than a third of a semitone from each other."""
    kept: list[int] = []
    for i in by_worth:
        if all(abs(position[i] - position[j]) > _SAME_SEMITONES for j in kept):
            kept.append(i)
            if len(kept) == _N_KEPT:
                break
    return kept
