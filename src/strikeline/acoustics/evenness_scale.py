"""Where the strings of a piano change: the break, further changes seen in B, and the end of the wound strings.

Wrap wire never lies as a string's own mass should: partials of wound strings stray from the stiff-string law by several
times what those of plain strings do (H. Fletcher 1964, Table VI: 3.81 against 0.99 cents). So the end of the winding is
told from the departures of the partials, not from B, which may step at a change of gauge or of number of strings alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final

import numpy as np

from strikeline.acoustics.evenness_model import Floats, heard_on_both_sides
from strikeline.acoustics.listening import Note
from strikeline.acoustics.tails import student_tail

BREAK_CANDIDATES: Final = range(9, 36)
"""Last keys below the break that are tried, F1 to G3 (common practice, no source: C♯2 to E3 hold most pianos)."""
LONGEST_FAULT: Final = 4
"""Notes that B departs in together up to which strings may be at fault; more are a change of the scale: faults of
strings come singly, gauges and windings change by sections (common practice, no source)."""
_WINDING_CANDIDATES: Final = range(12, 43)
"""Last wound keys that are tried, G♯1 to D4 (common practice, no source)."""
_WINDING_CHANCE: Final = 0.01
_SMALLEST_WINDING_RATIO: Final = 1.6
"""Wound departures over plain ones; between Fletcher's strings it is 3.8, on the chromatic grand of the tests 3."""
_WINDING_NOTES: Final = 10
"""Notes on each side that are compared: far away other things move the departures too."""
_LAW_PARTIALS: Final = (3, 25)
"""Partials whose departures are compared: 1 and 2 hang on the board, beyond 25 all strings stray."""
_FEWEST_PARTIALS: Final = 5
_SAME_PLACE: Final = 2


class ChangeKind(StrEnum):
    """What changes."""

    BREAK = "the break"
    """From the bass bridge to the long bridge."""
    BELOW = "a change of strings below the break"
    """Number of strings, gauge or winding; which of them is not told."""
    ABOVE = "a change of strings above the break"
    WINDING = "the end of the wound strings"
    """Where it is not the break."""
    STRINGS = "a change of strings"
    """Where no break was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePoint:
    """One place where the strings change."""

    after_key: int
    """Last key below the change."""
    kind: ChangeKind
    p_false: float
    """Chance that a piano without such a change shows the like; 0 if it was given."""
    is_given: bool = False
    ends_winding: bool | None = None
    """Whether wound strings end here; ``None`` where the partials do not tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownScale:
    """What is known of the strings beforehand, from looking at them. Last keys; ``None`` for what is not known."""

    break_after: int | None = None
    last_wound_key: int | None = None
    last_single_key: int | None = None
    """Last note with one string."""

    @property
    def keys(self) -> tuple[int, ...]:
        """The changes other than the break, ascending."""
        others = {self.last_wound_key, self.last_single_key} - {None, self.break_after}
        return tuple(sorted(key for key in others if key is not None))


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Neighbouring notes between two changes of the scale."""

    name: str
    first_key: int
    last_key: int


def winding_end(notes: Mapping[int, Note]) -> tuple[int, float] | None:
    """Find the last wound note from how far partials stray from the stiff-string law.

    Parameters
    ----------
    notes : mapping of int to Note
        By key.

    Returns
    -------
    tuple of int and float, or None
        Last wound key, and the bound on the chance that strings of one kind show the like; ``None`` if it is above 1 %,
        or the departures differ by less than a factor of 1.6.
    """
    keys, stray = _departures(notes)
    usable = [after for after in _WINDING_CANDIDATES if heard_on_both_sides(keys, after)]
    found = [(_p_winding(keys, stray, after) * len(usable), after) for after in usable]
    p, after = min(found, default=(1.0, 0))
    return (after, p) if p <= _WINDING_CHANCE else None


def _departures(notes: Mapping[int, Note]) -> tuple[Floats, Floats]:
    """Return keys, shape (n,), and the logarithm of the median departure of their partials, shape (n,)."""
    low, high = _LAW_PARTIALS
    stray = {}
    for key, note in sorted(notes.items()):
        cents = [abs(p.law_cents) for p in note.partials if p.law_cents is not None and low <= p.n <= high]
        if len(cents) >= _FEWEST_PARTIALS:
            stray[key] = float(np.log(max(float(np.median(cents)), 1e-3)))
    return np.array(list(stray), dtype=np.float64), np.array(list(stray.values()))


def _p_winding(keys: Floats, stray: Floats, after: int) -> float:
    """Return the chance that departures larger by as much below than above `after` are chance (Welch's test)."""
    below = stray[(keys <= after) & (keys > after - _WINDING_NOTES)]
    above = stray[(keys > after) & (keys <= after + _WINDING_NOTES)]
    excess = float(below.mean() - above.mean())
    if excess < np.log(_SMALLEST_WINDING_RATIO):
        return 1.0
    parts = np.array([below.var(ddof=1) / below.size, above.var(ddof=1) / above.size])
    dof = parts.sum() ** 2 / float(np.sum(parts**2 / np.array([below.size - 1, above.size - 1])))
    return float(student_tail(excess / np.sqrt(parts.sum()), dof))


def change_points(
    *,
    break_after: tuple[int, float] | None,
    winding: tuple[int, float] | None,
    in_b: Sequence[tuple[int, float]],
    known: KnownScale,
) -> tuple[ChangePoint, ...]:
    """Return all changes of the scale, ascending.

    Parameters
    ----------
    break_after : tuple of int and float, or None
        The break as found in B, with its chance.
    winding : tuple of int and float, or None
        From `winding_end`.
    in_b : sequence of tuple of int and float
        Further steps of B.
    known : KnownScale
        What was given; it goes before what was found.
    """
    the_break = break_after if known.break_after is None else (known.break_after, 0.0)
    found: dict[int, ChangePoint] = {}

    def add(after: int, kind: ChangeKind, p_false: float, *, is_given: bool) -> None:
        if all(abs(after - there) > (0 if is_given else _SAME_PLACE) for there in found):
            found[after] = ChangePoint(after_key=after, kind=kind, p_false=p_false, is_given=is_given)

    def kind_of(after: int) -> ChangeKind:
        if the_break is None:
            return ChangeKind.STRINGS
        return ChangeKind.BELOW if after < the_break[0] else ChangeKind.ABOVE

    if the_break is not None:
        add(the_break[0], ChangeKind.BREAK, the_break[1], is_given=known.break_after is not None)
    for key in known.keys:
        kind = ChangeKind.WINDING if key == known.last_wound_key else kind_of(key)
        add(key, kind, 0.0, is_given=True)
    if winding is not None and known.last_wound_key is None:
        add(winding[0], ChangeKind.WINDING, winding[1], is_given=False)
    for after, p_false in sorted(in_b, key=lambda step: step[1]):
        add(after, kind_of(after), p_false, is_given=False)
    last_wound = known.last_wound_key if winding is None or known.last_wound_key is not None else winding[0]
    return tuple(_with_winding(found[after], last_wound) for after in sorted(found))


def _with_winding(change: ChangePoint, last_wound: int | None) -> ChangePoint:
    ends = None if last_wound is None else abs(change.after_key - last_wound) <= _SAME_PLACE
    return ChangePoint(
        after_key=change.after_key,
        kind=change.kind,
        p_false=change.p_false,
        is_given=change.is_given,
        ends_winding=ends,
    )


def sections(changes: Sequence[ChangePoint], *, lowest: int, highest: int) -> tuple[Section, ...]:
    """Return the sections between the changes, ascending.

    Parameters
    ----------
    changes : sequence of ChangePoint
        Ascending.
    lowest, highest : int
        Compass.
    """
    inside = [change.after_key for change in changes if lowest <= change.after_key < highest]
    the_break = next((change.after_key for change in changes if change.kind is ChangeKind.BREAK), None)
    bounds = [lowest - 1, *inside, highest]
    pieces = [(low + 1, high) for low, high in pairwise(bounds)]
    sides = ["" if the_break is None else "bass" if last <= the_break else "tenor and treble" for _, last in pieces]
    names = []
    for i, side in enumerate(sides):
        number, of = sides[: i + 1].count(side), sides.count(side)
        word = side or "keyboard"
        names.append(word if of == 1 else f"{word}, part {number} of {of} from below")
    return tuple(
        Section(name=name, first_key=first, last_key=last) for name, (first, last) in zip(names, pieces, strict=True)
    )
