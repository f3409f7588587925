"""Verdicts in words before and after: unisons, dampers, strings at the hammer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from strikeline.acoustics.comparison_pairs import NotePair
from strikeline.acoustics.comparison_result import WordChange
from strikeline.acoustics.damping_result import DamperVerdict
from strikeline.acoustics.pluck_result import Pluck
from strikeline.acoustics.unison_result import UnisonVerdict

_WRONG_ALLOWED: Final = 0.05
"""Chance, over all plucked strings of a comparison, that one of those called changed is not."""
_RINGS: Final = (DamperVerdict.LEAKS, DamperVerdict.WEAK, DamperVerdict.NONE)


def compare_words(pairs: Sequence[NotePair], *, wider: frozenset[int]) -> tuple[WordChange, ...]:
    """Return the verdicts that are others than before.

    A unison counts as changed for certain where its width changed beyond repeatability too; a damper where it
    stops now and rang before, or the other way round; a string at the hammer where both answers are so sure that, over
    all strings plucked, a mistake is unlikely.

    Parameters
    ----------
    pairs : sequence of NotePair
        Notes heard in both.
    wider : frozenset of int
        Keys whose unison changed its width beyond repeatability.
    """
    n_plucks = sum(len(pair.before.plucks or ()) for pair in pairs)
    return tuple(
        change for pair in pairs for change in (*_unison(pair, wider), *_damper(pair), *_plucks(pair, n_plucks))
    )


def are_words_told(pairs: Sequence[NotePair]) -> bool:
    """Return whether of any note a verdict was told both before and after."""
    return any(_is_unison_told(pair) or _is_damper_told(pair) or any(_told_plucks(pair)) for pair in pairs)


def _is_unison_told(pair: NotePair) -> bool:
    unisons = (pair.before.unison, pair.after.unison)
    return all(one is not None and one.verdict is not UnisonVerdict.CANNOT_TELL for one in unisons)


def _is_damper_told(pair: NotePair) -> bool:
    dampings = (pair.before.damping, pair.after.damping)
    return all(one is not None and one.verdict is not DamperVerdict.CANNOT_TELL for one in dampings)


def _told_plucks(pair: NotePair) -> Iterator[tuple[Pluck, Pluck]]:
    """Return each string that was told both times."""
    there = {pluck.string: pluck for pluck in pair.after.plucks or ()}
    for pluck in pair.before.plucks or ():
        other = there.get(pluck.string)
        if other is not None and None not in {pluck.is_touched, other.is_touched}:
            yield pluck, other


def _unison(pair: NotePair, wider: frozenset[int]) -> Iterator[WordChange]:
    one, other = pair.before.unison, pair.after.unison
    if one is None or other is None or not _is_unison_told(pair):
        return
    if one.verdict is not other.verdict:
        yield WordChange(
            key=pair.key,
            what="unison",
            before=one.verdict.value,
            after=other.verdict.value,
            is_certain=pair.key in wider,
        )


def _damper(pair: NotePair) -> Iterator[WordChange]:
    one, other = pair.before.damping, pair.after.damping
    if one is None or other is None or not _is_damper_told(pair):
        return
    if one.verdict is not other.verdict:
        verdicts = {one.verdict, other.verdict}
        yield WordChange(
            key=pair.key,
            what="damper",
            before=one.verdict.value,
            after=other.verdict.value,
            is_certain=DamperVerdict.STOPS in verdicts and not verdicts.isdisjoint(_RINGS),
        )


def _plucks(pair: NotePair, n_plucks: int) -> Iterator[WordChange]:
    for pluck, other in _told_plucks(pair):
        if pluck.is_touched is other.is_touched:
            continue
        wrong = 2.0 - pluck.confidence - other.confidence
        yield WordChange(
            key=pair.key,
            what=f"{pluck.string.value} string at the hammer",
            before=_touched(pluck),
            after=_touched(other),
            is_certain=wrong * max(1, n_plucks) <= _WRONG_ALLOWED,
        )


def _touched(pluck: Pluck) -> str:
    return "touched" if pluck.is_touched else "open"
