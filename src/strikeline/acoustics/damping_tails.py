"""What is left of each partial after its damper has landed: how fast it falls, and how much of it is left to fall.

After the landing a partial has a fast part, which the felt stops, and may have a slow one, which it does not: the felt
lies near a node, or misses a string. The slow part begins no more than some decibels below the partial. What begins
far lower is no leak: another string that the note has set going.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands, Spectrum
from strikeline.acoustics.damping_landing import noise_power
from strikeline.acoustics.modes import ModeFit, fit_double_modes, fit_single_modes, needs_more_modes
from strikeline.units import DB_PER_NEPER

Real = NDArray[np.float64]

PRESSED_S: Final = 0.008
"""The felt presses on over 10 to 20 ms, half of it after the landing (common practice, no source)."""
_SPACING_SHARE: Final = 0.4
_WIDEST_HZ: Final = 40.0
_CLEAR_DB: Final = 16.0
"""Energy over noise density; the best of some hundred places in noise alone reaches 7 dB (`measure`), and reflections
of what has gone add to it."""
_ABOVE_BEFORE_DB: Final = 12.0
"""What was there before the blow as well is an earlier note that rings on; it beats, by some decibels up and down."""
PART_DB: Final = -22.0
"""A slow part that begins lower, against the partial, is another string's: one string of three holds -9.5 dB, those
set going through the bridge -40 to -60 dB (common practice, no source)."""
_OWN_SHARE: Final = 15.0 / 1731.0
_OWN_HZ: Final = 1.5
"""A part within 15 cents of the partial is its own: strings of one note far out of tune, and the law's own error."""
_NOTHING_DB: Final = 32.0
"""A partial that stood this far above the noise and of which nothing is heard has been stopped: a leak of `PART_DB`
would still stand 10 dB above the noise."""
_FREE_S: Final = 0.08
_FEWEST_FREE: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tails:
    """k partials after the landing; arrays of shape (k,), NaN where nothing was heard."""

    free_db_per_s: Real
    """Fall before the landing; NaN where the note was free too short a time for it."""
    free_se_db_per_s: Real
    before_db: Real
    """Level before the landing, dB re full scale."""
    noise_db: Real
    """Level of the noise in the band of each partial."""
    f_hz: Real
    decay_per_s: Real
    """Amplitude decay of the slow part."""
    decay_se_per_s: Real
    starts_db: Real
    """Level of the slow part, followed back to the landing, against the partial before it."""
    lasts_s: Real
    """How long the slow part stays above the noise."""
    is_own: NDArray[np.bool_]
    """Whether the slow part begins and sounds where the partial does."""
    is_gone: NDArray[np.bool_]
    """Whether nothing is heard where a leak would be."""


def measure_tails(
    sound: NDArray[np.floating],
    before: NDArray[np.floating],
    *,
    sample_rate_hz: float,
    partial_hz: Real,
    f0_hz: float,
    lands_s: float,
) -> Tails | None:
    """Measure what is left of each partial after the landing; ``None`` if too little sound follows it.

    Parameters
    ----------
    sound, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset of the blow on, and what sounded before it.
    sample_rate_hz : float
        Above 0.
    partial_hz : ndarray of float, shape (k,)
        Where the partials are.
    f0_hz : float
        Distance of the partials.
    lands_s : float
        When the damper lands, after the onset.
    """
    half_width_hz = min(_SPACING_SHARE * f0_hz, _WIDEST_HZ)
    start = round((lands_s + PRESSED_S) * sample_rate_hz)
    if sound.size - start < 0.25 * sample_rate_hz:
        return None
    whole = Spectrum(sound, sample_rate_hz=sample_rate_hz).bands(partial_hz, half_width_hz=half_width_hz)
    bands = Spectrum(sound[start:], sample_rate_hz=sample_rate_hz).bands(partial_hz, half_width_hz=half_width_hz)
    if bands.is_cut_short:
        return None
    noise = noise_power(before, bands, sample_rate_hz=sample_rate_hz)
    noise_db, before_db = 10.0 * np.log10(noise), _level_before_db(whole, lands_s)
    parts = _parts(bands)
    starts_db = parts.level_db - before_db[:, None]
    clear_db = 10.0 * np.log10(parts.energy / (noise / bands.noise_share)[:, None] + 1e-30)
    heard = (clear_db > _CLEAR_DB) & (parts.level_db > noise_db[:, None] + _ABOVE_BEFORE_DB)
    off_hz = np.abs(bands.centre_hz[:, None] + parts.offset_hz - partial_hz[:, None])
    in_tune = off_hz < np.maximum(_OWN_HZ, partial_hz * _OWN_SHARE)[:, None]
    is_loud = heard & (starts_db > PART_DB)
    own, faint = _slowest(parts, is_loud & in_tune), _slowest(parts, heard)
    is_own = np.any(is_loud & in_tune, axis=1)
    slow = np.where(is_own, own, faint)

    def of_slow(values: Real) -> Real:
        told = np.take_along_axis(heard, slow[:, None], axis=1)[:, 0]
        return np.where(told, np.take_along_axis(values, slow[:, None], axis=1)[:, 0], np.nan)

    decay = of_slow(parts.decay_per_s)
    stands_db = np.maximum(of_slow(parts.level_db) - noise_db, 0.0)
    free_db_per_s, free_se = _free_fall(whole, lands_s)
    return Tails(
        free_db_per_s=free_db_per_s,
        free_se_db_per_s=free_se,
        before_db=before_db,
        noise_db=noise_db,
        f_hz=bands.centre_hz + of_slow(parts.offset_hz),
        decay_per_s=decay,
        decay_se_per_s=of_slow(parts.decay_se_per_s),
        starts_db=of_slow(starts_db),
        lasts_s=stands_db / (DB_PER_NEPER * decay),
        is_own=is_own,
        is_gone=~is_loud.any(axis=1) & (before_db - noise_db > _NOTHING_DB),
    )


def _parts(bands: Bands) -> _Parts:
    """Return the one or two parts that explain each partial."""
    single = fit_single_modes(bands)
    double = fit_double_modes(bands, single)
    return _Parts.of(single, double, needs_more_modes(bands, residual=single.residual, more=double))


def _slowest(parts: _Parts, among: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return which part of each partial falls slowest."""
    return np.asarray(np.argmin(np.where(among, parts.decay_per_s, np.inf), axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """One or two parts of each partial, shape (k, 2); the second is silent where there is one."""

    decay_per_s: Real
    decay_se_per_s: Real
    offset_hz: Real
    level_db: Real
    """Followed back to the start of the bands' sound."""
    energy: Real

    @classmethod
    def of(cls, single: ModeFit, double: ModeFit, is_double: NDArray[np.bool_]) -> _Parts:
        """Return the parts of the fit that explains each partial."""

        def chosen(of_single: Real, of_double: Real, nothing: float) -> Real:
            alone = np.concatenate([of_single, np.full_like(of_single, nothing)], axis=1)
            return np.where(is_double[:, None], of_double, alone)

        def energy(fit: ModeFit) -> Real:
            return np.asarray(np.abs(fit.amplitude) ** 2 * np.real(np.einsum("kii->ki", fit.gram)))

        return cls(
            decay_per_s=chosen(-single.exponent.real, -double.exponent.real, np.inf),
            decay_se_per_s=chosen(single.exponent_sd, double.exponent_sd, np.inf),
            offset_hz=chosen(single.exponent.imag, double.exponent.imag, 0.0) / (2.0 * np.pi),
            level_db=chosen(_db(single.onset), _db(double.onset), -300.0),
            energy=chosen(energy(single), energy(double), 0.0),
        )


def _db(amplitude: NDArray[np.complex128]) -> Real:
    return np.asarray(20.0 * np.log10(np.abs(amplitude) + 1e-15))


def _free_fall(whole: Bands, lands_s: float) -> tuple[Real, Real]:
    """Return the fall of each partial before the landing, and its standard error from the scatter about a line."""
    free = whole.time_s <= lands_s - 0.5 * PRESSED_S
    k, m = whole.signal.shape[0], int(free.sum())
    if m < _FEWEST_FREE:
        return np.full(k, np.nan), np.full(k, np.nan)
    about = whole.time_s[free] - whole.time_s[free].mean()
    level_db = 20.0 * np.log10(np.abs(whole.signal[:, free]) + 1e-15)
    slope = level_db @ about / (about @ about)
    error = level_db - level_db.mean(axis=1, keepdims=True) - slope[:, None] * about
    variance = np.sum(error**2, axis=1) / (m - 2) / whole.noise_share
    return np.asarray(-slope), np.asarray(np.sqrt(variance / (about @ about)))


def _level_before_db(whole: Bands, lands_s: float) -> Real:
    """Return the level of each partial just before the landing: the last 80 ms, or the first moment that is heard."""
    free = (whole.time_s > lands_s - _FREE_S) & (whole.time_s <= lands_s - 0.5 * PRESSED_S)
    if not free.any():
        free = np.arange(whole.time_s.size) == 0
    return np.asarray(10.0 * np.log10(np.mean(np.abs(whole.signal[:, free]) ** 2, axis=1) + 1e-30))
