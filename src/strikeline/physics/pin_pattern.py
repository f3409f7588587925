"""Where the weak pins stand: in a run along the plank, gathered in one row or one end, or scattered as by chance.

A crack or a crushed flange weakens pins that stand side by side; dirt, wear and single bad holes do not care about
neighbours. All three looks ask the same: if the same number of weak pins were dealt out over the field by chance, how
often would they stand so close together? The first two counts are exact; three looks share the 5 % between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby, pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from strikeline.measured import Measured
from strikeline.physics.wrest_pins import CLASS_LIMITS, Pin, StringSide, log_choose

FALSE_ALARM: Final = 0.05
"""How often a field without any pattern is said to have one, all looks together."""
_LOOKS: Final = 3
FEWEST_WEAK: Final = 4
"""Weak pins from which on their places say anything: three in a hundred can stand side by side by chance."""
FEWEST_PINS: Final = 20
_SHORTEST_RUN: Final = 3
_MOST_WEAK_SHARE: Final = 0.5


class Pattern(StrEnum):
    """How the weak pins lie."""

    RUNS = "in runs along the plank"
    ONE_ROW = "gathered in one row"
    ONE_END = "gathered towards one end of the compass"
    SCATTERED = "scattered"
    """No closer together than chance would deal them."""
    NEARLY_ALL = "nearly everywhere"
    """More than half are weak: their places no longer matter."""
    CANNOT_TELL = "cannot tell"


Place = tuple[int, StringSide]
"""Key and string of a pin."""


@dataclass(frozen=True, slots=True)
class Run:
    """Weak pins side by side in one row."""

    row: str
    """Name of the row: its number, or the string where no rows were noted."""
    first_key: int
    last_key: int
    n: int
    is_at_frame: bool | None
    """Whether the row runs along the flange of the frame; ``None`` where it was not noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPattern:
    """What the places of the weak pins say."""

    pattern: Pattern
    also: tuple[Pattern, ...] = ()
    """Further patterns that the looks found."""
    below_nm: float
    """Pins under this count as weak here."""
    n_weak: int
    n_pins: int
    runs: tuple[Run, ...] = ()
    """Three or more weak pins side by side, the longest first; told only where runs are more than chance."""
    weak_row: str | None = None
    """The row they gather in."""
    weak_row_is_at_frame: bool | None = None
    towards: str | None = None
    """``"bass"`` or ``"treble"``."""
    chance_of_runs: float | None = None
    """How often chance alone lays as many weak pins as few runs; of one look, before the three share their 5 %."""
    chance_of_row: float | None = None
    chance_of_end: float | None = None
    cannot_tell: str | None = None


def find_pattern(pins: Sequence[Pin]) -> PinPattern:
    """Return how the weak pins of a survey lie.

    Weak is below 50 in-lb, or below 30 in-lb where more than half are below 50: the choice looks only at how many there
    are, so it costs nothing. Rows are those noted; without them the pins of each string (left, middle, right) are taken
    as a row, which is how most planks are bored. Neighbours are those next to each other among the pins read.

    Parameters
    ----------
    pins : sequence of Pin
        The survey, in any order.

    Returns
    -------
    PinPattern

    References
    ----------
    .. [1] A. Wald and J. Wolfowitz, "On a test whether two samples are from the same population", Ann. Math. Stat. 11,
       147-162 (1940): the exact distribution of runs (from memory); extended here to several rows by multiplying their
       generating functions, and checked in the tests by counting all arrangements of small fields.
    """
    limits = [limit.below_nm for limit in CLASS_LIMITS[1::-1]]
    below = next((one for one in limits if _share(pins, one) <= _MOST_WEAK_SHARE), limits[-1])
    lines = _lines(pins)
    weak = {pin.place for pin in pins if pin.torque_nm.value < below}
    told = PinPattern(pattern=Pattern.SCATTERED, below_nm=below, n_weak=len(weak), n_pins=len(pins))
    if len(pins) < FEWEST_PINS:
        why = f"too few pins were read: {len(pins)}, and places say something from {FEWEST_PINS} on"
        return replace(told, pattern=Pattern.CANNOT_TELL, cannot_tell=why)
    if _share(pins, below) > _MOST_WEAK_SHARE:
        return replace(told, pattern=Pattern.NEARLY_ALL)
    if len(weak) < FEWEST_WEAK:
        why = f"too few weak pins: {len(weak)}, and places say something from {FEWEST_WEAK} on"
        return replace(told, pattern=Pattern.CANNOT_TELL, cannot_tell=why)
    return _looked_at(told, lines, weak)


def _share(pins: Sequence[Pin], below_nm: float) -> float:
    return sum(pin.torque_nm.value < below_nm for pin in pins) / max(len(pins), 1)


@dataclass(frozen=True, slots=True)
class _Line:
    """Pins of one row in the order of the keyboard."""

    name: str
    pins: tuple[Pin, ...]
    is_at_frame: bool | None

    def marks(self, weak: set[Place]) -> NDArray[np.bool_]:
        return np.array([pin.place in weak for pin in self.pins])


def _lines(pins: Sequence[Pin]) -> list[_Line]:
    """Return the rows of the field; pins without a row go by their string."""
    by_row = dict[str, list[Pin]]()
    for pin in sorted(pins, key=lambda one: one.key):
        name = f"{pin.string.value} strings" if pin.row is None else f"row {pin.row}"
        by_row.setdefault(name, []).append(pin)
    lines = []
    for name, row in sorted(by_row.items()):
        noted = {pin.is_at_frame for pin in row}
        lines.append(_Line(name, tuple(row), noted.pop() if len(noted) == 1 else None))
    return lines


def _looked_at(told: PinPattern, lines: Sequence[_Line], weak: set[Place]) -> PinPattern:
    """Return what the three looks find, each of them allowed a third of the false alarms."""
    marks = [line.marks(weak) for line in lines]
    by_runs = chance_of_so_few_runs(marks)
    row, by_row = _fullest_row(marks)
    towards, by_end = _end(lines, weak)
    found = []
    if by_row <= FALSE_ALARM / _LOOKS:
        found.append(Pattern.ONE_ROW)
    if by_end <= FALSE_ALARM / _LOOKS:
        found.append(Pattern.ONE_END)
    if by_runs <= FALSE_ALARM / _LOOKS and _runs_within(lines, weak, found) <= FALSE_ALARM / _LOOKS:
        found.insert(0, Pattern.RUNS)
    is_row = Pattern.ONE_ROW in found
    return replace(
        told,
        pattern=found[0] if found else Pattern.SCATTERED,
        also=tuple(found[1:]),
        runs=_runs(lines, weak) if Pattern.RUNS in found or is_row else (),
        weak_row=lines[row].name if is_row else None,
        weak_row_is_at_frame=lines[row].is_at_frame if is_row else None,
        towards=towards if Pattern.ONE_END in found else None,
        chance_of_runs=by_runs,
        chance_of_row=by_row,
        chance_of_end=by_end,
    )


def chance_of_so_few_runs(rows: Sequence[NDArray[np.bool_]]) -> float:
    """Return how often chance lays the same number of weak pins over the same rows in as few runs, or fewer.

    Among the arrangements of w weak pins in a row of n there are ``C(w-1, r-1)·C(n-w+1, r)`` with r runs of weak ones;
    the rows together follow by multiplying their generating functions in w and r.

    Parameters
    ----------
    rows : sequence of ndarray of bool
        For each row its pins in order, true for a weak one.

    Returns
    -------
    float
        Exact probability, given the number of weak pins in the whole field.

    Examples
    --------
    >>> round(chance_of_so_few_runs([np.array([True, True, True, False, False, False])]), 3)
    0.2
    """
    chances = _chances_of_runs(rows)
    return float(chances[: sum(_count_runs(row) for row in rows) + 1].sum())


def _chances_of_runs(rows: Sequence[NDArray[np.bool_]]) -> NDArray[np.float64]:
    """Return the chance of 0, 1, 2, … runs when the weak pins of some rows are dealt out over them."""
    n_weak = sum(int(row.sum()) for row in rows)
    ways = _ways_of_row(len(rows[0]), n_weak)
    for row in rows[1:-1]:
        ways = _times(ways, _ways_of_row(len(row), n_weak))
    if len(rows) == 1:
        return np.asarray(ways[n_weak] / ways[n_weak].sum())
    last = _ways_of_row(len(rows[-1]), n_weak)  # of the whole product only the row of n_weak is wanted
    wanted = np.sum([np.convolve(ways[n_weak - w], last[w])[: n_weak + 1] for w in range(n_weak + 1)], axis=0)
    return np.asarray(wanted / wanted.sum())


def _count_runs(row: NDArray[np.bool_]) -> int:
    return int(row[:1].sum() + np.sum(row[1:] & ~row[:-1]))


def _ways_of_row(n: int, most: int) -> NDArray[np.float64]:
    """Return in how many ways w weak pins of a row of n make r runs, at [w, r]."""
    ways = np.zeros((most + 1, most + 1))
    ways[0, 0] = 1.0
    for w in range(1, min(n, most) + 1):
        r = np.arange(1, min(w, n - w + 1) + 1)
        ways[w, r] = np.exp(log_choose(w - 1, r - 1) + log_choose(n - w + 1, r))
    return ways


def _times(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Multiply two generating functions in w and r, cut off at their common size."""
    most = len(one) - 1
    product = np.zeros_like(one)
    for w in np.flatnonzero(other.any(axis=1)).tolist():
        for r in np.flatnonzero(other[w]).tolist():
            product[w:, r:] += other[w, r] * one[: most + 1 - w, : most + 1 - r]
    return product


def _fullest_row(marks: Sequence[NDArray[np.bool_]]) -> tuple[int, float]:
    """Return the row in which weak pins gather most, and the chance that any row is so full."""
    n, n_weak = sum(map(len, marks)), sum(int(row.sum()) for row in marks)
    tails = []
    for row in marks:
        most = min(len(row), n_weak)
        whole = log_choose(n, n_weak)
        tails.append(
            sum(
                float(np.exp(log_choose(len(row), i) + log_choose(n - len(row), n_weak - i) - whole))
                for i in range(int(row.sum()), most + 1)
                if n_weak - i <= n - len(row)
            )
        )
    fullest = int(np.argmin(tails))
    return fullest, min(1.0, tails[fullest] * len(marks)) if len(marks) > 1 else 1.0


def _end(lines: Sequence[_Line], weak: set[Place]) -> tuple[str, float]:
    """Return towards which end the weak pins lie, and the chance of lying so far that way or the other.

    The rank-sum test with the normal approximation, ties of one note's pins and the step of a half accounted for.
    """
    pins = [pin for line in lines for pin in line.pins]
    keys = np.array([pin.key for pin in pins])
    is_weak = np.array([pin.place in weak for pin in pins])
    _, place, counts = np.unique(keys, return_inverse=True, return_counts=True)
    rank = (np.cumsum(counts) - 0.5 * (counts - 1))[place]
    n, w = len(pins), int(is_weak.sum())
    variance = w * (n - w) / 12.0 * (n + 1 - float(np.sum(counts**3 - counts)) / (n * (n - 1)))
    away = float(rank[is_weak].sum() - 0.5 * w * (n + 1))
    z = max(0.0, abs(away) - 0.5) / np.sqrt(variance) if variance > 0 else 0.0
    return "treble" if away > 0 else "bass", float(2.0 * ndtr(-z))


def _runs_within(lines: Sequence[_Line], weak: set[Place], found: Sequence[Pattern]) -> float:
    """Return the chance of so few runs once the patterns found already are granted.

    With a weak row found, each row keeps its number of weak pins; with a weak end found, each third of the compass. So
    a field that is weak at one end, or a row that is weak throughout, is not told as runs on that account alone.
    """
    keys = sorted(pin.key for line in lines for pin in line.pins)
    thirds = [(keys[0], keys[-1] + 1)]
    if Pattern.ONE_END in found:
        thirds = list(pairwise((keys[0], keys[len(keys) // 3], keys[2 * len(keys) // 3], keys[-1] + 1)))
    groups = [[line] for line in lines] if Pattern.ONE_ROW in found else [list(lines)]
    chance, seen = np.ones(1), 0
    for group in groups:
        for low, high in thirds:
            rows = [
                np.array([pin.place in weak for pin in line.pins if low <= pin.key < high], dtype=bool)
                for line in group
            ]
            chance = np.convolve(chance, _chances_of_runs(rows))
            seen += sum(_count_runs(row) for row in rows)
    return float(chance[: seen + 1].sum())


def _runs(lines: Sequence[_Line], weak: set[Place]) -> tuple[Run, ...]:
    """Return the runs of three or more weak pins, the longest first."""
    found = []
    for line in lines:
        for is_weak, group in groupby(line.pins, key=lambda pin: pin.place in weak):
            run = list(group)
            if is_weak and len(run) >= _SHORTEST_RUN:
                found.append(Run(line.name, run[0].key, run[-1].key, len(run), line.is_at_frame))
    return tuple(sorted(found, key=lambda run: -run.n))


@dataclass(frozen=True, slots=True, kw_only=True)
class LonelyPin:
    """A pin far weaker than those beside it."""

    key: int
    string: StringSide
    torque_nm: Measured
    neighbours_nm: float
    """Median of the nearest pins in its row."""


def weaker_than_neighbours(pins: Sequence[Pin]) -> tuple[LonelyPin, ...]:
    """Return pins that are far weaker than their neighbours in the same row, whatever their class.

    Each pin is held against the median of up to four pins on either side. It is told where it is further below than
    such differences lead to expect once in twenty surveys. Their spread is that of the lower half alone, told by its
    median, so that neither single bad holes nor a long upper tail move it; the normal quantile for all pins at once is
    widened to Student's, for the spread is itself estimated from half the pins with the efficiency of a median (37 %).

    Parameters
    ----------
    pins : sequence of Pin
        The survey; fewer than `FEWEST_PINS` give none.
    """
    beside = [
        (pin, float(np.median([other.torque_nm.value for other in _near(line.pins, i)])))
        for line in _lines(pins)
        if len(line.pins) > _SHORTEST_RUN
        for i, pin in enumerate(line.pins)
    ]
    if len(beside) < FEWEST_PINS:
        return ()
    off = np.array([pin.torque_nm.value - median for pin, median in beside])
    off -= np.median(off)
    spread = float(np.median(-off[off <= 0.0])) / _MEDIAN_OF_HALF_NORMAL
    freedom = _EFFICIENCY_OF_MEDIAN * 0.5 * len(off)
    far = float(stdtrit(freedom, 1.0 - FALSE_ALARM / len(off))) * spread
    found = [one for one, distance in zip(beside, off.tolist(), strict=True) if -distance > far > 0.0]
    return tuple(LonelyPin(key=p.key, string=p.string, torque_nm=p.torque_nm, neighbours_nm=m) for p, m in found)


_NEIGHBOURS: Final = 4
_MEDIAN_OF_HALF_NORMAL: Final = 0.6745
_EFFICIENCY_OF_MEDIAN: Final = 0.37


def _near(row: Sequence[Pin], i: int) -> list[Pin]:
    return [*row[max(0, i - _NEIGHBOURS) : i], *row[i + 1 : i + 1 + _NEIGHBOURS]]
