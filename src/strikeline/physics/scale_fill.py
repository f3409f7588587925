"""Notes of a scale that were not measured, filled from those that were, within their section and marked as filled."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.keyboard import Compass
from strikeline.measured import Measured
from strikeline.physics.gauge_steps import HALF_NUMBER_MM, diameters_between
from strikeline.physics.scale_entry import CORE, LENGTH, MICROMETER_ZERO, TAPE_ZERO, WRAPS, ScaleEntry
from strikeline.physics.scale_sections import Section, Sections, sections_of
from strikeline.physics.smooth_fit import FARTHEST, FEWEST, SmoothFit, fit_smooth

_ZEROS: Final = (TAPE_ZERO, MICROMETER_ZERO)
_LEAST_BARE_SE_MM: Final = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledNote:
    """One note with all that its string needs, and what of it was not measured."""

    entry: ScaleEntry
    """Complete but for what is optional."""
    section: Section
    filled: tuple[str, ...]
    """What was filled: ``"length"``, ``"diameter"``, ``"winding"``, ``"bare ends"``, ``"strings"``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledScale:
    """A scale as far as it can be told."""

    notes: tuple[FilledNote, ...]
    """Ascending by key."""
    sections: Sections
    cannot_tell: tuple[tuple[int, str], ...]
    """Keys of the compass without a string, and why."""


def fill_scale(
    entries: Sequence[ScaleEntry], *, compass: Compass | None, break_after: int | None = None
) -> FilledScale:
    """Fill the notes that were not measured from those that were.

    Lengths run as a smooth curve in ln L over the keys of a section (`smooth_fit`), wraps likewise; plain wire and
    cores change by gauge steps (`gauge_steps.diameters_between`); bare ends are taken as the middle one of the section;
    strings to a note as on both sides. Nothing is carried over the break or from plain to wound.

    Parameters
    ----------
    entries : sequence of ScaleEntry
        Entered notes, each key once.
    compass : Compass or None
        All notes of the piano; ``None`` for those from the lowest to the highest entered.
    break_after : int or None
        Highest key below the break, where it is known.

    Returns
    -------
    FilledScale
        Notes with a string, and why the others have none.

    Raises
    ------
    InputError
        If nothing was entered, a note stands there twice, or lies outside the compass.
    """
    ordered = [_with_own_readings(entry) for entry in sorted(entries, key=lambda entry: entry.key)]
    keys = [entry.key for entry in ordered]
    if not keys:
        raise InputError("no note was entered", name="entries")
    if len(set(keys)) < len(keys):
        raise InputError.of("entries", keys, "each note once")
    whole = compass if compass is not None else Compass(keys[0], max(keys[-1], keys[0] + 1))
    if not (whole.lowest <= keys[0] and keys[-1] <= whole.highest):
        raise InputError.of("compass", str(whole), "a compass that holds every note entered")
    sections = sections_of(ordered, compass=whole, break_after=break_after)
    notes, cannot = list[FilledNote](), list[tuple[int, str]]()
    by_key = {entry.key: entry for entry in ordered}
    curves = _Curves(ordered, sections)
    for key in whole:
        if compass is None and key not in by_key and key > keys[-1]:
            continue
        if key in sections.untold:
            cannot.append((key, sections.untold[key]))
            continue
        filler = _Filler(by_key.get(key, ScaleEntry(key=key)), sections.by_key[key], curves)
        why = filler.fill()
        if why is None:
            notes.append(FilledNote(entry=filler.entry, section=filler.section, filled=tuple(filler.filled)))
        else:
            cannot.append((key, why))
    return FilledScale(notes=tuple(notes), sections=sections, cannot_tell=tuple(cannot))


class _Curves:
    """What each section tells of the notes that were not measured."""

    def __init__(self, entries: Sequence[ScaleEntry], sections: Sections) -> None:
        self._by_section: dict[Section, list[ScaleEntry]] = {}
        self._keys: dict[Section, list[int]] = {}
        self._ties = {entry.key: entry.ties for entry in entries}
        for key, section in sections.by_key.items():
            self._keys.setdefault(section, []).append(key)
        for entry in entries:
            if entry.key in sections.by_key:
                self._by_section.setdefault(sections.by_key[entry.key], []).append(entry)
        self._fits: dict[tuple[Section, str], SmoothFit | None] = {}

    def of(self, section: Section) -> list[ScaleEntry]:
        return self._by_section.get(section, [])

    def fit(self, section: Section, name: str, read: Callable[[ScaleEntry], Measured | None]) -> SmoothFit | None:
        """Return the curve of ln of a quantity over the notes of a section that lack it."""
        if (section, name) not in self._fits:
            known = {entry.key: value for entry in self.of(section) if (value := read(entry)) is not None}
            wanted = tuple(key for key in self._keys[section] if key not in known)
            own = [_own_se(self._ties.get(key, {}).get(name, {}), value) / value.value for key, value in known.items()]
            self._fits[section, name] = fit_smooth(
                list(known),
                [math.log(value.value) for value in known.values()],
                least_scatter=float(np.median(own)) if own else 0.0,
                wanted=wanted,
            )
        return self._fits[section, name]


def _with_own_readings(entry: ScaleEntry) -> ScaleEntry:
    """Return an entry whose own reading of its wire is a source of error, too: notes filled from it follow it."""
    diameter, ties = entry.core_diameter_mm, entry.ties.get(CORE, {})
    if diameter is None:
        return entry
    own = _own_se(ties, diameter)
    return replace(entry, ties={**entry.ties, CORE: {**ties, f"reading of wire at {entry.key}": own}})


def _own_se(ties: Mapping[str, float], value: Measured) -> float:
    """Return what is left of an error without what is shared with other notes."""
    return math.sqrt(max(value.se**2 - sum(move**2 for move in ties.values()), 0.0))


@dataclass(slots=True)
class _Filler:
    """Fills one note; `entry` grows, `filled` says what was added."""

    entry: ScaleEntry
    section: Section
    curves: _Curves
    filled: list[str] = field(default_factory=list)

    def fill(self) -> str | None:
        """Fill what is missing; return why it cannot be done, or ``None``."""
        for step in (self._length, self._core, self._windings, self._strings):
            why = step()
            if why is not None:
                return why
        self._bare()
        return None

    def _tie(self, name: str, ties: Mapping[str, float]) -> Mapping[str, Mapping[str, float]]:
        return {**self.entry.ties, name: ties}

    def _length(self) -> str | None:
        if self.entry.length_mm is not None:
            return None
        found = self._on_curve(LENGTH, lambda entry: entry.length_mm)
        if isinstance(found, str):
            return f"no speaking length: {found}"
        length, ties = found
        self.entry = replace(self.entry, length_mm=length, ties=self._tie(LENGTH, ties))
        self.filled.append("length")
        return None

    def _on_curve(
        self, name: str, read: Callable[[ScaleEntry], Measured | None]
    ) -> tuple[Measured, dict[str, float]] | str:
        """Return a quantity read off the curve of the section, with what ties it to other notes filled from it."""
        fit = self.curves.fit(self.section, name, read)
        if fit is None:
            return f"fewer than {FEWEST} notes of its section ({self.section}) were measured"
        if self.entry.key not in fit.keys:
            return f"it lies too far beyond the measured notes of its section ({self.section})"
        log_value, moves = fit.at(self.entry.key)
        value = math.exp(log_value)
        ties = {
            f"curve {place} of {name}, {self.section}": value * float(move)
            for place, move in enumerate(moves)
            if move != 0.0
        }
        # A tool whose zero is off moves all measured notes, and the curve with them.
        known = [entry for entry in self.curves.of(self.section) if read(entry) is not None]
        nearest = min(known, key=lambda entry: abs(entry.key - self.entry.key))
        ties |= {source: move for source, move in nearest.ties.get(name, {}).items() if source in _ZEROS}
        return Measured(value, math.hypot(value * fit.scatter, *ties.values())), ties

    def _core(self) -> str | None:
        if self.entry.core_diameter_mm is not None:
            return None
        known = {entry.key: entry for entry in self.curves.of(self.section) if entry.core_diameter_mm is not None}
        below = max((key for key in known if key < self.entry.key), default=None)
        above = min((key for key in known if key > self.entry.key), default=None)
        nearest = [known[key] for key in (below, above) if key is not None]
        ends = [(entry.key, entry.core_diameter_mm) for entry in nearest if entry.core_diameter_mm is not None]
        if not ends:
            return f"no diameter: none was measured in its section ({self.section})"
        if len({entry.core.name for entry in nearest}) > 1:
            return "no diameter: the wire on either side is of another metal"
        if len(ends) == 2:
            value, ties = self._between(nearest[0], nearest[1])
        elif abs(ends[0][0] - self.entry.key) <= FARTHEST:
            # Beyond the last measured note a step may have come: one half number is allowed for.
            value = ends[0][1].value
            ties = {**nearest[0].ties.get(CORE, {}), f"gauge beyond {ends[0][0]}": HALF_NUMBER_MM}
        else:
            return f"no diameter: it lies too far beyond the measured notes of its section ({self.section})"
        diameter = Measured(value, float(np.linalg.norm(list(ties.values()))))
        self.entry = replace(self.entry, core_diameter_mm=diameter, core=nearest[0].core, ties=self._tie(CORE, ties))
        self.filled.append("diameter")
        return None

    def _between(self, below: ScaleEntry, above: ScaleEntry) -> tuple[float, dict[str, float]]:
        """Return the diameter between two measured notes, with what ties it to them and to the others between them."""
        low, high = below.core_diameter_mm, above.core_diameter_mm
        if low is None or high is None:
            raise RuntimeError("a note beside was to have a diameter")
        keys = range(below.key + 1, above.key)
        steps = diameters_between(keys, below=(below.key, low.value), above=(above.key, high.value))
        place = keys.index(self.entry.key)
        upper = float(steps.upper_share[place])
        ties: dict[str, float] = {}
        for share, entry in ((1.0 - upper, below), (upper, above)):
            for source, move in entry.ties.get(CORE, {}).items():
                ties[source] = ties.get(source, 0.0) + share * move
        for number, move in enumerate(steps.moves_mm[place]):
            ties[f"gauge step {number} from {below.key} to {above.key}"] = float(move)
        return float(steps.diameter_mm[place]), {source: move for source, move in ties.items() if move != 0.0}

    def _windings(self) -> str | None:
        if self.entry.windings is not None:
            return None
        known = [entry for entry in self.curves.of(self.section) if entry.windings is not None]
        nearest = min(known, key=lambda entry: abs(entry.key - self.entry.key))
        pattern = nearest.windings or ()
        beside = [max((e for e in known if e.key < self.entry.key), default=None, key=lambda e: e.key)]
        beside.append(min((e for e in known if e.key > self.entry.key), default=None, key=lambda e: e.key))
        metals = {tuple(w.material.name for w in entry.windings or ()) for entry in beside if entry is not None}
        if len(metals) > 1:
            return "no winding: that on either side is of another metal"
        wound = list(pattern)
        for place, name in enumerate(WRAPS[: len(pattern)]):
            found = self._on_curve(name, lambda entry, place=place: _wrap(entry, place))  # type: ignore[misc]  # place
            if isinstance(found, str):
                return f"no winding: {found}"
            wound[place] = replace(pattern[place], wrap_diameter_mm=found[0], outside_mm=None)
            self.entry = replace(self.entry, ties=self._tie(name, found[1]))
        self.entry = replace(self.entry, windings=tuple(wound), is_hexagonal=nearest.is_hexagonal)
        if wound:
            self.filled.append("winding")
        return None

    def _strings(self) -> str | None:
        if self.entry.n_strings is not None:
            return None
        known = {e.key: e.n_strings for e in self.curves.of(self.section) if e.n_strings is not None}
        below = max((key for key in known if key < self.entry.key), default=None)
        above = min((key for key in known if key > self.entry.key), default=None)
        counts = {known[key] for key in (below, above) if key is not None}
        if len(counts) != 1:
            return "how many strings it has cannot be told from the notes beside it; write it in the column strings"
        self.entry = replace(self.entry, n_strings=counts.pop())
        self.filled.append("strings")
        return None

    def _bare(self) -> None:
        """Take the middle bare ends of the section, where any were measured; without them B comes out too low."""
        if not self.entry.windings or self.entry.bare_mm is not None:
            return
        known = [entry.bare_mm for entry in self.curves.of(self.section) if entry.bare_mm is not None]
        if known:
            middle = tuple(_middle([pair[end] for pair in known]) for end in (0, 1))
            self.entry = replace(self.entry, bare_mm=(middle[0], middle[1]))
            self.filled.append("bare ends")


def _wrap(entry: ScaleEntry, place: int) -> Measured | None:
    windings = entry.windings or ()
    return windings[place].wrap_diameter_mm if place < len(windings) else None


def _middle(values: Sequence[Measured]) -> Measured:
    """Return the middle of several measured values, with how far one lies from it."""
    figures = np.array([one.value for one in values])
    middle = float(np.median(figures))
    spread = 1.4826 * float(np.median(np.abs(figures - middle)))
    return Measured(middle, math.hypot(max(spread, _LEAST_BARE_SE_MM), max(one.se for one in values)))
