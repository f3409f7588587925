"""A finish: what to do with it, how much polish that takes, and a calendar that goes with temperature and damp."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.finish import (
    COLD_DEGC,
    DAMP_PCT,
    PolishNeeded,
    drying_factor,
    polish_needed,
)
from strikeline.physics.finish_stages import STAGES, Stage, Treatment
from strikeline.plain_data import plain_data
from strikeline.workshop.finish_choice import Finish, FinishChoice, Verdict, choose_treatment, read_sight
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.finish/1"
_OPENS_H, _CLOSES_H = 8, 17
"""Hours between which somebody works."""
CAUTIONS: Final[Mapping[Treatment, tuple[str, ...]]] = MappingProxyType({
    Treatment.CLEAN: ("ammonia",),
    Treatment.REVIVE: ("ammonia", "oily_rags"),
    Treatment.REAMALGAMATE: ("ammonia", "alcohol", "soft_finish"),
    Treatment.PAD_OVER: ("ammonia", "alcohol", "oily_rags", "soft_finish"),
    Treatment.STRIP: ("alcohol", "oily_rags", "dust", "soft_finish"),
})  # fmt: skip
"""Ids of what applies to each treatment, in the catalogue of cautions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStage:
    """A stage with its days, at the quickest and at the slowest."""

    name: str
    what: str
    sessions: tuple[int, int]
    work_h: tuple[float, float]
    begins: tuple[dt.date, dt.date]
    ends: tuple[dt.date, dt.date]
    """When the next stage may begin."""
    source: str

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data, days as ISO 8601."""
        return {
            name: [one.isoformat() for one in getattr(self, name)]
            if name in {"begins", "ends"}
            else plain_data(getattr(self, name))
            for name in self.__dataclass_fields__
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishPlan:
    """How a treatment is carried out."""

    treatment: Treatment
    area_m2: Measured
    drying_factor: float
    """How many times longer alcohol takes to leave than at 20 °C and 50 %."""
    coats: tuple[int, int]
    """Fewest and most, all sessions together."""
    polish: PolishNeeded | None
    """``None`` where none is put on."""
    g_per_l: float
    """Shellac to a litre of alcohol."""
    stages: tuple[PlannedStage, ...]
    work_h: tuple[float, float]
    ready: tuple[dt.date, dt.date]
    """Day from which it may be used: cloth and lamps still print into it for weeks more."""
    notices: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data, days as ISO 8601."""
        return {
            name: [one.isoformat() for one in self.ready] if name == "ready" else plain_data(getattr(self, name))
            for name in self.__dataclass_fields__
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishReport:
    """What to do with a finish, and how."""

    choice: FinishChoice
    plan: FinishPlan | None
    cautions: tuple[str, ...]
    """Ids in the catalogue of cautions."""

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.finish/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAsked:
    """What a plan is made from."""

    areas: tuple[str, ...]
    """As written; they are added."""
    g_per_l: float
    waste_ratio: float
    start: dt.date
    temperature_degc: float
    rh_pct: float
    works_every_day: bool = False
    """Whether Saturdays and Sundays are worked."""


def judge_finish(
    sights: Sequence[str],
    *,
    finish: Finish,
    is_original: bool | None,
    treatment: Treatment | None = None,
    asked: PlanAsked | None = None,
) -> FinishReport:
    """Choose a treatment by what was seen, and plan it.

    Parameters
    ----------
    sights : sequence of str
        As for `finish_choice.read_sight`.
    finish : Finish
        By the alcohol test.
    is_original : bool or None
        Whether nobody has refinished it.
    treatment : Treatment, optional
        To be planned whatever is advised.
    asked : PlanAsked, optional
        Area, air and start; without it nothing is planned.

    Returns
    -------
    FinishReport

    Raises
    ------
    InputError
        If something cannot be read, or the air is such that nobody polishes.
    """
    choice = choose_treatment(dict(map(read_sight, sights)), finish=finish, is_original=is_original)
    planned = treatment or choice.advised
    plan = None
    if asked is not None and planned is not None:
        plan = plan_finish(planned, asked)
        plan = replace(plan, notices=(*_against_advice(choice, planned), *plan.notices))
    # Without an advice the test with alcohol comes next, and cleaning.
    cautions = CAUTIONS[planned] if planned is not None else ("ammonia", "alcohol")
    return FinishReport(choice=choice, plan=plan, cautions=cautions)


def _against_advice(choice: FinishChoice, planned: Treatment) -> list[str]:
    """Return that a plan is not what was advised, and why."""
    option = next(one for one in choice.options if one.treatment is planned)
    if not choice.seen or option.verdict in {Verdict.ADVISED, Verdict.POSSIBLE}:
        return []
    why = f": {option.speaks_against[0]}" if option.speaks_against else ""
    return [f"This plan is not what was advised; {planned.value} is {option.verdict.value}{why}."]


def plan_finish(treatment: Treatment, asked: PlanAsked) -> FinishPlan:
    """Plan a treatment: polish, hours, days.

    Parameters
    ----------
    treatment : Treatment
        What is to be done.
    asked : PlanAsked
        Area, air and start.

    Returns
    -------
    FinishPlan
    """
    area = read_area(asked.areas)
    stages = STAGES[treatment]
    is_drying = any(stage.is_drying for stage in stages)
    factor = drying_factor(asked.temperature_degc, rh_pct=asked.rh_pct) if is_drying else 1.0
    brushed, rubbed = (_coats(stages, is_brushed=is_brushed) for is_brushed in (True, False))
    coats = (brushed[0] + rubbed[0], brushed[1] + rubbed[1])
    polish = None
    if coats[1]:
        polish = polish_needed(
            area,
            brushed_coats=_middle(brushed),
            rubbed_coats=_middle(rubbed),
            g_per_l=asked.g_per_l,
            waste_ratio=asked.waste_ratio,
        )
    quick, slow = (_calendar(stages, side, area.value, factor, asked) for side in (0, 1))
    planned = tuple(
        PlannedStage(
            name=stage.name,
            what=stage.what,
            sessions=stage.sessions,
            work_h=(_work_h(stage, 0, area.value), _work_h(stage, 1, area.value)),
            begins=(first[0], last[0]),
            ends=(first[1], last[1]),
            source=stage.source,
        )
        for stage, first, last in zip(stages, quick, slow, strict=True)
    )
    return FinishPlan(
        treatment=treatment,
        area_m2=area,
        drying_factor=factor,
        coats=coats,
        polish=polish,
        g_per_l=asked.g_per_l,
        stages=planned,
        work_h=(sum(one.work_h[0] for one in planned), sum(one.work_h[1] for one in planned)),
        ready=planned[-1].ends,
        notices=tuple(_notices(asked, is_drying=is_drying)),
    )


def _coats(stages: Sequence[Stage], *, is_brushed: bool) -> tuple[int, int]:
    """Return fewest and most coats."""
    chosen = [stage for stage in stages if stage.is_brushed is is_brushed]
    fewest, most = (sum(stage.sessions[side] * stage.coats_per_session for stage in chosen) for side in (0, 1))
    return fewest, most


def _middle(coats: tuple[int, int]) -> Measured:
    return Measured(sum(coats) / 2.0, (coats[1] - coats[0]) / 2.0 / HALF_WIDTHS_PER_SE)


def read_area(written: Sequence[str]) -> Measured:
    """Return the sum of areas, each written as an area or as length by width.

    Parameters
    ----------
    written : sequence of str
        Such as ``1.4 m²``, ``15 ft2`` or ``1400mm x 600mm``. A square metre is known to 5 % where no ± was written.

    Raises
    ------
    InputError
        If one cannot be read, or none is given.
    """
    if not written:
        raise InputError("the area is missing; measure the panels and give each as 1400mm x 600mm", name="area")
    total, variance = 0.0, 0.0
    for text in written:
        one = _area(text)
        total += one.value
        variance += (one.se or 0.05 * one.value / HALF_WIDTHS_PER_SE) ** 2
    return Measured(total, variance**0.5)


def read_waste(text: str) -> float:
    """Return a share written in per cent as a ratio.

    Raises
    ------
    InputError
        If it is none from 0 to 100 %.
    """
    return read_quantity(text, name="waste", unit="%", low=0.0, high=100.0, what="waste").value / 100.0


def _area(text: str) -> Measured:
    sides = text.replace("×", "x").casefold().split("x")
    if len(sides) == 2:
        first, second = (
            read_quantity(side, name="area", unit="mm", low=10.0, high=4000.0, what="a side of a panel")
            for side in sides
        )
        return Measured(first.value * second.value * 1e-6, 0.0)
    squared = text.replace("m2", "m²").replace("ft2", "ft²")
    return read_quantity(squared, name="area", unit="m²", low=0.001, high=50.0, what="the surface of a piano")


def _work_h(stage: Stage, side: int, area_m2: float) -> float:
    return stage.sessions[side] * stage.session_h[side] * area_m2


def _calendar(
    stages: Sequence[Stage], side: int, area_m2: float, factor: float, asked: PlanAsked
) -> list[tuple[dt.date, dt.date]]:
    """Return begin and end of each stage, with fewest sessions and shortest waits (side 0) or the most (side 1)."""
    now = _next_working(dt.datetime.combine(asked.start, dt.time(_OPENS_H)), asked.works_every_day)
    days = list[tuple[dt.date, dt.date]]()
    for stage in stages:
        scale = factor if stage.is_drying else 1.0
        begins: dt.date | None = None
        for session in range(stage.sessions[side]):
            if session:
                now += dt.timedelta(hours=stage.wait_between_h[side] * scale)
            if stage.session_h[side]:
                now = _next_working(now, asked.works_every_day)
            begins = begins or now.date()
            now = _worked(now, stage.session_h[side] * area_m2, asked.works_every_day)
        now += dt.timedelta(hours=stage.wait_after_h[side] * scale)
        days.append((begins or now.date(), now.date()))
    return days


def _next_working(now: dt.datetime, works_every_day: bool) -> dt.datetime:
    """Return the same moment if somebody works then, else the next one."""
    if now.hour >= _CLOSES_H:
        now = dt.datetime.combine(now.date() + dt.timedelta(days=1), dt.time(_OPENS_H))
    elif now.hour < _OPENS_H:
        now = dt.datetime.combine(now.date(), dt.time(_OPENS_H))
    while not works_every_day and now.weekday() >= 5:
        now = dt.datetime.combine(now.date() + dt.timedelta(days=1), dt.time(_OPENS_H))
    return now


def _worked(now: dt.datetime, hours: float, works_every_day: bool) -> dt.datetime:
    """Return when so many hours of work are done."""
    left = dt.timedelta(hours=hours)
    while left > dt.timedelta(0):
        now = _next_working(now, works_every_day)
        today = dt.datetime.combine(now.date(), dt.time(_CLOSES_H)) - now
        if left <= today:
            return now + left
        left -= today
        now += today
    return now


def _notices(asked: PlanAsked, *, is_drying: bool) -> list[str]:
    if not is_drying:
        return []
    notices = [
        "Mixed polish keeps three months to a year, sources differ: date the jar, and try a drop on glass first."
    ]
    if asked.temperature_degc < COLD_DEGC:
        notices.append(f"Below {COLD_DEGC:g} °C shellac dissolves and hardens badly; warm room and wood first.")
    if asked.rh_pct > DAMP_PCT:
        notices.append(f"Above {DAMP_PCT:g} % relative humidity polish may go white; wait for a dry day.")
    return notices
