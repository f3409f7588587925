"""Listenings nobody recorded: passes over an invented piano whose every partial is written down, quick to compare."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from strikeline.acoustics.brightness import estimate_brightness, level_out
from strikeline.acoustics.listening import Decay, Kind, Listening, Mode, Note, Partial, Recording
from strikeline.keyboard import Compass, equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.units import cents_from_ratio, ratio_from_cents

_SIDE_DB = 0.4
"""A blow one decibel louder tilts the partials by so much per octave."""


@dataclass(frozen=True, kw_only=True)
class InventedPiano:
    """What does not change from one pass to the next, unless somebody works on it."""

    seed: int = 1
    keys: range = range(21, 77)
    """F2 to C7, which is quicker to compare than a whole piano."""
    cents: Mapping[int, float] = field(default_factory=dict)
    """Moved from where the seed tuned it, by key."""
    all_cents: float = 0.0
    toned: Mapping[int, float] = field(default_factory=dict)
    """Upper partials, dB per octave, by key."""
    b_ratio: Mapping[int, float] = field(default_factory=dict)
    spread_cents: Mapping[int, float] = field(default_factory=dict)
    """Of the modes of every partial, 0.5 where not given."""


def play_pass(
    piano: InventedPiano,
    *,
    hand: int,
    place: int = 0,
    moved_db: float = 0.0,
    colour_db: Callable[[np.ndarray], np.ndarray] | None = None,
    gain_db: float = 0.0,
    louder_db: float = 0.0,
    a4_hz: float = 440.0,
    times: int = 1,
    warnings: Iterable[str] = (),
    compass: Compass | None = None,
    top_hz: float = 10_000.0,
) -> Listening:
    """Return a pass: `hand` scatters the blows, `place` the room (`moved_db` of it), `times` repeats each note."""
    tuning, room, player = (np.random.default_rng([piano.seed, *more]) for more in ((1,), (2, place), (3, hand)))
    tuned = {key: 2.0 * tuning.standard_normal() for key in range(1, 89)}
    stiff = {key: float(np.exp(0.03 * tuning.standard_normal())) for key in range(1, 89)}
    rooms = {key: moved_db * room.standard_normal(60) for key in range(1, 89)}
    notes = []
    for key in piano.keys:
        for _ in range(times):
            blow_db = louder_db + 1.5 * player.standard_normal()
            note = _note(piano, key, tuned[key], stiff[key], rooms[key], blow_db, player, a4_hz, top_hz)
            notes.append(_heard(note, colour_db, gain_db))
    recording = Recording(
        sha256=f"{abs(hash((piano.seed, hand, place))):064x}",
        sample_rate_hz=48_000,
        duration_s=2.0 * len(notes),
        kind=Kind.PASS,
        analyser="0.1.0",
        reference_a4_hz=a4_hz,
        warnings=tuple(warnings),
        compass=compass,
    )
    timed = tuple(replace(note, onset_s=2.0 * i, end_s=2.0 * i + 1.9) for i, note in enumerate(notes))
    return Listening(recording=recording, notes=level_out(timed))


def _note(
    piano: InventedPiano,
    key: int,
    tuned: float,
    stiff: float,
    room_db: np.ndarray,
    blow_db: float,
    player: np.random.Generator,
    a4_hz: float,
    top_hz: float,
) -> Note:
    b = float(typical_inharmonicity_b(key)) * stiff * piano.b_ratio.get(key, 1.0)
    first_hz = float(equal_tempered_hz(key, a4_hz=440.0)) * float(
        ratio_from_cents(tuned + piano.cents.get(key, 0.0) + piano.all_cents + 0.05 * player.standard_normal())
    )
    f0_hz = first_hz / float(np.sqrt(1.0 + b))
    b /= float(ratio_from_cents(2.0 * piano.all_cents))  # B·f0² stays
    n = np.arange(1.0, 41.0)
    f_hz = n * f0_hz * np.sqrt(1.0 + b * n**2)
    keep = (f_hz < top_hz) | (n == 1)
    n, f_hz = n[keep], f_hz[keep]
    slope = -6.0 + piano.toned.get(key, 0.0) + _SIDE_DB * blow_db
    level_db = -25.0 + blow_db + slope * np.log2(n) + room_db[: n.size] + 0.6 * player.standard_normal(n.size)
    spread_hz = f_hz * (float(ratio_from_cents(0.5 * piano.spread_cents.get(key, 0.5))) - 1.0)
    partials = tuple(
        _partial(int(n[i]), float(f_hz[i]), float(level_db[i]), float(spread_hz[i])) for i in range(n.size)
    )
    sustain = 6.0 * float(np.exp(key / 40.0 + 0.05 * player.standard_normal()))
    cents = float(cents_from_ratio(first_hz / float(equal_tempered_hz(key, a4_hz=a4_hz))))
    return Note(
        key=key,
        onset_s=0.0,
        end_s=0.0,
        f0_hz=Measured(f0_hz, 5e-5 * f0_hz),
        inharmonicity_b=Measured(b * float(np.exp(0.003 * player.standard_normal())), 0.006 * b)
        if n.size > 2
        else None,
        pitch_cents=Measured(cents, 0.1),
        cents_from_et=Measured(cents - 865.6 * b, 0.1),
        partials=partials,
        level_db=Measured(0.0, 0.1),
        sustain_db_per_s=Measured(sustain, 0.05 * sustain),
    )


def _partial(n: int, f_hz: float, level_db: float, spread_hz: float) -> Partial:
    modes = tuple(
        Mode(f_hz=Measured(f_hz + side * spread_hz, 0.01), decay_db_per_s=Measured(8.0, 0.5), level_db=level_db - 6.0)
        for side in (-1.0, 1.0)
    )
    return Partial(
        n=n,
        f_hz=Measured(f_hz, 0.01),
        level_db=Measured(level_db, 0.2),
        decay_db_per_s=Decay(early=Measured(8.0, 0.5), late=None),
        modes=modes,
        law_cents=0.0,
        in_law=True,
    )


def _heard(note: Note, colour_db: Callable[[np.ndarray], np.ndarray] | None, gain_db: float) -> Note:
    """Return the note through microphone and gain, with the level and brightness that follow."""
    assert note.key is not None
    f_hz = np.array([partial.f_hz.value for partial in note.partials])
    level_db = np.array([partial.level_db.value for partial in note.partials]) + gain_db
    if colour_db is not None:
        level_db = level_db + colour_db(f_hz)
    partials = tuple(
        replace(partial, level_db=Measured(float(level), partial.level_db.se))
        for partial, level in zip(note.partials, level_db, strict=True)
    )
    amplitude = 10.0 ** (level_db / 20.0)
    return replace(
        note,
        partials=partials,
        level_db=Measured(10.0 * float(np.log10(np.sum(amplitude**2))), 0.1),
        brightness=estimate_brightness(f_hz, amplitude, 0.02 * amplitude, key=note.key),
    )


def tilted(db_per_octave: float, *, bend_db: float = 0.0) -> Callable[[np.ndarray], np.ndarray]:
    """Return the colour of a microphone: a slope over octaves, and a bend."""

    def colour_db(f_hz: np.ndarray) -> np.ndarray:
        octaves = np.log2(f_hz / 1000.0)
        return np.asarray(db_per_octave * octaves - bend_db * (octaves / 3.0) ** 2)

    return colour_db
