"""The sound of one note from the blow, through the landing of its damper, to the end; and what is true of it.

While the felt presses on, its resistance is taken in equal steps; within each the strings have modes of their own, so
that the whole is exact for a felt that presses on like a staircase. Strings that the felt misses go on, and what they
hold is shared with the others through the bridge as before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.synthesis.damper import Damper, usual_damper_t60_s
from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.note import NoteModes, StruckUnison, level_db_of, raise_softly
from strikeline.synthesis.truth import TrueDampedPartial, TrueDamping
from strikeline.units import amplitude_from_db

_STEPS: Final = 6
_FLOOR_DB: Final = -100.0
_LN_1000: Final = float(np.log(1000.0))
_PART_DB: Final = -20.0
"""A mode belongs to what a listener hears of a partial after the landing if it then is no more than this below it."""
LEAK_RATIO: Final = 3.0
"""A partial leaks if it takes this many times as long to fall by 60 dB as partial 1 under a sound damper of its key."""
_TRUTH_FLOOR_DB: Final = -60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stretch:
    """Modes that hold from `start_s` on."""

    start_s: float
    modes: NoteModes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DampedNote:
    """One blow whose damper lands while the strings sound."""

    struck: StruckUnison
    damper: Damper
    lands_s: float
    """After the onset: when the felt is half pressed on."""
    key: int

    def render(self, *, contact_s: float, sample_rate_hz: float, longest_s: float) -> NDArray[np.float32]:
        """Return the sound from the onset on.

        Parameters
        ----------
        contact_s : float
            The sound rises over this time, as in `note.render_note`.
        sample_rate_hz : float
            Above 0.
        longest_s : float
            Cut here, at the end of the recording.

        Returns
        -------
        ndarray of float32, shape (n,)
            Until the last mode is 100 dB below the loudest at the onset.
        """
        stretches = self._stretches()
        floor = float(amplitude_from_db(_FLOOR_DB)) * float(np.abs(stretches[0].modes.amplitude).max())
        ends_s = [stretch.start_s for stretch in stretches[1:]]
        ends_s.append(stretches[-1].start_s + stretches[-1].modes.above(floor).sounds_for_s(floor))
        parts = []
        for stretch, end_s in zip(stretches, np.minimum(ends_s, longest_s), strict=True):
            first, last = (round(at_s * sample_rate_hz) for at_s in (stretch.start_s, end_s))
            modes = stretch.modes.later(first / sample_rate_hz - stretch.start_s).above(floor)
            parts.append(
                sum_of_modes(
                    modes.pole_per_s,
                    modes.amplitude,
                    sample_rate_hz=sample_rate_hz,
                    n_samples=max(0, last - first),
                    dtype=np.float32,
                )
            )
        return raise_softly(np.concatenate(parts), contact_s=contact_s, sample_rate_hz=sample_rate_hz)

    def truth(self, *, after_ring_hz: tuple[float, ...]) -> TrueDamping:
        """Return what is true of the note under its damper, with the tones of other strings as given."""
        last = self._stretches()[-1]
        after = last.modes.later(self.lands_s - last.start_s)  # traced back to the landing
        before = self.struck.free().later(self.lands_s)
        usual_s = usual_damper_t60_s(self.key)
        partials = []
        for n in self.struck.coupled.partial.tolist():
            level_db = _sum_db(before.where(before.partial == n))
            modes = after.where(after.partial == n)
            part = modes.where(level_db_of(modes.amplitude + 1e-30) >= level_db + _PART_DB)
            if part.amplitude.size == 0:
                part = modes.where(np.abs(modes.amplitude) == np.abs(modes.amplitude).max())
            t60_s = _LN_1000 / float(np.min(-part.pole_per_s.real))
            partials.append(
                TrueDampedPartial(
                    n=n,
                    level_db=level_db,
                    t60_s=t60_s,
                    fall_db_per_s=_heard_fall_db_per_s(modes, over_s=t60_s / 3.0),
                    f_hz=float(part.pole_per_s.imag[np.argmin(-part.pole_per_s.real)] / (2.0 * np.pi)),
                    leaks=usual_s is not None and t60_s >= LEAK_RATIO * usual_s,
                )
            )
        loudest_db = max(partial.level_db for partial in partials)
        return TrueDamping(
            lands_s=self.lands_s,
            partials=tuple(p for p in partials if p.level_db > loudest_db + _TRUTH_FLOOR_DB),
            after_ring_hz=after_ring_hz,
        )

    def _stretches(self) -> list[_Stretch]:
        """Return the modes of each stretch: free, pressing on in steps, pressed on."""
        coupled, felt = self.struck.coupled, self.damper.decay_per_s(self.struck.coupled.partial)
        motion, start = coupled.motion, coupled.start
        matrix = (motion * coupled.pole_per_s[:, None, :]) @ np.linalg.inv(motion)
        touched = ~np.isin(coupled.string, self.damper.misses)
        take = felt[:, None, None] * np.diag(touched.astype(np.float64))
        step_s = self.damper.presses_s / _STEPS
        now_s = self.lands_s - self.damper.presses_s / 2.0
        found = [_Stretch(start_s=0.0, modes=self.struck.free())]
        state = motion @ (start * np.exp(coupled.pole_per_s * now_s))[:, :, None]
        for step in range(_STEPS + 1):
            share = min(1.0, (step + 0.5) / _STEPS)
            pole, vector = np.linalg.eig(matrix - share * take)
            weight = np.linalg.solve(vector, state)
            amplitude = self.struck.heard_force[:, None] * vector.sum(axis=1) * weight[:, :, 0]
            modes = NoteModes(
                partial=np.repeat(coupled.partial, pole.shape[1]),
                pole_per_s=pole.reshape(-1),
                amplitude=amplitude.reshape(-1),
            )
            found.append(_Stretch(start_s=now_s, modes=modes))
            state = vector @ (weight * np.exp(pole * step_s)[:, :, None])
            now_s += step_s
        return found


def _heard_fall_db_per_s(modes: NoteModes, *, over_s: float) -> float:
    """Return the mean fall of the sum of some modes over a time, as a line through its level has it."""
    time_s = np.linspace(0.0, over_s, 65)
    together = np.exp(np.outer(time_s, modes.pole_per_s - 1j * modes.pole_per_s.imag.mean())) @ modes.amplitude
    about = time_s - time_s.mean()
    return float(-(about @ level_db_of(together + 1e-30)) / (about @ about))


def _sum_db(modes: NoteModes) -> float:
    """Return the level of the modes' powers together, dB re a sine of amplitude 1."""
    return float(10.0 * np.log10(np.sum(np.abs(modes.amplitude) ** 2) + 1e-30))
