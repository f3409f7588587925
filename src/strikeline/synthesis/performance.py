"""A recorded pass as data: which keys go down when, how hard and for how long, and what else is heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from strikeline.errors import InputError
from strikeline.keyboard import Compass, is_white

_GAP_S = 0.12
"""From one key's release to the next blow."""


class DisturbanceKind(StrEnum):
    """Sounds that are no notes."""

    DOOR = "door"
    """A door falls shut."""
    TALK = "talk"
    """Speech-like babble; no words."""
    KEY_DROP = "key drop"
    """A wooden knock: something falls on the keyslip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyBlow:
    """One key pressed and let go."""

    key: int
    at_s: float
    """When the hammer touches the strings."""
    speed_m_per_s: float
    """Hammer speed at that moment; 1 soft to 5 loud."""
    hold_s: float
    """How long the key stays down after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """One sound that is no note."""

    kind: DisturbanceKind
    at_s: float
    duration_s: float
    peak_db: float
    """Peak level, dB re full scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """Everything that happens in front of the microphone."""

    blows: tuple[KeyBlow, ...]
    disturbances: tuple[Disturbance, ...] = ()
    duration_s: float
    pedal_s: tuple[float, float] | None = None
    """When the sustain pedal is down: no damper lands, and all strings are free to ring along."""

    def with_pedal_down(self, *, from_s: float, to_s: float) -> Performance:
        """Return the same pass with the sustain pedal down for a time; keys let go meanwhile sound until its end."""
        blows = [
            replace(blow, hold_s=to_s - blow.at_s) if from_s < blow.at_s + blow.hold_s < to_s else blow
            for blow in self.blows
        ]
        return replace(self, blows=tuple(blows), pedal_s=(from_s, to_s))

    def frees_all(self, blow: KeyBlow) -> bool:
        """Return whether a blow falls while the pedal is down."""
        return self.pedal_s is not None and self.pedal_s[0] <= blow.at_s < self.pedal_s[1]

    def disturbed(self, *disturbances: Disturbance) -> Performance:
        """Return the same pass with more noises laid over it."""
        return replace(self, disturbances=(*self.disturbances, *disturbances))

    def interrupted(self, kind: DisturbanceKind, *, after_blow: int, duration_s: float, peak_db: float) -> Performance:
        """Return the same pass with a pause after one blow, filled with a noise.

        Parameters
        ----------
        kind : DisturbanceKind
            What is heard in the pause.
        after_blow : int
            Number of the blow before the pause, from 0.
        duration_s : float
            Length of the noise; the pause is a little longer.
        peak_db : float
            Peak level of the noise, dB re full scale.
        """
        if not 0 <= after_blow < len(self.blows):
            raise InputError.of("after_blow", after_blow, f"0 to {len(self.blows) - 1}")
        blow = self.blows[after_blow]
        start = blow.at_s + blow.hold_s + _GAP_S
        pause = duration_s + 2 * _GAP_S
        later = [replace(b, at_s=b.at_s + pause) for b in self.blows[after_blow + 1 :]]
        moved = [replace(d, at_s=d.at_s + pause) if d.at_s >= start else d for d in self.disturbances]
        noise = Disturbance(kind=kind, at_s=start, duration_s=duration_s, peak_db=peak_db)
        return Performance(
            blows=(*self.blows[: after_blow + 1], *later),
            disturbances=(*moved, noise),
            duration_s=self.duration_s + pause,
        )


def ascending(compass: Compass) -> tuple[int, ...]:
    """Return all keys from the lowest up.

    Examples
    --------
    >>> ascending(Compass(40, 43))
    (40, 41, 42, 43)
    """
    return tuple(compass)


def descending(compass: Compass) -> tuple[int, ...]:
    """Return all keys from the highest down."""
    return ascending(compass)[::-1]


def white_keys(compass: Compass) -> tuple[int, ...]:
    """Return the naturals from the lowest up.

    Examples
    --------
    >>> white_keys(Compass(40, 45))
    (40, 42, 44, 45)
    """
    return tuple(key for key in compass if is_white(key))


def every_note_twice(keys: Sequence[int]) -> tuple[int, ...]:
    """Return each key twice in a row.

    Examples
    --------
    >>> every_note_twice([1, 2])
    (1, 1, 2, 2)
    """
    return tuple(key for key in keys for _ in range(2))


def with_wrong_strike(keys: Sequence[int], *, at: int, wrong_key: int) -> tuple[int, ...]:
    """Return the keys with a wrong one struck before one of them, which is then played as meant.

    Parameters
    ----------
    keys : sequence of int
        Keys as meant.
    at : int
        Place of the key that is missed at first, from 0.
    wrong_key : int
        What is struck instead.

    Examples
    --------
    >>> with_wrong_strike([1, 2, 3], at=1, wrong_key=4)
    (1, 4, 2, 3)
    """
    if not 0 <= at < len(keys):
        raise InputError.of("at", at, f"0 to {len(keys) - 1}")
    return (*keys[:at], wrong_key, *keys[at:])


def without(keys: Sequence[int], left_out: Sequence[int]) -> tuple[int, ...]:
    """Return the keys except some.

    Examples
    --------
    >>> without([1, 2, 3], [2])
    (1, 3)
    """
    return tuple(key for key in keys if key not in left_out)


def usual_length_s(key: int) -> float:
    """Return how long a patient player lets a note sound: 3.4 s in the bass to 2.2 s at the top."""
    return float(np.interp(key, [1, 40, 88], [3.4, 3.0, 2.2]))


def play(
    keys: Sequence[int],
    *,
    speed_m_per_s: float,
    seed: int,
    finger_scatter_db: float = 1.2,
    length_ratio: float = 1.0,
    overlap_s: float = -_GAP_S,
    lead_in_s: float = 1.0,
) -> Performance:
    """Return a pass over `keys` played by hand.

    Parameters
    ----------
    keys : sequence of int
        Keys in the order they are struck.
    speed_m_per_s : float
        Mean hammer speed, above 0.
    seed : int
        Chance: strength and timing of each blow.
    finger_scatter_db : float
        Standard deviation of the strength, dB of hammer speed.
    length_ratio : float
        Length of the notes over `usual_length_s`.
    overlap_s : float
        How long a key stays down into the next note; negative for a gap.
    lead_in_s : float
        Silence before the first and after the last note.

    Returns
    -------
    Performance
        The blows; no disturbances.

    Raises
    ------
    InputError
        If there are no keys or a figure leaves its range.
    """
    if not keys:
        raise InputError.of("keys", keys, "one key or more")
    if not (speed_m_per_s > 0 and length_ratio > 0):
        raise InputError.of("speed_m_per_s, length_ratio", (speed_m_per_s, length_ratio), "above 0")
    rng = np.random.default_rng(seed)
    blows, now = [], lead_in_s
    for key in keys:
        length = max(0.2, usual_length_s(key) * length_ratio * float(np.exp(0.06 * rng.standard_normal())))
        speed = speed_m_per_s * 10.0 ** (finger_scatter_db * float(rng.standard_normal()) / 20.0)
        hold = max(0.08, length + overlap_s)
        blows.append(KeyBlow(key=key, at_s=now, speed_m_per_s=speed, hold_s=hold))
        now += length
    return Performance(blows=tuple(blows), duration_s=now + lead_in_s)


def staccato(
    keys: Sequence[int],
    *,
    speed_m_per_s: float,
    seed: int,
    hold_s: float = 0.18,
    rest_s: float = 1.2,
    finger_scatter_db: float = 1.2,
    hold_scatter_ratio: float = 0.07,
    lead_in_s: float = 1.0,
) -> Performance:
    """Return short blows over `keys`, as one plays them to hear the dampers.

    Parameters
    ----------
    keys : sequence of int
        Keys in the order they are struck.
    speed_m_per_s : float
        Mean hammer speed, above 0.
    seed : int
        Chance: strength and timing of each blow.
    hold_s : float
        How long a key stays down, on average; 0.12 to 0.25 s is usual.
    rest_s : float
        From one key's release to the next blow, on average; 0.9 to 1.5 s is usual.
    finger_scatter_db : float
        Standard deviation of the strength, dB of hammer speed.
    hold_scatter_ratio : float
        Standard deviation of the time a key stays down, against its mean.
    lead_in_s : float
        Silence before the first and after the last note.

    Returns
    -------
    Performance
        The blows; no disturbances.

    Raises
    ------
    InputError
        If there are no keys or a figure leaves its range.
    """
    if not keys:
        raise InputError.of("keys", keys, "one key or more")
    if not (speed_m_per_s > 0 and hold_s > 0 and rest_s > 0):
        raise InputError.of("speed_m_per_s, hold_s, rest_s", (speed_m_per_s, hold_s, rest_s), "above 0")
    rng = np.random.default_rng(seed)
    blows, now = [], lead_in_s
    for key in keys:
        hold = hold_s * float(np.exp(hold_scatter_ratio * rng.standard_normal()))
        speed = speed_m_per_s * 10.0 ** (finger_scatter_db * float(rng.standard_normal()) / 20.0)
        blows.append(KeyBlow(key=key, at_s=now, speed_m_per_s=speed, hold_s=hold))
        now += hold + rest_s * float(np.exp(0.08 * rng.standard_normal()))
    return Performance(blows=tuple(blows), duration_s=now + lead_in_s)
