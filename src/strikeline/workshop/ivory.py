"""The ivory law helper: answers as people write them in, what the rules say out. Guidance, no legal advice."""

from __future__ import annotations

import calendar
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from strikeline.domain.ivory_facts import Facts, Plan, Region, Span, Stuff
from strikeline.domain.ivory_law import Decision, decide, the_ivory_law
from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.key_cover import KeyCover, key_cover
from strikeline.plain_data import plain_data
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.ivory/1"
CAUTIONS: Final = ("ivory_law",)
YES_NO: Final = ("fixed", "main-value", "raw", "played", "listed-repair", "certificate")
"""Questions answered with yes or no, as they are written on the command line."""
_USUAL_THICKNESS_MM: Final = Measured(1.0, 0.15)
"""Of ivory heads, where it was not measured (from memory)."""
_STALE_DAYS: Final = 365
"""Older than this, the reader is told that the law was read long ago (our reasoning)."""
_DAY: Final = r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?"
_SPAN: Final = re.compile(rf"^(before|after|from|until|)\s*{_DAY}(?:\s*(?:to|–|\.\.|-)\s*{_DAY})?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class IvoryAdvice:
    """What the rules say, with what was taken for granted."""

    facts: Facts
    cover: KeyCover | None
    """Where the ivory was estimated from the number of tops."""
    decision: Decision
    is_stale: bool
    """Whether the rules were read more than a year before the day of the plan."""

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.ivory/1``."""
        decision = self.decision
        return {
            "schema": SCHEMA,
            "outcome": decision.outcome.value,
            "as_of": decision.as_of.isoformat(),
            "is_stale": self.is_stale,
            "facts": _facts_json(self.facts),
            "cover": plain_data(self.cover),
            "applies": [rule.to_json() for rule in decision.applies],
            "may_apply": [{"rule": one.rule.to_json(), "questions": list(one.questions)} for one in decision.may_apply],
            "ask": plain_data(decision.ask),
            "authority": decision.authority,
            "is_legal_advice": False,
            "cautions": list(CAUTIONS),
        }


def _facts_json(facts: Facts) -> dict[str, Any]:
    def span(one: Span | None) -> dict[str, str | None] | None:
        if one is None:
            return None
        days = {"first": one.first, "last": one.last}
        return {name: None if day is None else day.isoformat() for name, day in days.items()}

    return {
        "where": facts.where.value,
        "plan": facts.plan.value,
        "on": facts.on.isoformat(),
        "material": plain_data(facts.material),
        "made": span(facts.made),
        "imported": span(facts.imported),
        "volume_pct": plain_data(facts.volume_pct),
        "mass_g": plain_data(facts.mass_g),
        "for_trade": facts.for_trade,
        "answers": dict(facts.answers),
    }


def ask_ivory(
    *,
    where: str,
    plan: str,
    on: date,
    material: str | None = None,
    made: str | None = None,
    imported: str | None = None,
    volume: str | None = None,
    mass: str | None = None,
    n_tops: int | None = None,
    thickness: str | None = None,
    for_trade: bool | None = None,
    answers: Sequence[str] = (),
) -> IvoryAdvice:
    """Return what the rules say to a plan.

    Parameters
    ----------
    where : str
        As in `Region`.
    plan : str
        As in `Plan`, with - or _.
    on : date
        The day of the plan.
    material : str, optional
        As in `Stuff`, with - or _; unknown where it is not given.
    made, imported : str, optional
        As `read_span` reads it.
    volume, mass : str, optional
        Share of the instrument's material in per cent, and mass of all ivory, as written.
    n_tops : int, optional
        Naturals with ivory: then mass and share are estimated where they are not given.
    thickness : str, optional
        Of the tops, as written.
    for_trade : bool, optional
        Whether an import or export is business.
    answers : sequence of str
        ``"played=yes"`` and the like, by the names in `YES_NO`.

    Returns
    -------
    IvoryAdvice

    Raises
    ------
    InputError
        If something cannot be read.
    """
    cover = None
    if n_tops is not None:
        thick = _USUAL_THICKNESS_MM
        if thickness is not None:
            thick = read_quantity(thickness, name="thickness", unit="mm", low=0.3, high=4.0)
        cover = key_cover(n_tops, thickness_mm=thick)
    elif thickness is not None:
        raise InputError("--thickness needs --tops, the number of naturals with ivory", name="thickness")
    born = None if made is None else read_span(made, name="made")
    if born is not None and born.first is not None and born.first > on:
        raise InputError.of("made", str(made), f"a date up to {on}, for which the answer is")
    law = the_ivory_law()
    facts = Facts(
        where=Region(where),
        plan=Plan(plan.replace("-", "_")),
        on=on,
        material=None if material is None else Stuff(material.replace("-", "_")),
        made=born,
        imported=None if imported is None else read_span(imported, name="imported"),
        volume_pct=_share(volume, cover),
        mass_g=_mass(mass, cover),
        for_trade=for_trade,
        answers=_answers(answers),
    )
    return IvoryAdvice(
        facts=facts,
        cover=cover,
        decision=decide(facts, law),
        is_stale=(on - law.as_of).days > _STALE_DAYS,
    )


def _share(written: str | None, cover: KeyCover | None) -> Measured | None:
    if written is not None:
        return read_quantity(written, name="volume", unit="%", low=0.0, high=100.0)
    if cover is None:
        return None
    # Somewhere between nothing and the bound.
    half = cover.most_share_pct / 2.0
    return Measured(half, half / HALF_WIDTHS_PER_SE)


def _mass(written: str | None, cover: KeyCover | None) -> Measured | None:
    if written is not None:
        return read_quantity(written, name="mass", unit="g", low=0.0, high=100_000.0)
    return None if cover is None else cover.mass_g


def _answers(written: Sequence[str]) -> dict[str, bool]:
    words = {"yes": True, "y": True, "no": False, "n": False}
    found = dict[str, bool]()
    for one in written:
        name, _equals, said = (part.strip().casefold() for part in one.partition("="))
        name = name.replace("_", "-")
        if name not in YES_NO or said not in words:
            raise InputError.of("answer", one, f"one of {', '.join(YES_NO)}, then =yes or =no")
        found[name.replace("-", "_")] = words[said]
    return found


def read_span(text: str, *, name: str) -> Span:
    """Return the days that a written date can mean.

    Parameters
    ----------
    text : str
        ``"1908"``, ``"1947-03"``, ``"1947-03-02"``, ``"1900 to 1910"``, ``"before 1900"``, ``"until 1974"``,
        ``"from 1975"`` or ``"after 1975"``.
    name : str
        What it is, for the message.

    Returns
    -------
    Span

    Raises
    ------
    InputError
        If it cannot be read.

    Examples
    --------
    >>> read_span("1947-03", name="made")
    Span(first=datetime.date(1947, 3, 1), last=datetime.date(1947, 3, 31))
    >>> read_span("before 1900", name="made").last
    datetime.date(1899, 12, 31)
    """
    match = _SPAN.match(text.strip().casefold())
    expected = "a date such as 1908, 1947-03, 1900 to 1910, before 1900 or from 1975"
    if match is None or (match[1] and match[5]):
        raise InputError.of(name, text, expected)
    try:
        first, last = _days(match[2], match[3], match[4])
        end = _days(match[5], match[6], match[7])[1] if match[5] else last
    except ValueError:
        raise InputError.of(name, text, expected) from None
    if end < first:
        raise InputError.of(name, text, "the earlier date first")
    spans = {
        "": Span(first, end),
        "before": Span(None, date.fromordinal(first.toordinal() - 1)),
        "until": Span(None, last),
        "from": Span(first, None),
        "after": Span(date.fromordinal(last.toordinal() + 1), None),
    }
    return spans[match[1]]


def _days(year: str, month: str | None, day: str | None) -> tuple[date, date]:
    if day is not None:
        only = date(int(year), int(month or 1), int(day))
        return only, only
    if month is not None:
        return date(int(year), int(month), 1), date(
            int(year), int(month), calendar.monthrange(int(year), int(month))[1]
        )
    return date(int(year), 1, 1), date(int(year), 12, 31)
