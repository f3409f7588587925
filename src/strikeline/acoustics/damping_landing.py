"""When a damper lands: the moment at which all partials of a short blow begin to fall at once.

Each partial (in the bass a few together) is a channel of its own. A beat lets one partial fall, an aftersound makes
the fall slower; only the felt makes nearly all of them fall faster in the same moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Bands, Spectrum
from strikeline.measured import Measured
from strikeline.physics.strings import partial_frequencies_hz

Real = NDArray[np.float64]

_CHANNEL_HZ: Final = 40.0
"""Half width of a channel at least: it shows a change within 12 ms, and settles 37 ms after the blow."""
_WIDEST_HZ: Final = 60.0
_SPACING_SHARE: Final = 0.4
_HIGHEST_HZ: Final = 8000.0
_HIGHEST_SHARE: Final = 0.46
_MOST_CHANNELS: Final = 40
_CLEAR_DB: Final = 12.0
"""A channel is looked at if it stands this far above what sounded before the blow."""
_GONE_RATIO: Final = 4.0
_LOWEST_DB: Final = 30.0
"""A channel is followed down to 6 dB above the noise, and no farther than 30 dB: then comes the room."""
_EARLIEST_S: Final = 0.03
_LATEST_S: Final = 0.8
"""A key held longer than this is no short blow."""
_HALF_S: Final = 0.06
_LEAST_NATS: Final = 12.0
_NATS_PER_CHANNEL: Final = 1.0
_LEAST_SHARE: Final = 0.5
_MOST_NATS: Final = 8.0
_BEND_S: Final = 0.04
_LATER_S: Final = (0.12, 0.35)
_FLOOR_MARGIN_DB: Final = 3.0
_SURE_FALL_DB: Final = 14.0
"""Under a sound damper the middle channel falls by 16 dB (A0) or more between 0.12 and 0.35 s (T60 0.86 s: a secondary
survey, low confidence). Free strings, as far up as dampers go, fall by 13 dB at most (generated ones)."""
_DOUBTFUL_FALL_DB: Final = 6.0
"""One string of three that the felt misses leaves a fall of 9.5 dB; free strings may do as much."""
_REACH_S: Final = 0.15
_AFTER_S: Final = 0.12
_STEP_S: Final = 0.001
_MOST_SE_S: Final = 0.05
_FEWEST: Final = 4
_SMEAR_S: Final = 0.0065
"""What moves the kink besides chance: the felt presses on over 10 to 20 ms, reflections arrive up to 18 ms late."""
_DB_VARIANCE: Final = 0.25
"""Square of how far a channel strays from its line at least, dB²: the strings of a unison beat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """When the damper landed, and how clearly."""

    at_s: Measured
    """After the onset; where the lines before and after cross, which is when the felt is half pressed on."""
    is_sure: bool
    """Whether no free string falls like that; if not, one string or some partials may be all that is stopped, or
    nothing is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kink:
    at_s: float
    evidence_nats: float
    fall_db: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channels:
    """Level of a note's partials over time."""

    time_s: Real  # shape (m,)
    level_db: Real  # shape (k, m)
    floor_db: Real  # shape (k,): noise of each channel
    weight: Real  # shape (k,)
    independent_share: float
    """Looks at each channel that are independent of each other, over its samples."""


def find_landing(channels: Channels) -> Landing | None:
    """Return when the damper lands, or ``None`` if nothing makes the partials fall together."""
    kink = _coarse_landing(channels)
    if kink is None:
        return None
    at_s = _refined_landing(channels, kink.at_s)
    return None if at_s is None else Landing(at_s=at_s, is_sure=kink.fall_db > _SURE_FALL_DB)


def listen_to_channels(
    sound: NDArray[np.floating],
    before: NDArray[np.floating],
    *,
    sample_rate_hz: float,
    f0_hz: float,
    inharmonicity_b: float,
) -> Channels | None:
    """Return the level of each channel over time, ``None`` if none is clear of the noise.

    Parameters
    ----------
    sound, before : ndarray of float, shapes (n,) and (m,)
        Sound from the onset of the blow on, and what sounded before it.
    sample_rate_hz : float
        Above 0.
    f0_hz, inharmonicity_b : float
        Of the note, to within some 20 cents.
    """
    half_width_hz = float(np.clip(_SPACING_SHARE * f0_hz, _CHANNEL_HZ, _WIDEST_HZ))
    centre_hz = channel_centres_hz(
        f0_hz, inharmonicity_b=inharmonicity_b, half_width_hz=half_width_hz, sample_rate_hz=sample_rate_hz
    )
    bands = Spectrum(sound, sample_rate_hz=sample_rate_hz).bands(centre_hz, half_width_hz=half_width_hz)
    if bands.is_cut_short or bands.time_s.size < 4 * _FEWEST:
        return None
    power, n_mean = channel_power(bands, f0_hz=f0_hz)
    noise = noise_power(before, bands, sample_rate_hz=sample_rate_hz)
    early = power[:, : max(2, round(0.08 * bands.rate_hz))].mean(axis=1)
    clear_db = 10.0 * np.log10(early / noise)
    used = clear_db > _CLEAR_DB
    if not used.any():
        return None
    return Channels(
        time_s=bands.time_s,
        level_db=10.0 * np.log10(np.maximum(power[used], 1e-30)),
        floor_db=10.0 * np.log10(noise[used]),
        weight=np.minimum(clear_db[used], _LOWEST_DB),
        independent_share=bands.noise_share / n_mean,
    )


def noise_power(before: NDArray[np.floating], bands: Bands, *, sample_rate_hz: float) -> Real:
    """Return the mean power that each band held before the blow, shape (k,).

    Parameters
    ----------
    before : ndarray of float, shape (m,)
        What sounded before; less than 50 ms tell nothing, and next to nothing is returned.
    bands : Bands
        Bands of the sound itself.
    sample_rate_hz : float
        Above 0.
    """
    least = np.full(bands.centre_hz.size, 1e-16)
    if before.size < 0.05 * sample_rate_hz:
        return least
    size = before.size
    spectrum = np.abs(np.fft.rfft(before * np.hanning(size))) ** 2
    bin_hz = sample_rate_hz / size
    reach = max(1, round(bands.half_width_hz / bin_hz))
    total = np.concatenate([[0.0], np.cumsum(spectrum)])
    middle = np.rint(bands.centre_hz / bin_hz).astype(np.int64)
    low, high = np.clip(middle - reach, 0, spectrum.size), np.clip(middle + reach + 1, 1, spectrum.size)
    density = (total[high] - total[low]) / np.maximum(high - low, 1) / (0.375 * size) / sample_rate_hz
    # Complex envelope: twice the one-sided density over the width of the band, amplitudes and not effective values.
    return np.asarray(np.maximum(4.0 * density * bands.rate_hz * bands.noise_share, least))


def channel_power(bands: Bands, *, f0_hz: float) -> tuple[Real, int]:
    """Return the power in each channel over time, shape (k, m), and over how many samples it is a mean.

    Partials that share a channel beat at f0; the mean over one period of it takes that out.
    """
    power = np.abs(bands.signal) ** 2
    n_mean = 1 if _SPACING_SHARE * f0_hz >= _CHANNEL_HZ else int(np.ceil(bands.rate_hz / f0_hz))
    if n_mean > 1:
        power = np.apply_along_axis(np.convolve, 1, power, np.ones(n_mean) / n_mean, mode="same")
    return np.asarray(power), n_mean


def channel_centres_hz(f0_hz: float, *, inharmonicity_b: float, half_width_hz: float, sample_rate_hz: float) -> Real:
    """Return where to listen for a note: at each partial, or in the bass at every other one and so on.

    Parameters
    ----------
    f0_hz, inharmonicity_b : float
        Of the note.
    half_width_hz : float
        Of each channel.
    sample_rate_hz : float
        Above 0.
    """
    highest_hz = min(_HIGHEST_HZ, _HIGHEST_SHARE * sample_rate_hz)
    step = max(1, round(half_width_hz / f0_hz))
    number = np.arange(1, max(2, int(highest_hz / f0_hz)) + 1, step)
    hz = partial_frequencies_hz(number, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
    return np.asarray(hz[(hz < highest_hz) | (number == 1)][:_MOST_CHANNELS])


def _coarse_landing(channels: Channels) -> _Kink | None:
    """Return the moment at which the channels begin to fall faster together and stay down, if there is one."""
    moments = channels.time_s[::2]
    moments = moments[(moments > moments[0] + _EARLIEST_S) & (moments < min(float(moments[-1]) - _HALF_S, _LATEST_S))]
    best: _Kink | None = None
    for at_s in moments.tolist():
        nats, level_db = _kinks_down(channels, at_s)
        total = float(nats.sum())
        share = float(np.sum(channels.weight * (nats > 0.0)) / np.sum(channels.weight))
        if total < max(_LEAST_NATS, _NATS_PER_CHANNEL * nats.size) or share < _LEAST_SHARE:
            continue
        fall_db = _fall_db(channels, at_s, level_db)
        if fall_db > _DOUBTFUL_FALL_DB and (best is None or total > best.evidence_nats):
            best = _Kink(at_s=at_s, evidence_nats=total, fall_db=fall_db)
    return best


def _fall_db(channels: Channels, at_s: float, level_db: Real) -> float:
    """Return how far the middle channel has fallen 0.12 to 0.35 s after a moment, no farther than to the noise."""
    later = (channels.time_s > at_s + _LATER_S[0]) & (channels.time_s < at_s + _LATER_S[1])
    if not later.any():
        return 0.0
    floor = channels.floor_db + _FLOOR_MARGIN_DB
    after_db = np.mean(np.maximum(channels.level_db[:, later], floor[:, None]), axis=1)
    fall_db = np.maximum(level_db, floor) - after_db
    order = np.argsort(fall_db)
    reached = np.cumsum(channels.weight[order]) >= 0.5 * channels.weight.sum()
    return float(fall_db[order][np.argmax(reached)])


def _kinks_down(channels: Channels, at_s: float) -> tuple[Real, Real]:
    """Return the evidence that each channel's fall grows steeper at a moment, nats, and its level there.

    The evidence is negative where the fall grows less steep.

    The log-likelihood ratio of two joined lines against one, from 0.15 s before to 0.12 s after or to the noise; one
    channel counts up to `_MOST_NATS`, so that a deep beat of a single partial cannot pass for a damper.
    """
    inside = (channels.time_s >= at_s - _REACH_S) & (channels.time_s <= at_s + _AFTER_S)
    time_s, level = channels.time_s[inside] - at_s, channels.level_db[:, inside]
    gone = level < (channels.floor_db + 10.0 * np.log10(_GONE_RATIO))[:, None]
    used = (np.cumsum(gone, axis=1) == 0).astype(np.float64)
    enough = (used.sum(axis=1) >= 2 * _FEWEST) & ((used * (time_s > 0.0)).sum(axis=1) >= 2)
    before, after = np.minimum(time_s, 0.0), np.maximum(time_s, 0.0)
    kinked, slopes = _residual_variance(np.stack([np.ones_like(time_s), before, after]), level, used)
    straight, _ = _residual_variance(np.stack([np.ones_like(time_s), time_s]), level, used)
    looks = used.sum(axis=1) * channels.independent_share
    nats = np.minimum(0.5 * looks * np.log((straight + _DB_VARIANCE) / (kinked + _DB_VARIANCE)), _MOST_NATS)
    return np.where(enough, np.sign(slopes[:, 1] - slopes[:, 2]) * nats, 0.0), slopes[:, 0]


def _residual_variance(basis: Real, level_db: Real, used: Real) -> tuple[Real, Real]:
    """Return the mean square about the best combination of `basis`, shape (p, m), per channel, and its weights."""
    normal = np.einsum("pm,km,qm->kpq", basis, used, basis) + 1e-9 * np.eye(basis.shape[0])
    right = np.einsum("pm,km,km->kp", basis, used, level_db)
    weight = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    error = (level_db - weight @ basis) * used
    return np.sum(error**2, axis=1) / np.maximum(used.sum(axis=1), 1.0), weight


def _refined_landing(channels: Channels, coarse_s: float) -> Measured | None:
    """Return where two lines per channel, one before and one after, meet best, at one moment for all channels.

    The likelihood of normal errors of unknown size in each channel is profiled over the moment; the standard error is
    its curvature, with neighbouring samples counted as far as they are independent.
    """
    time_s = channels.time_s
    rows = (time_s > coarse_s - _REACH_S) & (time_s < coarse_s + _AFTER_S)
    time_s = time_s[rows]
    level = channels.level_db[:, rows]
    tried_s = np.arange(coarse_s - 0.08, coarse_s + 0.08, _STEP_S)
    tried_s = tried_s[(tried_s > time_s[0] + 0.01) & (tried_s < time_s[-1] - 0.01)]
    if tried_s.size < _FEWEST:
        return None
    cost = np.zeros(tried_s.size)
    for channel in range(level.shape[0]):
        gone = level[channel] < max(
            channels.floor_db[channel] + 10.0 * np.log10(_GONE_RATIO), float(level[channel].max()) - _LOWEST_DB
        )
        last = int(np.argmax(gone)) if gone.any() else time_s.size
        if last < _FEWEST:
            continue
        cost += (
            last * channels.independent_share * np.log(_kink_variance(time_s[:last], level[channel, :last], tried_s))
        )
    best = int(np.argmin(cost))
    inner = int(np.clip(best, 1, cost.size - 2))
    # Half as likely by e^(-2) on either side: wide, so that steps of the profile do not matter.
    near = np.flatnonzero(cost < cost[best] + 4.0)
    curvature_se = max(float(tried_s[near[-1]] - tried_s[near[0]]) / 4.0, _STEP_S)
    se = float(np.hypot(curvature_se, _SMEAR_S))
    return None if se > _MOST_SE_S else Measured(float(tried_s[inner]), se)


def _kink_variance(time_s: Real, level_db: Real, tried_s: Real) -> Real:
    """Return the mean square about joined lines for each moment at which they may join, shape (c,).

    What follows may bend once more, `_BEND_S` later, and then only to fall slower: so it is where a room answers.
    """
    since = time_s[None, :] - tried_s[:, None]
    before, after = np.minimum(since, 0.0), np.maximum(since, 0.0)
    plain, _ = _joined(level_db, before, after)
    bent, weight = _joined(level_db, before, np.minimum(after, _BEND_S), np.maximum(since - _BEND_S, 0.0))
    return np.where(weight[:, 3] > weight[:, 2], np.minimum(bent, plain), plain) + _DB_VARIANCE


def _joined(level_db: Real, *lines: Real) -> tuple[Real, Real]:
    """Return the mean square about the best sum of a constant and lines of shape (c, m), and their weights (c, p)."""
    design = np.stack([np.ones_like(lines[0]), *lines], axis=2)
    normal = design.swapaxes(1, 2) @ design + 1e-9 * np.eye(design.shape[2])
    weight = np.linalg.solve(normal, design.swapaxes(1, 2) @ level_db[None, :, None])
    error: Real = level_db - (design @ weight)[:, :, 0]
    return np.asarray(np.mean(error**2, axis=1)), np.asarray(weight[:, :, 0], dtype=np.float64)
