"""Struck notes of one, two or three strings whose every string and mode is known, for trials of the unison.

The strings are those of an invented upright, on a soundboard of their own with each seed (or on a rigid bridge), struck
by a hammer evenly or not. The signal-to-noise ratio is that of `benchmarks.ideal_strings`: the power of the tone in the
first sample to the noise in each sample. *Kind* surroundings are white noise alone, with strings that obey one law;
*unkind* ones add a room, the knock of the blow, partials that stray from the law, and strings that differ in B.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import FULL_COMPASS, Compass
from strikeline.synthesis.hammer import Hammer, typical_hammer
from strikeline.synthesis.instrument import KeyState, SynthesisedPiano
from strikeline.synthesis.performance import KeyBlow, Performance
from strikeline.synthesis.polarisation import FalseBeat, Polarisation
from strikeline.synthesis.rendering import render_pass
from strikeline.synthesis.room import DRY, WORKSHOP, Room
from strikeline.synthesis.scale import UPRIGHT_1920S, StringUnison, lay_out_strings
from strikeline.synthesis.soundboard import Soundboard, build_soundboard
from strikeline.synthesis.truth import TrueStrike
from strikeline.units import A4_STANDARD_HZ, amplitude_from_db, ratio_from_cents

PRE_ROLL_S = 0.25
_SILENT_DB = -400.0
_LONGEST_PARTIALS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What else there is beside the strings of the law."""

    room: Room
    """Its noise does not count: that of the trial does."""
    knock_db: float
    plain_scatter_cents: float
    wound_scatter_cents: float
    """Standard deviation of the departures of the partials from the law, alike in all strings of a note."""
    own_scatter_ratio: float
    """Share of those departures that each string has for itself."""
    plain_b_scatter: float
    wound_b_scatter: float
    """Standard deviation of ln B between the strings of a note."""


KIND = Surroundings(
    room=DRY, knock_db=_SILENT_DB, plain_scatter_cents=0.0, wound_scatter_cents=0.0, own_scatter_ratio=0.0,
    plain_b_scatter=0.0, wound_b_scatter=0.0,
)  # fmt: skip
UNKIND = Surroundings(
    room=WORKSHOP, knock_db=0.0, plain_scatter_cents=0.99, wound_scatter_cents=3.81, own_scatter_ratio=0.03,
    plain_b_scatter=0.003, wound_b_scatter=0.02,
)  # fmt: skip
"""Scatter about the law: Fletcher 1964, Table VI, strings 54 and 23 (read in a secondary text). How far strings of one
note differ is invented: their wires come from one coil, wraps are wound one by one."""


class UnisonNote(NamedTuple):
    """A note and all that is true of it."""

    samples: NDArray[np.float32]
    truth: TrueStrike

    def strike(self, sample_rate_hz: float) -> Strike:
        """Return the note as the measuring core takes it."""
        return Strike(
            samples=self.samples,
            sample_rate_hz=sample_rate_hz,
            onset_sample=round(self.truth.onset_s * sample_rate_hz),
            start_s=0.0,
        )


def unison_note(
    seed: int,
    *,
    key: int,
    n_strings: int,
    spread_cents: float,
    coupled: bool,
    even: bool,
    polarised: bool,
    snr_db: float = 40.0,
    duration_s: float = 4.0,
    sample_rate_hz: int = 44_100,
    false_beat_hz: float = 0.0,
    only_string: int | None = None,
    surroundings: Surroundings = KIND,
) -> UnisonNote:
    """Return one note; the same arguments give the same samples.

    Parameters
    ----------
    seed : int
        Chance: soundboard, pitch (within 8 cents of equal temperament), order of the strings, hammer face, noise.
    key : int
        1 to 88.
    n_strings : int
        1 to 3, whatever the instrument has there.
    spread_cents : float
        Highest over lowest string; of three, the middle one lies anywhere in between.
    coupled : bool
        ``False`` for a rigid bridge.
    even : bool
        Whether the hammer meets all strings alike: else with 2 dB of scatter, and up to 0.1 mm late at 2.5 m/s.
    polarised : bool
        Whether the strings also swing sideways.
    snr_db : float
        Tone in the first sample over noise.
    duration_s : float
        Sound after the onset; `PRE_ROLL_S` of noise comes before it.
    sample_rate_hz : int
        8000 or more.
    false_beat_hz : float
        Split that the loose pin of one string makes in partial 1; 0 for none. Makes the note polarised.
    only_string : int or None
        Place of the one string that is not muted, 0 for the left one.
    surroundings : Surroundings
        `KIND` or `UNKIND`, or others.
    """
    state = unison_state(
        seed,
        key=key,
        n_strings=n_strings,
        spread_cents=spread_cents,
        even=even,
        polarised=polarised,
        false_beat_hz=false_beat_hz,
        surroundings=surroundings,
    )
    if only_string is not None:
        state = state.only_string(only_string)
    piano = piano_of(state, board=build_soundboard(seed), coupled=coupled, knock_db=surroundings.knock_db)
    blow = KeyBlow(key=key, at_s=PRE_ROLL_S, speed_m_per_s=2.5, hold_s=duration_s)
    rendered = render_pass(
        piano,
        Performance(blows=(blow,), duration_s=PRE_ROLL_S + duration_s),
        sample_rate_hz=sample_rate_hz,
        seed=seed,
        room=replace(surroundings.room, noise_db=_SILENT_DB),
    )
    truth = rendered.truth.strikes[0]
    noise_sd = np.sqrt(first_power(truth)) * float(amplitude_from_db(-snr_db))
    who = 0 if only_string is None else 1 + only_string
    noise = np.random.default_rng([seed, key, who]).standard_normal(rendered.samples.size)
    return UnisonNote(samples=(rendered.samples + noise_sd * noise).astype(np.float32), truth=truth)


def first_power(truth: TrueStrike) -> float:
    """Return the power of the tone at the onset: half the squared amplitude of each partial, all its modes together."""
    amplitudes = [
        sum(10.0 ** (mode.level_db / 20.0) * np.exp(1j * mode.phase_rad) for mode in partial.modes)
        for partial in truth.partials
    ]
    return float(np.sum(np.abs(amplitudes) ** 2) / 2.0)


def unison_state(
    seed: int,
    *,
    key: int,
    n_strings: int,
    spread_cents: float,
    even: bool,
    polarised: bool,
    false_beat_hz: float = 0.0,
    surroundings: Surroundings = KIND,
) -> KeyState:
    """Return strings and hammer of one note, undamped; arguments as in `unison_note`.

    Parameters
    ----------
    seed, key, n_strings, spread_cents, even, polarised, false_beat_hz, surroundings
        See `unison_note`.
    """
    rng = np.random.default_rng([seed, key, n_strings])
    layout = _layout()[key - 1]
    cents = np.zeros(n_strings)
    if n_strings > 1:
        cents = spread_cents / 2.0 * np.concatenate([[-1.0, 1.0], rng.uniform(-0.8, 0.8, n_strings - 2)])
    cents = rng.permutation(cents) + rng.uniform(-8.0, 8.0)
    share, lag_s = np.exp(0.23 * rng.standard_normal(n_strings)), rng.uniform(0.0, 40e-6, n_strings)
    sideways = Polarisation(
        admittance_db=float(rng.uniform(-20.0, -10.0)),
        blow_ratio=tuple(float(r) for r in rng.choice([-1.0, 1.0]) * rng.uniform(0.05, 0.3, n_strings)),
        radiation_ratio=float(rng.uniform(0.1, 0.4)),
    )
    loose = FalseBeat(
        string=int(rng.integers(n_strings)),
        rate_hz=max(false_beat_hz, 1e-3),
        axis_rad=float(rng.uniform(0.5, 1.1)),
        pin_resonance_hz=float(rng.uniform(4000.0, 8000.0)),
    )
    unison = replace(
        _strayed(layout, n_strings, surroundings, rng),
        f0_hz=tuple(float(f0) for f0 in layout.f0_hz[0] * ratio_from_cents(cents)),
        polarisation=sideways if polarised or false_beat_hz > 0.0 else None,
        false_beats=(loose,) if false_beat_hz > 0.0 else (),
    )
    return KeyState(unison=unison, hammer=_hammer(key, even, share, lag_s), damper_t60_s=None)


def piano_of(state: KeyState, *, board: Soundboard, coupled: bool, knock_db: float = _SILENT_DB) -> SynthesisedPiano:
    """Return a piano of hardly more than one note.

    Parameters
    ----------
    state : KeyState
        The note.
    board : Soundboard
        What its bridge sits on.
    coupled : bool
        ``False`` for a board that does not give way at all.
    knock_db : float
        Level of the knock.
    """
    low = min(state.key, FULL_COMPASS.highest - 1)
    return SynthesisedPiano(
        description="one note",
        a4_hz=A4_STANDARD_HZ,
        compass=Compass(low, low + 1),
        pitch_level_cents=0.0,
        keys=(state, state),
        soundboard=board if coupled else replace(board, modal_mass_kg=np.inf),
        knock_db=knock_db,
    )


@cache
def _layout() -> tuple[StringUnison, ...]:
    return lay_out_strings(compass=FULL_COMPASS, design=UPRIGHT_1920S, a4_hz=A4_STANDARD_HZ)


def _hammer(key: int, even: bool, share: NDArray[np.float64], lag_s: NDArray[np.float64]) -> Hammer:
    if even:
        share, lag_s = np.ones(share.size), np.zeros(share.size)
    return replace(
        typical_hammer(key, wear=0.2, share=tuple(float(s) for s in share / share.mean())),
        lag_s=tuple(float(lag) for lag in lag_s - lag_s.min()),
    )


def _strayed(
    layout: StringUnison, n_strings: int, surroundings: Surroundings, rng: np.random.Generator
) -> StringUnison:
    """Let partials stray from the law, and strings from each other."""
    wound = layout.is_wound
    scatter = surroundings.wound_scatter_cents if wound else surroundings.plain_scatter_cents
    b_scatter = surroundings.wound_b_scatter if wound else surroundings.plain_b_scatter
    common = scatter * rng.standard_normal(_LONGEST_PARTIALS)
    own = scatter * surroundings.own_scatter_ratio * rng.standard_normal((n_strings, _LONGEST_PARTIALS))
    stiffness = np.exp(b_scatter * rng.standard_normal(n_strings))
    return replace(
        layout,
        f0_hz=layout.f0_hz[:1] * n_strings,
        string_stiffness_ratio=tuple(float(ratio) for ratio in stiffness / stiffness.mean()),
        departure_cents=tuple(tuple(float(cents) for cents in row) for row in common + own),
    )
