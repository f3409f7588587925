"""One blow on one note: its modes, and their sound from touch to damper.

A mode starts with the force the hammer leaves on the bridge, ``4·f0·sin(nπa)·|F(ω_n)|`` per string (Hall 1986-87, in a
secondary survey; it follows from the modal sum of a string struck at a·L), is shared out among the coupled strings and
weighted by the radiation of the board.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.damper import felt_steepness
from strikeline.synthesis.hammer import ForcePulses
from strikeline.synthesis.instrument import SynthesisedPiano
from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.unison import UnisonModes, couple_strings
from strikeline.units import DB_PER_NEPER, amplitude_from_db

_FULL_SCALE_PER_NEWTON: Final = 1.4e-2
"""Gain of the microphone for force on the bridge at full radiation: a pass at 2.5 m/s peaks near -10 dB."""
_HIGHEST_PARTIAL_HZ: Final = 12_000.0
_MOST_PARTIALS: Final = 110
_FLOOR_DB: Final = -100.0
"""Modes are dropped below this level against the loudest of the note."""
_LN_1000: Final = float(np.log(1000.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NoteModes:
    """All modes of one blow, flat; `partial` tells which belong together."""

    partial: NDArray[np.int64]  # shape (m,)
    pole_per_s: NDArray[np.complex128]  # shape (m,), -α + iω
    amplitude: NDArray[np.complex128]  # shape (m,), at the onset, re full scale

    def where(self, keep: NDArray[np.bool_]) -> NoteModes:
        """Return some of the modes."""
        return NoteModes(partial=self.partial[keep], pole_per_s=self.pole_per_s[keep], amplitude=self.amplitude[keep])

    def above(self, floor: float) -> NoteModes:
        """Return the modes with an amplitude above `floor`."""
        return self.where(np.abs(self.amplitude) > floor)

    def later(self, time_s: float) -> NoteModes:
        """Return the same modes seen from a later start."""
        amplitude = self.amplitude * np.exp(self.pole_per_s * time_s)
        return NoteModes(partial=self.partial, pole_per_s=self.pole_per_s, amplitude=amplitude)

    def damped(self, t60_s: float) -> NoteModes:
        """Return the modes under a damper: partial 1 falls in `t60_s`, higher ones up to four times as fast."""
        return NoteModes(
            partial=self.partial,
            pole_per_s=self.pole_per_s - _LN_1000 / t60_s * felt_steepness(self.partial),
            amplitude=self.amplitude,
        )

    def sounds_for_s(self, floor: float) -> float:
        """Return how long it takes until every mode is below `floor`."""
        if self.amplitude.size == 0:
            return 0.0
        return float(np.max(np.log(np.abs(self.amplitude) / floor) / -self.pole_per_s.real, initial=0.0))


def note_modes(
    piano: SynthesisedPiano, key: int, pulses: ForcePulses, *, blow: int, sample_rate_hz: float
) -> NoteModes:
    """Return the modes that one blow sets going.

    Parameters
    ----------
    piano : SynthesisedPiano
        The piano.
    key : int
        The key struck.
    pulses : ForcePulses
        Force of several blows.
    blow : int
        Which of them.
    sample_rate_hz : float
        Partials above 45 % of it, above 12 kHz or beyond number 110 are left out.

    Returns
    -------
    NoteModes
        One mode per partial and free string, two where strings swing sideways, those below -100 dB against the loudest
        dropped.
    """
    return audible(strike_unison(piano, key, pulses, blow=blow, sample_rate_hz=sample_rate_hz).free())


def audible(modes: NoteModes) -> NoteModes:
    """Return the modes within 100 dB of the loudest."""
    return modes.above(float(amplitude_from_db(_FLOOR_DB)) * float(np.abs(modes.amplitude).max()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StruckUnison:
    """The strings of one note, coupled, and how loud their motion is heard."""

    coupled: UnisonModes
    heard_force: NDArray[np.complex128]  # shape (k,), re full scale, for a weight of 1

    def free(self) -> NoteModes:
        """Return all modes of the strings while nothing touches them."""
        amplitude = self.heard_force[:, None] * self.coupled.weight
        return NoteModes(
            partial=np.repeat(self.coupled.partial, amplitude.shape[1]),
            pole_per_s=self.coupled.pole_per_s.reshape(-1),
            amplitude=amplitude.reshape(-1),
        )


def strike_unison(
    piano: SynthesisedPiano, key: int, pulses: ForcePulses, *, blow: int, sample_rate_hz: float
) -> StruckUnison:
    """Return the strings that one blow sets going; parameters as for `note_modes`.

    Parameters
    ----------
    piano, key, pulses, blow, sample_rate_hz
        See `note_modes`.
    """
    state = piano[key]
    unison, hammer = state.unison, state.hammer
    f0, n_strings = unison.mean_f0_hz, unison.n_strings
    partial = np.arange(1, _MOST_PARTIALS + 1)
    frequency_hz = partial_frequencies_hz(partial, f0_hz=f0, inharmonicity_b=unison.inharmonicity_b)
    heard = frequency_hz < min(_HIGHEST_PARTIAL_HZ, 0.45 * sample_rate_hz)
    partial, frequency_hz = partial[heard], frequency_hz[heard]
    board, sideways = piano.soundboard, unison.polarisation
    coupled = couple_strings(
        unison,
        partial,
        admittance_s_per_kg=board.admittance_s_per_kg(key, frequency_hz),
        share=hammer.share,
        lag_s=hammer.lag_s,
        sideways_admittance_s_per_kg=None
        if sideways is None
        else board.sideways_admittance_s_per_kg(key, frequency_hz, admittance_db=sideways.admittance_db),
        muted=state.muted,
    )
    bridge_force = (
        -1j
        * (4.0 * f0 / n_strings)
        * np.sin(partial * np.pi * hammer.strike_ratio)
        * pulses.spectrum_n_s(blow, frequency_hz)
    )
    heard_force = _FULL_SCALE_PER_NEWTON * bridge_force * board.radiation_ratio(key, frequency_hz)
    return StruckUnison(coupled=coupled, heard_force=heard_force)


def render_note(
    modes: NoteModes,
    *,
    hold_s: float,
    damper_t60_s: float | None,
    contact_s: float,
    sample_rate_hz: float,
    longest_s: float,
) -> NDArray[np.float32]:
    """Return the sound of one blow: free while the key is held, then under the damper.

    Parameters
    ----------
    modes : NoteModes
        What sounds.
    hold_s : float
        When the damper falls, after the onset.
    damper_t60_s : float or None
        See `NoteModes.damped`; ``None`` if there is no damper.
    contact_s : float
        The sound rises over this time (half a raised cosine): a sum of free modes knows nothing of the time in which
        the hammer still touches the strings.
    sample_rate_hz : float
        Above 0.
    longest_s : float
        Cut here, at the end of the recording.

    Returns
    -------
    ndarray of float32, shape (n,)
        Until the last mode is 100 dB below the loudest at the onset.
    """
    floor = float(amplitude_from_db(_FLOOR_DB)) * float(np.abs(modes.amplitude).max())
    free_s = min(modes.sounds_for_s(floor), longest_s)
    if damper_t60_s is not None:
        free_s = min(free_s, hold_s)
    n_free = round(free_s * sample_rate_hz)
    parts = [
        sum_of_modes(
            modes.pole_per_s, modes.amplitude, sample_rate_hz=sample_rate_hz, n_samples=n_free, dtype=np.float32
        )
    ]
    if damper_t60_s is not None and longest_s > free_s:
        rest = modes.later(n_free / sample_rate_hz).above(floor).damped(damper_t60_s)
        n_rest = round(min(rest.sounds_for_s(floor), longest_s - free_s) * sample_rate_hz)
        parts.append(
            sum_of_modes(
                rest.pole_per_s, rest.amplitude, sample_rate_hz=sample_rate_hz, n_samples=n_rest, dtype=np.float32
            )
        )
    return raise_softly(np.concatenate(parts), contact_s=contact_s, sample_rate_hz=sample_rate_hz)


def raise_softly(sound: NDArray[np.float32], *, contact_s: float, sample_rate_hz: float) -> NDArray[np.float32]:
    """Let a sound rise over the time of contact, half a raised cosine, in place; and return it.

    Parameters
    ----------
    sound : ndarray of float32, shape (n,)
        From the onset on; changed.
    contact_s : float
        How long it rises.
    sample_rate_hz : float
        Above 0.
    """
    n_rise = min(sound.size, max(1, round(contact_s * sample_rate_hz)))
    sound[:n_rise] *= (0.5 - 0.5 * np.cos(np.pi * (np.arange(n_rise) + 0.5) / n_rise)).astype(np.float32)
    return sound


def level_db_of(amplitude: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Return levels of complex amplitudes, dB re a sine of amplitude 1."""
    return np.asarray(DB_PER_NEPER * np.log(np.abs(amplitude)))
