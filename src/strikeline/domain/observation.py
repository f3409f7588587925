"""One observation, and what it means: cosmetic, watch, needs work, stops work."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from strikeline.domain.observation_kinds import Grade, ObservationKind
from strikeline.errors import InputError
from strikeline.measured import Measured

_HASH: Final = re.compile(r"^(?:sha256:)?([0-9a-f]{64})$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What somebody saw in one place."""

    kind: str
    """Id in the catalogue of kinds."""
    where: str
    """In the words of whoever looked: which rib, bridge, corner."""
    key: int | None
    seen: tuple[str, ...]
    """Ids of signs seen with it."""
    not_seen: tuple[str, ...]
    """Ids of signs looked for and not there."""
    measures: Mapping[str, Measured]
    """By the measure's id, in its unit; without a written ± the error is what a careful hand repeats to."""
    photographs: tuple[str, ...] = ()
    """SHA-256 of each photograph's file, 64 hexadecimal digits: the same content, the same reference."""
    remark: str = ""
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """An observation and what it means."""

    observation: Observation
    kind: ObservationKind
    grade: Grade
    """By what was seen."""
    reasons: tuple[str, ...]
    could_be: Grade
    """The worst it could still be, if what was not looked for is there and what was measured badly is over a limit."""
    to_look_for: tuple[str, ...]
    """Words of decisive signs that were not looked for."""
    to_measure: tuple[str, ...]
    """Measures that a limit hangs on and that are missing or too uncertain."""

    @property
    def is_settled(self) -> bool:
        """Return whether nothing still open could make it worse."""
        return self.could_be is self.grade


def photograph_hash(text: str) -> str:
    """Return the reference of a photograph as it is kept.

    Raises
    ------
    InputError
        If it is no SHA-256 in hexadecimal digits.

    Examples
    --------
    >>> photograph_hash("sha256:" + "0A" * 32) == "0a" * 32
    True
    """
    match = _HASH.match(text.strip().casefold())
    if match is None:
        raise InputError.of(
            "photo", text, "the SHA-256 of the picture file, 64 hexadecimal digits", advice="sha256sum FILE gives it"
        )
    return match[1]


def judge_observation(observation: Observation, kind: ObservationKind) -> Judged:
    """Return what an observation means.

    The grade is the worst of what it means alone, of the signs seen and of the limits surely passed. A grade better
    than that of a decisive sign is settled only once the sign was looked for.

    Parameters
    ----------
    observation : Observation
        What was seen.
    kind : ObservationKind
        Its kind.
    """
    instead = any(sign.is_instead and sign.id in observation.seen for sign in kind.signs)
    found = [] if instead else [(kind.alone, kind.reason)]
    open_grades = list[Grade]()
    to_look_for, to_measure = list[str](), list[str]()
    for sign in kind.signs:
        if sign.id in observation.seen:
            found.append((sign.grade, sign.reason))
        elif sign.is_decisive and sign.id not in observation.not_seen:
            open_grades.append(sign.grade)
            to_look_for.append(sign.words)
    for limit in kind.limits:
        value = observation.measures.get(limit.measure)
        if value is not None and value.value - value.half_width >= limit.at_least:
            found.append((limit.grade, limit.reason))
        elif value is None or value.value + value.half_width >= limit.at_least:
            open_grades.append(limit.grade)
            to_measure.append(limit.measure)
    grade = max((one for one, _reason in found), key=lambda one: one.rank)
    reasons = tuple(reason for one, reason in found if one is grade)
    worst = max([grade, *open_grades], key=lambda one: one.rank)
    is_open = worst is not grade
    return Judged(
        observation=observation,
        kind=kind,
        grade=grade,
        reasons=reasons,
        could_be=worst,
        to_look_for=tuple(to_look_for) if is_open else (),
        to_measure=tuple(to_measure) if is_open else (),
    )
