"""Felt on steel: the force a hammer leaves on its strings, and what wear does to it.

Felt is a nonlinear spring, ``F = K·x^p``; the string answers as a wave impedance with reflections from both ends. The
motion of the hammer is followed step by step until it leaves the strings (after A. Chaigne & A. Askenfelt, J. Acoust.
Soc. Am. 95, 1631 (1994), from memory, reduced to one point: no stiffness and no losses during contact). What is kept is
the force pulse; its spectrum at the partials sets their levels and phases. Hysteresis of the felt is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.synthesis.scale import StringUnison

_STEP_S: Final = 4e-6
_LONGEST_CONTACT_S: Final = 8e-3
_REFERENCE_COMPRESSION_M: Final = 3e-4
_WEAR_STIFFNESS_DECADES: Final = 1.0  # invented: worn felt 10 times as stiff at 0.3 mm; no dose-response is published
_WEAR_EXPONENT: Final = 0.7  # Hall & Askenfelt 1988, as quoted by Rossing: p 1.5 to 2.8 unused, 2.2 to 3.5 used


@dataclass(frozen=True, slots=True, kw_only=True)
class Hammer:
    """One hammer head as its strings feel it."""

    mass_kg: float
    stiffness_n: float
    """Force at 0.3 mm compression of the sound, unworn felt."""
    exponent: float
    strike_ratio: float
    """Strike point over speaking length, from the near end; 0 to 0.5."""
    wear: float = 0.0
    """0 as new to 1 hard, cut through and bright."""
    softness: float = 0.0
    """0 untouched to 1 needled until dull."""
    share: tuple[float, ...] = (1.0, 1.0, 1.0)
    """Force on each string over the mean force: a face that is not level strikes unevenly."""
    lag_s: tuple[float, ...] = (0.0, 0.0, 0.0)
    """How much later than the first touch each string is met, by the same face: 0.1 mm at 2.5 m/s is 40 µs."""

    def __post_init__(self) -> None:
        if not (0.0 <= self.wear <= 1.0 and 0.0 <= self.softness <= 1.0):
            raise InputError.of("wear, softness", (self.wear, self.softness), "0 to 1")
        if not 0.0 < self.strike_ratio <= 0.5:
            raise InputError.of("strike_ratio", self.strike_ratio, "above 0 and up to 0.5")

    @property
    def worn_stiffness_n(self) -> float:
        """Force at 0.3 mm compression of the felt as it is."""
        return float(self.stiffness_n * 10.0 ** (_WEAR_STIFFNESS_DECADES * (self.wear - self.softness)))

    @property
    def worn_exponent(self) -> float:
        """Exponent of the felt as it is."""
        return self.exponent + _WEAR_EXPONENT * (self.wear - self.softness)


def typical_hammer(key: int, *, wear: float = 0.0, share: tuple[float, ...] = (1.0, 1.0, 1.0)) -> Hammer:
    """Return a hammer of usual mass, felt and strike point for a key.

    Mass, K and p are the fits of Chabassier & Duruflé (2012), INRIA RT-0425, as read in a secondary survey: ``M =
    0.0112 - 6.2348e-5·i`` kg, ``p = 2.4295e-4·i² - 0.007703·i + 2.337``, ``K = 10^(0.053097·i + 7.6425)`` N/m^p with i
    the key number. Above key 40 the mass is tapered to 0.3 and K raised to twelvefold at key 88, towards the 2.2 g and
    1e12 N/m^p that Chaigne & Askenfelt (1994, as reprinted by Saitis 2008) give for C7; contact with C7 then lasts
    about as long as they measured (1.26 periods, secondary survey). The strike point runs from just under 1/8 in the
    bass to 1/16 at the top (Conklin, secondary survey).

    Parameters
    ----------
    key : int
        Key number, 49 for A4.
    wear : float
        See `Hammer`.
    share : tuple of float
        See `Hammer`.
    """
    exponent = 2.4295e-4 * key**2 - 0.007703 * key + 2.337
    treble_share = min(1.0, max(0.0, (key - 40) / 48.0))
    stiffness = 10.0 ** (5.3097e-2 * key + 7.6425) * 12.0**treble_share
    return Hammer(
        mass_kg=(0.0112 - 6.2348e-5 * key) * (1.0 - 0.7 * treble_share),
        stiffness_n=float(stiffness * _REFERENCE_COMPRESSION_M**exponent),
        exponent=exponent,
        strike_ratio=0.122 - 0.06 * treble_share**1.5,
        wear=wear,
        share=share,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForcePulses:
    """Force of several blows on their strings, each from first touch on."""

    force_n: NDArray[np.float64]  # shape (steps, blows), all strings of a note together
    step_s: float
    contact_s: NDArray[np.float64]  # shape (blows,)

    def spectrum_n_s(self, blow: int, frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return ``∫ F(t)·e^(-iωt) dt`` of one blow at the frequencies, shape (k,); at 0 Hz the momentum given."""
        used = max(2, int(np.ceil(self.contact_s[blow] / self.step_s)) + 1)
        t = np.arange(used) * self.step_s
        kernel = np.exp(-2j * np.pi * np.outer(frequency_hz, t))
        return np.asarray(kernel @ self.force_n[:used, blow] * self.step_s)


def strike_strings(
    unisons: Sequence[StringUnison], hammers: Sequence[Hammer], *, speed_m_per_s: NDArray[np.float64]
) -> ForcePulses:
    """Return the force pulses of hammers thrown against resting strings.

    Parameters
    ----------
    unisons, hammers : sequence, length n
        What is struck, and with what.
    speed_m_per_s : ndarray of float, shape (n,)
        Hammer speed at first touch, above 0; about 1 (soft) to 5 m/s (loud) (Askenfelt & Jansson 1991, secondary
        survey).

    Returns
    -------
    ForcePulses
        One pulse per blow.

    Raises
    ------
    InputError
        If a speed is not above 0 or the lengths differ.
    """
    if not len(unisons) == len(hammers) == speed_m_per_s.size:
        raise InputError.of("hammers", len(hammers), "one per unison and speed")
    if not (speed_m_per_s > 0).all():
        raise InputError.of("speed_m_per_s", speed_m_per_s, "above 0 m/s")
    impedance = np.array([2.0 * u.impedance_kg_per_s * u.n_strings for u in unisons])
    period = np.array([1.0 / u.mean_f0_hz for u in unisons])
    ratio = np.array([h.strike_ratio for h in hammers])
    mass = np.array([h.mass_kg for h in hammers])
    stiffness = np.array([h.worn_stiffness_n for h in hammers])
    exponent = np.array([h.worn_exponent for h in hammers])

    n_steps = round(_LONGEST_CONTACT_S / _STEP_S)
    near, far = _DelayLine(n_steps, ratio * period), _DelayLine(n_steps, (1.0 - ratio) * period)
    force = np.zeros((n_steps, mass.size))
    hammer_speed, compression = speed_m_per_s.astype(np.float64), np.zeros(mass.size)
    leaves = np.full(mass.size, n_steps)
    for step in range(n_steps):
        push = stiffness * (np.maximum(compression, 0.0) / _REFERENCE_COMPRESSION_M) ** exponent
        push[leaves < n_steps] = 0.0
        force[step] = push
        from_near, from_far = -near.read(step), -far.read(step)
        outgoing = push / impedance
        near.write(step, from_far + outgoing)
        far.write(step, from_near + outgoing)
        hammer_speed = hammer_speed - push / mass * _STEP_S
        compression = compression + (hammer_speed - (from_near + from_far + outgoing)) * _STEP_S
        leaves[(leaves == n_steps) & (compression < 0.0)] = step + 1
        if (leaves < n_steps).all():
            break
    return ForcePulses(force_n=force, step_s=_STEP_S, contact_s=leaves * _STEP_S)


class _DelayLine:
    """Velocity waves on their way to a string's end and back, one column per blow, read between steps."""

    def __init__(self, n_steps: int, delay_s: NDArray[np.float64]) -> None:
        self._waves = np.zeros((n_steps + 1, delay_s.size))
        self._delay_steps = np.maximum(delay_s / _STEP_S, 1.0)
        self._columns = np.arange(delay_s.size)

    def read(self, step: int) -> NDArray[np.float64]:
        """Return the waves written one delay ago, 0 before any could return."""
        position = step - self._delay_steps
        below = np.floor(position).astype(int)
        share = position - below
        row = np.maximum(below, -1)  # row -1 is the last one, never written: still zero
        earlier, later = self._waves[row, self._columns], self._waves[row + 1, self._columns]
        return np.where(position > -1.0, (1.0 - share) * earlier + share * later, 0.0)

    def write(self, step: int, wave: NDArray[np.float64]) -> None:
        """Send waves out."""
        self._waves[step] = wave
