r"""How sure a verdict on a unison is, given how well the modes are known.

The limits between the verdicts are sharp, the modes are not. Each partial's number of turns T has a standard deviation
of three parts, added as squares:

- what the errors of the modes' levels, decays and frequencies make of it, each moved by its own (central differences);
- a mode left out. One that lies 10 dB below a mode it was not parted from turns its phase by arcsin(10^(−10/20)) =
  0.32 rad, a twentieth of a turn;
- the room. A lively one falls by 100 dB/s, so its answer to the blow stays within 20 dB of it for 0.2 s, and by so much
  it moves the moments at which a pair begins or ceases to be loud: 0.2 s times the rate.

A mode that falls as fast as that room is of the strings or of the room: as likely the one as the other, and in the
second case no pair with it counts.

A partial's loudness is its level at the blow, all modes together; its share is known to about 1 dB (our reasoning: as
levels repeat in one room). With T normal about what was measured, the partials independent, and no verdict preferred
beforehand, the chance that the partials with T or more turns make up their share follows by adding up all combinations
of partials that have them and have them not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import scipy.special
from numpy.typing import NDArray

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_result import Beat, UnisonVerdict
from strikeline.acoustics.unison_turns import EARLY_S, ModeLines
from strikeline.acoustics.unison_verdict import BEATS_TURNS, SHARE, UNEVEN_TURNS, beats_of, find_turnings
from strikeline.units import DB_PER_NEPER

Real = NDArray[np.float64]

_ROOM_DB_PER_S: Final = 100.0
"""As for `unison_modes`: a room that takes 0.6 s for 60 dB."""
_ROOM_WITHIN_DB: Final = 20.0
_ROOM_S: Final = _ROOM_WITHIN_DB / _ROOM_DB_PER_S
_LEFT_OUT_TURNS: Final = 0.05
_LEVEL_SD: Final = 0.1
"""About 1 dB of a partial's level, relative."""
_MOST_LEVEL_SD_DB: Final = 6.0
"""Two modes of nearly one frequency are uncertain each, but grow and shrink together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How probable each verdict is; the three add up to 1."""

    locked: float
    uneven: float
    beating: float

    @property
    def ranked(self) -> tuple[UnisonVerdict, UnisonVerdict, UnisonVerdict]:
        """The verdicts, the most probable first."""
        chance = {
            UnisonVerdict.LOCKED: self.locked,
            UnisonVerdict.UNEVEN: self.uneven,
            UnisonVerdict.BEATING: self.beating,
        }
        first, second, third = sorted(chance, key=lambda verdict: -chance[verdict])
        return first, second, third

    @property
    def most(self) -> float:
        """Probability of the most probable verdict."""
        return max(self.locked, self.uneven, self.beating)


def weigh_verdict(
    modes: Sequence[PartialModes], *, heard_s: float, level_db: Sequence[float] | None = None
) -> tuple[Odds, tuple[Beat, ...]]:
    """Return how probable each verdict is, and the beats, the loudest partial first.

    Parameters
    ----------
    modes : sequence of PartialModes
        As measured, one partial or more.
    heard_s : float
        How long the note is heard.
    level_db : sequence of float or None
        Of each partial at the onset, as it was measured apart from its modes; theirs if left out.
    """
    lines, heard_s = ModeLines.of(modes), max(heard_s, 2 * EARLY_S)
    share = _shares(modes, lines, level_db)
    not_locked, beating = _chances_of_share(_chances(lines, heard_s, limits=(UNEVEN_TURNS, BEATS_TURNS)), share)
    turning = find_turnings(modes, heard_s=heard_s, slower_than_db_per_s=_ROOM_DB_PER_S)
    return Odds(locked=1.0 - not_locked, uneven=max(not_locked - beating, 0.0), beating=beating), beats_of(turning)


def _shares(modes: Sequence[PartialModes], lines: ModeLines, level_db: Sequence[float] | None) -> Real:
    """Return the share that each partial has of the note, by amplitude shortly after the onset, shape (k,)."""
    amplitude = lines.early_amplitude()
    if level_db is not None:
        # Modes are fitted when the blow is over. It starts them in step: early on they are no louder than their sum.
        together = np.array([abs(one.onset.sum()) for one in modes])
        fallen = np.minimum(amplitude / np.maximum(together, 1e-15), 1.0)
        amplitude = fallen * 10.0 ** (np.asarray(level_db) / 20.0)
    return np.asarray(amplitude / amplitude.sum())


def _chances(lines: ModeLines, heard_s: float, *, limits: tuple[float, float]) -> list[Real]:
    """Return how probable it is that each partial turns as often as each limit says, arrays of shape (k,)."""
    turns, *moved = _moved(lines).turns(heard_s)
    first, second = lines.pair
    slow = np.maximum(lines.fall_db_per_s[:, first], lines.fall_db_per_s[:, second]) < _ROOM_DB_PER_S
    rate_hz = lines.apart_hz()
    rate_sd_hz = np.hypot(lines.pole_sd_per_s[:, first], lines.pole_sd_per_s[:, second]) / (2 * np.pi)
    each = []
    for counts in (slow,) if slow.all() else (slow, np.ones_like(slow)):
        own = np.where(counts, turns, 0.0)
        best = np.arange(own.shape[0]), np.argmax(own, axis=1)
        most, rate = own[best], np.where(own[best] > 0.0, rate_hz[best], 0.0)
        up, down = np.split(np.where(counts, moved, 0.0).max(axis=-1), 2)  # by the best pair, whichever it then is
        together_s = most / np.maximum(rate, 1e-12)
        sd = np.sqrt(
            0.25 * ((up - down) ** 2).sum(axis=0)
            + (together_s * rate_sd_hz[best]) ** 2
            + (_ROOM_S * rate) ** 2
            + _LEFT_OUT_TURNS**2
        )
        each.append([scipy.special.ndtr((most - limit) / sd) for limit in limits])
    return [np.mean(chance, axis=0) for chance in zip(*each, strict=True)]


def _moved(lines: ModeLines) -> ModeLines:
    """Return the modes as they are, then with each level and each decay moved up by its error, and then down."""
    each = np.eye(lines.f_hz.shape[1])[:, None, :]
    level = each * np.minimum(lines.level_sd_db, _MOST_LEVEL_SD_DB)
    fall = each * DB_PER_NEPER * lines.pole_sd_per_s
    none = np.zeros_like(level)
    return lines.moved(
        level_db=np.concatenate([none[:1], level, none, -level, none]),
        fall_db_per_s=np.concatenate([none[:1], none, fall, none, -fall]),
    )


def _chances_of_share(chances: Sequence[Real], share: Real) -> list[float]:
    """Return how probable it is that the partials that turn often enough, each with its chance, make up their share."""
    turns = _combinations(share.size)
    heard = turns @ share
    # A partial's level moves its own share, and through the whole the others'.
    sd = _LEVEL_SD * np.sqrt(((turns - heard[:, None]) ** 2) @ share**2)
    enough = scipy.special.ndtr((heard - SHARE) / np.maximum(sd, 1e-9))
    return [float(np.where(turns, chance, 1.0 - chance).prod(axis=1) @ enough) for chance in chances]


@cache
def _combinations(n_partials: int) -> NDArray[np.bool_]:
    """Return which partials turn in each of the 2ⁿ ways in which some of n do, shape (2ⁿ, n)."""
    return np.asarray((np.arange(2**n_partials)[:, None] >> np.arange(n_partials)) & 1 == 1)
