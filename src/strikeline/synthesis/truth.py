"""What is true of a rendered pass, exactly: typed data and the JSON form ``strikeline.truth/1``.

*Onset* is the first sample in which string and knock sound, at the piano: travel through air is not counted (the room's
direct sound arrives in the same sample). *Levels* are those at the microphone without the room's reflections. Strings
are given as each would sound alone on a rigid bridge (`f0_hz`, `inharmonicity_b`); `modes` are what really sounds when
they share a bridge that gives way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from strikeline.keyboard import Compass, key_name

SCHEMA: Final = "strikeline.truth/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueMode:
    """One damped sinusoid."""

    f_hz: float
    decay_db_per_s: float
    level_db: float
    """At the onset, extrapolated to it; a sine of amplitude 1 is 0 dB."""
    phase_rad: float
    """Of the cosine, at the onset."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueString:
    """One string that sounds, as it is by itself on a rigid bridge."""

    place: int
    """From the left, 0 for the first."""
    f0_hz: float
    inharmonicity_b: float
    share: float
    """Force of the blow on it over the mean."""
    lag_s: float
    """How much later than the first touch the hammer met it."""
    false_beat_hz: float | None
    """What its loose pin alone would split partial 1 by; ``None`` where the pin is sound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TruePartial:
    """One partial."""

    n: int
    law_hz: float
    """From the stiff-string law with the strings' mean f0."""
    modes: tuple[TrueMode, ...]
    """Loudest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueDampedPartial:
    """One partial after its damper has landed."""

    n: int
    f_hz: float
    """Of its slowest part."""
    level_db: float
    """Just before the landing."""
    t60_s: float
    """Time in which its slowest part falls by 60 dB; parts that start 20 dB below the partial or lower do not count."""
    fall_db_per_s: float
    """Fall of all its parts together, while the slowest of them falls by 20 dB."""
    leaks: bool
    """Whether `t60_s` is at least three times what a sound damper of this key takes for partial 1
    (`strikeline.synthesis.damper.usual_damper_t60_s`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueDamping:
    """One note under its damper."""

    lands_s: float
    """After the onset: when the felt is half pressed on."""
    partials: tuple[TrueDampedPartial, ...]
    """Partials within 60 dB of the loudest at the landing."""
    after_ring_hz: tuple[float, ...]
    """Tones of other strings that the blow set going."""

    @property
    def leaking_partials(self) -> tuple[int, ...]:
        """Numbers of the partials that leak."""
        return tuple(partial.n for partial in self.partials if partial.leaks)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueStrike:
    """One blow that made strings sound."""

    onset_s: float
    release_s: float
    key: int
    strings: tuple[TrueString, ...]
    """Those that sound, from left to right; muted ones are left out."""
    f0_hz: float
    """Mean of the strings."""
    inharmonicity_b: float
    cents_from_et: float
    """Mean f0 against equal temperament."""
    is_wound: bool
    speed_m_per_s: float
    hammer_wear: float
    contact_s: float
    level_db: float
    """Root mean square up to half a second or the release, times √2: a sine of amplitude 1 is 0 dB."""
    partials: tuple[TruePartial, ...]
    """Partials within 80 dB of the loudest."""
    damping: TrueDamping | None = None
    """``None`` where no `Damper` lands: the key has none, or only a plain ``damper_t60_s``."""

    @property
    def string_f0_hz(self) -> tuple[float, ...]:
        """Return f0 of each string that sounds, from left to right."""
        return tuple(string.f0_hz for string in self.strings)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueEvent:
    """A sound that is no note: a disturbance, or the knock of a dead key."""

    kind: str
    start_s: float
    end_s: float
    key: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PassTruth:
    """All that is known of a rendered pass."""

    description: str
    sample_rate_hz: int
    duration_s: float
    a4_hz: float
    compass: Compass
    pitch_level_cents: float
    missing_keys: tuple[int, ...]
    dead_keys: tuple[int, ...]
    weak_keys: tuple[int, ...]
    noise_db: float
    reverberation_s: float
    strikes: tuple[TrueStrike, ...]
    events: tuple[TrueEvent, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the truth as plain data for JSON, schema ``strikeline.truth/1``."""
        return {
            "schema": SCHEMA,
            "recording": {
                "description": self.description,
                "sample_rate_hz": self.sample_rate_hz,
                "duration_s": self.duration_s,
                "reference_a4_hz": self.a4_hz,
                "noise_db": self.noise_db,
                "reverberation_s": self.reverberation_s,
            },
            "piano": {
                "compass": str(self.compass),
                "pitch_level_cents": self.pitch_level_cents,
                "missing_keys": [key_name(key) for key in self.missing_keys],
                "dead_keys": [key_name(key) for key in self.dead_keys],
                "weak_keys": [key_name(key) for key in self.weak_keys],
            },
            "notes": [_strike_dict(strike) for strike in self.strikes],
            "events": [
                {
                    "kind": event.kind,
                    "start_s": event.start_s,
                    "end_s": event.end_s,
                    "note": None if event.key is None else key_name(event.key),
                }
                for event in self.events
            ],
        }


def _strike_dict(strike: TrueStrike) -> dict[str, Any]:
    """Return one strike as plain data."""
    return {
        "note": key_name(strike.key),
        "key": strike.key,
        "onset_s": strike.onset_s,
        "end_s": strike.release_s,
        "f0_hz": strike.f0_hz,
        "inharmonicity_b": strike.inharmonicity_b,
        "cents_from_et": strike.cents_from_et,
        "strings": [
            {
                "place": string.place,
                "f0_hz": string.f0_hz,
                "inharmonicity_b": string.inharmonicity_b,
                "share": string.share,
                "lag_s": string.lag_s,
                "false_beat_hz": string.false_beat_hz,
            }
            for string in strike.strings
        ],
        "is_wound": strike.is_wound,
        "hammer": {
            "speed_m_per_s": strike.speed_m_per_s,
            "wear": strike.hammer_wear,
            "contact_s": strike.contact_s,
        },
        "level_db": strike.level_db,
        "partials": [
            {
                "n": partial.n,
                "law_hz": partial.law_hz,
                "modes": [
                    {
                        "f_hz": mode.f_hz,
                        "decay_db_per_s": mode.decay_db_per_s,
                        "level_db": mode.level_db,
                        "phase_rad": mode.phase_rad,
                    }
                    for mode in partial.modes
                ],
            }
            for partial in strike.partials
        ],
        "damping": None if strike.damping is None else _damping_dict(strike.damping),
    }


def _damping_dict(damping: TrueDamping) -> dict[str, Any]:
    """Return one note under its damper as plain data."""
    return {
        "lands_s": damping.lands_s,
        "partials": [
            {
                "n": p.n,
                "f_hz": p.f_hz,
                "level_db": p.level_db,
                "t60_s": p.t60_s,
                "fall_db_per_s": p.fall_db_per_s,
                "leaks": p.leaks,
            }
            for p in damping.partials
        ],
        "after_ring_hz": list(damping.after_ring_hz),
    }
