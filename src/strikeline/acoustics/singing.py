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
_LATEST_S: Final = 100.0
_LATER: Final = 40
_LOOKED_AT: Final = 90
"""Moments at which the powers are worked out, closer together at first; between them ln P runs straight."""
_EARLY_SHARES: Final = np.array([0.25, 0.5, 0.75])
_CLEAR_OF_NOISE: Final = 4.0
"""Standard deviations: a partial below that is left to its modes."""
_UNSEEN_RATIO: Final = 0.1
_MOST_UNSEEN_RATIO: Final = 0.3
"""What the sound has not shown yet, modes that come out later: standard deviation of ln T, per square of (T + W) over
the time heard, and at most. Set so that on the 88 notes of the chromatic grand the first 1.2 to 4 s foretell what 12 s
show within 1.96 se in 96 of 100; the layered grand, which had no say in it, then shows 96 of 100 too
(tests/real/test_decay_real.py)."""
_ONSET_SD_S: Final = 0.003
"""How well the moment of the blow is known (99.95 % of the onsets of generated passes lie within 5 ms)."""
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

    As long as the partials are heard their powers are what is heard, less the noise. The first moments, in which the
    filters have not settled, and what comes after the end are filled in from the fitted modes. The standard error holds
    the noise, the errors of the modes and the doubt about their number as far as the modes count, the moment of the
    blow, and what a longer sound might still show.

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
    unseen = min(_UNSEEN_RATIO * ((sings_s + _FORGETTING_S) / duration_s) ** 2, _MOST_UNSEEN_RATIO)
    relative_se = float(np.linalg.norm([loudness.relative_se(sings_s), unseen, _ONSET_SD_S / sings_s]))
    if relative_se > _MOST_RELATIVE_SE:
        return None, held
    return Measured(sings_s, sings_s * relative_se), None


class _Loudness:
    """The loudness of one note over time, and how far noise and the errors of its modes move it."""

    def __init__(self, found: MeasuredPartials, clear: NDArray[np.bool_]) -> None:
        self._powers = _Powers(found, np.flatnonzero(clear))
        weighted = a_weighting_power(found.f_hz[clear])
        level_db = 10.0 * np.log10(weighted * self._powers.at_onset)
        kept = np.clip((level_db - level_db.max() + _FAINTEST_DB) / _FADED_DB, 0.0, 1.0)
        self._weight = kept * weighted**_EXPONENT
        self._at_onset = self._weight * self._powers.at_onset**_EXPONENT

    def _fall(self, power: Real) -> Real:
        """Return by how much ln loudness has fallen for powers of shape (k, m), shape (m,)."""
        loudness = self._weight @ power**_EXPONENT
        return np.asarray(np.log(self._at_onset.sum() / np.maximum(loudness, 1e-300)))

    def falls_to_a_quarter_s(self) -> float | None:
        """Return when the loudness is a quarter of what it was, ``None`` if it never comes to that."""
        time_s, power = self._powers.until_the_end()
        above = self._fall(power) - _QUARTER
        if above[-1] < 0.0:
            time_s = np.geomspace(time_s[-1], _LATEST_S, _LATER)
            above = self._fall(self._powers.after_the_end(time_s)) - _QUARTER
            if above[-1] < 0.0:
                return None
        after = int(np.argmax(above > 0.0))
        if after == 0:
            return float(time_s[0])
        share = above[after - 1] / (above[after - 1] - above[after])
        return float(time_s[after - 1] + share * (time_s[after] - time_s[after - 1]))

    def relative_se(self, sings_s: float) -> float:
        """Return the standard error of ln T from noise and the errors of the modes, their number included."""
        powers = self._powers
        at_end = self._weight * powers.at(sings_s) ** _EXPONENT
        before, after = (self._fall(powers.at(sings_s * ratio)[:, None])[0] for ratio in (1.0 - _STEP, 1.0 + _STEP))
        rate = float(after - before) / (2.0 * _STEP)
        by_end = _EXPONENT * at_end / at_end.sum()
        by_onset = _EXPONENT * self._at_onset / self._at_onset.sum()
        variance = powers.variance(sings_s, by_end, by_onset)
        return float(np.sqrt(variance)) / max(rate, 1e-3)


class _Powers:
    """The power of k partials over time, averaged over what follows.

    As long as they are heard it is what is heard, less the noise. The modes only fill in the first moments, in which
    the filter has not settled, and what comes after the end; where noise hides a partial, its modes speak for it.
    """

    def __init__(self, found: MeasuredPartials, rows: NDArray[np.intp]) -> None:
        self._found, self._rows = found, rows
        self._modes = _Modes.chosen_in(found).of_rows(rows)
        bands = found.bands
        self._first_s, self._last_s = float(bands.time_s[0]), float(bands.time_s[-1])
        chosen = np.unique(np.geomspace(1, bands.time_s.size, _LOOKED_AT).astype(np.int64)) - 1
        self._time_s = bands.time_s[chosen]
        noise = (_noise_variance(found)[rows] * bands.noise_share)[:, None]
        own = np.abs(bands.signal[rows]) ** 2 - noise
        step = 1.0 / (bands.rate_hz * _FORGETTING_S)
        spread = (2.0 * np.maximum(own, 0.0) + noise) * noise * (step**2 / bands.noise_share)
        to_end = np.exp((self._time_s - self._last_s) / _FORGETTING_S)
        modelled = self._modes.power(self._time_s)
        half = 0.5 * step * own  # by trapezoids: the first and the last sample count half
        heard = (_forgetting_backwards(2.0 * half, step) - half)[:, chosen]
        heard += (modelled[:, -1:] - half[:, -1:]) * to_end
        self._variance = _forgetting_backwards(spread, 2.0 * step)[:, chosen]
        self._is_seen = heard > _CLEAR_OF_NOISE * np.sqrt(self._variance)
        self._power = np.where(self._is_seen, heard, modelled)
        self._missed = self._power[:, 0] - modelled[:, 0]
        """What is heard at first beyond what the modes say."""
        self._of_tail = np.where(self._is_seen, modelled[:, -1:] * to_end / self._power, 1.0)
        self.at_onset = self._before(np.zeros(1))[:, 0]

    def _before(self, time_s: Real) -> Real:
        """Return the powers before the filter has settled, shape (k, m)."""
        later = np.exp((time_s - self._first_s) / _FORGETTING_S)
        return np.maximum(self._modes.power(time_s) + self._missed[:, None] * later, 1e-200)

    def until_the_end(self) -> tuple[Real, Real]:
        """Return moments, shape (m,), and the powers, shape (k, m), as long as something was heard."""
        early_s = self._first_s * _EARLY_SHARES
        return np.concatenate([early_s, self._time_s]), np.concatenate([self._before(early_s), self._power], axis=1)

    def after_the_end(self, time_s: Real) -> Real:
        """Return what the modes foretell, shape (k, m)."""
        return self._modes.power(time_s)

    def at(self, time_s: float) -> Real:
        """Return the powers at one moment, shape (k,)."""
        if time_s < self._first_s:
            return self._before(np.array([time_s]))[:, 0]
        if time_s >= self._last_s:
            return self._modes.power(np.array([time_s]))[:, 0]
        place = int(np.searchsorted(self._time_s, time_s, side="right"))
        between = (time_s - self._time_s[place - 1]) / (self._time_s[place] - self._time_s[place - 1])
        ends = np.log(self._power[:, place - 1 : place + 1])
        return np.asarray(np.exp(ends[:, 0] + between * (ends[:, 1] - ends[:, 0])))

    def variance(self, time_s: float, weight: Real, weight_at_onset: Real) -> float:
        """Return the variance of Σ weight·ln P(t) − weight_at_onset·ln P(0)."""
        place = int(np.clip(np.searchsorted(self._time_s, time_s), 0, self._time_s.size - 1))
        is_seen = self._is_seen[:, place] & (time_s < self._last_s)
        share = np.where(is_seen, self._of_tail[:, place], 1.0)
        share_at_onset = np.minimum(
            np.abs(1.0 - np.exp(-self._first_s / _FORGETTING_S) * self._power[:, 0] / self.at_onset), 1.0
        )
        share_at_onset = np.where(self._is_seen[:, 0], share_at_onset, 1.0)
        power = np.maximum(self.at(time_s) ** 2, 1e-300)  # what has died away altogether has no weight either
        noise = np.where(is_seen, self._variance[:, place], 0.0) / power * weight**2
        noise += np.where(self._is_seen[:, 0], self._variance[:, 0], 0.0) / self.at_onset**2 * weight_at_onset**2
        late_s = max(time_s, self._last_s)
        to_end = np.where(is_seen[:, None], self._modes.log_slope(late_s), self._modes.log_slope(time_s))
        by_end, by_onset = weight * share, weight_at_onset * share_at_onset
        slope = by_end[:, None] * to_end - by_onset[:, None] * self._modes.log_slope(0.0)
        modes = np.einsum("ki,kij,kj->k", slope, self._modes.covariance, slope.conj()).real
        other = self._other_choice(late_s, by_end, by_onset)
        return float(noise.sum() + np.maximum(modes, 0.0).sum() + other @ other)

    def _other_choice(self, time_s: float, by_end: Real, by_onset: Real) -> Real:
        """Return how far each partial that might as well be two modes would move the sum, times √probability."""
        found, bands = self._found, self._found.bands
        moved = np.zeros(self._rows.size)
        doubtful = np.flatnonzero(~found.is_double[self._rows])
        rows = self._rows[doubtful]
        share = found.share_of_two()[rows]
        other, one = _Modes.of(found.double, bands).of_rows(rows), self._modes.of_rows(doubtful)
        ratio = np.log(other.power(np.array([0.0, time_s])) / one.power(np.array([0.0, time_s])))
        moved[doubtful] = np.sqrt(share) * (by_end[doubtful] * ratio[:, 1] - by_onset[doubtful] * ratio[:, 0])
        return moved


def _noise_variance(found: MeasuredPartials) -> Real:
    """Return the variance of the noise, shape (k,): what lies beside the partial, or what its modes leave, if less.

    Beside a partial lie the skirts of its neighbours; what is left of it holds modes that were not fitted.
    """
    left = np.copy(found.floor_variance)
    for fit, rows in found.chosen():
        left[rows] = np.minimum(left[rows], fit.noise_variance[rows])
    return left


def _forgetting_backwards(values: Real, rate: float) -> Real:
    """Return Σ_j v[i + j]·e^(−rate·j) for every i along the last axis.

    Summed from the end, where the weight that counts from the beginning is smallest; over the few seconds that are
    measured it falls by some e^8, which costs no digit.
    """
    weight = np.exp(-rate * np.arange(values.shape[1]))
    return np.asarray(np.cumsum((values * weight)[:, ::-1], axis=1)[:, ::-1] / weight)


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
