"""Tuning targets for the piano that was heard: where each note goes, what it will beat, and what the choice costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import hypot
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.beat_rates import (
    INTERVALS,
    TEMPERAMENT_INTERVALS,
    Interval,
    beat_rate_hz,
    interval_width_cents,
)
from strikeline.physics.inharmonicity_curve import InharmonicityCurve
from strikeline.physics.temperaments import Temperament, temperament_named
from strikeline.physics.tuning_leanings import LEANINGS, WEIGHT_KEYS, Leaning, leaning_named
from strikeline.physics.tuning_targets import TuningTargets, tuning_targets
from strikeline.plain_data import plain_data
from strikeline.units import CENTS_PER_NEPER
from strikeline.workshop.heard_piano import HeardPiano, heard_piano
from strikeline.workshop.pass_needed import check_is_pass, pass_warnings
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.string_sections import StringSections

SCHEMA: Final = "strikeline.tuning/1"
TEMPERAMENT_OCTAVE: Final = (33, 45)
"""F3 to F4, where many tuners set the temperament (common practice, no source)."""
_OCTAVES: Final = tuple(INTERVALS[f"octave {pair}"] for pair in ("2:1", "4:2", "6:3", "8:4"))
_SHOWN_WIDTHS: Final = (
    *_OCTAVES,
    INTERVALS["twelfth 3:1"],
    INTERVALS["double octave 4:1"],
    INTERVALS["triple octave 8:1"],
)
REGISTERS: Final = (("bass", 1, 27), ("middle", 28, 51), ("treble", 52, 97))
"""Names, and keys of the lower notes: A0-B2, C3-B4, C5 upward."""
_ODD_SCATTERS: Final = 4.0
"""Scatters from string to string beyond which a B is called odd: one note in 100 of Student's t with five degrees of
freedom, which the scatter is taken to be."""
HIGHEST_BEAT_HZ: Final = 15.0
"""Beats faster than this are heard as roughness, not counted (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteTarget:
    """One note and where it is to be."""

    note: str
    key: int
    section: str
    first_partial_hz: Measured
    """Where the first partial is to be, f0·√(1+B); its error is what B brings. Exact at A4."""
    f0_hz: Measured
    """The f0 of the stiff-string law that goes with it."""
    cents: Measured
    """The first partial against equal temperament at the same A4."""
    f0_cents: Measured
    """f0 against the same: lower by √(1+B)."""
    inharmonicity_b: Measured
    b_is_heard: bool
    """Whether the note's own B was heard; otherwise it is that of its section, and its error says so."""
    b_departure_pct: Measured | None
    """How far the string's B lies above the curve of its section; ``None`` where it was not heard."""
    b_is_odd: bool
    own_part_cents: float
    """The part of `cents` that the note has for its own odd B."""
    own_wish_cents: float
    """What its own octaves, twelfths and double octaves ask for beyond the target."""
    now_cents: Measured | None
    """First partial as heard, against equal temperament at the same A4."""
    move_cents: Measured | None
    """From now to the target: above 0 is sharper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalBeat:
    """One interval as it will beat when both notes are on target."""

    interval: str
    partials: str
    """Which partials meet, lower note first."""
    low: str
    high: str
    meet_at_hz: float
    """Where to listen for it."""
    beat_hz: Measured
    """Above 0 for wide, below for narrow."""
    width_cents: Measured
    """Above or below pure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterWidth:
    """How wide one kind of interval ends up in one register, by one leaning, on the average."""

    interval: str
    partials: str
    register: str
    n: int
    width_cents: float
    beat_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaningOutcome:
    """What one leaning makes of this piano."""

    leaning: str
    meaning: str
    is_chosen: bool
    lowest_cents: float
    """First partial of the lowest note against equal temperament."""
    highest_cents: float
    widths: tuple[RegisterWidth, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Targets for one piano."""

    a4_hz: float
    temperament: str
    temperament_title: str
    temperament_source: str
    leaning: str
    leaning_meaning: str
    weight_keys: tuple[str, ...]
    weights: Mapping[str, tuple[float, ...]]
    """The criterion: weight of each interval at the `weight_keys`."""
    compass: str
    break_after: str | None
    last_wound: str | None
    b_scatter_pct: float
    """How much B scatters from string to string about the curve of its section."""
    notes: tuple[NoteTarget, ...]
    temperament_beats: tuple[IntervalBeat, ...]
    octave_beats: tuple[IntervalBeat, ...]
    """Octaves, twelfths and double octaves of every note, where they beat slower than 15 a second."""
    trade_off: tuple[LeaningOutcome, ...]
    warnings: tuple[str, ...]
    cannot_tell: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain data in schema ``strikeline.tuning/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__slots__}}


def tune(
    listening: Listening,
    *,
    sections: StringSections,
    temperament: str,
    a4_hz: float,
    leaning: str,
) -> Tuning:
    """Return where each note of the piano that was heard is to be tuned.

    Parameters
    ----------
    listening : Listening
        A pass over the keyboard.
    sections : StringSections
        Where the strings change.
    temperament : str
        Name of a temperament in `temperaments.TEMPERAMENTS`.
    a4_hz : float
        Where A4 is to be, 380 to 480 Hz.
    leaning : str
        Name of a leaning in `tuning_leanings.LEANINGS`.

    Raises
    ------
    InputError
        If a name is not known, A4 leaves its range, the listening is no pass, or no note has a usable B.
    """
    check_a4_hz(a4_hz)
    check_is_pass(listening, name="listening")
    chosen_temperament, chosen = temperament_named(temperament), leaning_named(leaning)
    piano = heard_piano(listening, sections)
    all_targets = {name: _targets(piano, chosen_temperament, one, a4_hz) for name, one in LEANINGS.items()}
    targets = all_targets[chosen.name]
    notes = tuple(_note(piano, targets, int(key)) for key in targets.key)
    return Tuning(
        a4_hz=a4_hz,
        temperament=chosen_temperament.name,
        temperament_title=chosen_temperament.title,
        temperament_source=chosen_temperament.source,
        leaning=chosen.name,
        leaning_meaning=chosen.meaning,
        weight_keys=tuple(key_name(key) for key in WEIGHT_KEYS),
        weights=dict(chosen.weights),
        compass=str(piano.compass),
        break_after=None if sections.break_after is None else key_name(sections.break_after),
        last_wound=None if sections.last_wound_key is None else key_name(sections.last_wound_key),
        b_scatter_pct=100.0 * piano.curve.scatter,
        notes=notes,
        temperament_beats=_temperament_beats(targets),
        octave_beats=_octave_beats(targets),
        trade_off=tuple(_outcome(LEANINGS[name], one, chosen) for name, one in all_targets.items()),
        warnings=_warnings(piano, listening),
        cannot_tell=_cannot_tell(piano),
    )


def _targets(piano: HeardPiano, temperament: Temperament, leaning: Leaning, a4_hz: float) -> TuningTargets:
    try:
        return tuning_targets(piano.curve, temperament=temperament, leaning=leaning, a4_hz=a4_hz)
    except InputError as error:
        advice = "a stretch needs octaves to rest on"
        raise InputError(f"the compass {piano.compass} is too short: {error}; {advice}", name="compass") from error


def _note(piano: HeardPiano, targets: TuningTargets, key: int) -> NoteTarget:
    curve, place = targets.curve, targets.place(key)
    cents_se, f0_se = float(targets.stretch_se_cents[place]), float(targets.f0_se_cents[place])
    first_hz, f0_hz = float(targets.first_partial_hz[place]), float(targets.f0_hz[place])
    cents = Measured(float(targets.cents_from_equal[place]), cents_se)
    hz_per_cent = first_hz / CENTS_PER_NEPER
    b, relative = float(curve.inharmonicity_b[place]), float(curve.relative_se[place])
    now = piano.now_cents(key, a4_hz=targets.a4_hz)
    heard = bool(curve.is_measured[place])
    departure = float(curve.departure[place])
    return NoteTarget(
        note=key_name(key),
        key=key,
        section=piano.sections.name_of(key),
        first_partial_hz=Measured(first_hz, hz_per_cent * cents_se),
        f0_hz=Measured(f0_hz, hz_per_cent * f0_se),
        cents=cents,
        f0_cents=Measured(float(targets.f0_cents_from_equal[place]), f0_se),
        inharmonicity_b=Measured(b, b * relative),
        b_is_heard=heard,
        b_departure_pct=_departure(curve, place) if heard else None,
        b_is_odd=heard and abs(departure) > _ODD_SCATTERS * hypot(curve.scatter, relative),
        own_part_cents=float(targets.own_part_cents[place]),
        own_wish_cents=float(targets.own_wish_cents[place]),
        now_cents=now,
        move_cents=None if now is None else Measured(cents.value - now.value, hypot(cents.se, now.se)),
    )


def _departure(curve: InharmonicityCurve, place: int) -> Measured:
    """Return how far a string's B lies above the curve, in per cent."""
    ratio = float(np.exp(curve.departure[place]))
    tied = curve.log_shares[place] - curve.smooth_log_shares[place]
    return Measured(100.0 * (ratio - 1.0), 100.0 * ratio * float(np.sqrt(np.sum(tied**2))))


def _beat(targets: TuningTargets, interval: Interval, low_key: int) -> IntervalBeat:
    return IntervalBeat(
        interval=interval.name,
        partials=interval.partials,
        low=key_name(low_key),
        high=key_name(low_key + interval.semitones),
        meet_at_hz=targets.meeting_hz(interval, low_key=low_key),
        beat_hz=targets.beat_hz(interval, low_key=low_key),
        width_cents=targets.width_cents(interval, low_key=low_key),
    )


def _temperament_beats(targets: TuningTargets) -> tuple[IntervalBeat, ...]:
    low, high = TEMPERAMENT_OCTAVE
    return tuple(
        _beat(targets, interval, key)
        for key in range(low, high)
        for interval in TEMPERAMENT_INTERVALS
        if key + interval.semitones <= high and key >= targets.key[0] and high <= targets.key[-1]
    )


def _octave_beats(targets: TuningTargets) -> tuple[IntervalBeat, ...]:
    pairs = [
        (interval, int(key))
        for place, key in enumerate(targets.key)
        for interval in _SHOWN_WIDTHS
        if place + interval.semitones < targets.key.size
    ]
    slow = {
        interval.partials: np.abs(_all(beat_rate_hz, targets, interval)) <= HIGHEST_BEAT_HZ for interval, _ in pairs
    }
    return tuple(_beat(targets, one, key) for one, key in pairs if slow[one.partials][targets.place(key)])


def _all(
    of_pair: Callable[..., NDArray[np.float64]], targets: TuningTargets, interval: Interval
) -> NDArray[np.float64]:
    """Return width or beat of an interval on every lower note that has its upper one on the piano."""
    n, first, b = targets.key.size - interval.semitones, targets.first_partial_hz, targets.inharmonicity_b
    return of_pair(
        interval,
        low_first_hz=first[:n],
        high_first_hz=first[interval.semitones :],
        low_inharmonicity_b=b[:n],
        high_inharmonicity_b=b[interval.semitones :],
    )


def _outcome(leaning: Leaning, targets: TuningTargets, chosen: Leaning) -> LeaningOutcome:
    widths = []
    for interval in (one for one in _SHOWN_WIDTHS if one.semitones < targets.key.size):
        cents, beats = (_all(of_pair, targets, interval) for of_pair in (interval_width_cents, beat_rate_hz))
        low_key = targets.key[: cents.size]
        for register, first, last in REGISTERS:
            inside = (low_key >= first) & (low_key <= last)
            if inside.any():
                widths.append(
                    RegisterWidth(
                        interval=interval.name,
                        partials=interval.partials,
                        register=register,
                        n=int(inside.sum()),
                        width_cents=float(cents[inside].mean()),
                        beat_hz=float(beats[inside].mean()),
                    )
                )
    return LeaningOutcome(
        leaning=leaning.name,
        meaning=leaning.meaning,
        is_chosen=leaning is chosen,
        lowest_cents=float(targets.cents_from_equal[0]),
        highest_cents=float(targets.cents_from_equal[-1]),
        widths=tuple(widths),
    )


def _warnings(piano: HeardPiano, listening: Listening) -> tuple[str, ...]:
    found = list(pass_warnings(listening, name="listening"))
    n_heard, n_keys = int(piano.curve.is_measured.sum()), piano.curve.key.size
    if 2 * n_heard < n_keys:
        found.append(
            f"only {n_heard} of {n_keys} notes have a B of their own; the others follow from these and a typical piano"
        )
    if listening.recording.is_partial:
        found.append("the listening was broken off: notes may be missing")
    if piano.sections.break_after is None:
        found.append("the break was not found; say --break NOTE if you see where it is, B jumps there")
    return tuple(found)


def _cannot_tell(piano: HeardPiano) -> tuple[str, ...]:
    silent = [int(key) for key in piano.curve.key if piano.now_cents(int(key), a4_hz=440.0) is None]
    return tuple(f"{key_name(key)}: how far it is off now; its pitch was not heard" for key in silent)
