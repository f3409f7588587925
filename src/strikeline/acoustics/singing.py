r"""How long a note sings: one figure of prompt sound and aftersound together that compares over the compass.

*Singing* is the time from the blow until the note is a quarter as loud. Loudness is summed over the partials by
Stevens's power law (S. S. Stevens 1957, exponent 0.3 of intensity, from memory: 10 dB halve it, so a single partial is
a quarter as loud after a fall of 20 dB):

.. math:: S(t) = \sum_p r_p (w_p P_p(t))^{0.3}, \qquad S(T) = 10^{-0.6}\,S(0).

- P_p(t) is the power of partial p by its fitted modes, averaged over what follows with a forgetting of W = 1 s:
  P(t) = ∫₀^∞ |y(t+τ)|² e^(−τ/W) dτ/W = Σ_kl ā_k a_l e^(pt)/(1 − pW), p = s̄_k + s_l. For W → ∞ it is Schroeder's
  backward integral (M. R. Schroeder 1965, from memory). Beats faster than about 1 Hz average out, and two modes that
  nearly cancel do no harm, because their cross terms are kept.
- w_p is the A-weighting (IEC 61672-1, formula from memory): the lowest partials, which are hardly heard and which
  telephones hardly pass, count little.
- r_p leaves out partials that begin 35 dB below the loudest (faded in over 10 dB), whether the noise hides them or not.

Every level enters through its ratio to the others, so gain cancels; the exponent presses level differences together,
so hammer, microphone and room say little.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands
from strikeline.acoustics.modes import ModeFit
from strikeline.acoustics.partials import MeasuredPartials
from strikeline.measured import Measured

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_EXPONENT: Final = 0.3
_QUARTER: Final = 0.6 * float(np.log(10.0))
"""Neper of loudness from the whole to a quarter: 20 dB of a single partial, 0.3 · ln 100."""
_FORGETTING_S: Final = 1.0
_FAINTEST_DB: Final = 35.0
_FADED_DB: Final = 10.0
_SOONEST_S: Final = 0.005
_LATEST_S: Final = 100.0
_FIRST_TRIED_S: Final = np.array([0.1, 0.3, 1.0, 3.0, 10.0, 30.0])
_SECANTS: Final = 5
"""Between two moments three times apart: down to 0.1 %."""
_UNSEEN_RATIO: Final = 0.15
_MOST_UNSEEN_RATIO: Final = 0.25
"""What the sound has not shown yet (modes that come out later, several taken for one): standard deviation of ln T, per
T over the time heard, and at most. Set so that on the 88 notes of the chromatic grand the first 0.8 to 4 s foretell
what 12 s show within 1.96 se in 95 of 100; the layered grand, which had no say in it, then shows 95 of 100 too
(tests/real/test_singing_real.py)."""
_SHORTEST_S: Final = 1.0
"""Aftersounds come out within the first second or later: knees at 0.6 to 4 s from C3 to C6, measured on two recorded
grands."""
_MOST_RELATIVE_SE: Final = 0.4
_STEP: Final = 0.02


def a_weighting_power(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the A-weighting as a factor on power, 1 at 1 kHz (IEC 61672-1, formula from memory).

    Examples
    --------
    >>> (10 * np.log10(a_weighting_power(np.array([100.0, 1000.0, 10000.0])))).round(1)
    array([-19.1,   0. ,  -2.5])
    """
    f2 = np.square(frequency_hz)
    response = 12194.0**2 * f2**2 / ((f2 + 20.6**2) * (f2 + 12194.0**2))
    response /= np.sqrt((f2 + 107.7**2) * (f2 + 737.9**2))
    return np.asarray(np.square(response * 10.0**0.1))


def estimate_singing(
    found: MeasuredPartials, clear: NDArray[np.bool_], *, duration_s: float
) -> tuple[Measured | None, str | None]:
    """Return how long the note sings, seconds, or ``None`` and the reason in words.

    Where the sound ends before T the fitted modes are extrapolated.

    Parameters
    ----------
    found : MeasuredPartials
        The partials of the note.
    clear : ndarray of bool, shape (k,)
        Which of them stand clear of the noise.
    duration_s : float
        How long the free string was heard.
    """
    if not clear.any():
        return None, "singing: no partial stands clear of the noise"
    loudness = _Loudness(found, clear)
    sings_s = loudness.falls_to_a_quarter_s()
    if sings_s is None:
        return None, f"singing: {duration_s:.1f} s of sound show no fall"
    held = f"singing: held for {duration_s:.1f} s, which leaves open when it would be a quarter as loud"
    if duration_s < _SHORTEST_S:
        return None, held
    unseen = min(_UNSEEN_RATIO * sings_s / duration_s, _MOST_UNSEEN_RATIO)
    relative_se = float(np.hypot(loudness.relative_se(sings_s), unseen))
    if relative_se > _MOST_RELATIVE_SE:
        return None, held
    return Measured(sings_s, sings_s * relative_se), None


class _Loudness:
    """The loudness of one note over time, and how far the errors of its modes move it."""

    def __init__(self, found: MeasuredPartials, clear: NDArray[np.bool_]) -> None:
        rows = np.flatnonzero(clear)
        modes = _Modes.chosen_in(found).of_rows(rows)
        weighted = a_weighting_power(found.f_hz[rows])
        level_db = 10.0 * np.log10(np.maximum(weighted * modes.power(np.zeros(1))[:, 0], 1e-300))
        kept = np.clip((level_db - level_db.max() + _FAINTEST_DB) / _FADED_DB, 0.0, 1.0)
        loud = kept > 0.0
        self._rows = rows[loud]
        self._modes = modes.of_rows(np.flatnonzero(loud))
        self._weight = kept[loud] * weighted[loud] ** _EXPONENT
        self._found = found
        self._at_onset = self._parts(np.zeros(1))[:, 0]

    def _parts(self, time_s: Real) -> Real:
        """Return the loudness of each partial, shape (k, m)."""
        return np.asarray(self._weight[:, None] * self._modes.power(time_s) ** _EXPONENT)

    def _fall(self, time_s: Real) -> Real:
        """Return by how much ln loudness has fallen, shape (m,)."""
        return np.asarray(np.log(self._at_onset.sum() / np.maximum(self._parts(time_s).sum(axis=0), 1e-300)))

    def falls_to_a_quarter_s(self) -> float | None:
        """Return when the loudness is a quarter of what it was, ``None`` if it never comes to that."""
        tried_s = np.concatenate([[_SOONEST_S], _FIRST_TRIED_S, [_LATEST_S]])
        above = self._fall(tried_s) - _QUARTER
        if above[-1] < 0.0:
            return None
        high = max(1, int(np.argmax(above > 0.0)))
        at, value = np.log(tried_s[high - 1 : high + 1]), above[high - 1 : high + 1]
        for _ in range(_SECANTS):
            between = float(np.clip((at[0] * value[1] - at[1] * value[0]) / (value[1] - value[0]), *at))
            here = float(self._fall(np.array([np.exp(between)]))[0]) - _QUARTER
            side = int(here > 0.0)
            # Illinois: the end that stays counts half, so that it cannot stay for ever.
            at[side], value[side], value[1 - side] = between, here, 0.5 * value[1 - side]
        return float(np.exp((at[0] * value[1] - at[1] * value[0]) / (value[1] - value[0])))

    def relative_se(self, sings_s: float) -> float:
        """Return the standard error of ln T from the errors of the modes, the doubt about their number included."""
        at_end = self._parts(np.array([sings_s]))[:, 0]
        rate = float(np.diff(self._fall(sings_s * np.exp(np.array([-_STEP, _STEP]))))[0]) / (2.0 * _STEP)
        by_end = _EXPONENT * at_end / at_end.sum()
        by_onset = _EXPONENT * self._at_onset / self._at_onset.sum()
        slope = by_end[:, None] * self._modes.log_slope(sings_s) - by_onset[:, None] * self._modes.log_slope(0.0)
        variance = np.real(np.einsum("ki,kij,kj->k", slope, self._modes.covariance, slope.conj()))
        other = self._other_choice(sings_s, by_end, by_onset)
        return float(np.sqrt(np.maximum(variance, 0.0).sum() + other @ other)) / max(rate, 1e-3)

    def _other_choice(self, sings_s: float, by_end: Real, by_onset: Real) -> Real:
        """Return how far ln S(T)/S(0) moves with each partial that might as well be two modes, times √probability."""
        found, bands = self._found, self._found.bands
        moved = np.zeros(self._rows.size)
        doubtful = np.flatnonzero(~found.is_double[self._rows])
        rows = self._rows[doubtful]
        n_looks = bands.time_s.size * bands.noise_share
        left = np.log(np.maximum([found.single.residual[rows], found.double.residual[rows]], 1e-300))
        # Schwarz's criterion: four more parameters cost half of 4·ln(looks).
        against = 2.0 * np.log(max(n_looks, 1.0)) - n_looks * (left[0] - left[1])
        share = 1.0 / (1.0 + np.exp(np.clip(against, -50.0, 50.0)))
        other, one = _Modes.of(found.double, bands).of_rows(rows), self._modes.of_rows(doubtful)
        ratio = np.log(other.power(np.array([0.0, sings_s])) / one.power(np.array([0.0, sings_s])))
        moved[doubtful] = np.sqrt(share) * (by_end[doubtful] * ratio[:, 1] - by_onset[doubtful] * ratio[:, 0])
        return moved


class _Modes:
    """Modes of several partials: `n` of each, some of them with amplitude 0."""

    def __init__(self, pole: Complex, onset: Complex, covariance: Complex) -> None:
        self.pole, self.onset, self.covariance = pole, onset, covariance
        self._between = pole.conj()[:, :, None] + pole[:, None, :]
        self._smoothed = onset.conj()[:, :, None] / (1.0 - self._between * _FORGETTING_S)

    @classmethod
    def of(cls, fit: ModeFit, bands: Bands) -> _Modes:
        gain = 1.0 / bands.gain_of(fit.exponent)
        scale = np.concatenate([gain, np.ones_like(gain)], axis=1)
        return cls(fit.exponent, fit.onset, fit.covariance * scale[:, :, None] * scale[:, None, :])

    @classmethod
    def chosen_in(cls, found: MeasuredPartials) -> _Modes:
        fits = found.chosen()
        n_modes, n_rows = max(fit.exponent.shape[1] for fit, _ in fits), found.partial.size
        pole = np.full((n_rows, n_modes), -1.0, dtype=np.complex128)
        onset = np.zeros((n_rows, n_modes), dtype=np.complex128)
        covariance = np.zeros((n_rows, 2 * n_modes, 2 * n_modes), dtype=np.complex128)
        for fit, rows in fits:
            own = cls.of(fit, found.bands).of_rows(np.flatnonzero(rows))
            n = own.pole.shape[1]
            place = np.concatenate([np.arange(n), n_modes + np.arange(n)])
            pole[rows, :n], onset[rows, :n] = own.pole, own.onset
            covariance[np.ix_(np.flatnonzero(rows), place, place)] = own.covariance
        return cls(pole, onset, covariance)

    def of_rows(self, rows: NDArray[np.intp]) -> _Modes:
        return _Modes(self.pole[rows], self.onset[rows], self.covariance[rows])

    def power(self, time_s: Real) -> Real:
        """Return the power of each partial, beats averaged, shape (k, m)."""
        n_rows, n_pairs = self.pole.shape[0], self.pole.shape[1] ** 2
        turned = np.exp(self._between.reshape(n_rows, n_pairs, 1) * time_s)
        size = (self._smoothed * self.onset[:, None, :]).reshape(n_rows, 1, n_pairs)
        return np.maximum((size @ turned)[:, 0].real, 1e-200)

    def log_slope(self, time_s: float) -> Complex:
        """Return v, shape (k, 2n), such that ln P moves by Re Σ v·error with the errors of onset and exponent."""
        at = self._smoothed * np.exp(self._between * time_s)
        by_onset = at.sum(axis=1)
        by_pole = (at * (time_s + _FORGETTING_S / (1.0 - self._between * _FORGETTING_S))).sum(axis=1) * self.onset
        both = np.concatenate([by_onset, by_pole], axis=1)
        return np.asarray(2.0 * both / self.power(np.array([time_s])), dtype=np.complex128)
