"""What key tops are made of, told by what can be seen without harming them. Data in ``key_tops.toml``.

Each answer to a question counts for or against each material by how often it would be seen on it. The counts are our
reasoning, and wrong by some factor; a material is told as sure only where that factor cannot undo it.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from importlib import resources
from types import MappingProxyType
from typing import Final

from strikeline.domain.catalogue import Evidence
from strikeline.domain.fields import Fields
from strikeline.errors import InputError

SCHEMA: Final = "strikeline.key_tops/1"
SURE_ODDS: Final = 19.0
"""95 of 100, as everywhere."""
LIKELY_SHARE: Final = 0.8
"""From here on the best material is named as likely (our reasoning)."""
ODD_SHARE: Final = 0.02
"""An answer that so few tops of the material give is worth a second look (our reasoning)."""


class TopMaterial(StrEnum):
    """What naturals are covered with."""

    IVORY = "ivory"
    BONE = "bone"
    CELLULOID = "celluloid"
    CASEIN = "casein"
    PLASTIC = "plastic"
    """Acrylic and other later plastics."""


class Sureness(StrEnum):
    """How sure the material is."""

    SURE = "sure"
    LIKELY = "likely"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One thing that may be seen."""

    say: str
    """The word for it on the command line."""
    words: str
    share: Mapping[TopMaterial, float]
    """Of tops of a material that show it; our reasoning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One question about the tops."""

    id: str
    ask: str
    how: str
    off_by: float
    """Factor by which the ratio of two shares may be wrong, 95 of 100."""
    evidence: Evidence
    source: str
    cautions: tuple[str, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """How tops of some materials are treated, and how not."""

    id: str
    materials: frozenset[TopMaterial]
    is_only_if_sure: bool
    """Whether it may be done only where no other material is possible."""
    says: str
    evidence: Evidence
    source: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyTops:
    """All clues and all care."""

    clues: tuple[Clue, ...]
    care: tuple[Care, ...]

    def find(self, say: str) -> tuple[Clue, Answer]:
        """Return the clue and the answer that a word stands for.

        Raises
        ------
        InputError
            If no answer goes by it.
        """
        plain = say.strip().casefold().replace("_", "-").replace(" ", "-")
        for clue in self.clues:
            for answer in clue.answers:
                if answer.say == plain:
                    return clue, answer
        known = ", ".join(answer.say for clue in self.clues for answer in clue.answers)
        raise InputError.of("saw", say, f"one of {known}")


@dataclass(frozen=True, slots=True, kw_only=True)
class TopVerdict:
    """What the tops are made of, as far as what was seen tells."""

    sureness: Sureness
    material: TopMaterial | None
    """The one named; ``None`` where it cannot be told."""
    share: Mapping[TopMaterial, float]
    """Of 1, all materials being equally usual beforehand, with the counts as they stand."""
    possible: tuple[TopMaterial, ...]
    """Those that are not surely ruled out, the likeliest first."""
    odd: tuple[str, ...]
    """Answers that the likeliest material rarely gives: look again."""
    next_clue: Clue | None
    """The question that would tell most now; ``None`` where all are answered or nothing is left to part."""


def care_for(possible: frozenset[TopMaterial], tops: KeyTops) -> tuple[Care, ...]:
    """Return the care that suits tops which may be of any of some materials.

    Parameters
    ----------
    possible : frozenset of TopMaterial
        What is not ruled out.
    tops : KeyTops
        From `the_key_tops`.
    """
    return tuple(
        one for one in tops.care if (possible <= one.materials if one.is_only_if_sure else possible & one.materials)
    )


def judge_tops(saw: Sequence[str], tops: KeyTops) -> TopVerdict:
    """Return what key tops are made of.

    Parameters
    ----------
    saw : sequence of str
        Words of the answers, in any order, one to a question at most.
    tops : KeyTops
        From `the_key_tops`.

    Returns
    -------
    TopVerdict

    Raises
    ------
    InputError
        If a word is not known or a question is answered in two ways.

    Notes
    -----
    Bayes' rule with even odds beforehand and answers taken as independent. The logarithm of each ratio of shares has
    an error whose 95 % half-width is that of the clue's factor, but never more than the ratio itself: we are sure which
    way a sight points, not how far. Errors of several clues add as squares.
    """
    given = dict[str, tuple[Clue, Answer]]()
    for say in saw:
        clue, answer = tops.find(say)
        if clue.id in given and given[clue.id][1] is not answer:
            both = f"{given[clue.id][1].say} and {answer.say}"
            raise InputError.of("saw", both, "one answer to a question", advice="keep one, or leave it open")
        given[clue.id] = clue, answer
    share = _shares(answer for _clue, answer in given.values())
    best = max(share, key=lambda one: share[one])
    odds = {other: _least_odds(best, other, given.values()) for other in TopMaterial if other is not best}
    possible = [best, *(other for other in sorted(odds, key=lambda one: -share[one]) if odds[other] < SURE_ODDS)]
    if sum(1.0 / one for one in odds.values()) <= 1.0 / SURE_ODDS:
        sureness = Sureness.SURE
    else:
        sureness = Sureness.LIKELY if share[best] >= LIKELY_SHARE else Sureness.CANNOT_TELL
    return TopVerdict(
        sureness=sureness,
        material=None if sureness is Sureness.CANNOT_TELL else best,
        share=MappingProxyType(share),
        possible=tuple(possible),
        odd=tuple(answer.words for _clue, answer in given.values() if answer.share[best] <= ODD_SHARE),
        next_clue=_next(tops, set(given), share) if len(possible) > 1 else None,
    )


def _shares(answers: Iterable[Answer]) -> dict[TopMaterial, float]:
    seen = list(answers)
    likelihood = {one: math.prod(answer.share[one] for answer in seen) for one in TopMaterial}
    whole = sum(likelihood.values())
    return {one: value / whole for one, value in likelihood.items()}


def _least_odds(best: TopMaterial, other: TopMaterial, given: Iterable[tuple[Clue, Answer]]) -> float:
    """Return the odds of one material against another that even wrong counts leave, 95 of 100."""
    log_odds = square = 0.0
    for clue, answer in given:
        ratio = math.log(answer.share[best] / answer.share[other])
        log_odds += ratio
        square += min(math.log(clue.off_by), abs(ratio)) ** 2
    return math.exp(log_odds - math.sqrt(square))


def _next(tops: KeyTops, answered: set[str], share: Mapping[TopMaterial, float]) -> Clue | None:
    """Return the open question whose answer leaves least to be known, on average over what it may be."""

    def left(clue: Clue) -> float:
        total = 0.0
        for answer in clue.answers:
            joint = [share[one] * answer.share[one] for one in TopMaterial]
            likely = sum(joint)
            total -= sum(one * math.log(one / likely) for one in joint if one > 0.0)
        return total

    open_ones = [clue for clue in tops.clues if clue.id not in answered]
    return min(open_ones, key=left, default=None)


def key_tops_from_toml(text: str) -> KeyTops:
    """Return clues and care read from TOML text in the form of ``key_tops.toml``.

    Raises
    ------
    InputError
        If the text is no TOML, an entry lacks a field or has an unknown one, the shares of a clue's answers do not sum
        to 100 for each material, or a word stands for two answers.
    """
    try:
        whole = Fields(tomllib.loads(text), "key tops")
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the key tops are no TOML: {error}", name="key tops") from error
    if whole.text("schema") != SCHEMA:
        raise whole.wrong("schema", repr(SCHEMA))
    tops = KeyTops(
        clues=tuple(_clue(part) for part in whole.parts("clue")),
        care=tuple(_care(part) for part in whole.parts("care")),
    )
    whole.finish()
    words = [answer.say for clue in tops.clues for answer in clue.answers]
    if len(set(words)) < len(words):
        raise InputError.of("say", sorted(words), "each word once")
    return tops


def _clue(part: Fields) -> Clue:
    entry = part.named(part.text("id"))
    clue = Clue(
        id=entry.text("id"),
        ask=entry.text("ask"),
        how=entry.text("how"),
        off_by=entry.number("off_by", low=1.0, high=100.0),
        evidence=entry.word("evidence", Evidence),
        source=entry.text("source"),
        cautions=entry.texts("cautions"),
        answers=tuple(_answer(one) for one in entry.parts("answer")),
    )
    entry.finish()
    for material in TopMaterial:
        total = sum(answer.share[material] for answer in clue.answers)
        if abs(total - 1.0) > 1e-9:
            raise InputError.of(f"{clue.id}: shares of {material}", round(100 * total, 6), "100 over all answers")
    return clue


def _answer(part: Fields) -> Answer:
    table = part.part("of")
    answer = Answer(
        say=part.text("say"),
        words=part.text("words"),
        share=MappingProxyType({one: table.number(one.value, low=0.1, high=99.9) / 100.0 for one in TopMaterial}),
    )
    table.finish()
    part.finish()
    return answer


def _care(part: Fields) -> Care:
    entry = part.named(part.text("id"))
    care = Care(
        id=entry.text("id"),
        materials=frozenset(entry.words("materials", TopMaterial)),
        is_only_if_sure=bool(entry.flag("only_if_sure")),
        says=entry.text("says"),
        evidence=entry.word("evidence", Evidence),
        source=entry.text("source"),
        cautions=entry.texts("cautions"),
    )
    entry.finish()
    return care


@functools.cache
def the_key_tops() -> KeyTops:
    """Return the clues that ship with the program."""
    return key_tops_from_toml(resources.files(__package__).joinpath("key_tops.toml").read_text("utf-8"))
