"""How long one plucked string rings, also beside others of its note that ring already.

The strings of a note lie within a cent or two of each other: no filter parts a string just plucked from one plucked
before it. Time does. Around each partial, what rang before the pluck is foreseen into the time after it by linear
prediction; what cannot be foreseen is new. How well the foreseeing works is tried on the last moments before the pluck,
and what it cannot do is taken off the evidence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import SETTLING, Spectrum
from strikeline.acoustics.plucks_fade import estimate_fade_db
from strikeline.measured import Measured

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

_WIDEST_HZ: Final = 60.0
_WIDEST_OF_SPACING: Final = 0.12
"""Treble partials lie far apart: the wider the band, the sooner after the pluck it can be read."""
_NARROWEST_HZ: Final = 18.0
_WIDTH_OF_SPACING: Final = 0.55
_STEP_S: Final = 0.015
_EARLY_S: Final = 0.06
_FALL_DB: Final = 16.0
"""The fall is followed so far: below it partials with a node at the felt, other strings and the room take over."""
_LEAST_FACTOR: Final = 0.02
_ORDERS: Final = (1, 2, 3)
_LAG_S: Final = 0.025
_BETTER: Final = 0.7
"""One tone more must explain so much better what was kept back for the trial."""
_CLEAR_RATIO: Final = 4.0
_MOST_SCATTER_DB: Final = 3.0
_LEAST_SCATTER_DB: Final = 1.5
_SHORT_S: Final = 0.12
_TRIED_SHARE: Final = 0.4
"""Share of the sound before the pluck on which the foreseeing is tried."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ringing:
    """What is new after a pluck, and how it falls."""

    decay_db_per_s: Measured | None
    """Of all new partials together, positive for a falling level; ``None`` if nothing new stands clear."""
    is_at_least: bool
    """Whether the fall went under the noise at once: the decay is a lower bound."""
    new_db: float
    """Level of the new sound in the first 60 ms, dB re full scale."""
    old_db: float
    """Level of what rang on from before in the same time."""
    n_partials: int
    """Partials in which something new stands clear."""
    n_sought: int
    """Partials looked at."""
    fade_db: float | None
    """How far the new sound falls from the first moments to a tenth of a second later; ``None`` if it ends too soon."""


def measure_ringing(
    samples: NDArray[np.float32], *, sample_rate_hz: float, onset_sample: int, partial_hz: Real, spacing_hz: float
) -> Ringing:
    """Return how what is new after a pluck falls.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,)
        Sound from up to 0.35 s before the pluck until shortly before the next.
    sample_rate_hz : float
        Above 0.
    onset_sample : int
        The pluck.
    partial_hz : ndarray of float, shape (k,)
        Partials of the note.
    spacing_hz : float
        Their distance, about f0.

    Returns
    -------
    Ringing
        The decay with its standard error.
    """
    widest = max(_WIDEST_HZ, _WIDEST_OF_SPACING * spacing_hz)
    half_width = float(np.clip(_WIDTH_OF_SPACING * spacing_hz, _NARROWEST_HZ, widest))
    settles_s = SETTLING / half_width
    nothing = Ringing(
        decay_db_per_s=None,
        is_at_least=False,
        new_db=-200.0,
        old_db=-200.0,
        n_partials=0,
        n_sought=len(partial_hz),
        fade_db=None,
    )
    if samples.size < 64:
        return nothing
    spectrum = Spectrum(samples, sample_rate_hz=sample_rate_hz)
    bands = spectrum.bands(partial_hz, half_width_hz=half_width)
    time_s = bands.time_s - onset_sample / sample_rate_hz
    before, after = time_s < -settles_s, time_s > settles_s
    step = max(1, round(_STEP_S * bands.rate_hz))
    if after.sum() < max(3, step):
        return nothing
    noise = spectrum.floor_variance(bands, half_width_hz=max(150.0, spacing_hz)) * bands.noise_share
    after_s = time_s[after]
    late = after & (time_s >= min(_SHORT_S, 0.4 * float(after_s[-1])))
    foreseen, share_missed = _foresee(
        bands.signal[:, before],
        bands.signal[:, late],
        n_gap=int((~before & ~after).sum()),
        n_after=int(after.sum()),
        lag=max(1, round(_LAG_S * bands.rate_hz)),
    )
    n_last = max(1, round(_EARLY_S * bands.rate_hz))
    rang = np.square(np.abs(bands.signal[:, before][:, -n_last:])).sum(axis=1) / n_last
    new = np.abs(bands.signal[:, after] - foreseen) ** 2
    seen = _fall(new, after_s, step=step, rang=rang, share_missed=share_missed, noise=noise)
    onset_s = onset_sample / sample_rate_hz
    fade_db = estimate_fade_db(spectrum, onset_s=onset_s, f0_hz=spacing_hz, left=new, left_at_s=after_s)
    return replace(seen, fade_db=fade_db)


def _foresee(before: Complex, late: Complex, *, n_gap: int, n_after: int, lag: int) -> tuple[Complex, Real]:
    """Return what rings on, shape (k, n_after), and the share of its power that is missed, shape (k,).

    `lag` is the distance, in samples, of those from which the next is foreseen: tones that lie close need a long one.
    """
    k, n = before.shape
    n_tried = int(_TRIED_SHARE * n)
    best = np.full(k, 1.0)
    foreseen = np.zeros((k, n_after), dtype=np.complex128)
    # The mean frequency is moved to zero first, so that no tone turns by half a circle within the lag.
    turn = np.sum(before[:, 1:] * before[:, :-1].conj(), axis=1)
    turn = turn / np.maximum(np.abs(turn), 1e-30)
    still, still_late = _turned_back(before, turn), _turned_back(late, turn)
    known, tried = still[:, : n - n_tried], still[:, n - n_tried :]
    at_known, at_tried = np.arange(1 - known.shape[1], 1), np.arange(1, n_tried + 1)
    at_before, at_after = np.arange(1 - n, 1), np.arange(n_gap + 1, n_gap + 1 + n_after)
    for order in _ORDERS:
        if n - n_tried < (order + 1) * lag + order or late.shape[1] < (order + 1) * lag:
            break
        root = _roots(still, still_late, order=order, lag=lag)
        missed = np.mean(np.abs(tried - _continued(root, known, at_known, at_tried)) ** 2, axis=1)
        missed /= np.mean(np.abs(tried) ** 2, axis=1) + 1e-30
        better = missed < best * _BETTER
        ahead = _continued(root[better], still[better], at_before, at_after)
        foreseen[better] = ahead * turn[better, None] ** (n - 1 + at_after)
        best = np.where(better, missed, best)
    return foreseen, best


def _turned_back(signal: Complex, turn: Complex) -> Complex:
    return np.asarray(signal * turn.conj()[:, None] ** np.arange(signal.shape[1]))


def _roots(before: Complex, late: Complex, *, order: int, lag: int) -> Complex:
    """Return the factors per sample of `order` damped tones, by linear prediction; what would grow is kept level.

    The tones of a note are the same before and after a pluck, only their amplitudes change: both sides tell them.
    """
    k = before.shape[0]
    normal, moment = np.zeros((k, order, order), complex), np.zeros((k, order, 1), complex)
    for part in (before, late):
        usable = part.shape[1] - order * lag
        columns = np.stack([part[:, (order - back) * lag :][:, :usable] for back in range(1, order + 1)], axis=2)
        target = part[:, order * lag :][:, :, None]
        scale = 1.0 / (np.mean(np.abs(part) ** 2, axis=1)[:, None, None] + 1e-30)
        turned = np.conj(columns.transpose(0, 2, 1))
        normal += scale * (turned @ columns)
        moment += scale * (turned @ target)
    normal += (1e-9 * np.trace(normal, axis1=1, axis2=2).real[:, None, None] + 1e-30) * np.eye(order)
    companion = np.zeros((k, order, order), complex)
    companion[:, 0] = np.linalg.solve(normal, moment)[:, :, 0]
    companion[:, np.arange(1, order), np.arange(order - 1)] = 1.0
    root = np.linalg.eigvals(companion)
    root = np.where(np.abs(root) < _LEAST_FACTOR, _LEAST_FACTOR, root)
    root = root / np.maximum(np.abs(root), 1.0) * (1.0 - 1e-6 * np.arange(order))  # equal roots have no amplitudes
    return np.asarray(np.exp(np.log(root) / lag))


def _continued(root: Complex, signal: Complex, at: NDArray[np.int64], wanted: NDArray[np.int64]) -> Complex:
    """Return the sum of the tones at the samples `wanted`, their amplitudes fitted to `signal` at the samples `at`."""
    order = root.shape[1]
    basis = root[:, None, :] ** (at - at[0])[None, :, None]  # powers of one or less
    turned = np.conj(basis.transpose(0, 2, 1))
    normal = turned @ basis
    normal += (1e-12 * np.trace(normal, axis1=1, axis2=2).real[:, None, None] + 1e-30) * np.eye(order)
    amplitude = np.linalg.solve(normal, turned @ signal[:, :, None])
    return np.asarray(((root[:, None, :] ** (wanted - at[0])[None, :, None]) @ amplitude)[:, :, 0])


def _fall(new: Real, time_s: Real, *, step: int, rang: Real, share_missed: Real, noise: Real) -> Ringing:
    """Lay a line through the level of what is new, partials counted alike."""
    n_steps = new.shape[1] // step
    power = new[:, : n_steps * step].reshape(new.shape[0], n_steps, step).mean(axis=2)
    at_s = time_s[: n_steps * step].reshape(n_steps, step).mean(axis=1)
    # What was missed in the trial grows as the square of the time looked ahead.
    ahead = np.maximum(1.0, at_s / 0.1) ** 2
    doubt = noise[:, None] + rang[:, None] * np.minimum(1.0, share_missed[:, None] * ahead)
    n_early = max(1, min(n_steps, int(_EARLY_S / (step * (time_s[1] - time_s[0])))))
    early, early_doubt = power[:, :n_early].mean(axis=1), doubt[:, :n_early].mean(axis=1)
    clear = early > _CLEAR_RATIO * early_doubt
    new_db = 10.0 * float(np.log10(early.sum() + 1e-20))
    old_db = 10.0 * float(np.log10(rang.sum() + 1e-20))
    seen = Ringing(
        decay_db_per_s=None,
        is_at_least=False,
        new_db=new_db,
        old_db=old_db,
        n_partials=int(clear.sum()),
        n_sought=clear.size,
        fade_db=None,
    )
    if not clear.any():
        return seen
    surplus = 10.0 * np.log10(early[clear] / early_doubt[clear])
    weight = np.clip(surplus / 20.0, 0.0, 1.0) * early[clear]
    weight /= weight.sum()
    level = weight @ (power[clear] / early[clear, None])
    floor = weight @ (doubt[clear] / early[clear, None])
    return _with_line(seen, at_s, level, floor)


def _with_line(seen: Ringing, at_s: Real, level: Real, floor: Real) -> Ringing:
    """Return what was seen with the slope of its level, where one can be laid."""
    is_heard = (level > 2.0 * floor) & (level > level[0] * 10.0 ** (-_FALL_DB / 10.0))
    n = int(np.argmin(np.append(is_heard, False)))
    is_at_least = n < min(4, level.size)
    if is_at_least:
        n = min(max(n + 1, 2), level.size)  # what fell under the floor at once: the line through the floor is the least
    if n < 2:
        return seen
    about = at_s[:n] - at_s[:n].mean()
    level_db = 10.0 * np.log10(np.maximum(level[:n], floor[:n]) + 1e-20)
    slope = float(about @ level_db / (about @ about))
    error = level_db - level_db.mean() - slope * about
    if is_at_least and slope >= 0.0:
        return seen
    # A fall need not be even to be told: what scatters more than beats do is its shape, not its error.
    scatter = min(float(error @ error) / max(n - 2, 1), _MOST_SCATTER_DB**2)
    doubtful = float(np.mean(np.minimum(1.0, _CLEAR_RATIO * floor[:n] / level[:n])))
    variance = max(scatter, _LEAST_SCATTER_DB**2 * (1.0 + 9.0 * doubtful) / max(1, seen.n_partials))
    return replace(
        seen,
        decay_db_per_s=Measured(-slope, float(np.sqrt(variance / (about @ about)))),
        is_at_least=is_at_least,
    )
