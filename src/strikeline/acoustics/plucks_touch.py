"""Touched or open: from how each plucked string rings, what open strings do, and what the others of the recording do.

An open string falls at its own losses; felt takes it down many times faster. What "its own losses" are differs from
piano to piano and along the compass, and how the felt lies differs from hammer to hammer; so the two groups are found
in each recording by themselves (two normal distributions of the logarithm of the decay, fitted by expectation and
maximisation, A. P. Dempster, N. M. Laird and D. B. Rubin, J. R. Stat. Soc. B 39, 1 (1977), from memory), each held by
what is known of strings and of felt beforehand.
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
_OPEN_SD: Final = 0.5
"""Spread of ln decay among the open strings of one piano before it is heard (decays of neighbours differ by the
resonances of the board: Wogram, secondary survey)."""
_FELT_KEYS: Final = (1.0, 68.0)
_FELT_DB_PER_S: Final = (70.0, 350.0)
"""Felt on strings: 60 dB in 0.86 s at A0 to 0.17 s at E6 are given for dampers (secondary survey, low confidence); held
level above. What is lighter or firmer on the strings is found from the recording."""
_FELT_SD: Final = 0.8
_ANY_FELT_SHARE: Final = 0.15
_ANY_FELT_NEPERS: Final = 4.0
"""So many touched strings may fall at any rate beyond an open one's."""
_LEAST_LN_FASTER: Final = 0.35
_EDGE: Final = 0.12
"""Felt adds to the losses: touched strings fall faster than open ones by this much at least, in nepers of the rate."""
_ROUNDS: Final = 12
_SHIFT_WORTH: Final = 4.0
_SD_WORTH: Final = 6.0
_SLOWEST_DB_PER_S: Final = 0.5
_LEAST_CONFUSED: Final = 0.02
_MOST_CONFUSED: Final = 0.3
_CONFUSED_DB: Final = 5.0
"""Another string that rings as loud as what is new may pass for it: foreseeing has its limits, and open strings answer
through the bridge."""
_CONFUSED_SD: Final = 1.5
_HIDDEN_NATS: Final = 1.0
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
    """What each sound says of its string."""

    touched_nats: Real
    """Log-likelihood of "touched" less that of "open", shape (n,)."""
    open_shift: float
    """How much faster than expected the open strings of this recording fall, nepers of the rate."""
    touched_share: float
    """Share of touched strings in this recording."""


def weigh_touch(ringing: Sequence[Ringing | None], key: NDArray[np.int64]) -> TouchOdds:
    """Return for each sound how much more likely its string is touched than open.

    Parameters
    ----------
    ringing : sequence of Ringing or None, length n
        How each sound rings; ``None`` for what is no pluck.
    key : ndarray of int, shape (n,)
        Its key.
    """
    told = np.array([one is not None and one.decay_db_per_s is not None for one in ringing], dtype=bool)
    hidden = np.array([one is not None and one.decay_db_per_s is None for one in ringing], dtype=bool)
    nats = np.where(hidden, _HIDDEN_NATS, 0.0)
    if not told.any():
        return TouchOdds(touched_nats=nats, open_shift=0.0, touched_share=0.5)
    heard = _Heard([one for one, is_told in zip(ringing, told, strict=True) if one is not None and is_told], key[told])
    groups = heard.groups()
    nats[told] = heard.nats(groups)
    return TouchOdds(touched_nats=nats, open_shift=groups.open_shift, touched_share=groups.touched_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Groups:
    open_shift: float = 0.0
    open_sd: float = _OPEN_SD
    felt_shift: float = 0.0
    felt_sd: float = _FELT_SD
    touched_share: float = 0.5


class _Heard:
    """The decays of one recording."""

    def __init__(self, ringing: list[Ringing], key: NDArray[np.int64]) -> None:
        decay = [one.decay_db_per_s for one in ringing if one.decay_db_per_s is not None]
        rate = np.maximum([one.value for one in decay], _SLOWEST_DB_PER_S)
        self.ln_rate = np.log(rate)
        self.sd = np.minimum(np.array([one.se for one in decay]) / rate, 1.5)
        self.ln_felt = np.interp(key, _FELT_KEYS, np.log(_FELT_DB_PER_S))
        self.ln_open = np.log(expected_open_db_per_s(key.astype(np.float64)))
        self.is_at_least = np.array([one.is_at_least for one in ringing])
        louder_db = np.array([one.old_db - one.new_db for one in ringing])
        self.confused = _LEAST_CONFUSED + (_MOST_CONFUSED - _LEAST_CONFUSED) * expit(louder_db / _CONFUSED_DB)

    def densities(self, groups: _Groups) -> tuple[Real, Real]:
        """Return the log-densities of open and of touched strings."""
        off_open = self.ln_rate - self.ln_open - groups.open_shift
        open_sd, felt_sd = np.hypot(groups.open_sd, self.sd), np.hypot(groups.felt_sd, self.sd)
        is_open = self._log_density(off_open, open_sd)
        # What felt does comes on top of the string's own losses.
        felt = np.logaddexp(self.ln_felt + groups.felt_shift, self.ln_open + groups.open_shift)
        faster = np.log(expit((off_open - _LEAST_LN_FASTER) / np.hypot(_EDGE, self.sd)) + 1e-12)
        usual = np.log1p(-_ANY_FELT_SHARE) + self._log_density(self.ln_rate - felt, felt_sd)
        touched = np.logaddexp(usual, float(np.log(_ANY_FELT_SHARE / _ANY_FELT_NEPERS))) + faster
        any_rate = -0.5 * np.square(off_open / _CONFUSED_SD) - np.log(_CONFUSED_SD * np.sqrt(2.0 * np.pi))
        sure, confused = np.log1p(-self.confused), np.log(self.confused)
        return np.logaddexp(sure + is_open, confused + any_rate), np.logaddexp(sure + touched, confused + any_rate)

    def _log_density(self, off: Real, sd: Real) -> Real:
        """Return the log-density, or where only a lower bound is known the logarithm of the share beyond it."""
        exact = -0.5 * np.square(off / sd) - np.log(sd * np.sqrt(2.0 * np.pi))
        return np.where(self.is_at_least, log_ndtr(-off / sd), exact)

    def nats(self, groups: _Groups) -> Real:
        """Return what speaks for "touched", without the share of touched strings."""
        is_open, touched = self.densities(groups)
        return np.asarray(touched - is_open)

    def groups(self) -> _Groups:
        """Fit the two groups."""
        groups = _Groups()
        for _ in range(_ROUNDS):
            logit = np.log(groups.touched_share / (1.0 - groups.touched_share))
            touched = expit(self.nats(groups) + logit)
            weight = (1.0 - self.confused) / (1.0 + np.square(self.sd / _OPEN_SD))
            is_open, is_touched = weight * (1.0 - touched), weight * touched
            off = self.ln_rate - self.ln_open
            shift = _drawn_mean(off, is_open, 0.0, worth=_SHIFT_WORTH)
            beyond = self.ln_rate - self.ln_felt
            felt_shift = _drawn_mean(beyond, is_touched, 0.0, worth=_SHIFT_WORTH / 2.0)
            groups = _Groups(
                open_shift=shift,
                open_sd=_drawn_sd(off - shift, is_open, _OPEN_SD),
                felt_shift=felt_shift,
                felt_sd=_drawn_sd(beyond - felt_shift, is_touched, _FELT_SD),
                touched_share=float((1.0 + is_touched.sum()) / (2.0 + weight.sum())),
            )
        return groups


def _drawn_mean(value: Real, weight: Real, start: float, *, worth: float) -> float:
    """Return the weighted mean, drawn to `start` as if that had been seen `worth` times."""
    return float((worth * start + weight @ value) / (worth + weight.sum()))


def _drawn_sd(off: Real, weight: Real, start: float) -> float:
    return float(np.sqrt((_SD_WORTH * start**2 + weight @ np.square(off)) / (_SD_WORTH + weight.sum())))
