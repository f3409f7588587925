"""Charts of what was read at the action: every quantity with its band of tolerance, hammers, touch and centres."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.domain.catalogue import Action, Place, the_catalogue
from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY
from strikeline.physics.hammer_wear import Remedy
from strikeline.reports.chart_layout import Scale
from strikeline.reports.figures import count
from strikeline.reports.keyboard_chart import ChartLabel, KeyboardChart, Line, Mark, Point
from strikeline.reports.plain_chart import point, run_labels, stretch_of
from strikeline.workshop.centres import CentresAdvice, CentreState
from strikeline.workshop.hammers import HammersAdvice
from strikeline.workshop.readings import QuantityCheck, ReadingsCheck
from strikeline.workshop.touch import TouchAdvice

_MARKS: Final = {
    Place.WITHIN: Mark.EVEN,
    Place.LOW: Mark.STANDS_OUT,
    Place.HIGH: Mark.STANDS_OUT,
    Place.CANNOT_TELL: Mark.CANNOT_TELL,
    None: Mark.EVEN,
}
_CENTRE_WORDS: Final = {
    CentreState.TIGHT: "tight",
    CentreState.LOOSE: "loose",
    CentreState.WORN_IN_THE_WOOD: "worn in the wood",
    CentreState.LOOSE_OR_WORN: "loose or worn",
}


def _centre_mark(state: CentreState) -> Mark:
    if state is CentreState.CANNOT_TELL:
        return Mark.CANNOT_TELL
    return Mark.STANDS_OUT if state in _CENTRE_WORDS else Mark.EVEN


def readings_charts(check: ReadingsCheck, *, usage: str) -> tuple[KeyboardChart, ...]:
    """Return a chart for each quantity that was read on keys: readings, the figure, and its band of tolerance.

    Parameters
    ----------
    check : ReadingsCheck
        From `workshop.readings.check_table`.
    usage : str
        ``"gb"`` or ``"us"``: whose names.
    """
    return tuple(
        _quantity_chart(one, usage)
        for one in check.quantities
        if any(each.reading.key is not None for each in one.checked)
    )


def _quantity_chart(one: QuantityCheck, usage: str) -> KeyboardChart:
    name, nominal = one.quantity.names[usage], one.nominal
    points = [
        point(each.reading.key, each.reading.value, _MARKS[each.place])
        for each in one.checked
        if each.reading.key is not None
    ]
    words = dict.fromkeys(one.keys(Place.LOW), "low") | dict.fromkeys(one.keys(Place.HIGH), "high")
    band: tuple[Line, ...] = ()
    if nominal is not None:
        low, high = nominal.value - nominal.tolerance, nominal.value + nominal.tolerance
        band = (_flat(points, nominal.value, low, high),)
    return _chart(
        one.quantity.id,
        f"{name} of {count(len(points), 'reading')}; {len(words)} outside its tolerance.",
        f"{name}, {one.quantity.unit}",
        points,
        band=band,
        labels=run_labels(words),
    )


def hammers_chart(advice: HammersAdvice) -> KeyboardChart:
    """Return the felt that refacing leaves on each hammer, with what it needs as a line."""
    told = [one for one in advice.hammers if one.felt_after_mm is not None]
    marks = {Remedy.REPLACE: Mark.STANDS_OUT, Remedy.CANNOT_TELL: Mark.CANNOT_TELL}
    points = [
        point(one.key, one.felt_after_mm, marks.get(one.remedy, Mark.EVEN))
        for one in told
        if one.felt_after_mm is not None
    ]
    needed = Line(
        keys=tuple(float(one.key) for one in told),
        values=tuple(one.least_felt_mm for one in told),
    )
    words = {one.key: "replace" for one in told if one.remedy is Remedy.REPLACE}
    return _chart(
        "felt",
        f"Felt over the moulding that refacing leaves on {count(len(points), 'hammer')}; {len(words)} to be replaced.",
        "felt left after refacing, mm; dashed: needed",
        points,
        reference=needed if len(told) > 1 else None,
        labels=run_labels(words),
        at_least=(0.0,),
    )


def touch_charts(advice: TouchAdvice) -> tuple[KeyboardChart, ...]:
    """Return balance weight and friction of each key, those with a fault standing out."""
    faulty = {one.touch.key for one in advice.keys if one.faults}
    loud = {one.key: "unlike its neighbours" for one in advice.friction_outliers}
    balance = [point(one.touch.key, one.touch.balance_weight_g, Mark.EVEN) for one in advice.keys]
    friction = [
        point(
            one.touch.key, one.touch.friction_g, Mark.STANDS_OUT if one.touch.key in faulty | set(loud) else Mark.EVEN
        )
        for one in advice.keys
    ]
    return (
        _chart(
            "balance-weight",
            f"Balance weight of {count(len(balance), 'key')}.",
            "balance weight, g",
            balance,
            labels=run_labels({one.key: "unlike its neighbours" for one in advice.balance_outliers}),
        ),
        _chart(
            "friction",
            f"Friction of {count(len(friction), 'key')}; {len(faulty)} with a fault.",
            "friction, g",
            friction,
            labels=run_labels(loud),
            at_least=(0.0,),
        ),
    )


def centres_chart(advice: CentresAdvice, *, action: str) -> KeyboardChart:
    """Return the friction torque of each centre with the band of its tolerance.

    Parameters
    ----------
    advice : CentresAdvice
        From `workshop.centres.judge_centres`.
    action : str
        Kind of action, whose figure applies.
    """
    nominal = the_catalogue()["flange_torque"].nominal(Action(action))
    told = [one for one in advice.centres if one.torque_gf_mm is not None]
    points = [point(one.key, one.torque_gf_mm, _centre_mark(one.state)) for one in told if one.torque_gf_mm is not None]
    words = {one.key: _CENTRE_WORDS[one.state] for one in told if one.state in _CENTRE_WORDS}
    need_work = "none needs work" if not words else count(len(words), "needs work", "need work")
    band: tuple[Line, ...] = ()
    if nominal is not None:
        low, high = nominal.value - nominal.tolerance, nominal.value + nominal.tolerance
        band = (_flat(points, nominal.value, low, high),)
    return _chart(
        "centres",
        f"Friction torque of {count(len(points), 'centre')}; {need_work}.",
        "friction of centres, gf·mm",
        points,
        band=band,
        labels=run_labels(words),
        at_least=(0.0,),
    )


def _flat(points: Sequence[Point], value: float, low: float, high: float) -> Line:
    first, last = stretch_of([one.key for one in points] or [A4_KEY])
    ends = (first - 0.5, last + 0.5)
    return Line(keys=ends, values=(value, value), low=(low, low), high=(high, high))


def _chart(
    name: str,
    description: str,
    title: str,
    points: Sequence[Point],
    *,
    band: tuple[Line, ...] = (),
    reference: Line | None = None,
    labels: tuple[ChartLabel, ...] = (),
    at_least: tuple[float, ...] = (),
) -> KeyboardChart:
    if not points:
        raise InputError(
            f"there is nothing to draw: no {title.partition(',')[0]} was read over the keyboard", name="chart"
        )
    reach = [end for one in points for end in (one.low, one.high)]
    return KeyboardChart(
        name=name,
        description=description,
        axis_title=title,
        keys=stretch_of([one.key for one in points]),
        points=tuple(points),
        trend=band,
        reference=reference,
        zero=None,
        labels=labels,
        untold=(),
        break_after=None,
        scale=Scale.LINEAR,
        tick_places=None,
        at_least=(*reach, *at_least, *(value for line in band for value in (*line.low, *line.high))),
    )
