"""Names for the strikes of a whole pass, found together.

One strike alone leaves doubts: a piano 100 cents flat sounds like one a key lower, a voice can have a pitch, the top
notes are half knock. Together they do not: the pitch level of an instrument changes slowly along the keyboard, people
walk over keyboards in few ways, and most instruments have one of few compasses. The prices (nats) are our own, judged
by the passes of the tests and benchmarks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.evidence import StrikeEvidence
from strikeline.acoustics.walks import KEYS, Gait, Walk, best_walk, usual_gaits
from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS, HIGHEST_KEY, LOWEST_KEY, SHORT_COMPASS, Compass, is_white, key_name
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

_LOWEST_LEVEL_CENTS: Final = -135.0
_HIGHEST_LEVEL_CENTS: Final = 85.0
_FLAT_CENTS_PER_NAT: Final = 25.0
_SHARP_CENTS_PER_NAT: Final = 15.0
"""Neglected pianos sink; few stand sharp (common practice, no source)."""
_MIDDLE_SD_CENTS: Final = 13.0
_END_SD_CENTS: Final = 28.0
_MOST_OFF_NATS: Final = 9.0
"""A single note may be far out of tune; it then costs this much, not more."""
_NEIGHBOURS: Final = 3
_FAINT_DB: Final = 6.0
_NATS_PER_FAINT_DB: Final = 0.25
_MOST_FAINT_NATS: Final = 4.0
_CONTRADICTED_NATS: Final = 4.0
_ENOUGH_SOUNDS: Final = 10
_FEW_NOTES_SHARE: Final = 0.25
_SURE_NATS: Final = 8.0
_HASTY_SHARE: Final = 0.4
_MOST_HASTY_NATS: Final = 5.0
_NEAR_CENTS: Final = 150.0
_COMPASS_NATS: Final = 8.0
_END_NATS: Final = 3.0
_LONG_SPAN: Final = 55
"""Keys: a run this long is taken to be the whole keyboard (the smallest pianos have about 60; no source)."""
_CLOSE_CALL_NATS: Final = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Naming:
    """Names for all strikes of a pass. Tuples run over the strikes."""

    keys: tuple[int | None, ...]
    """Key numbers; ``None`` is not a note (talk, door, knock, dead key)."""
    f0_hz: tuple[float | None, ...]
    """Starting value of f0 for the measurement."""
    continues: tuple[bool, ...]
    """Whether the strike brought so little new sound that it is only the strike before it going on."""
    notices: tuple[tuple[str, ...], ...]
    compass: Compass | None
    """As given, or found; ``None`` when the pass does not reach the ends of the keyboard."""
    missing_keys: tuple[int, ...]
    """Keys inside the compass that should have come and did not sound."""
    pitch_level_cents: Measured | None
    """How far the whole instrument stands above A4 as given, the natural stretch allowed for."""
    warnings: tuple[str, ...]


def name_strikes(
    evidence: Sequence[StrikeEvidence], *, compass: Compass | None, a4_hz: float, key: int | None = None
) -> Naming:
    """Name all strikes of a pass together.

    Parameters
    ----------
    evidence : sequence of StrikeEvidence
        One for each strike, in order of time.
    compass : Compass or None
        Keys that the instrument has, if known. A given compass settles which of two neighbouring keys a far-off pitch
        belongs to only if the pass reaches one of its ends.
    a4_hz : float
        The same as for `gather_evidence`, above 0.
    key : int or None
        The key that was struck, where the player says so (one note recorded by itself). Strikes then bear this name or
        none.

    Raises
    ------
    InputError
        If `a4_hz` or `key` is out of range.
    """
    if not a4_hz > 0:
        raise InputError.of("a4_hz", a4_hz, "above 0 Hz")
    if key is not None and not LOWEST_KEY <= key <= HIGHEST_KEY:
        raise InputError.of("key", key, f"{LOWEST_KEY} to {HIGHEST_KEY}")
    readings = _readings(evidence, compass=compass, key=key)
    sobered = _sobered(evidence, readings[0].walk.key)
    if sobered is not evidence:
        evidence, readings = sobered, _readings(sobered, compass=compass, key=key)
    best = readings[0]
    keys = best.walk.key
    found = compass if compass is not None else _found_compass(keys)
    chosen = [_chosen_candidate(strike, k, best.level_cents) for strike, k in zip(evidence, keys, strict=True)]
    f0_hz = tuple(
        None if index is None else float(strike.f0_hz[index]) for strike, index in zip(evidence, chosen, strict=True)
    )
    return Naming(
        keys=keys,
        f0_hz=f0_hz,
        continues=tuple(k is None and strike.new_share < 0.15 for strike, k in zip(evidence, keys, strict=True)),
        notices=_notices(evidence, keys, chosen),
        compass=found,
        missing_keys=_missing_keys(best, found),
        pitch_level_cents=_pitch_level(evidence, keys, chosen),
        warnings=_doubts(readings, compass=compass, key=key),
    )


def _sobered(evidence: Sequence[StrikeEvidence], keys: Sequence[int | None]) -> Sequence[StrikeEvidence]:
    """Return the evidence with the odds of a note that the recording itself shows.

    Where hardly any of many sounds is a note (somebody talks), the next one is none either, unless it says so clearly:
    with a share p of notes the log-odds fall by ln((1 - p)/p).
    """
    share = sum(key is not None for key in keys) / max(len(keys), 1)
    if len(keys) < _ENOUGH_SOUNDS or not 0.0 < share < _FEW_NOTES_SHARE:
        return evidence
    penalty = float(np.log((1.0 - share) / share))
    return [replace(strike, note_nats=strike.note_nats - penalty) for strike in evidence]


@dataclass(frozen=True, slots=True, eq=False)
class _Reading:
    """One way to read the pass: a pitch level and the best walk at that level."""

    level_cents: float
    walk: Walk
    total: float
    gaits: tuple[Gait, ...]


def _stretch_cents() -> NDArray[np.float64]:
    keys = KEYS.astype(np.float64)
    b = typical_inharmonicity_b(keys)
    a4_b = float(typical_inharmonicity_b(49.0))
    return np.asarray(natural_stretch(keys, inharmonicity_b=b, a4_inharmonicity_b=a4_b).first_partial_cents)


_STRETCH_CENTS: Final = np.clip(_stretch_cents(), -30.0, 60.0)


def _spread_cents() -> NDArray[np.float64]:
    """How far single notes stray from a smooth curve: little in the middle, more at the ends."""
    from_middle = np.clip((np.abs(KEYS - 46.0) - 26.0) / 18.0, 0.0, 1.0)
    return np.asarray(_MIDDLE_SD_CENTS + (_END_SD_CENTS - _MIDDLE_SD_CENTS) * from_middle)


_SPREAD_CENTS: Final = _spread_cents()


def _readings(evidence: Sequence[StrikeEvidence], *, compass: Compass | None, key: int | None) -> list[_Reading]:
    """All readings of the pass, best first: one for each pitch level that fits its fractional positions."""
    gaits = usual_gaits(extra_step=_usual_step(evidence))
    doubtful = _faint_nats(evidence) + _hasty_nats(evidence)
    readings = []
    for level in _levels(evidence):
        gain = np.zeros((len(evidence), KEYS.size))
        for i, strike in enumerate(evidence):
            gain[i] = _gain(strike, level) - doubtful[i]
        if compass is not None:
            gain[:, ~np.isin(KEYS, list(compass))] = -np.inf
        if key is not None:
            gain[:, ~np.isin(KEYS, [key])] = -np.inf
            gain -= _contradiction_nats(evidence, key, level)[:, None]
        walk = best_walk(gain, gaits)
        prior = -abs(level) / (_FLAT_CENTS_PER_NAT if level < 0 else _SHARP_CENTS_PER_NAT)
        readings.append(_Reading(level, walk, walk.gain + prior + _compass_nats(walk.key, compass), gaits))
    return sorted(readings, key=lambda reading: -reading.total)


def _faint_nats(evidence: Sequence[StrikeEvidence]) -> NDArray[np.float64]:
    """Price of sounding like a strike just before, only much softer: noises of the action during a note do."""
    price = np.zeros(len(evidence))
    for i, strike in enumerate(evidence):
        for earlier in evidence[max(0, i - _NEIGHBOURS) : i]:
            if strike.position.size and earlier.position.size and abs(strike.position[0] - earlier.position[0]) < 0.35:
                softer_db = earlier.new_level_db[0] - strike.new_level_db[0]
                price[i] = max(price[i], _NATS_PER_FAINT_DB * (softer_db - _FAINT_DB))
    return np.minimum(price, _MOST_FAINT_NATS)


def _hasty_nats(evidence: Sequence[StrikeEvidence]) -> NDArray[np.float64]:
    """Price of lasting much shorter than the notes of this pass: syllables do."""
    length_s = np.array([strike.end_s - strike.onset_s for strike in evidence])
    is_sure = np.array([strike.note_nats.size > 0 and strike.note_nats[0] > _SURE_NATS for strike in evidence], bool)
    if is_sure.sum() < 3:
        return np.zeros(len(evidence))
    share = length_s / float(np.median(length_s[is_sure]))
    return np.asarray(_MOST_HASTY_NATS * np.clip(1.0 - share / _HASTY_SHARE, 0.0, 1.0))


def _contradiction_nats(evidence: Sequence[StrikeEvidence], key: int, level_cents: float) -> NDArray[np.float64]:
    """Price of the player's own name where another key explains the sound far better."""
    price = np.zeros(len(evidence))
    for i, strike in enumerate(evidence):
        chosen = _chosen_candidate(strike, key, level_cents) if strike.position.size else None
        if chosen is not None and strike.note_nats.max() - strike.note_nats[chosen] > _CONTRADICTED_NATS:
            price[i] = np.inf
    return price


def _levels(evidence: Sequence[StrikeEvidence]) -> list[float]:
    """Pitch levels in cents that fit: the fractional part is in the positions, the whole semitones are open."""
    position = np.array([s.position[0] for s in evidence if s.position.size and s.note_nats[0] > 0.0])
    weight = np.array([s.note_nats[0] for s in evidence if s.position.size and s.note_nats[0] > 0.0])
    if position.size == 0:
        return [0.0]
    index = np.clip(np.round(position).astype(np.int64) - LOWEST_KEY, 0, KEYS.size - 1)
    weight = weight / np.square(_SPREAD_CENTS[index])
    turns = position - _STRETCH_CENTS[index] / 100.0
    base = float(np.angle(np.sum(weight * np.exp(2j * np.pi * turns))) / (2.0 * np.pi)) * 100.0
    levels = [base - 100.0, base, base + 100.0]
    return [level for level in levels if _LOWEST_LEVEL_CENTS <= level <= _HIGHEST_LEVEL_CENTS]


def _usual_step(evidence: Sequence[StrikeEvidence]) -> int:
    """Return the commonest move between the best candidates of neighbouring strikes."""
    position = [s.position[0] for s in evidence if s.position.size and s.note_nats[0] > 2.0]
    moves = np.round(np.diff(np.array(position))).astype(np.int64)
    moves = moves[(np.abs(moves) > 1) & (np.abs(moves) <= 12)]
    if moves.size < 3:
        return 0
    values, counts = np.unique(moves, return_counts=True)
    return int(values[np.argmax(counts)])


def _off_nats(position: NDArray[np.float64], level_cents: float) -> NDArray[np.float64]:
    """Price of each candidate (rows) being each key (columns) on an instrument at this level."""
    off_cents = 100.0 * (position[:, None] - KEYS[None, :]) - level_cents - _STRETCH_CENTS[None, :]
    price = 0.5 * np.square(off_cents / _SPREAD_CENTS[None, :])
    # Beyond three spreads the price grows slowly: single notes do go far out of tune.
    tail = 4.5 + (np.abs(off_cents) / _SPREAD_CENTS[None, :] - 3.0) * 0.9
    price = np.where(np.abs(off_cents) > 3.0 * _SPREAD_CENTS[None, :], np.minimum(tail, _MOST_OFF_NATS), price)
    return np.where(np.abs(off_cents) > _NEAR_CENTS, np.inf, price)


def _gain(strike: StrikeEvidence, level_cents: float) -> NDArray[np.float64]:
    """Log-odds of each key against "no note", on an instrument at this level."""
    if strike.position.size == 0:
        return np.full(KEYS.size, -np.inf)
    return np.asarray((strike.note_nats[:, None] - _off_nats(strike.position, level_cents)).max(axis=0))


def _chosen_candidate(strike: StrikeEvidence, key: int | None, level_cents: float) -> int | None:
    if key is None:
        return None
    column = key - LOWEST_KEY
    return int(np.argmax(strike.note_nats - _off_nats(strike.position, level_cents)[:, column]))


def _compass_nats(keys: Sequence[int | None], compass: Compass | None) -> float:
    """How well the ends of the pass fit a keyboard as they are built."""
    struck = [key for key in keys if key is not None]
    if len(struck) < 2:
        return 0.0
    low, high = min(struck), max(struck)
    if compass is not None:
        return _END_NATS * ((low == compass.lowest) + (high == compass.highest))
    if high - low < _LONG_SPAN:
        return 0.0
    if (low, high) in {(c.lowest, c.highest) for c in (FULL_COMPASS, SHORT_COMPASS)}:
        return _COMPASS_NATS
    usual_low = {FULL_COMPASS.lowest, 4, -3, -8}  # A0, C1, F0, C0
    usual_high = {FULL_COMPASS.highest, SHORT_COMPASS.highest, 81, 76}  # C8, A7, F7, C7
    return _END_NATS * ((low in usual_low) + (high in usual_high))


def _found_compass(keys: Sequence[int | None]) -> Compass | None:
    struck = [key for key in keys if key is not None]
    if not struck or max(struck) - min(struck) < _LONG_SPAN:
        return None
    return Compass(min(struck), max(struck))


def _missing_keys(reading: _Reading, compass: Compass | None) -> tuple[int, ...]:
    """Keys that a run by semitones (or over the white keys) should have struck."""
    struck = {key for key in reading.walk.key if key is not None}
    if compass is None or len(struck) < 2:
        return ()
    gait_in_force = [
        reading.gaits[g] for g, key in zip(reading.walk.gait, reading.walk.key, strict=True) if key is not None
    ]
    chromatic = sum(abs(gait.step) == 1 and not gait.whites_only for gait in gait_in_force)
    white = sum(gait.whites_only for gait in gait_in_force)
    if chromatic > 0.6 * len(gait_in_force):
        return tuple(key for key in compass if key not in struck)
    if white > 0.6 * len(gait_in_force):
        return tuple(key for key in compass if is_white(key) and key not in struck)
    return ()


def _pitch_level(
    evidence: Sequence[StrikeEvidence], keys: Sequence[int | None], chosen: Sequence[int | None]
) -> Measured | None:
    """Median of the deviations, weighted towards the middle; spread by their median absolute deviation."""
    off = np.array(
        [
            100.0 * (strike.position[index] - key) - _STRETCH_CENTS[key - LOWEST_KEY]
            for strike, key, index in zip(evidence, keys, chosen, strict=True)
            if key is not None and index is not None
        ]
    )
    if off.size == 0:
        return None
    level = float(np.median(off))
    spread = 1.4826 * float(np.median(np.abs(off - level))) if off.size > 4 else _MIDDLE_SD_CENTS
    # The median of n normal values has sqrt(pi/2) times the standard error of their mean.
    return Measured(level, float(np.sqrt(np.pi / 2.0)) * max(spread, 1.0) / float(np.sqrt(off.size)))


def _notices(
    evidence: Sequence[StrikeEvidence], keys: Sequence[int | None], chosen: Sequence[int | None]
) -> tuple[tuple[str, ...], ...]:
    seen: dict[int, int] = {}
    notices: list[tuple[str, ...]] = []
    for strike, key, index in zip(evidence, keys, chosen, strict=True):
        if key is None or index is None:
            notices.append(("not a note of the piano",))
            continue
        seen[key] = seen.get(key, 0) + 1
        said = []
        if seen[key] > 1:
            said.append(f"strike {seen[key]} of this key")
        if strike.note_nats[index] < 1.0:
            said.append("named mainly by its place in the run: its own sound says little")
        notices.append(tuple(said))
    return tuple(notices)


def _doubts(readings: Sequence[_Reading], *, compass: Compass | None, key: int | None) -> tuple[str, ...]:
    """Say in plain words where another reading is nearly as likely."""
    best = readings[0]
    struck = [k for k in best.walk.key if k is not None]
    if not struck or key is not None:
        return ()
    for other in readings[1:]:
        names = [k for k in other.walk.key if k is not None]
        if best.total - other.total < _CLOSE_CALL_NATS and names and other.walk.key != best.walk.key:
            side = "lower" if names[0] < struck[0] else "higher"
            remedy = (
                "give the note's name"
                if len(struck) == 1
                else "play to an end of the keyboard"
                if compass is not None
                else "give the compass and play to an end of the keyboard"
            )
            doubt = (
                f"the names may be one key {side}: the first note is {key_name(struck[0])} if the instrument stands "
                f"{_signed(best.level_cents)} cents from pitch, {key_name(names[0])} if it stands "
                f"{_signed(other.level_cents)} cents; {remedy} to settle it"
            )
            return (doubt,)
    return ()


def _signed(cents: float) -> str:
    """Return whole cents with their sign, the minus as on the sheet."""
    return f"{cents:+.0f}".replace("-", "−")
