"""From one listening to the toning list.

A hammer is judged by its freed brightness (`toning_balance`) against its neighbours, with the
search for notes and runs of `evenness_fit`: what is listed departs by more than scatter, drift, trend and error
explain together. Advice stops where the doubt begins: at the one-sided 95 % bound of each hammer's own departure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.acoustics.evenness import judge_evenness
from strikeline.acoustics.evenness_fit import MIN_NOTES, TrendFit, fit_trend
from strikeline.acoustics.evenness_jump import estimate_jump
from strikeline.acoustics.evenness_model import Floats, Series
from strikeline.acoustics.evenness_quantities import LEVEL
from strikeline.acoustics.evenness_result import Evenness
from strikeline.acoustics.evenness_scale import ChangeKind
from strikeline.acoustics.evenness_shifts import Shift
from strikeline.acoustics.evenness_steps import SIGNIFICANT
from strikeline.acoustics.listening import Listening, Note
from strikeline.acoustics.toning_balance import FreedBrightness, freed_brightness
from strikeline.acoustics.toning_result import Action, Cause, HammerAdvice, Sign, ToningItem, ToningList
from strikeline.acoustics.toning_strings import SURE, fast_decays, odd_strike_points, odd_strings
from strikeline.keyboard import key_name
from strikeline.measured import Measured

_SCATTER_KEYS: Final = (14.0, 40.0, 61.0, 80.0)
_SCATTER_SEMITONES: Final = (1.3, 1.6, 1.2, 0.6)
"""Scatter of the freed brightness from note to note."""
_WANDER_RATIO: Final = 0.4
_WANDER_KEYS: Final = 3.0
_SLOW_RATIO: Final = 1.5
"""How far a piano's slow trend may lie from a parabola, over the scatter (assumed)."""
_ONE_SIDED_95: Final = 1.645
_WEAK_BLOW_DB: Final = 6.0
"""A note so much softer than its neighbours was struck more weakly, which dulls any hammer (assumed)."""
_WIDEST_AREA: Final = 0.4
"""Of the notes judged: of a wider area it cannot be told whether it departs, or all the others do."""
_SAME_RATIO_KEYS: Final = 3
_SAME_PLACE: Final = 1


def toning_list(listening: Listening, evenness: Evenness | None = None) -> ToningList:
    """Return which hammers to soften or harden, in order, and what is the strings' doing.

    Parameters
    ----------
    listening : Listening
        A pass over the keyboard.
    evenness : Evenness, optional
        From `judge_evenness`, if it is at hand.

    Returns
    -------
    ToningList
        First brash areas, then brash notes, the louder first, then dull areas and notes; then what is to be left alone
        because the strings or the scale make it; last what is worth a second listening only.
    """
    notes = listening.best_by_key()
    evenness = judge_evenness(listening) if evenness is None else evenness
    freed = freed_brightness(notes, evenness)
    if len(freed) < MIN_NOTES:
        why = f"toning: brightness and level are known for {len(freed)} notes, {MIN_NOTES} are needed to compare"
        return ToningList(items=(), n_judged=len(freed), scatter_db=None, cannot_tell=(why,))
    desk = _Desk.of(notes, freed, evenness)
    items = [desk.item(shift) for shift in desk.fit.shifts]
    named = {hammer.key for item in items for hammer in item.hammers}
    items += [desk.string_item(key) for key in sorted((desk.odd_b | desk.odd_strike) - named)]
    return ToningList(
        items=tuple(sorted(items, key=_order)),
        n_judged=len(freed),
        scatter_db=float(np.median(desk.db_per_semitone * desk.series.scatter)) * desk.fit.scale,
        cannot_tell=tuple(
            f"{key_name(key)}: no brightness or level, or fewer than six partials"
            for key in sorted(set(notes) - set(freed))
        ),
    )


_RANKS: Final = {Action.SOFTEN: 0, Action.HARDEN: 1, Action.LEAVE: 2, Action.LISTEN_AGAIN: 3}


def _order(item: ToningItem) -> tuple[float, ...]:
    loud = max(0.0, item.level_db or 0.0) if item.action is Action.SOFTEN else 0.0
    return (_RANKS[item.action], 0.0 if item.is_area else 1.0, -(item.advised_db + loud), item.first_key)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Desk:
    """All that the advice on one piano rests on."""

    series: Series
    fit: TrendFit
    db_per_semitone: Floats  # shape (n,), of balance
    level_db: Mapping[int, float]
    odd_b: frozenset[int]
    odd_strike: frozenset[int]
    fast: frozenset[int]
    changes: tuple[int, ...]
    compass: tuple[int, int]

    @classmethod
    def of(cls, notes: Mapping[int, Note], freed: Mapping[int, FreedBrightness], evenness: Evenness) -> _Desk:
        keys = np.array(list(freed), dtype=np.float64)
        series = Series(
            keys=keys,
            values=np.array([one.semitones for one in freed.values()]),
            se=np.array([one.se for one in freed.values()]),
            scatter=np.interp(keys, _SCATTER_KEYS, _SCATTER_SEMITONES),
            wander_ratio=_WANDER_RATIO,
            wander_keys=_WANDER_KEYS,
            max_degree=2,
            slow_ratio=_SLOW_RATIO,
        )
        changes = tuple(change.after_key for change in evenness.change_points)
        main = _main(evenness)
        # Steps only, no change of slope at the break: a bend there and a worn stretch across it look alike.
        stepping = [float(after) for after in changes if _steps(series, float(after), changes)]
        ratio = np.array([one.db_per_semitone for one in freed.values()])
        near = np.abs(keys[:, None] - keys[None, :]) <= _SAME_RATIO_KEYS
        return cls(
            series=series,
            fit=fit_trend(series, break_after=None, n_looks=1, steps_after=stepping),
            db_per_semitone=np.array([float(np.median(ratio[row])) for row in near]),
            level_db={note.key: note.residual.value for note in evenness.of(LEVEL).notes},
            odd_b=odd_strings(evenness) & set(notes),
            odd_strike=odd_strike_points(notes),
            fast=fast_decays(notes, break_after=main),
            changes=changes,
            compass=(int(keys[0]), int(keys[-1])),
        )

    def item(self, shift: Shift) -> ToningItem:
        """Return the line for one note or run that leaves the trend."""
        inside = range(shift.first, shift.last + 1)
        keys = [int(self.series.keys[i]) for i in inside]
        hammers = self._hammers(shift)
        ratio = float(np.mean([self.db_per_semitone[i] for i in inside]))
        balance = Measured(shift.effect * ratio, shift.se * ratio)
        signs, cause = self._signs(keys, is_dull=shift.effect < 0.0)
        level = [self.level_db[key] for key in keys if key in self.level_db]
        level_db = float(np.mean(level)) if level else None
        advised = float(np.mean([hammer.advised_db for hammer in hammers]))
        scatter = float(np.mean(self.series.scatter[shift.first : shift.last + 1]))
        doubtful = (
            shift.p_false > SURE
            or advised <= 0.0
            or abs(shift.effect) < scatter
            or len(keys) > _WIDEST_AREA * self.series.keys.size
        )
        weak = shift.effect < 0.0 and level_db is not None and level_db < -_WEAK_BLOW_DB
        if cause is Cause.STRING:
            action = Action.LEAVE
        elif doubtful or weak:
            action = Action.LISTEN_AGAIN
        else:
            action = Action.SOFTEN if shift.effect > 0.0 else Action.HARDEN
        is_advice = action in (Action.SOFTEN, Action.HARDEN)
        return ToningItem(
            first_key=keys[0],
            last_key=keys[-1],
            action=action,
            cause=cause,
            signs=signs,
            balance_db=balance,
            advised_db=advised if is_advice else 0.0,
            first_step_db=0.5 * advised if is_advice else 0.0,
            hammers=hammers,
            level_db=level_db,
            p_false=shift.p_false,
        )

    def string_item(self, key: int) -> ToningItem:
        """Return the line for a note whose string or strike point departs and whose brightness does not."""
        return ToningItem(
            first_key=key,
            last_key=key,
            action=Action.LEAVE,
            cause=Cause.STRING,
            signs=tuple(
                sign
                for sign, odd in ((Sign.STRIKE_POINT, self.odd_strike), (Sign.INHARMONICITY, self.odd_b))
                if key in odd
            ),
            balance_db=None,
            advised_db=0.0,
            first_step_db=0.0,
            hammers=(),
            level_db=self.level_db.get(key),
            p_false=SURE,
        )

    def _hammers(self, shift: Shift) -> tuple[HammerAdvice, ...]:
        """Return each hammer of a run: its own departure drawn to the mean as far as it is scatter (James & Stein).

        Departures in a run spread by scatter and error, s, and by the hammers themselves; the share of the latter in
        the spread found is what is kept of each note's own.
        """
        inside = np.arange(shift.first, shift.last + 1)
        at = (self.series.keys[inside] - self.fit.grid_keys[0]).astype(int)
        own = self.series.values[inside] - self.fit.trend[at]
        noise = np.hypot(self.series.se[inside], self.fit.scale * self.series.scatter[inside])
        if inside.size > 2:
            spread = float(np.var(own, ddof=1))
            kept = max(0.0, 1.0 - float(np.mean(noise**2)) / spread) if spread > 0.0 else 0.0
        else:
            kept = 0.0
        best = shift.effect + kept * (own - own.mean())
        se = np.sqrt(shift.se**2 + kept * noise**2)
        advice = []
        for i, centre, error in zip(inside, best, se, strict=True):
            ratio = float(self.db_per_semitone[i])
            balance = Measured(float(centre) * ratio, float(error) * ratio)
            sign = 1.0 if shift.effect > 0.0 else -1.0
            sure = max(0.0, sign * balance.value - _ONE_SIDED_95 * balance.se)
            advice.append(HammerAdvice(key=int(self.series.keys[i]), balance_db=balance, advised_db=sure))
        return tuple(advice)

    def _signs(self, keys: Sequence[int], *, is_dull: bool) -> tuple[tuple[Sign, ...], Cause]:
        """Return what speaks for the strings, and whose doing the departure is.

        The strike point, the scale and dying wire change the balance themselves; another B does not to speak of, so a
        hammer beside it departs on its own.
        """
        mostly = len(keys) / 2.0
        signs = []
        if len(keys) > 2 and self._is_section(keys[0], keys[-1]):
            signs.append(Sign.SCALE)
        if len(self.odd_strike & set(keys)) >= mostly:
            signs.append(Sign.STRIKE_POINT)
        if is_dull and len(self.fast & set(keys)) >= mostly:
            signs.append(Sign.FAST_DECAY)
        explained = bool(signs)
        if self.odd_b & set(keys):
            signs.append(Sign.INHARMONICITY)
        cause = Cause.STRING if explained else Cause.BOTH if signs else Cause.HAMMER
        return tuple(signs), cause

    def _is_section(self, first: int, last: int) -> bool:
        """Return whether a run begins and ends at changes of the strings, or at one and an end of the keyboard."""
        low, high = self.compass
        starts = any(abs(first - 1 - after) <= _SAME_PLACE for after in self.changes)
        ends = any(abs(last - after) <= _SAME_PLACE for after in self.changes)
        return (starts and (ends or last >= high - _SAME_PLACE)) or (ends and first <= low + _SAME_PLACE)


def _main(evenness: Evenness) -> float | None:
    kinds = (ChangeKind.BREAK, ChangeKind.WINDING)
    found = [change for kind in kinds for change in evenness.change_points if change.kind is kind]
    return float(found[0].after_key) if found else None


def _steps(series: Series, after: float, changes: Sequence[int]) -> bool:
    jump = estimate_jump(series, after=after, others=[float(other) for other in changes if other != after])
    return jump is not None and jump.p_value <= SIGNIFICANT
