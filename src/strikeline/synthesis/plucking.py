"""Strings plucked against the hammer, as data: which key is held up when, how its felt lies, what is plucked how.

The hammer is lifted to its strings by the slowly pressed key and held there; the damper is up meanwhile. Each string is
plucked by nail or plectrum, from left to right. Hands err: a pluck is forgotten, done again, done out of order, catches
two strings or one of the neighbour's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from strikeline.synthesis.instrument import SynthesisedPiano
from strikeline.synthesis.performance import Disturbance

_C4_HZ: Final = 261.6


class PluckKind(StrEnum):
    """How a pluck came about."""

    MEANT = "meant"
    REPEATED = "repeated"
    """The same string once more."""
    FOREIGN = "foreign"
    """A string of the neighbour, caught by mistake."""
    AT_ONCE = "at once"
    """Caught together with the string before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldHammer:
    """One key held down so that its hammer rests against its strings."""

    key: int
    from_s: float
    until_s: float
    touch_t60_s: tuple[float | None, ...]
    """For each string from the left: T60 that the felt would give partial 1, or ``None`` where it does not touch."""
    felt_stiffness_ratio: float
    """See `strikeline.synthesis.felt.Felt`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringPluck:
    """One string plucked."""

    key: int
    string: int
    """0 for the left one."""
    at_s: float
    force_n: float
    """Sideways pull at the moment of release; 0.5 soft to 5 strong."""
    point_ratio: float
    """Where, as a share of the speaking length."""
    release_s: float
    """Time in which the string leaves the nail: short for a plectrum, long for the ball of a finger."""
    angle_rad: float
    """Direction of the pull: 0 across the soundboard, π/2 along it."""
    click_db: float
    """Level of the nail's click against the string's tone, dB."""
    kind: PluckKind = PluckKind.MEANT


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckPerformance:
    """Everything that happens in front of the microphone."""

    holds: tuple[HeldHammer, ...]
    plucks: tuple[StringPluck, ...]
    missed: tuple[tuple[int, int], ...]
    """Key and string of what was forgotten."""
    disturbances: tuple[Disturbance, ...] = ()
    duration_s: float
    action_noise_db: float = -20.0
    """Level of key, damper and lifted hammer when a hold begins and ends, against a played blow's knock."""

    def disturbed(self, *disturbances: Disturbance, action_noise_db: float) -> PluckPerformance:
        """Return the same section with noises laid over it and a louder or softer action."""
        return replace(self, disturbances=(*self.disturbances, *disturbances), action_noise_db=action_noise_db)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """Who plucks: pace, strength, evenness, and how often what goes wrong (chance per pluck)."""

    pace_s: float
    """From pluck to pluck within a note."""
    change_s: float
    """From the last pluck of a note to the first of the next."""
    timing_scatter: float
    """Standard deviation of the logarithm of both."""
    force_n: float
    force_scatter_db: float
    release_s: float
    """Release at C4; thinner and tauter strings leave the nail sooner, as the root of the period (invented)."""
    click_db: float
    missed: float = 0.0
    repeated: float = 0.0
    foreign: float = 0.0
    at_once: float = 0.0
    swapped: float = 0.0


def pluck_section(
    piano: SynthesisedPiano,
    keys: Sequence[int],
    *,
    touch_t60_s: Mapping[tuple[int, int], float | None],
    hand: Hand,
    seed: int,
    lead_in_s: float = 1.0,
) -> PluckPerformance:
    """Return a section plucked by hand, note after note, each from left to right.

    Parameters
    ----------
    piano : SynthesisedPiano
        What is plucked: gives the number of strings.
    keys : sequence of int
        Notes in their order.
    touch_t60_s : mapping
        T60 for key and string that the felt touches; strings not named are open.
    hand : Hand
        Pace, strength and mistakes.
    seed : int
        Chance.
    lead_in_s : float
        Silence before the first and after the last pluck.

    Returns
    -------
    PluckPerformance
        No disturbances.
    """
    rng = np.random.default_rng(seed)
    now = lead_in_s
    holds: list[HeldHammer] = []
    plucks: list[StringPluck] = []
    missed: list[tuple[int, int]] = []
    for key in keys:
        n_strings = piano[key].unison.n_strings
        begin = max(now - float(rng.uniform(0.15, 0.3)), holds[-1].until_s + 0.02 if holds else 0.0)
        todo, forgotten = _mistakes(key, n_strings, hand, rng)
        missed += [(key, string) for string in forgotten]
        for at_key, string, kind in todo:
            if kind is PluckKind.AT_ONCE:
                at_s = plucks[-1].at_s + float(rng.uniform(0.0, 0.02))
            else:
                at_s = now
                now += hand.pace_s * float(np.exp(hand.timing_scatter * rng.standard_normal()))
            if at_key in piano.compass and string < piano[at_key].unison.n_strings:
                f0_hz = piano[at_key].unison.mean_f0_hz
                plucks.append(_pluck(at_key, string, at_s, kind, hand, f0_hz, rng))
        now += (hand.change_s - hand.pace_s) * float(np.exp(hand.timing_scatter * rng.standard_normal()))
        holds.append(
            HeldHammer(
                key=key,
                from_s=begin,
                until_s=max(now - float(rng.uniform(0.25, 0.4)), plucks[-1].at_s + 0.1 if plucks else begin),
                touch_t60_s=tuple(touch_t60_s.get((key, string)) for string in range(n_strings)),
                felt_stiffness_ratio=float(rng.uniform(0.05, 1.2)),
            )
        )
    return PluckPerformance(holds=tuple(holds), plucks=tuple(plucks), missed=tuple(missed), duration_s=now + lead_in_s)


def _mistakes(
    key: int, n_strings: int, hand: Hand, rng: np.random.Generator
) -> tuple[list[tuple[int, int, PluckKind]], list[int]]:
    """Return what is really plucked at one note, and what is forgotten."""
    order = list(range(n_strings))
    if n_strings > 1 and rng.uniform() < hand.swapped * n_strings:
        at = int(rng.integers(n_strings - 1))
        order[at], order[at + 1] = order[at + 1], order[at]
    done: list[tuple[int, int, PluckKind]] = []
    forgotten: list[int] = []
    for string in order:
        if rng.uniform() < hand.foreign:
            done.append((key + int(rng.choice([-1, 1])), int(rng.integers(0, 3)), PluckKind.FOREIGN))
        if rng.uniform() < hand.missed and n_strings > 1:
            forgotten.append(string)
            continue
        caught = bool(done) and done[-1][2] is PluckKind.MEANT and rng.uniform() < hand.at_once
        done.append((key, string, PluckKind.AT_ONCE if caught else PluckKind.MEANT))
        if rng.uniform() < hand.repeated:
            done.append((key, string, PluckKind.REPEATED))
    return done, forgotten


def _pluck(
    key: int, string: int, at_s: float, kind: PluckKind, hand: Hand, f0_hz: float, rng: np.random.Generator
) -> StringPluck:
    return StringPluck(
        key=key,
        string=string,
        at_s=at_s,
        force_n=hand.force_n * float(10.0 ** (hand.force_scatter_db * rng.standard_normal() / 20.0)),
        point_ratio=float(rng.uniform(0.06, 0.35)),
        release_s=hand.release_s * float(np.exp(0.3 * rng.standard_normal()) * np.sqrt(_C4_HZ / f0_hz)),
        angle_rad=float(rng.uniform(0.15, 1.4)),
        click_db=hand.click_db + 4.0 * float(rng.standard_normal()),
        kind=kind,
    )
