"""What the law says about ivory in a piano, as far as it was read: guidance, no legal advice.

The rules are data, in ``ivory_law.toml`` beside this file.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from importlib import resources
from types import MappingProxyType
from typing import Any, Final

from strikeline.domain.catalogue import Evidence
from strikeline.domain.fields import Fields
from strikeline.domain.ivory_conditions import Condition, read_conditions
from strikeline.domain.ivory_facts import Facts, Region
from strikeline.errors import InputError

SCHEMA: Final = "strikeline.ivory_law/1"


class Outcome(StrEnum):
    """What the law says to a plan."""

    NOT_COVERED = "not covered"
    ALLOWED = "allowed"
    WITH_PAPER = "with paper"
    FORBIDDEN = "forbidden"
    ASK = "ask"
    """Ask the authority: what was read does not decide it."""
    CANNOT_TELL = "cannot tell"
    """Answers are missing that decide it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What to ask, and how to find the answer."""

    id: str
    ask: str
    find: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)  # each rule is itself only
class Rule:
    """One rule as it was read."""

    id: str
    where: Region
    is_main: bool
    outcome: Outcome
    in_force: date | None
    says: str
    papers: tuple[str, ...]
    evidence: Evidence
    source: str
    disputed: tuple[str, ...]
    conditions: tuple[Condition, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data, without its conditions."""
        names = ("id", "outcome", "says", "papers", "evidence", "source", "disputed")
        in_force = None if self.in_force is None else self.in_force.isoformat()
        return {name: _plain(getattr(self, name)) for name in names} | {"in_force": in_force}


def _plain(value: object) -> object:
    return list(value) if isinstance(value, tuple) else str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class IvoryLaw:
    """All rules, and when they were read."""

    as_of: date
    read_in: str
    authorities: Mapping[Region, str]
    questions: Mapping[str, Question]
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MayApply:
    """A rule that holds if something unknown turns out so."""

    rule: Rule
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What follows from what is known."""

    outcome: Outcome
    applies: tuple[Rule, ...]
    """The rule that answers, then those that add to it."""
    may_apply: tuple[MayApply, ...]
    ask: tuple[Question, ...]
    """What would settle it, the question that settles most first."""
    authority: str
    as_of: date


def decide(facts: Facts, law: IvoryLaw) -> Decision:
    """Return what the rules say to a plan.

    The main rules of the region are gone through from the top, and the first that holds answers. Where one hangs on
    something that is not known, every way that it can turn out is followed; if they end in different outcomes, the
    outcome cannot be told, and the questions that part them are asked.

    Parameters
    ----------
    facts : Facts
        What is known.
    law : IvoryLaw
        From `the_ivory_law`.
    """
    own = [rule for rule in law.rules if rule.where is facts.where]
    main = _followed(facts, tuple(rule for rule in own if rule.is_main))
    added, may = list[Rule](), [MayApply(rule=rule, questions=tuple(asked)) for rule, asked in main.items()]
    for rule in (one for one in own if not one.is_main):
        found = [(condition.holds(facts), condition.question) for condition in rule.conditions]
        open_ones = tuple(dict.fromkeys(question for holds, question in found if holds is None and question))
        if any(holds is False for holds, _question in found):
            continue
        if open_ones:
            may.append(MayApply(rule=rule, questions=open_ones))
        else:
            added.append(rule)
    answer = next(iter(main)) if len(main) == 1 else None
    outcomes = {rule.outcome for rule in main}
    if outcomes == {Outcome.NOT_COVERED, Outcome.ALLOWED}:
        outcomes = {Outcome.ALLOWED}  # either way nothing stands against it
    may = [one for one in may if one.rule is not answer]
    counts = [question for one in may for question in one.questions]
    return Decision(
        outcome=outcomes.pop() if len(outcomes) == 1 else Outcome.CANNOT_TELL,
        applies=tuple(([answer] if answer else []) + added),
        may_apply=tuple(may),
        ask=tuple(law.questions[one] for one in sorted(dict.fromkeys(counts), key=lambda one: -counts.count(one))),
        authority=law.authorities[facts.where],
        as_of=law.as_of,
    )


def _followed(facts: Facts, rules: tuple[Rule, ...]) -> dict[Rule, dict[str, None]]:
    """Return the rules that may answer, in order, each with the questions that part it from the others."""
    first, *rest = rules
    found = [(condition, condition.holds(facts)) for condition in first.conditions]
    if any(holds is False for _condition, holds in found):
        return _followed(facts, tuple(rest))
    unknown = [condition for condition, holds in found if holds is None]
    if not unknown:
        return {first: {}}
    settled = next((one for one in unknown if not one.is_disputed(facts)), None)
    if settled is None:
        # No fact settles on what sources differ: the rule may hold and may not.
        return {first: {}} | _followed(facts, tuple(rest))
    turned = [_followed(one, rules) for one in settled.split(facts)]
    merged = dict[Rule, dict[str, None]]()
    for one in turned:
        for rule, asked in one.items():
            merged.setdefault(rule, {}).update(asked)
    if settled.question and any(set(one) != set(turned[0]) for one in turned):
        for rule in merged:
            if any(rule not in one for one in turned):
                merged[rule][settled.question] = None
    order = {rule.id: place for place, rule in enumerate(rules)}
    return dict(sorted(merged.items(), key=lambda item: order[item[0].id]))


class _Kind(StrEnum):
    MAIN = "main"
    ALSO = "also"


def ivory_law_from_toml(text: str) -> IvoryLaw:
    """Return the law read from TOML text in the form of ``ivory_law.toml``.

    Raises
    ------
    InputError
        If the text is no TOML, or an entry lacks a field, has an unknown one, or holds what it cannot hold.
    """
    try:
        whole = Fields(tomllib.loads(text), "ivory law")
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the ivory law is no TOML: {error}", name="ivory law") from error
    if whole.text("schema") != SCHEMA:
        raise whole.wrong("schema", repr(SCHEMA))
    as_of = whole.day("as_of")
    if as_of is None:
        raise whole.wrong("as_of", "the day on which it was read")
    questions = dict[str, Question]()
    for part in whole.parts("question"):
        one = Question(id=part.text("id"), ask=part.text("ask"), find=part.text("find"))
        part.finish()
        questions[one.id] = one
    authorities = dict[Region, str]()
    for part in whole.parts("authority"):
        authorities[part.word("where", Region)] = part.text("name")
        part.finish()
    rules = tuple(_rule(part) for part in whole.parts("rule"))
    law = IvoryLaw(
        as_of=as_of,
        read_in=whole.text("read_in"),
        authorities=MappingProxyType(authorities),
        questions=MappingProxyType(questions),
        rules=rules,
    )
    whole.finish()
    _refuse_gaps(law)
    return law


def _rule(part: Fields) -> Rule:
    entry = part.named(part.text("id"))
    rule = Rule(
        id=entry.text("id"),
        where=entry.word("where", Region),
        is_main=entry.word("kind", _Kind) is _Kind.MAIN,
        outcome=entry.word("outcome", Outcome),
        in_force=entry.day("in_force"),
        says=entry.text("says"),
        papers=entry.texts("papers"),
        evidence=entry.word("evidence", Evidence),
        source=entry.text("source"),
        disputed=entry.texts("disputed"),
        conditions=read_conditions(entry.part("when")),
    )
    entry.finish()
    return rule


def _refuse_gaps(law: IvoryLaw) -> None:
    """Refuse ids that stand twice, questions and authorities that are missing, and regions without a last rule."""
    ids = [rule.id for rule in law.rules]
    twice = sorted({one for one in ids if ids.count(one) > 1})
    if twice:
        raise InputError.of("rule", twice, "each id once")
    asked = {condition.question for rule in law.rules for condition in rule.conditions} - {None}
    if not asked <= set(law.questions):
        raise InputError.of("question", sorted(str(one) for one in asked - set(law.questions)), "a text for each")
    for region in Region:
        _refuse_two_limits(law, region)
        main = [rule for rule in law.rules if rule.where is region and rule.is_main]
        if region not in law.authorities or not main or main[-1].conditions:
            raise InputError.of("where", region.value, "an authority, and a last main rule without conditions")


def _refuse_two_limits(law: IvoryLaw, region: Region) -> None:
    """Refuse two limits of one amount in one region: what is not known is followed on either side of one only."""
    limits = dict[str | None, set[float]]()
    for rule in law.rules:
        for condition in rule.conditions:
            if rule.where is region and condition.limit is not None:
                limits.setdefault(condition.question, set()).add(condition.limit)
    if any(len(found) > 1 for found in limits.values()):
        raise InputError.of(f"limits in {region}", limits, "one limit of each amount in a region")


@functools.cache
def the_ivory_law() -> IvoryLaw:
    """Return the law that ships with the program."""
    return ivory_law_from_toml(resources.files(__package__).joinpath("ivory_law.toml").read_text("utf-8"))
