"""A survey of wrest pins as plain text: classes, pattern, what to think of, and what a second survey changed."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, figure, typed, wrapped
from strikeline.physics.pin_care import TIGHTENER, PinChange, PinComparison
from strikeline.physics.pin_pattern import FEWEST_PINS, Pattern, PinPattern
from strikeline.physics.wrest_pins import FLAT_ADDS_NM, Direction, GripClass
from strikeline.reports.figures import count, key_range, note_name, number, sentence
from strikeline.units import UNITS
from strikeline.workshop.pins import PinsReport

_IN_LB: Final = UNITS["in-lb"].factor
_MOST_PINS: Final = 24


def pins_table(report: PinsReport, *, width: int | None) -> str:
    """Return a survey as text.

    Parameters
    ----------
    report : PinsReport
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` prints sentences unbroken.
    """
    lines = [*_classes(report, width), "", *(wrapped(one, width) for one in (*_summary(report), _shares(report)))]
    lines += [wrapped(one, width) for one in _pattern(report)]
    lines += _weak_pins(report, width)
    lines += ["", wrapped(report.advice.words, width), wrapped(report.other_view, width)]
    rungs = [one for one in report.ladder if one.name in report.advice.rungs]
    lines += bulleted(
        "To think of, the least first (our reasoning from common practice):",
        [" ".join(part for part in (one.what, one.caution) if part) for one in rungs],
        width,
    )
    lines += bulleted("Larger stock pins (the number is a label, measure it):", _larger(report), width)
    if report.comparison is not None:
        lines += ["", *(wrapped(one, width) for one in _comparison(report.comparison))]
    lines += bulleted("Where this comes from:", _sources(report), width)
    return typed("\n".join([*lines, *caution_lines(_caution_ids(report), width)]))


def _caution_ids(report: PinsReport) -> tuple[str, ...]:
    glue = ("solvent_glue",) if "glue" in report.advice.rungs else ()
    return ("string_tension", *glue) if report.advice.rungs else ()


def _classes(report: PinsReport, width: int | None) -> list[str]:
    """Return a line a class, with its limits in both units."""
    rows, low = list[tuple[str, ...]]([("grip", "in-lb", "N·m", "pins")]), 0.0
    for limit in report.class_limits:
        is_last = limit.grip is GripClass.TOO_TIGHT
        spans = [f"over {number(low * factor, places=places)}" for factor, places in ((1.0, 0), (_IN_LB, 1))]
        if not is_last:
            spans = [
                f"{number(low * factor, places=places)} to {number(limit.below_in_lb * factor, places=places)}"
                for factor, places in ((1.0, 0), (_IN_LB, 1))
            ]
        rows.append((limit.grip.value, *spans, str(report.field.classes[limit.grip])))
        low = limit.below_in_lb
    return fitted(rows, width, least_first=("N·m",))


def _summary(report: PinsReport) -> list[str]:
    field = report.field
    of = f" of {field.n_in_piano}" if field.n_in_piano is not None else ""
    middle = "" if field.median_nm is None else f"; half of them below {figure(field.median_nm)} N·m"
    air = " at a humidity that was not noted" if report.rh_pct is None else f" at {report.rh_pct:.0f} % humidity"
    lowest, highest = (number(one, places=1) for one in (field.lowest_nm, field.highest_nm))
    span = lowest if lowest == highest else f"{lowest} to {highest}"
    read = f"{count(field.n, 'pin')}{of} read{air}, {_TURNED[report.direction.value]}: {span} N·m{middle}."
    sentences = [sentence(read)]
    if report.direction is Direction.FLAT:
        sentences.append(
            "The classes do not hold for what a wrench shows turned flat, for the string helps it: all figures here "
            f"are the reading and {figure(FLAT_ADDS_NM)} N·m for the string. Turn some pins both ways to know "
            "it better."
        )
    if report.n_empty:
        rows = count(report.n_empty, "row without a torque was", "rows without a torque were")
        sentences.append(sentence(f"{rows} left out"))
    return sentences


_TURNED: Final = {
    "sharp": "turned sharp (grip and string together)",
    "flat": "turned flat, the string's pull added",
    "both": "both ways (grip alone)",
}


def _shares(report: PinsReport) -> str:
    parts = []
    for one in report.field.shares:
        ends = "" if one.low == one.high else f" (between {_percent(one.low)} and {_percent(one.high)})"
        close = f", {one.n_on_limit} so close that the reading leaves it open" if one.n_on_limit else ""
        parts.append(f"below {one.below_nm / _IN_LB:.0f} in-lb: {one.n_below}, {_percent(one.share)}{ends}{close}")
    ranges = "Ranges hold the truth in 95 cases of 100, if the pins read are a fair sample."
    field = report.field
    if field.n_in_piano is None and field.n >= FEWEST_PINS:
        ranges += f" Say how many pins the piano has with --pins; --pins {field.n} if these are all."
    elif field.n_in_piano == field.n:
        ranges = "That is every pin."
    return f"{sentence('; '.join(parts))} {ranges}"


def _pattern(report: PinsReport) -> list[str]:
    """Return how the weak pins lie, with the chance behind it and what it may mean."""
    one = report.pattern
    limit = f"{one.below_nm / _IN_LB:.0f} in-lb"
    if one.pattern is Pattern.CANNOT_TELL:
        return [f"Whether weak pins stand together cannot be told: {one.cannot_tell}."]
    if one.pattern is Pattern.NEARLY_ALL:
        return [f"More than half of the pins are below {limit}: their places no longer matter."]
    if one.pattern is Pattern.SCATTERED:
        return [f"The {one.n_weak} pins below {limit} are scattered: no closer together than chance deals them."]
    also = "".join(f", and {other.value}" for other in one.also)
    sentences = [f"The {one.n_weak} pins below {limit} lie {one.pattern.value}{also}. {_chance(one)}"]
    if one.towards is not None:
        sentences.append(f"They gather towards the {one.towards}; the bass often fails first (a supplier's film).")
    if one.weak_row is not None:
        sentences.append(f"The weakest row: {one.weak_row}.")
    if one.runs:
        runs = "; ".join(f"{run.n} along {run.row}, {key_range(run.first_key, run.last_key)}" for run in one.runs[:6])
        sentences.append(f"Runs: {runs}.")
    return [*sentences, *([report.meaning] if report.meaning else [])]


def _chance(one: PinPattern) -> str:
    chances = {
        Pattern.RUNS: one.chance_of_runs,
        Pattern.ONE_ROW: one.chance_of_row,
        Pattern.ONE_END: one.chance_of_end,
    }
    chance = chances[one.pattern]
    if chance is None:
        return ""
    if chance < _HARDLY_EVER:
        return "Chance alone hardly ever lays as many weak pins so."
    return f"Chance alone lays as many weak pins so in {_percent(chance)} of pianos."


_HARDLY_EVER: Final = 1e-4


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share < 0.995 else "100 %"


def _weak_pins(report: PinsReport, width: int | None) -> list[str]:
    """Return the weak pins and those far below their neighbours, the weakest first."""
    lonely = {(one.key, one.string): one.neighbours_nm for one in report.weaker_than_neighbours}
    weak = {GripClass.FAILING, GripClass.MARGINAL}
    told = [one for one in report.pins if one.grip in weak or one.pin.place in lonely]
    told.sort(key=lambda one: one.pin.torque_nm.value)
    if not told:
        return []
    rows = [("pin", "string", "torque N·m", "grip", "remark")]
    for one in told[:_MOST_PINS]:
        remark = "on the limit" if one.is_on_limit else ""
        if one.pin.place in lonely:
            remark = f"its neighbours have {number(lonely[one.pin.place], places=1)}"
        name = note_name(one.pin.key)
        rows.append((name, one.pin.string.value, figure(one.pin.torque_nm), one.grip.value, remark))
    more = len(told) - _MOST_PINS
    return [
        "",
        *fitted(rows, width, least_first=("remark", "grip")),
        *([f"and {more} more; --json has them all"] if more > 0 else []),
    ]


def _larger(report: PinsReport) -> list[str]:
    return [
        f"{one.size.label}, {one.size.diameter_mm:.2f} mm: {figure(one.larger_by_mm, plus=True)} mm"
        for one in report.larger_pins
    ]


def _comparison(one: PinComparison) -> list[str]:
    if one.verdict is PinChange.CANNOT_TELL:
        return [f"What the second survey changed cannot be told: {one.cannot_tell}."]
    words = {
        PinChange.ROSE: "The grip rose",
        PinChange.FELL: "The grip fell",
        PinChange.NONE_TOLD: "The grip did not change beyond what the pins themselves scatter",
    }
    changed = f"{figure(one.mean_change_nm, plus=True)} N·m on average of {one.n_pairs} pins read twice"
    weak = f"weak ones {one.n_weak_before} before, {one.n_weak_after} after"
    same = "The two compare only if tool and direction were the same."
    sentences = [f"{words[one.verdict]}: {changed}; {weak}. {same}"]
    if one.weak_change_nm is not None and one.picked_nm is not None:
        sentences.append(
            f"Those weak before: {figure(one.weak_change_nm, plus=True)} N·m, of which about "
            f"{number(one.picked_nm, places=2)} N·m would come of itself, for they were picked by a low reading."
        )
    if one.only_before or one.only_after:
        sentences.append(f"Not in both surveys: {one.only_before} pins before, {one.only_after} after.")
    return [*sentences, *one.cautions]


def _sources(report: PinsReport) -> list[str]:
    limits = "; ".join(f"{limit.grip.value}: {limit.source}" for limit in report.class_limits)
    return ["Limits are words of the trade, no standard.", sentence(limits), TIGHTENER]
