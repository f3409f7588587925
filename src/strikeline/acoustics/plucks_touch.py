"""Touched or open: from how each plucked string rings, what open strings do, and what the others of the recording do.

An open string falls at its own losses; felt takes it down many times faster. What "its own losses" are differs from
piano to piano and along the compass, and how the felt lies differs from hammer to hammer. So each recording is taken as
two groups, whose places, widths and shares are not known beforehand: every combination on a grid is weighed by how well
it explains all the decays together and by what is known of strings and of felt, and the odds of each string are
averaged over all of them (by the rule of Bayes, nothing fitted).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_ndtr

from strikeline.acoustics.plucks_ringing import Ringing

Real = NDArray[np.float64]

_OPEN_KEYS: Final = (1.0, 16.0, 40.0, 64.0, 76.0, 88.0)
_OPEN_DB_PER_S: Final = (2.5, 3.0, 7.0, 16.0, 36.0, 85.0)
"""What an open string alone does: between the late decays of partial 1 on two recorded grands (C2 1.3 to 2.1, C4 1.8 to
2.5, C6 6.5, C7 13, C8 48 to 68 dB/s, our own two-exponential fits) and the single decays of Bensa, Bilbao,
Kronland-Martinet & Smith (2003, Table I, as read in a secondary survey: C2 2.2, C4 9.6, C7 98 dB/s, the bridge
included), as the geometric mean; all partials of a plucked string together fall somewhat faster than the first."""
_OPEN_SHIFTS: Final = np.linspace(-1.2, 1.2, 13)
_OPEN_SHIFT_SD: Final = 0.45
"""How far the open strings of one piano as a whole may fall faster or slower than these figures, nepers."""
_OPEN_SDS: Final = np.array([0.25, 0.4, 0.6])
"""Spread of ln decay among the open strings of one piano (decays of neighbours differ by the resonances of the board:
Wogram, secondary survey)."""
_FELT_KEYS: Final = (1.0, 68.0)
_FELT_DB_PER_S: Final = (70.0, 350.0)
"""Felt on strings: 60 dB in 0.86 s at A0 to 0.17 s at E6 are given for dampers (secondary survey, low confidence); held
level above. What is lighter or firmer on the strings is found from the recording."""
_FELT_SHIFTS: Final = np.linspace(-1.8, 1.2, 9)
_FELT_SHIFT_SD: Final = 1.0
_FELT_SDS: Final = np.array([0.35, 0.7])
_ANY_FELT_SHARE: Final = 0.08
_ANY_FELT_NEPERS: Final = 4.0
"""So many touched strings may fall at any rate beyond an open one's."""
_SHARES: Final = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
_LEAST_LN_FASTER: Final = 0.35
_EDGE: Final = 0.12
"""Felt adds to the losses: touched strings fall faster than open ones by this much at least, in nepers of the rate."""
_SLOWEST_DB_PER_S: Final = 0.5
_LEAST_CONFUSED: Final = 0.02
_MOST_CONFUSED: Final = 0.35
_CONFUSED_DB: Final = 4.0
"""Another string that rings as loud as what is new may pass for it: foreseeing has its limits, and open strings answer
through the bridge."""
_CONFUSED_SD: Final = 1.5
_SOFTER_DB: Final = 10.0
_SOFTER_SD_DB: Final = 8.0
_LEVEL_WORTH: Final = 0.8
"""A string under felt has lost 5 dB and more by the time that its level is read. Hands differ by as much from pluck to
pluck, so that level speaks for less than it would, and mostly where the decay is hidden by another string."""
_LOUD_QUANTILE: Final = 0.8
_BRIGHT_QUANTILE: Final = 0.85
_BRIGHT_KEYS: Final = 7
_DULL_RATIO: Final = 0.6
_NATS_PER_RATIO: Final = 10.0
_DULL_KEYS: Final = (28.0, 40.0)
_MOST_DULL_NATS: Final = (4.0, 2.0)
"""In the bass waves come round to the felt less often, so that it takes partial 1 not much faster than an open string
loses it: there dullness tells more than the decay does."""
_FEWEST_BRIGHT: Final = 5.0
_BRIGHT_SHARE: Final = 0.6
"""Felt at an eighth of the string takes partials 2 to 7 three to seven times as fast as the first (sin² law, see
`strikeline.synthesis.felt`): by the time that the level is read they are gone, while an open string still has them. How
many an open string shows in this recording is taken from the brightest plucks within seven keys. With fewer than five
of them, or fewer than six in ten of those looked for, the brightest may be touched as well: nothing to compare."""
_OPEN_FADE_DB: Final = -0.7
_BASS_FADE_DB: Final = -1.5
_BASS_KEYS: Final = (5.0, 15.0)
"""What an open string seems to fade if it does not fall at all: narrow and wide bands do not see the same, least in the
lowest octave, whose partials lie so close that narrow bands overlap."""
_OPEN_FADE_SD_DB: Final = 2.2
_FADE_S: Final = 0.1
_FELT_FADE_DB: Final = 12.5
_FELT_FADE_SD_DB: Final = 7.0
_LEAST_FELT_FADE_DB: Final = 3.0
_FADE_EDGE_DB: Final = 1.0
"""Felt takes the string down by more than this in the time; so much more the strings beside it let hear."""
_ANY_FADE_DB: Final = 40.0
_LEAST_FADE_CONFUSED: Final = 0.03
_MOST_FADE_CONFUSED: Final = 0.5
_FADE_WORTH: Final = 0.6
"""Fade and decay are two views of one fall, and count together for less than two witnesses. All these figures are from
generated sections other than those of the benchmark."""
_HIDDEN_NATS: Final = 0.7
"""A pluck of which nothing is seen beside what rings was more likely short than long."""


def expected_open_db_per_s(key: NDArray[np.floating]) -> Real:
    """Return the decay that an open plucked string of a usual piano has in its first half second, dB per second.

    Examples
    --------
    >>> expected_open_db_per_s(np.array([16.0, 40.0, 76.0])).round(1)
    array([ 3.,  7., 36.])
    """
    return np.asarray(np.exp(np.interp(key, _OPEN_KEYS, np.log(_OPEN_DB_PER_S))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TouchOdds:
    """What each sound says of its string, all sounds of the recording considered."""

    touched: Real
    """Probability that its string is touched, shape (n,)."""
    open_shift: float
    """How much faster than expected the open strings of this recording fall, nepers of the rate."""
    touched_share: float
    """Share of touched strings in this recording."""


def weigh_touch(ringing: Sequence[Ringing | None], key: NDArray[np.int64]) -> TouchOdds:
    """Return for each sound the probability that its string is touched.

    Parameters
    ----------
    ringing : sequence of Ringing or None, length n
        How each sound rings; ``None`` for what is no pluck.
    key : ndarray of int, shape (n,)
        Its key.
    """
    told = np.array([one is not None and one.decay_db_per_s is not None for one in ringing], dtype=bool)
    hidden = np.array([one is not None and one.decay_db_per_s is None for one in ringing], dtype=bool)
    touched = np.full(len(ringing), 0.5)
    share, shift = 0.5, 0.0
    if told.any():
        heard = [one for one, is_told in zip(ringing, told, strict=True) if one is not None and is_told]
        touched[told], share, shift = _averaged(heard, key[told])
    if hidden.any():
        unseen = [one for one, is_hidden in zip(ringing, hidden, strict=True) if one is not None and is_hidden]
        touched[hidden] = expit(np.log(share / (1.0 - share)) + _HIDDEN_NATS + _fade_nats(unseen, key[hidden]))
    return TouchOdds(touched=touched, open_shift=shift, touched_share=share)


def _averaged(ringing: Sequence[Ringing], key: NDArray[np.int64]) -> tuple[Real, float, float]:
    """Return the probability of "touched" of each sound, the share touched, and the shift of the open ones."""
    decay = [one.decay_db_per_s for one in ringing if one.decay_db_per_s is not None]
    rate = np.maximum([one.value for one in decay], _SLOWEST_DB_PER_S)
    ln_rate, sd = np.log(rate), np.minimum(np.array([one.se for one in decay]) / rate, 1.5)
    ln_open = np.log(expected_open_db_per_s(key.astype(np.float64)))
    at_least = np.array([one.is_at_least for one in ringing])
    new_db, old_db = np.array([one.new_db for one in ringing]), np.array([one.old_db for one in ringing])
    confused = _LEAST_CONFUSED + (_MOST_CONFUSED - _LEAST_CONFUSED) * expit((old_db - new_db) / _CONFUSED_DB)
    # Axes: shift and width of the open group, shift and width of the touched group, sounds.
    shift = _OPEN_SHIFTS[:, None, None, None, None]
    open_sd = np.hypot(_OPEN_SDS[None, :, None, None, None], sd)
    felt_shift = _FELT_SHIFTS[None, None, :, None, None]
    felt_sd = np.hypot(_FELT_SDS[None, None, None, :, None], sd)
    off_open = ln_rate - ln_open - shift
    ln_felt = np.interp(key, _FELT_KEYS, np.log(_FELT_DB_PER_S)) + felt_shift
    # What felt does comes on top of the string's own losses.
    off_felt = ln_rate - np.logaddexp(ln_felt, ln_open + shift)
    faster = np.log(expit((off_open - _LEAST_LN_FASTER) / np.hypot(_EDGE, sd)) + 1e-12)
    usual = np.log1p(-_ANY_FELT_SHARE) + _log_density(off_felt, felt_sd, at_least)
    is_touched = np.logaddexp(usual, float(np.log(_ANY_FELT_SHARE / _ANY_FELT_NEPERS))) + faster
    any_rate = _log_density(off_open, np.full_like(sd, _CONFUSED_SD), np.zeros_like(at_least))
    level = _level_nats(new_db) + _dull_nats(ringing, key) + _fade_nats(ringing, key)
    log_sure, log_confused = np.log1p(-confused), np.log(confused)
    is_open = np.logaddexp(log_sure + _log_density(off_open, open_sd, at_least), log_confused + any_rate)
    is_touched = np.logaddexp(log_sure + is_touched, log_confused + any_rate) + level
    share = _SHARES[:, None, None, None, None, None]
    log_touched, log_open = np.log(share) + is_touched, np.log1p(-share) + is_open
    log_weight = np.logaddexp(log_touched, log_open).sum(axis=-1)
    log_weight -= 0.5 * np.square(_OPEN_SHIFTS / _OPEN_SHIFT_SD)[:, None, None, None]
    log_weight -= 0.5 * np.square(_FELT_SHIFTS / _FELT_SHIFT_SD)[:, None]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    touched = np.tensordot(weight, expit(log_touched - log_open), axes=weight.ndim)
    return (
        np.asarray(touched),
        float(weight.sum(axis=(1, 2, 3, 4)) @ _SHARES),
        float(weight.sum(axis=(0, 2, 3, 4)) @ _OPEN_SHIFTS),
    )


def _log_density(off: Real, sd: Real, is_at_least: NDArray[np.bool_]) -> Real:
    """Return the log-density, or where only a lower bound is known the logarithm of the share beyond it."""
    exact = -0.5 * np.square(off / sd) - np.log(sd * np.sqrt(2.0 * np.pi))
    return np.where(is_at_least, log_ndtr(-off / sd), exact)


def _level_nats(new_db: Real) -> Real:
    """Return how much more the level of what is new is like a touched string's than like an open one's."""
    loud_db = float(np.quantile(new_db, _LOUD_QUANTILE))
    below = (loud_db - new_db) / _SOFTER_SD_DB
    step = _SOFTER_DB / _SOFTER_SD_DB
    return np.asarray(_LEVEL_WORTH * np.clip(step * (below - 0.5 * step), -3.0, 3.0))


def _fade_nats(ringing: Sequence[Ringing], key: NDArray[np.int64]) -> Real:
    """Return how much more the loss in a tenth of a second is like a touched string's than like an open one's."""
    is_told = np.array([one.fade_db is not None for one in ringing], dtype=bool)
    fade_db = np.array([one.fade_db or 0.0 for one in ringing])
    over_db = np.array([one.old_db - one.new_db for one in ringing])
    confused = _LEAST_FADE_CONFUSED + (_MOST_FADE_CONFUSED - _LEAST_FADE_CONFUSED) * expit(over_db / _CONFUSED_DB)
    none_db = _OPEN_FADE_DB + np.interp(key, _BASS_KEYS, (_BASS_FADE_DB, 0.0))
    off_db = fade_db - none_db - _FADE_S * expected_open_db_per_s(key.astype(np.float64))
    seen = np.zeros(off_db.size, dtype=bool)
    like_open = _log_density(off_db, np.full_like(off_db, _OPEN_FADE_SD_DB), seen)
    like_felt = _log_density(off_db - _FELT_FADE_DB, np.full_like(off_db, _FELT_FADE_SD_DB), seen)
    like_felt += np.log(expit((off_db - _LEAST_FELT_FADE_DB) / _FADE_EDGE_DB))
    of_any = np.log(confused / _ANY_FADE_DB)
    nats = np.logaddexp(np.log1p(-confused) + like_felt, of_any) - np.logaddexp(np.log1p(-confused) + like_open, of_any)
    return np.where(is_told, _FADE_WORTH * nats, 0.0)


def _dull_nats(ringing: Sequence[Ringing], key: NDArray[np.int64]) -> Real:
    """Return how much more the number of partials in which something new stands clear is like a touched string's."""
    n_clear = np.array([one.n_partials for one in ringing])
    n_sought = np.array([one.n_sought for one in ringing])
    near = np.abs(key[:, None] - key) <= _BRIGHT_KEYS
    bright = np.array([np.quantile(n_clear[row], _BRIGHT_QUANTILE) for row in near])
    is_open_heard = (bright >= _FEWEST_BRIGHT) & (bright >= _BRIGHT_SHARE * n_sought)
    nats = _NATS_PER_RATIO * (_DULL_RATIO - n_clear / np.maximum(bright, 1.0))
    most = np.interp(key, _DULL_KEYS, _MOST_DULL_NATS)
    return np.where(is_open_heard, np.clip(nats, -most, most), 0.0)
