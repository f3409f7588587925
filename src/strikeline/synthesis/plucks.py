"""The sound of strings plucked against the hammer, and what is true of it.

A string pulled aside by F at the share p and let go leaves ``2·F·sin(nπp)/(nπ)`` on the bridge at partial n (the
triangle's displacements go as sin(nπp)/n²; N. H. Fletcher and T. D. Rossing, ch. 2, from memory), smoothed by the time
that finger or nail takes to let go. It moves in both polarisations. Across the soundboard the strings of
the note share the bridge as in `strikeline.synthesis.unison`; along it the string is nearly on its own. A string under
felt has the poles of `strikeline.synthesis.felt`; the other strings of the note answer as they lie, open or touched.

Left out: the change of shape that felt gives the modes, and the answer of strings of other notes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from strikeline.errors import InputError
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.felt import felt_shift_per_s, light_felt
from strikeline.synthesis.instrument import SynthesisedPiano
from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.noises import blow_knock, disturbance
from strikeline.synthesis.plucking import HeldHammer, PluckKind, PluckPerformance, StringPluck
from strikeline.synthesis.room import WORKSHOP, Room, put_into_room
from strikeline.synthesis.unison import string_decay_per_s
from strikeline.units import amplitude_from_db

_FULL_SCALE_PER_NEWTON: Final = 6e-2
"""The recorder's gain turned up for plucks, which are some 15 dB softer than blows."""
_HIGHEST_PARTIAL_HZ: Final = 8000.0
_MOST_PARTIALS: Final = 70
_FLOOR_DB: Final = -85.0
_FELT_WIDTH_MM: Final = 7.0
_ALONG_COUPLING: Final = 0.12
"""Share of the bridge's give that a string feels along the soundboard (invented)."""
_ALONG_RADIATION: Final = 0.3
_ALONG_SPLIT_CENTS: Final = 0.8
_STOPPED_T60_S: Final = 0.03
"""The nail that comes to pluck a sounding string stops it first."""
_STOPPED_BEFORE_S: Final = 0.04
_KNOCK_AMPLITUDE: Final = 0.05
_LN_1000: Final = float(np.log(1000.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class TruePluck:
    """One pluck as it was made."""

    key: int
    string: int
    """0 for the left one."""
    n_strings: int
    is_touched: bool
    """Whether the felt lies on it."""
    at_s: float
    kind: PluckKind


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RenderedPlucks:
    """The sound of a plucked section and what is true of it."""

    samples: NDArray[np.float32]  # shape (n,), mono
    sample_rate_hz: int
    keys: tuple[int, ...]
    """Notes in the order in which they were held."""
    plucks: tuple[TruePluck, ...]
    """In the order of time."""
    missed: tuple[tuple[int, int], ...]
    """Key and string of what was forgotten."""
    is_touched: dict[tuple[int, int], bool]
    """Truth of every string of every note held, plucked or not."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PluckModes:
    """Damped sinusoids of one pluck, flat."""

    pole_per_s: NDArray[np.complex128]  # shape (m,)
    amplitude: NDArray[np.complex128]  # shape (m,), re full scale


def pluck_modes(
    piano: SynthesisedPiano, pluck: StringPluck, hold: HeldHammer | None, *, sample_rate_hz: float
) -> PluckModes:
    """Return the modes that one pluck sets going.

    Parameters
    ----------
    piano : SynthesisedPiano
        The piano.
    pluck : StringPluck
        What is done.
    hold : HeldHammer or None
        How the felt of this note lies; ``None`` if the key is not held: the damper then lies on the strings.
    sample_rate_hz : float
        Partials above 45 % of it or 8 kHz are left out.

    Returns
    -------
    PluckModes
        Modes within 85 dB of the loudest.
    """
    state = piano[pluck.key]
    unison, n_strings = state.unison, state.unison.n_strings
    f0, b = unison.mean_f0_hz, unison.inharmonicity_b
    partial = np.arange(1, _MOST_PARTIALS + 1)
    law_hz = partial_frequencies_hz(partial, f0_hz=f0, inharmonicity_b=b)
    partial = partial[law_hz < min(_HIGHEST_PARTIAL_HZ, 0.45 * sample_rate_hz)]
    law_hz = law_hz[: partial.size]
    loss = string_decay_per_s(partial, unison)
    felt = np.zeros((partial.size, n_strings), dtype=np.complex128)
    for string, t60_s in enumerate(hold.touch_t60_s if hold is not None else (None,) * n_strings):
        if t60_s is not None and hold is not None:
            lying = light_felt(
                t60_s,
                f0_hz=f0,
                strike_ratio=state.hammer.strike_ratio,
                width_ratio=_FELT_WIDTH_MM / unison.speaking_length_mm,
                stiffness_ratio=hold.felt_stiffness_ratio,
            )
            felt[:, string] = felt_shift_per_s(partial, lying, f0_hz=f0)
    if hold is None and state.damper_t60_s is not None:
        felt -= _LN_1000 / state.damper_t60_s * np.minimum(1.0 + 0.15 * (partial[:, None] - 1), 4.0)
    ratio = np.array(unison.f0_hz) / f0
    own = felt - loss[:, None] + 2j * np.pi * law_hz[:, None] * ratio
    admittance = piano.soundboard.admittance_s_per_kg(pluck.key, law_hz)
    coupling = 2.0 * f0 * unison.impedance_kg_per_s * admittance
    pole, weight = _across(own, coupling, pluck.string)
    along = own[:, pluck.string] - _ALONG_COUPLING * coupling.real
    along += 2j * np.pi * law_hz * (np.exp2(_ALONG_SPLIT_CENTS / 1200.0) - 1.0)
    bridge_force = (
        2.0
        * pluck.force_n
        * np.sin(partial * np.pi * pluck.point_ratio)
        / (partial * np.pi)
        * np.exp(-0.5 * (np.pi * law_hz * pluck.release_s / 2.0) ** 2)
    )
    heard = _FULL_SCALE_PER_NEWTON * bridge_force * piano.soundboard.radiation_ratio(pluck.key, law_hz)
    poles = np.concatenate([pole.reshape(-1), along])
    amplitude = np.concatenate(
        [
            (np.cos(pluck.angle_rad) * heard[:, None] * weight).reshape(-1),
            _ALONG_RADIATION * np.sin(pluck.angle_rad) * heard,
        ]
    )
    keep = np.abs(amplitude) > float(amplitude_from_db(_FLOOR_DB)) * float(np.abs(amplitude).max())
    return PluckModes(pole_per_s=poles[keep], amplitude=amplitude[keep])


def _across(
    own: NDArray[np.complex128], coupling: NDArray[np.complex128], string: int
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Return poles and weights, shape (k, strings), of strings that share a bridge, one of them plucked.

    ``da/dt = M·a``, ``M = diag(own) - κ·11ᵀ`` as in `strikeline.synthesis.unison`, from a = (0, …, 1, …, 0).
    """
    n = own.shape[1]
    centre = own.mean(axis=1)
    offset = own - centre[:, None] + 1e-3j * np.arange(n)  # equal eigenvalues have no unique eigenvectors
    matrix = np.zeros((own.shape[0], n, n), dtype=np.complex128) - coupling[:, None, None]
    matrix[:, np.arange(n), np.arange(n)] += offset
    value, vector = np.linalg.eig(matrix)
    begin = np.zeros((own.shape[0], n, 1))
    begin[:, string, 0] = 1.0
    start = np.linalg.solve(vector, begin)
    return centre[:, None] + value, vector.sum(axis=1) * start[:, :, 0]


def render_plucks(
    piano: SynthesisedPiano, performance: PluckPerformance, *, sample_rate_hz: int, seed: int, room: Room = WORKSHOP
) -> RenderedPlucks:
    """Return the sound of a section being plucked, and the truth.

    Parameters
    ----------
    piano : SynthesisedPiano
        What is plucked.
    performance : PluckPerformance
        What happens.
    sample_rate_hz : int
        8000 or more.
    seed : int
        Chance: clicks, action, disturbances, room and noise.
    room : Room
        Room and microphone.

    Returns
    -------
    RenderedPlucks
        Samples and truth.

    Raises
    ------
    InputError
        If a pluck lies outside the recording, off the piano, or the sample rate is too low.
    """
    if sample_rate_hz < 8000:
        raise InputError.of("sample_rate_hz", sample_rate_hz, "8000 Hz or more")
    plucks = sorted(performance.plucks, key=lambda pluck: pluck.at_s)
    for pluck in plucks:
        if not 0.0 <= pluck.at_s < performance.duration_s:
            raise InputError.of("at_s", pluck.at_s, f"0 to {performance.duration_s} s, the length of the recording")
    rng = np.random.default_rng(seed)
    dry = np.zeros(round(performance.duration_s * sample_rate_hz), dtype=np.float32)
    true = []
    for index, pluck in enumerate(plucks):
        hold = _hold_at(performance, pluck)
        ends_s = _ends_s(pluck, hold, plucks[index + 1 :], is_damped=piano[pluck.key].damper_t60_s is not None)
        sound = _sound_of(piano, pluck, hold, ends_s=ends_s, sample_rate_hz=sample_rate_hz, rng=rng)
        _add(dry, sound, round((pluck.at_s - _LEAD_S) * sample_rate_hz))
        true.append(
            TruePluck(
                key=pluck.key,
                string=pluck.string,
                n_strings=piano[pluck.key].unison.n_strings,
                is_touched=hold is not None and hold.touch_t60_s[pluck.string] is not None,
                at_s=pluck.at_s,
                kind=pluck.kind,
            )
        )
    _make_noises(dry, performance, sample_rate_hz, rng)
    return RenderedPlucks(
        samples=put_into_room(dry, room, sample_rate_hz=sample_rate_hz, seed=seed + 1),
        sample_rate_hz=sample_rate_hz,
        keys=tuple(hold.key for hold in performance.holds),
        plucks=tuple(true),
        missed=performance.missed,
        is_touched={
            (hold.key, string): t60_s is not None
            for hold in performance.holds
            for string, t60_s in enumerate(hold.touch_t60_s)
        },
    )


_LEAD_S: Final = 0.06
"""Room for the scrape of the nail before it lets go."""


def _hold_at(performance: PluckPerformance, pluck: StringPluck) -> HeldHammer | None:
    return next(
        (h for h in performance.holds if h.key == pluck.key and h.from_s <= pluck.at_s <= h.until_s + 0.05), None
    )


def _ends_s(
    pluck: StringPluck, hold: HeldHammer | None, later: list[StringPluck], *, is_damped: bool
) -> tuple[float, float]:
    """Return how long the pluck rings freely and how fast it falls then: by the next pluck's nail or by the damper."""
    again_s = next((o.at_s for o in later if (o.key, o.string) == (pluck.key, pluck.string)), np.inf)
    until_s = hold.until_s if hold is not None and is_damped else np.inf
    if again_s - _STOPPED_BEFORE_S < until_s:
        return max(again_s - _STOPPED_BEFORE_S - pluck.at_s, 0.01), _STOPPED_T60_S
    return max(until_s - pluck.at_s, 0.01), 0.0


def _sound_of(
    piano: SynthesisedPiano,
    pluck: StringPluck,
    hold: HeldHammer | None,
    *,
    ends_s: tuple[float, float],
    sample_rate_hz: float,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return scrape, click and tone of one pluck; the string is let go `_LEAD_S` after the first sample."""
    modes = pluck_modes(piano, pluck, hold, sample_rate_hz=sample_rate_hz)
    free_s, stopped_t60_s = ends_s
    t60_s = stopped_t60_s or piano[pluck.key].damper_t60_s or 0.5
    parts = []
    floor = float(amplitude_from_db(_FLOOR_DB)) * float(np.abs(modes.amplitude).max())
    for longest_s, damping in ((free_s, 0.0), (2.0 * t60_s, _LN_1000 / t60_s)):
        heard = np.abs(modes.amplitude) > floor
        pole, amplitude = modes.pole_per_s[heard] - damping, modes.amplitude[heard]
        lasts_s = float(np.max(np.log(np.abs(amplitude) / floor) / -pole.real, initial=0.0))
        n = round(min(lasts_s, longest_s, 15.0) * sample_rate_hz)
        parts.append(sum_of_modes(pole, amplitude, sample_rate_hz=sample_rate_hz, n_samples=n, dtype=np.float32))
        modes = PluckModes(pole_per_s=pole, amplitude=amplitude * np.exp(pole * n / sample_rate_hz))
    tone = np.concatenate(parts)
    n_rise = min(tone.size, max(2, round(pluck.release_s * sample_rate_hz)))
    tone[:n_rise] *= np.sin(0.5 * np.pi * (np.arange(n_rise) + 0.5) / n_rise).astype(np.float32) ** 2
    lead = round(_LEAD_S * sample_rate_hz)
    sound = np.zeros(max(lead + tone.size, lead + round(0.05 * sample_rate_hz)), dtype=np.float32)
    sound[lead : lead + tone.size] += tone
    loud = float(np.abs(tone[: round(0.05 * sample_rate_hz)]).max(initial=0.0))
    _add_nail(
        sound,
        lead,
        loud * float(amplitude_from_db(pluck.click_db)),
        piano[pluck.key].unison.is_wound,
        sample_rate_hz,
        rng,
    )
    return sound


def _add_nail(
    sound: NDArray[np.float32],
    lead: int,
    amplitude: float,
    is_wound: bool,
    sample_rate_hz: float,
    rng: np.random.Generator,
) -> None:
    """Add the click of the nail as it leaves the string, and its scrape before, longer and louder on windings."""
    high_hz = min(9000.0, 0.45 * sample_rate_hz)
    band = butter(2, [1200.0, high_hz], btype="bandpass", fs=sample_rate_hz, output="sos")
    n = round(0.02 * sample_rate_hz)
    click = rng.standard_normal(n) * np.exp(-np.arange(n) / sample_rate_hz / rng.uniform(0.0008, 0.003))
    sound[lead : lead + n] += (amplitude * sosfilt(band, click)).astype(np.float32)
    n = round(rng.uniform(0.3, 1.0) * lead)
    scrape = sosfilt(band, rng.standard_normal(n)) * np.linspace(0.0, 1.0, n)
    sound[lead - n : lead] += ((0.35 if is_wound else 0.12) * amplitude * scrape).astype(np.float32)


def _make_noises(
    dry: NDArray[np.float32], performance: PluckPerformance, sample_rate_hz: float, rng: np.random.Generator
) -> None:
    """Add the action as keys go down and come up, and the disturbances."""
    level = _KNOCK_AMPLITUDE * float(amplitude_from_db(performance.action_noise_db))
    for hold in performance.holds:
        for at_s, ratio in ((hold.from_s, 0.5), (hold.until_s, 1.0)):
            speed = 2.5 * float(np.exp(0.5 * rng.standard_normal()))
            knock = blow_knock(speed_m_per_s=speed, sample_rate_hz=sample_rate_hz, rng=rng)
            _add(dry, level * ratio * knock, round(at_s * sample_rate_hz))
    for noise in performance.disturbances:
        sound = disturbance(noise.kind, duration_s=noise.duration_s, sample_rate_hz=sample_rate_hz, rng=rng)
        _add(dry, float(amplitude_from_db(noise.peak_db)) * sound, round(noise.at_s * sample_rate_hz))


def _add(dry: NDArray[np.float32], sound: NDArray[np.floating], start: int) -> None:
    """Add a sound at a sample, cut at both ends of the recording."""
    skipped = max(0, -start)
    kept = min(sound.size - skipped, dry.size - start - skipped)
    if kept > 0:
        dry[start + skipped : start + skipped + kept] += sound[skipped : skipped + kept].astype(np.float32, copy=False)
