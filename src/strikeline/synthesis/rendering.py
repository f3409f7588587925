"""From piano and performance to samples, with the truth beside them.

Left out, and so not to be looked for in the sound: the glide of pitch in a loud attack, longitudinal and phantom
partials. Other strings ring along only where the piano has an `after_ring_db` or the sustain pedal is down; strings
swing sideways only where a note is given a `Polarisation`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.damped import DampedNote
from strikeline.synthesis.hammer import strike_strings
from strikeline.synthesis.instrument import KeyCondition, KeyState, SynthesisedPiano, cents_from_equal_temperament
from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.noises import blow_knock, disturbance, release_noise
from strikeline.synthesis.note import NoteModes, StruckUnison, audible, level_db_of, render_note, strike_unison
from strikeline.synthesis.performance import KeyBlow, Performance
from strikeline.synthesis.room import WORKSHOP, Room, put_into_room
from strikeline.synthesis.sympathetic import swell, sympathetic_modes
from strikeline.synthesis.truth import PassTruth, TrueEvent, TrueMode, TruePartial, TrueStrike, TrueString
from strikeline.units import DB_PER_NEPER, amplitude_from_db, db_from_amplitude

_KNOCK_AMPLITUDE: Final = 0.018
_PEDAL_RING_DB: Final = -45.0
"""Of strings in resonance against the partial that drives them, with the pedal down (invented)."""
_TRUTH_FLOOR_DB: Final = -80.0
_WEAK_SPEED_RATIO: Final = 1.0 / 3.0
_RESTRUCK_T60_S: Final = 0.12
"""A hammer on strings that still sound stops most of what was there (invented)."""
_LEVEL_OVER_S: Final = 0.5
_RING_FLOOR_DB: Final = -90.0
_KEY_BACK_S: Final = 0.04
"""From the release of a key without damper until it is back at rest (invented)."""
_STRINGS_STREAM: Final = 1
_RELEASES_STREAM: Final = 2
"""Chance of its own for what came later, so that earlier sounds stay as they were."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RenderedPass:
    """The sound of a pass and what is true of it."""

    samples: NDArray[np.float32]  # shape (n,), mono
    sample_rate_hz: int
    truth: PassTruth


def render_pass(
    piano: SynthesisedPiano, performance: Performance, *, sample_rate_hz: int, seed: int, room: Room = WORKSHOP
) -> RenderedPass:
    """Return the sound of a piano being played, and the truth.

    Parameters
    ----------
    piano : SynthesisedPiano
        What is played.
    performance : Performance
        What happens.
    sample_rate_hz : int
        8000 or more.
    seed : int
        Chance: knocks, disturbances, room and noise. The same seed gives the same samples.
    room : Room
        Room and microphone.

    Returns
    -------
    RenderedPass
        Samples, shape ``(round(duration_s·sample_rate_hz),)``, and truth.

    Raises
    ------
    InputError
        If a key is not on the piano, a time lies outside the pass or the sample rate is too low.
    """
    if sample_rate_hz < 8000:
        raise InputError.of("sample_rate_hz", sample_rate_hz, "8000 Hz or more")
    for at_s in (event.at_s for events in (performance.blows, performance.disturbances) for event in events):
        if not 0.0 <= at_s < performance.duration_s:
            raise InputError.of("at_s", at_s, f"0 to {performance.duration_s} s, the length of the pass")
    dry = np.zeros(round(performance.duration_s * sample_rate_hz), dtype=np.float32)
    strikes = _play_strings(dry, piano, performance, sample_rate_hz, np.random.default_rng([seed, _STRINGS_STREAM]))
    events = _make_noises(dry, piano, performance, sample_rate_hz, np.random.default_rng(seed))
    _let_keys_go(dry, piano, performance, sample_rate_hz, np.random.default_rng([seed, _RELEASES_STREAM]))
    return RenderedPass(
        samples=put_into_room(dry, room, sample_rate_hz=sample_rate_hz, seed=seed + 1),
        sample_rate_hz=sample_rate_hz,
        truth=_pass_truth(piano, performance, room, sample_rate_hz, strikes, events),
    )


def _play_strings(
    dry: NDArray[np.float32],
    piano: SynthesisedPiano,
    performance: Performance,
    sample_rate_hz: int,
    rng: np.random.Generator,
) -> list[TrueStrike]:
    """Add the sound of all strings to `dry` and return the truth of each blow."""
    silent = (KeyCondition.MISSING, KeyCondition.DEAD)
    blows = [blow for blow in performance.blows if piano[blow.key].condition not in silent]
    states = [piano[blow.key] for blow in blows]
    speeds = np.array([_hammer_speed(state, blow) for state, blow in zip(states, blows, strict=True)])
    pulses = strike_strings([s.unison for s in states], [s.hammer for s in states], speed_m_per_s=speeds)
    strikes = []
    for index, (blow, state) in enumerate(zip(blows, states, strict=True)):
        contact_s = float(pulses.contact_s[index])
        struck = strike_unison(piano, blow.key, pulses, blow=index, sample_rate_hz=sample_rate_hz)
        modes = audible(struck.free())
        onset = round(blow.at_s * sample_rate_hz)
        longest_s = performance.duration_s - blow.at_s
        hold_s, damper_t60_s = _end_of(blow, state, blows[index + 1 :])
        damped = _under_damper(blow, state, struck, hold_s)
        if damped is None:
            sound = render_note(
                modes,
                hold_s=hold_s,
                damper_t60_s=damper_t60_s,
                contact_s=contact_s,
                sample_rate_hz=sample_rate_hz,
                longest_s=longest_s,
            )
        else:
            sound = damped.render(contact_s=contact_s, sample_rate_hz=sample_rate_hz, longest_s=longest_s)
        ring_hz = _ring_others(dry, piano, performance, blow, modes, sample_rate_hz, rng)
        _add(dry, sound, onset)
        beginning = sound[: max(1, round(min(_LEVEL_OVER_S, hold_s) * sample_rate_hz))]
        strikes.append(
            TrueStrike(
                onset_s=onset / sample_rate_hz,
                release_s=blow.at_s + hold_s,
                key=blow.key,
                strings=_true_strings(state),
                f0_hz=float(np.mean([state.unison.f0_hz[string] for string in state.free])),
                inharmonicity_b=state.unison.inharmonicity_b,
                cents_from_et=cents_from_equal_temperament(state.unison, a4_hz=piano.a4_hz),
                is_wound=state.unison.is_wound,
                speed_m_per_s=float(speeds[index]),
                hammer_wear=state.hammer.wear,
                contact_s=contact_s,
                level_db=float(db_from_amplitude(np.sqrt(2.0 * np.mean(beginning**2)) + 1e-30)),
                partials=_true_partials(state, modes),
                damping=None if damped is None else damped.truth(after_ring_hz=ring_hz),
            )
        )
    return strikes


def _under_damper(blow: KeyBlow, state: KeyState, struck: StruckUnison, hold_s: float) -> DampedNote | None:
    """Return the note as its `Damper` ends it, ``None`` if it has none or is struck again before that lands."""
    if state.damper is None or hold_s < blow.hold_s:
        return None
    lands_s = blow.hold_s + state.damper.lands_after_s
    return DampedNote(struck=struck, damper=state.damper, lands_s=lands_s, key=state.key)


def _ring_others(
    dry: NDArray[np.float32],
    piano: SynthesisedPiano,
    performance: Performance,
    blow: KeyBlow,
    modes: NoteModes,
    sample_rate_hz: int,
    rng: np.random.Generator,
) -> tuple[float, ...]:
    """Add the other strings that a blow sets going to `dry` and return their frequencies."""
    all_free = performance.frees_all(blow)
    after_ring_db = _PEDAL_RING_DB if all_free and piano.after_ring_db is None else piano.after_ring_db
    if after_ring_db is None:
        return ()
    ring = sympathetic_modes(piano, blow.key, modes, after_ring_db=after_ring_db, rng=rng, all_free=all_free)
    floor = float(np.abs(modes.amplitude).max()) * float(amplitude_from_db(_RING_FLOOR_DB))
    ring = ring.above(floor)
    if ring.amplitude.size == 0:
        return ()
    end_s = performance.pedal_s[1] if all_free and performance.pedal_s else performance.duration_s
    lasts_s = min(ring.sounds_for_s(floor), end_s - blow.at_s)
    sound = sum_of_modes(
        ring.pole_per_s,
        ring.amplitude,
        sample_rate_hz=sample_rate_hz,
        n_samples=round(lasts_s * sample_rate_hz),
        dtype=np.float32,
    )
    _add(dry, swell(sound, sample_rate_hz=sample_rate_hz), round(blow.at_s * sample_rate_hz))
    return tuple(sorted(float(hz) for hz in ring.pole_per_s.imag / (2.0 * np.pi)))


def _let_keys_go(
    dry: NDArray[np.float32],
    piano: SynthesisedPiano,
    performance: Performance,
    sample_rate_hz: int,
    rng: np.random.Generator,
) -> None:
    """Add the noises of keys and dampers coming back to `dry`."""
    if piano.release_noise_db is None:
        return
    size = _KNOCK_AMPLITUDE * float(amplitude_from_db(piano.release_noise_db))
    for blow in performance.blows:
        state = piano[blow.key]
        after_s = state.damper.lands_after_s if state.damper is not None else _KEY_BACK_S
        start = round((blow.at_s + blow.hold_s + after_s) * sample_rate_hz)
        if state.condition is not KeyCondition.MISSING and start < dry.size:
            _add(dry, size * release_noise(sample_rate_hz=sample_rate_hz, rng=rng), start)


def _make_noises(
    dry: NDArray[np.float32],
    piano: SynthesisedPiano,
    performance: Performance,
    sample_rate_hz: int,
    rng: np.random.Generator,
) -> tuple[TrueEvent, ...]:
    """Add knocks and disturbances to `dry` and return those that are no part of a note."""
    events = []
    for blow in performance.blows:
        condition = piano[blow.key].condition
        if condition is KeyCondition.MISSING:
            continue
        knock = blow_knock(speed_m_per_s=blow.speed_m_per_s, sample_rate_hz=sample_rate_hz, rng=rng)
        _add(
            dry, _KNOCK_AMPLITUDE * float(amplitude_from_db(piano.knock_db)) * knock, round(blow.at_s * sample_rate_hz)
        )
        if condition is KeyCondition.DEAD:
            end_s = blow.at_s + knock.size / sample_rate_hz
            events.append(TrueEvent(kind="dead key", start_s=blow.at_s, end_s=end_s, key=blow.key))
    for noise in performance.disturbances:
        sound = disturbance(noise.kind, duration_s=noise.duration_s, sample_rate_hz=sample_rate_hz, rng=rng)
        _add(dry, float(amplitude_from_db(noise.peak_db)) * sound, round(noise.at_s * sample_rate_hz))
        events.append(TrueEvent(kind=noise.kind.value, start_s=noise.at_s, end_s=noise.at_s + noise.duration_s))
    return tuple(sorted(events, key=lambda event: event.start_s))


def _hammer_speed(state: KeyState, blow: KeyBlow) -> float:
    """Return the speed at which the hammer really arrives."""
    return blow.speed_m_per_s * (_WEAK_SPEED_RATIO if state.condition is KeyCondition.WEAK else 1.0)


def _end_of(blow: KeyBlow, state: KeyState, later: Sequence[KeyBlow]) -> tuple[float, float | None]:
    """Return when the free vibration of a blow ends, after its onset, and the T60 that follows."""
    restruck_s = next((other.at_s - blow.at_s for other in later if other.key == blow.key), np.inf)
    if state.damper is not None and blow.hold_s + state.damper.lands_after_s < restruck_s:
        return blow.hold_s, None
    if state.damper_t60_s is not None and blow.hold_s < restruck_s:
        return blow.hold_s, state.damper_t60_s
    if np.isfinite(restruck_s):
        return float(restruck_s), _RESTRUCK_T60_S
    return blow.hold_s, None


def _add(dry: NDArray[np.float32], sound: NDArray[np.floating], start: int) -> None:
    """Add a sound at a sample, cut at the end of the recording."""
    kept = min(sound.size, dry.size - start)
    dry[start : start + kept] += sound[:kept].astype(np.float32, copy=False)


def _true_strings(state: KeyState) -> tuple[TrueString, ...]:
    """Return the strings that are free to sound."""
    unison, hammer = state.unison, state.hammer
    rates_hz = {beat.string: beat.rate_hz for beat in unison.false_beats}
    return tuple(
        TrueString(
            place=string,
            f0_hz=unison.f0_hz[string],
            inharmonicity_b=unison.string_inharmonicity_b[string],
            share=hammer.share[string],
            lag_s=hammer.lag_s[string],
            false_beat_hz=rates_hz.get(string),
        )
        for string in state.free
    )


def _true_partials(state: KeyState, modes: NoteModes) -> tuple[TruePartial, ...]:
    """Return the partials within 80 dB of the loudest mode, modes loudest first."""
    level_db = level_db_of(modes.amplitude)
    order = np.argsort(-level_db, kind="stable")
    order = order[level_db[order] > level_db.max() + _TRUTH_FLOOR_DB]
    by_partial: dict[int, list[TrueMode]] = {}
    for index in order:
        pole = modes.pole_per_s[index]
        mode = TrueMode(
            f_hz=float(pole.imag / (2.0 * np.pi)),
            decay_db_per_s=float(-DB_PER_NEPER * pole.real),
            level_db=float(level_db[index]),
            phase_rad=float(np.angle(modes.amplitude[index])),
        )
        by_partial.setdefault(int(modes.partial[index]), []).append(mode)
    numbers = sorted(by_partial)
    unison = state.unison
    law_hz = partial_frequencies_hz(numbers, f0_hz=unison.mean_f0_hz, inharmonicity_b=unison.inharmonicity_b)
    return tuple(
        TruePartial(n=n, law_hz=float(law), modes=tuple(by_partial[n])) for n, law in zip(numbers, law_hz, strict=True)
    )


def _pass_truth(
    piano: SynthesisedPiano,
    performance: Performance,
    room: Room,
    sample_rate_hz: int,
    strikes: list[TrueStrike],
    events: tuple[TrueEvent, ...],
) -> PassTruth:
    """Put the truth together."""

    def keys_in(condition: KeyCondition) -> tuple[int, ...]:
        return tuple(state.key for state in piano.keys if state.condition is condition)

    return PassTruth(
        description=piano.description,
        sample_rate_hz=sample_rate_hz,
        duration_s=performance.duration_s,
        a4_hz=piano.a4_hz,
        compass=piano.compass,
        pitch_level_cents=piano.pitch_level_cents,
        missing_keys=keys_in(KeyCondition.MISSING),
        dead_keys=keys_in(KeyCondition.DEAD),
        weak_keys=keys_in(KeyCondition.WEAK),
        noise_db=room.noise_db,
        reverberation_s=room.reverberation_s,
        strikes=tuple(strikes),
        events=events,
    )
