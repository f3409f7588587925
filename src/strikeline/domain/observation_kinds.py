"""Kinds of observation: what is looked at, how, and what each sight means. Data in ``observations.toml``."""

from __future__ import annotations

import difflib
import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from importlib import resources
from types import MappingProxyType
from typing import Final

from strikeline.domain.catalogue import Evidence
from strikeline.domain.fields import Fields
from strikeline.errors import InputError
from strikeline.units import UNITS

SCHEMA: Final = "strikeline.observations/1"


class Part(StrEnum):
    """Where on the instrument."""

    BOARD = "board"
    BRIDGE = "bridge"
    FRAME = "frame"
    PLANK = "plank"
    BACK = "back"
    PEDAL = "pedal"
    CASTOR = "castor"
    CASE = "case"
    FELT = "felt"


class Grade(StrEnum):
    """What an observation means, from least to most."""

    COSMETIC = "cosmetic"
    WATCH = "watch"
    NEEDS_WORK = "needs work"
    STOPS_WORK = "stops work"

    @property
    def rank(self) -> int:
        """Return its place, 0 for the least."""
        return list(Grade).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """Something that may be seen with it."""

    id: str
    words: str
    grade: Grade
    reason: str
    is_decisive: bool
    """Whether it must have been looked for before a better grade is settled."""
    is_instead: bool
    """Whether its grade stands in place of what the kind means alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A size that is written with it."""

    id: str
    unit: str
    """Empty for a number of things."""
    possible: tuple[float, float]
    half_width: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """From which size on it means more."""

    measure: str
    at_least: float
    grade: Grade
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ObservationKind:
    """One kind of observation."""

    id: str
    part: Part
    names: Mapping[str, str]
    also: tuple[str, ...]
    how: str
    alone: Grade
    reason: str
    is_never_alone: bool
    """Crown and bearing: never more than watched."""
    evidence: Evidence
    source: str
    cautions: tuple[str, ...]
    signs: tuple[Sign, ...]
    measures: tuple[Measure, ...]
    limits: tuple[Limit, ...]

    def sign(self, word: str) -> Sign:
        """Return the sign that goes by a word: its id or its words.

        Raises
        ------
        InputError
            If none does.
        """
        for one in self.signs:
            if _plain(word) in {_plain(one.id), _plain(one.words)}:
                return one
        known = ", ".join(one.id.replace("_", " ") for one in self.signs) or "none: leave it to the remark"
        raise InputError.of("seen", word, f"a sign of {self.id}: {known}")


def _plain(word: str) -> str:
    return " ".join(word.casefold().replace("_", " ").replace("-", " ").split())


@dataclass(frozen=True, slots=True)
class ObservationKinds:
    """All kinds, in the order of the file."""

    kinds: Mapping[str, ObservationKind]

    def find(self, name: str) -> ObservationKind:
        """Return the kind that goes by a name.

        Raises
        ------
        InputError
            If none does; the message has the nearest names.

        Examples
        --------
        >>> the_observation_kinds().find("plate crack").id
        'frame_crack'
        """
        known = {_plain(word): one for one in self.kinds.values() for word in (one.id, *one.names.values(), *one.also)}
        found = known.get(_plain(name))
        if found is None:
            near = difflib.get_close_matches(_plain(name), known, n=3, cutoff=0.5)
            advice = f"did you mean {' or '.join(near)}?" if near else "strikeline look --kinds lists them"
            raise InputError.of("kind", name, "a kind of observation", advice=advice)
        return found


def observation_kinds_from_toml(text: str) -> ObservationKinds:
    """Return kinds of observation read from TOML text in the form of ``observations.toml``.

    Raises
    ------
    InputError
        If the text is no TOML, an entry lacks a field, has an unknown one or holds what it cannot hold, or one that is
        never a verdict alone is graded as more than to be watched.
    """
    try:
        whole = Fields(tomllib.loads(text), "observations")
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the observations are no TOML: {error}", name="observations") from error
    if whole.text("schema") != SCHEMA:
        raise whole.wrong("schema", repr(SCHEMA))
    found = dict[str, ObservationKind]()
    owner = dict[str, str]()
    for part in whole.parts("kind"):
        kind = _kind(part)
        for word in {_plain(word) for word in (kind.id, *kind.names.values(), *kind.also)}:
            if word in owner:
                raise InputError(f"{word!r} means both {owner[word]} and {kind.id}; a name may mean one thing only")
            owner[word] = kind.id
        found[kind.id] = kind
    whole.finish()
    return ObservationKinds(MappingProxyType(found))


def _kind(part: Fields) -> ObservationKind:
    entry = part.named(part.text("id"))
    kind = ObservationKind(
        id=entry.text("id"),
        part=entry.word("part", Part),
        names=MappingProxyType({"gb": entry.text("gb"), "us": entry.text("us")}),
        also=entry.texts("also"),
        how=entry.text("how"),
        alone=entry.word("alone", Grade),
        reason=entry.text("reason"),
        is_never_alone=bool(entry.flag("never_alone")),
        evidence=entry.word("evidence", Evidence),
        source=entry.text("source"),
        cautions=entry.texts("cautions"),
        signs=tuple(_sign(one) for one in entry.parts("sign", is_needed=False)),
        measures=tuple(_measure(one) for one in entry.parts("measure", is_needed=False)),
        limits=tuple(_limit(one) for one in entry.parts("limit", is_needed=False)),
    )
    entry.finish()
    grades = [kind.alone, *(one.grade for one in kind.signs), *(one.grade for one in kind.limits)]
    if kind.is_never_alone and max(grade.rank for grade in grades) > Grade.WATCH.rank:
        raise entry.wrong("never_alone", "nothing above 'watch': it is never a verdict by itself")
    unknown = {one.measure for one in kind.limits} - {one.id for one in kind.measures}
    if unknown:
        raise InputError.of(f"{kind.id}.limit", sorted(unknown), "measures of this kind")
    return kind


def _sign(part: Fields) -> Sign:
    sign = Sign(
        id=part.text("id"),
        words=part.text("words"),
        grade=part.word("grade", Grade),
        reason=part.text("reason"),
        is_decisive=bool(part.flag("decisive")),
        is_instead=bool(part.flag("instead")),
    )
    part.finish()
    return sign


def _measure(part: Fields) -> Measure:
    unit = part.text("unit", default="")
    if unit and unit not in UNITS:
        raise part.wrong("unit", f"empty, or one of {', '.join(UNITS)}")
    measure = Measure(
        id=part.text("id"),
        unit=unit,
        possible=part.pair("possible"),
        half_width=part.number("half_width", low=0.0),
        how=part.text("how"),
    )
    part.finish()
    return measure


def _limit(part: Fields) -> Limit:
    limit = Limit(
        measure=part.text("measure"),
        at_least=part.number("from", low=0.0),
        grade=part.word("grade", Grade),
        reason=part.text("reason"),
    )
    part.finish()
    return limit


@functools.cache
def the_observation_kinds() -> ObservationKinds:
    """Return the kinds that ship with the program."""
    return observation_kinds_from_toml(resources.files(__package__).joinpath("observations.toml").read_text("utf-8"))
