"""A finish as plain text: each treatment with what speaks for and against it, then polish, hours and days."""

from __future__ import annotations

import datetime as dt
from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.reports.figures import listed, number, sentence
from strikeline.workshop.finish import FinishPlan, FinishReport, PlannedStage
from strikeline.workshop.finish_choice import FinishChoice, Option, Verdict

_HEADS: Final = ("stage", "sessions", "hours", "begins", "next may begin")


def finish_table(report: FinishReport, *, width: int | None) -> str:
    """Return a report on a finish as text.

    Parameters
    ----------
    report : FinishReport
        From `workshop.finish.judge_finish`.
    width : int or None
        Columns to break sentences at.
    """
    choice = report.choice
    lines = [wrapped(_advice(choice), width), ""]
    lines += [wrapped(_option(one), width, bullet="- ") for one in choice.options]
    lines += bulleted("Note:", choice.notes, width)
    if report.plan is not None:
        lines += _plan(report.plan, width)
    return "\n".join([*lines, *caution_lines(report.cautions, width)])


def _advice(choice: FinishChoice) -> str:
    place = f" Mend in its place: {listed(choice.local)}." if choice.local else ""
    if choice.advised is not None:
        return f"Advised: {choice.advised.value}.{place}"
    if any(one.verdict is Verdict.TEST_FIRST for one in choice.options):
        return f"Cannot tell before the finish is tested.{place}"
    if not choice.seen:
        return "Nothing to mend was named; what is in order is left alone."
    return f"No treatment can be advised for what was seen.{place}"


def _option(one: Option) -> str:
    parts = [f"{one.treatment.value}: {one.verdict.value}."]
    if one.speaks_for:
        parts.append(sentence(f"for it: {'; '.join(one.speaks_for)}"))
    if one.speaks_against:
        parts.append(sentence(f"against it: {'; '.join(one.speaks_against)}"))
    return " ".join(parts)


def _plan(plan: FinishPlan, width: int | None) -> list[str]:
    rows = [_HEADS, *(_row(one) for one in plan.stages)]
    lines = ["", wrapped(_summary(plan), width), "", *aligned(rows)]
    lines += bulleted("Stages:", [f"{one.name}: {one.what} ({one.source})" for one in plan.stages], width)
    lines += bulleted("Air and polish:", plan.notices, width)
    return lines


def _row(one: PlannedStage) -> tuple[str, ...]:
    hours = f"{number(one.work_h[0], places=1)}–{number(one.work_h[1], places=1)}" if one.work_h[1] else ""
    return one.name, _range(*one.sessions), hours, _days(one.begins), _days(one.ends)


def _summary(plan: FinishPlan) -> str:
    hours = f"{number(plan.work_h[0], places=0)} to {number(plan.work_h[1], places=0)} hours of work"
    text = (
        f"Plan for {plan.treatment.value}, {figure(plan.area_m2)} m²: {hours}, ready {plan.ready[0].isoformat()} to "
        f"{plan.ready[1].isoformat()} (waits from memory)."
    )
    if plan.polish is None:
        return text
    coats = "one coat takes" if plan.coats == (1, 1) else f"{_range(*plan.coats)} coats take"
    needed = (
        f"{coats[0].upper()}{coats[1:]} about {figure(plan.polish.polish_l)} L of polish: "
        f"{figure(plan.polish.alcohol_l)} L of alcohol with {number(plan.g_per_l, places=0)} g/L, "
        f"{figure(plan.polish.shellac_g)} g of dry shellac (coverage from memory)."
    )
    if abs(plan.drying_factor - 1.0) < 0.005:
        return f"{text} {needed}"
    times = number(plan.drying_factor, places=1)
    return f"{text} {needed} Alcohol takes {times} times as long to leave as at 20 °C and 50 %."


def _range(low: int, high: int) -> str:
    return str(low) if low == high else f"{low}–{high}"


def _days(days: tuple[dt.date, dt.date]) -> str:
    return days[0].isoformat() if days[0] == days[1] else f"{days[0].isoformat()} to {days[1].isoformat()}"
