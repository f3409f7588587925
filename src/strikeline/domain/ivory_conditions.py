"""What a rule on ivory asks for: true, false, or open where something is not known."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from strikeline.domain.fields import Fields
from strikeline.domain.ivory_facts import Facts, Plan, Span, Stuff, is_business
from strikeline.measured import Measured

_SPECIES: Final = {Stuff.ELEPHANT: frozenset({Stuff.AFRICAN_ELEPHANT, Stuff.ASIAN_ELEPHANT})}
"""Names that stand for one of several kinds."""


def _never(_facts: Facts) -> bool:
    return False


@dataclass(frozen=True, slots=True, eq=False)
class Condition:
    """One thing that a rule asks for."""

    question: str | None
    """Id of the question that settles it where it is not known."""
    holds: Callable[[Facts], bool | None]
    split: Callable[[Facts], Sequence[Facts]] = lambda facts: (facts,)
    """The ways in which what is not known can turn out; in each of them it is known whether the condition holds."""
    is_disputed: Callable[[Facts], bool] = _never
    """Whether sources differ on just these facts, so that no answer settles it."""
    limit: float | None = None


def _material(facts: Facts, wanted: frozenset[Stuff]) -> bool | None:
    if facts.material is None:
        return None
    kinds = _SPECIES.get(facts.material, frozenset({facts.material}))
    if facts.material in wanted or kinds <= wanted:
        return True
    return None if kinds & wanted else False


def _made(facts: Facts, surely: date, not_from: date) -> bool | None:
    return None if facts.made is None else facts.made.is_before(surely, not_from)


def _not(holds: bool | None) -> bool | None:
    return None if holds is None else not holds


def _above(value: Measured | None, limit: float, *, reached: bool) -> bool | None:
    """Return whether a value lies above a limit (`reached`: or at it), ``None`` where its error reaches over it."""
    if value is None:
        return None
    half = value.half_width
    low, high = value.value - half, value.value + half
    if low > limit or (reached and low == limit):
        return True
    return False if high < limit or (not reached and high == limit) else None


def _years_before(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year - years)
    except ValueError:  # 29 February
        return day.replace(year=day.year - years, day=28)


def _imported(facts: Facts, limit: date) -> bool | None:
    """Return whether it came in before a day, or under a certificate that stands for that."""
    before = None if facts.imported is None else facts.imported.is_before(limit, limit)
    certificate = facts.answers.get("certificate")
    if before or certificate:
        return True
    return False if before is False and certificate is False else None


def _cut(span: Span | None, *limits: date) -> list[Span]:
    """Return a span of days in its pieces between limits."""
    pieces, rest = list[Span](), span or Span(None, None)
    for limit in limits:
        if rest.is_before(limit, limit) is None:
            pieces.append(Span(rest.first, limit - timedelta(days=1)))
            rest = Span(limit, rest.last)
    return [*pieces, rest]


def read_conditions(when: Fields) -> tuple[Condition, ...]:
    """Return the conditions of a rule's table."""
    found = list[Condition]()
    if "plans" in when.data:
        plans = frozenset(when.words("plans", Plan))
        found.append(Condition(None, lambda facts: facts.plan in plans))
    if "materials" in when.data:
        stuffs = frozenset(when.words("materials", Stuff))
        found.append(Condition("material", lambda facts: _material(facts, stuffs), _materials))
    if when.flag("material_is_unknown"):
        found.append(Condition(None, lambda facts: facts.material is None))
    trade = when.flag("for_trade")
    if trade is not None:
        found.append(
            Condition(
                "for_trade",
                lambda facts: is_business(facts) if trade else _not(is_business(facts)),
                lambda facts: [replace(facts, for_trade=said) for said in (True, False)],
            )
        )
    found += _days(when)
    found += _amounts(when)
    for name in ("fixed", "main_value", "raw", "played", "listed_repair"):
        found += _answer(name, when.flag(name))
    when.finish()
    return tuple(found)


def _materials(facts: Facts) -> list[Facts]:
    kinds = frozenset(Stuff) - set(_SPECIES) if facts.material is None else _SPECIES[facts.material]
    return [replace(facts, material=one) for one in sorted(kinds)]


def _said(facts: Facts, name: str) -> list[Facts]:
    return [replace(facts, answers={**facts.answers, name: said}) for said in (True, False)]


def _answer(name: str, wanted: bool | None) -> list[Condition]:
    if wanted is None:
        return []

    def holds(facts: Facts) -> bool | None:
        said = facts.answers.get(name)
        return None if said is None else said is wanted

    return [Condition(name, holds, lambda facts: _said(facts, name))]


def _days(when: Fields) -> list[Condition]:
    found = list[Condition]()
    on_before, made_from, imported = when.day("on_before"), when.day("made_from"), when.day("imported_before")
    made_before = when.days("made_before")
    years = when.number("made_years_ago", low=1.0, high=500.0, default=None)
    if on_before is not None:
        found.append(Condition(None, lambda facts: facts.on < on_before))
    if made_from is not None:
        found.append(_made_before(lambda _facts: (made_from, made_from), is_wanted=False))
    if made_before:
        found.append(_made_before(lambda _facts: (made_before[0], made_before[-1]), is_wanted=True))
    if years is not None:
        found.append(_made_before(lambda facts: 2 * (_years_before(facts.on, int(years)),), is_wanted=True))
    if imported is not None:

        def turned(facts: Facts) -> list[Facts]:
            pieces = [replace(facts, imported=one) for one in _cut(facts.imported, imported)]
            said = "certificate" in facts.answers
            return pieces if said else [other for one in pieces for other in _said(one, "certificate")]

        found.append(Condition("imported", lambda facts: _imported(facts, imported), turned))
    return found


def _made_before(limits: Callable[[Facts], tuple[date, ...]], *, is_wanted: bool) -> Condition:
    """Return the condition that it was made before a limit, or (not wanted) from it on."""

    def holds(facts: Facts) -> bool | None:
        before = _made(facts, *limits(facts))
        return before if is_wanted else _not(before)

    def is_disputed(facts: Facts) -> bool:
        surely, not_from = limits(facts)
        made = facts.made or Span(None, None)
        return (
            not made.is_before(surely, surely)
            and made.is_before(not_from, not_from) is True
            and (made.first is not None and made.first >= surely)
        )

    def split(facts: Facts) -> list[Facts]:
        return [replace(facts, made=one) for one in _cut(facts.made, *limits(facts))]

    return Condition("made", holds, split, is_disputed)


def _amounts(when: Fields) -> list[Condition]:
    found = list[Condition]()
    # Field, the question it answers, whether the limit itself is above, whether above is wanted.
    amounts = (
        ("volume_below_pct", "volume", "volume_pct", True, False),
        ("volume_to_pct", "volume", "volume_pct", False, False),
        ("volume_from_pct", "volume", "volume_pct", True, True),
        ("mass_below_g", "mass", "mass_g", True, False),
    )
    for name, question, fact, reached, is_wanted in amounts:
        limit = when.number(name, low=0.0, high=100.0 if fact == "volume_pct" else math.inf, default=None)
        if limit is not None:
            found.append(_amount(question, fact, limit, reached=reached, is_wanted=is_wanted))
    return found


def _amount(question: str, fact: str, limit: float, *, reached: bool, is_wanted: bool) -> Condition:
    def holds(facts: Facts) -> bool | None:
        above = _above(getattr(facts, fact), limit, reached=reached)
        return above if is_wanted else _not(above)

    def split(facts: Facts) -> list[Facts]:
        sides = [Measured(value, 0.0) for value in (limit * (1.0 - 1e-9), limit * (1.0 + 1e-9))]
        return [replace(facts, mass_g=one) if fact == "mass_g" else replace(facts, volume_pct=one) for one in sides]

    return Condition(question, holds, split, limit=limit)
