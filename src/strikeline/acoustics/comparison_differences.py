"""How each quantity of a note differs between two recordings, and what an unchanged note is expected to differ by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.brightness import semitones_per_db
from strikeline.acoustics.comparison_pairs import NotePair, is_moved
from strikeline.acoustics.comparison_quantities import ComparedQuantity
from strikeline.acoustics.comparison_transfer import Transfer
from strikeline.acoustics.listening import Note, Partial
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER

Real = NDArray[np.float64]

_STILL_SCATTER_DB: Final = 1.0
"""Scatter of single partials between two passes from the same place (generated pianos): used where there is no
transfer to measure it with."""
_SEMITONES_PER_NEPER: Final = 12.0 / float(np.log(2.0))
_NEPER_PER_DB: Final = float(np.log(10.0)) / 20.0
_BRIGHTNESS_REPEATS: Final = 0.42
"""√2 × 0.3 semitones, the repeatability of equal blows in `brightness`."""
_BLOW_DB: Final = 1.0
"""What is left of uneven blows where the level tells little of them, as decibels of level."""
_BLOW_DB_PER_OCTAVE: Final = 0.3
"""The same of the balance of the partials (generated pianos struck by an uneven hand)."""
_LEVEL_REPEATS_DB: Final = 1.7
"""√2 × 1.2 dB, how evenly a careful hand strikes (invented pianos; common practice, no source)."""
LAST_FREE_KEY: Final = 75
"""B6: above, a note is one partial and short, and where the microphone was moved a single dip of the room takes several
neighbours down together by 14 dB, and its ringing outlasts them (generated pianos); no scatter of the others foretells
that."""
_PITCH_KEYS: Final = (1.0, 64.0, 76.0, 88.0)
_PITCH_FLOOR_CENTS: Final = (0.3, 0.3, 0.6, 1.5)
"""Clocks of recorders are off by up to 0.01 %, 0.17 cents each (common practice, no source), and nobody hears less. At
the top a note is so short that what rings on in the room pulls it (generated pianos in several rooms)."""
_B_FLOOR: Final = 0.003
_B_OF_FEW: Final = 0.03
"""What B of a note with three partials repeats to in another room; it falls with the square of their number, as B is
told by the highest of them."""
_SUSTAIN_PER_DB: Final = 0.05
"""Scatter of ln sustain between two rooms over that of single partials, dB: generated pianos have 0.2 to 0.3 at 5 dB,
the same in bass and treble."""
_MOST_LOG_SE: Final = 0.2
"""Standard errors of a sustain allow for beats, which come back with the next blow; its differences scatter less."""
_WIDTH_FLOOR_CENTS: Final = 0.3
_USUAL_WIDTH_SD: Final = 0.3
"""Of ln width from partial to partial (middle of the notes of generated pianos)."""
_WIDTH_REPEATS: Final = 0.15
_WIDEST_PARTIALS: Final = 10
_FEWEST_WIDTHS: Final = 5
_LAST_WOUND_KEY: Final = 28
"""Below, stray modes of single strings outnumber those of unisons."""
_SMALLEST_SE: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Differences:
    """How one quantity differs, note by note; arrays of shape (m,), ascending keys."""

    quantity: ComparedQuantity
    keys: Real
    before: Real
    """As measured, in the quantity's own unit."""
    after: Real
    change: Real
    """After less before on the compared scale (natural logarithm if `is_log`), the common transfer removed."""
    se: Real
    """Standard error of measurement."""
    base: Real
    """Expected standard deviation of an unchanged note beyond `se`: blow, room, beats."""

    @property
    def sigma(self) -> Real:
        """Standard deviation that an unchanged note is expected to have."""
        return np.hypot(self.se, self.base)

    def where(self, keep: NDArray[np.bool_]) -> Differences:
        """Return some of the notes."""
        return replace(
            self,
            keys=self.keys[keep],
            before=self.before[keep],
            after=self.after[keep],
            change=self.change[keep],
            se=self.se[keep],
            base=self.base[keep],
        )

    def without(self, keys: Iterable[int]) -> Differences:
        """Return all notes but those of `keys`."""
        return self.where(~np.isin(self.keys, list(keys)))


def find_differences(
    pairs: Sequence[NotePair], quantity: ComparedQuantity, *, transfer: Transfer | None
) -> Differences:
    """Return how one quantity differs in the notes that have it in both recordings.

    Parameters
    ----------
    pairs : sequence of NotePair
        Ascending keys.
    quantity : ComparedQuantity
        Which.
    transfer : Transfer or None
        What is taken off levels and brightness; ``None`` within one recording.
    """
    difference = _DIFFERENCES[quantity.name]
    rows = [(pair.key, row) for pair in pairs if (row := difference(pair, transfer)) is not None]
    table = np.array([(key, *row) for key, row in rows], dtype=np.float64).reshape(len(rows), 6)
    return Differences(
        quantity=quantity,
        keys=table[:, 0],
        before=table[:, 1],
        after=table[:, 2],
        change=table[:, 3],
        se=np.maximum(table[:, 4], _SMALLEST_SE),
        base=table[:, 5],
    )


_Row = tuple[float, float, float, float, float]
"""Before, after, change, standard error of measurement, expected scatter beyond it."""


def _pitch(pair: NotePair, _transfer: Transfer | None) -> _Row | None:
    one, other = pair.before.pitch_cents, pair.after.pitch_cents
    if one is None or other is None:
        return None
    after = other.value + pair.after_is_higher_cents
    floor = float(np.interp(pair.key, _PITCH_KEYS, _PITCH_FLOOR_CENTS))
    return one.value, after, after - one.value, _hypot(one, other), floor


def _inharmonicity(pair: NotePair, _transfer: Transfer | None) -> _Row | None:
    """Return the change of ln(B·f0²), which no tuning moves.

    B = π³·E·d⁴ / (64·T·L²) and f0² = T / (4·L²·μ) (H. Fletcher 1964, as in `strikeline.physics.strings`): their product
    holds nothing but wire and length.
    """
    one, other = pair.before, pair.after
    b, other_b = one.inharmonicity_b, other.inharmonicity_b
    if b is None or other_b is None or one.f0_hz is None or other.f0_hz is None or min(b.value, other_b.value) <= 0.0:
        return None
    change = np.log(other_b.value / b.value) + 2.0 * np.log(other.f0_hz.value / one.f0_hz.value)
    se = np.hypot(b.se / b.value, other_b.se / other_b.value)
    of_few = _B_OF_FEW * (3.0 / max(3, pair.n.size)) ** 2
    return b.value, other_b.value, float(change), float(se), float(np.hypot(_B_FLOOR, of_few))


def _width(note: Note) -> tuple[float, float] | None:
    """Return the logarithm of how far apart the modes of the strong partials lie, cents, and its standard error.

    The spread of each partial is the root mean square about the mean frequency, weighted by energy; the median over the
    partials is taken, because a stray mode spreads one partial and a string out of tune all of them.
    """
    strong = sorted(note.partials, key=lambda partial: -partial.level_db.value)[:_WIDEST_PARTIALS]
    if len(strong) < _FEWEST_WIDTHS:
        return None
    widths = np.log(np.hypot(_WIDTH_FLOOR_CENTS, [_spread_cents(partial) for partial in strong]))
    middle = float(np.median(widths))
    # Few partials tell their scatter badly, so what is usual is added; the error of a median is √(π/2)·sd/√n.
    sd = float(np.hypot(_USUAL_WIDTH_SD, 1.4826 * np.median(np.abs(widths - middle))))
    return middle, 1.2533 * sd / float(np.sqrt(widths.size))


def _spread_cents(partial: Partial) -> float:
    f_hz = np.array([mode.f_hz.value for mode in partial.modes])
    if f_hz.size < 2:
        return 0.0
    energy = 10.0 ** (np.array([mode.level_db for mode in partial.modes]) / 10.0)
    mean = float(energy @ f_hz / energy.sum())
    return CENTS_PER_NEPER * float(np.sqrt(energy @ (f_hz - mean) ** 2 / energy.sum())) / mean


def _unison(pair: NotePair, _transfer: Transfer | None) -> _Row | None:
    one, other = _width(pair.before), _width(pair.after)
    if pair.key <= _LAST_WOUND_KEY or one is None or other is None:
        return None
    se = float(np.hypot(one[1], other[1]))
    return float(np.exp(one[0])), float(np.exp(other[0])), other[0] - one[0], se, _WIDTH_REPEATS


def _brightness(pair: NotePair, transfer: Transfer | None) -> _Row | None:
    one, other = pair.before.brightness, pair.after.brightness
    if one is None or other is None or pair.n.size < 2 or pair.is_clipped:
        return None
    amplitude = np.exp(_NEPER_PER_DB * pair.before_db)
    freed = np.exp(_NEPER_PER_DB * (pair.after_db - _common_db(pair, transfer)))
    centroid = float(pair.f_hz @ amplitude / amplitude.sum())
    change = _SEMITONES_PER_NEPER * float(np.log(pair.f_hz @ freed / freed.sum() / centroid))
    slopes = [_semitones_per_db(pair.f_hz, one_amplitude) for one_amplitude in (amplitude, freed)]
    from_room = _scatter_db(transfer) * max(float(np.sqrt(slope @ slope)) for slope in slopes)
    from_blow = _BLOW_DB * semitones_per_db(pair.key)
    se = float(np.sqrt((slopes[0] * pair.se_db) @ (slopes[0] * pair.se_db)))
    return one.value, other.value, change, se, float(np.sqrt(_BRIGHTNESS_REPEATS**2 + from_room**2 + from_blow**2))


def _semitones_per_db(f_hz: Real, amplitude: Real) -> Real:
    """Return by how much one decibel more of each partial moves the brightness."""
    centroid = float(f_hz @ amplitude / amplitude.sum())
    scaled = (f_hz - centroid) * amplitude / (centroid * amplitude.sum())
    return np.asarray(_SEMITONES_PER_NEPER * _NEPER_PER_DB * scaled)


def _balance(pair: NotePair, transfer: Transfer | None) -> _Row | None:
    """Return the change of the slope of the partials' levels over octaves."""
    if pair.n.size < 3 or pair.is_clipped:
        return None
    octaves = np.log2(pair.f_hz / pair.f_hz[0])
    variance = pair.se_db**2 + _scatter_db(transfer) ** 2
    about = (octaves - (octaves / variance).sum() / (1.0 / variance).sum()) / variance
    about = about / float(about @ octaves)
    before, after = float(about @ pair.before_db), float(about @ (pair.after_db - _common_db(pair, transfer)))
    se = float(np.sqrt((about * pair.se_db) @ (about * pair.se_db)))
    base = float(np.hypot(_BLOW_DB_PER_OCTAVE, _scatter_db(transfer) * np.sqrt(about @ about)))
    return before, float(about @ pair.after_db), after - before, se, base


def _level(pair: NotePair, transfer: Transfer | None) -> _Row | None:
    one, other = pair.before.level_db, pair.after.level_db
    if one is None or other is None or pair.is_clipped or _is_room_alone(pair, transfer):
        return None
    change, part = other.value - one.value, 0.0
    if pair.n.size:
        power = np.exp(2.0 * _NEPER_PER_DB * pair.after_db)
        freed = power * np.exp(-2.0 * _NEPER_PER_DB * _common_db(pair, transfer))
        change += 0.5 / _NEPER_PER_DB * float(np.log(freed.sum() / power.sum()))
        share = freed / freed.sum()
        part = _scatter_db(transfer) * float(np.sqrt(share @ share))
    return one.value, other.value, change, _hypot(one, other), float(np.hypot(_LEVEL_REPEATS_DB, part))


def _plain(
    field: str, still: float, *, is_log: bool, per_db: float = 0.0
) -> Callable[[NotePair, Transfer | None], _Row | None]:
    """Return the difference of one field of the note as it is; what a room does to it goes with the transfer."""

    def difference(pair: NotePair, transfer: Transfer | None) -> _Row | None:
        one, other = _value(pair.before, field), _value(pair.after, field)
        if per_db and _is_room_alone(pair, transfer):
            return None
        base = float(np.hypot(still, per_db * _scatter_db(transfer)))
        if one is None or other is None or (is_log and min(one.value, other.value) <= 0.0):
            return None
        if not is_log:
            return one.value, other.value, other.value - one.value, _hypot(one, other), base
        se = min(_MOST_LOG_SE, float(np.hypot(one.se / one.value, other.se / other.value)))
        return one.value, other.value, float(np.log(other.value / one.value)), se, base

    return difference


def _is_room_alone(pair: NotePair, transfer: Transfer | None) -> bool:
    """Return whether the room decides alone how loud and how long the note is heard."""
    return pair.key > LAST_FREE_KEY and is_moved(transfer)


def _value(note: Note, field: str) -> Measured | None:
    if field == "t60_s":
        return None if note.damping is None else note.damping.t60_s
    value: Measured | None = getattr(note, field)
    return value


def _hypot(one: Measured, other: Measured) -> float:
    return float(np.hypot(one.se, other.se))


def _common_db(pair: NotePair, transfer: Transfer | None) -> Real:
    return np.zeros(pair.n.size) if transfer is None else transfer.at(pair.f_hz)


def _scatter_db(transfer: Transfer | None) -> float:
    return _STILL_SCATTER_DB if transfer is None else transfer.scatter_db


_DIFFERENCES: Final[Mapping[str, Callable[[NotePair, Transfer | None], _Row | None]]] = {
    compared.PITCH.name: _pitch,
    compared.INHARMONICITY.name: _inharmonicity,
    compared.UNISON.name: _unison,
    compared.BRIGHTNESS.name: _brightness,
    compared.BALANCE.name: _balance,
    compared.LEVEL.name: _level,
    # Starting values of the scatter of unchanged notes: each pair of passes is judged by its own.
    compared.SUSTAIN.name: _plain("sustain_db_per_s", 0.05, is_log=True, per_db=_SUSTAIN_PER_DB),
    compared.SINGING.name: _plain("singing_s", 0.05, is_log=True, per_db=_SUSTAIN_PER_DB),
    compared.KNOCK.name: _plain("knock_db", 1.5, is_log=False, per_db=0.5),
    compared.DAMPING.name: _plain("t60_s", 0.15, is_log=True),
}
