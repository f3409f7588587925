"""Touch and centres as plain text."""

from __future__ import annotations

from collections import Counter
from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, figure, typed, wrapped
from strikeline.domain.catalogue import Action
from strikeline.keyboard import key_name
from strikeline.physics.touch import Outlier
from strikeline.reports.figures import ABSENT, key_ranges, number
from strikeline.workshop.centres import FEWEST_FOR_THE_SET, CentresAdvice, CentreState, is_hammer_centre
from strikeline.workshop.touch import TouchAdvice, TouchFault

_FAULT_WORDS: Final = {
    TouchFault.KEY_TIGHT: "The key itself is tight: ease bushings and polish pins first, it is the commonest cause.",
    TouchFault.FRICTION_HIGH: "Friction is high: bushings first, then centres. Do not touch any lead before.",
    TouchFault.FRICTION_LOW: "Friction is low: look for loose centres.",
    TouchFault.UP_WEIGHT_LOW: "The key hardly lifts: repetition will be poor. Friction first, then weights.",
    TouchFault.NO_ROOM_FOR_LEAD: "With lead for the balance weight wanted the key would lift too little: lower the "
    "friction first, or want a higher balance weight.",
}
_SPRINGS: Final = (
    "Springs carry part of the weight in an upright, along the whole way: balance weight and friction are indicative, "
    "good for comparing neighbours, and no lead is calculated."
)


def touch_table(advice: TouchAdvice, *, width: int | None) -> str:
    """Return touch as text.

    Parameters
    ----------
    advice : TouchAdvice
        From `workshop.touch.judge_touch`.
    width : int or None
        Columns to break sentences at.
    """
    rows = [["note", "down g", "up g", "balance g", "friction g", "key alone g", "lead at front g", "what"]]
    for one in advice.keys:
        touch = one.touch
        figures = (touch.down_weight_g, touch.up_weight_g, touch.balance_weight_g, touch.friction_g, one.key_friction_g)
        cells = [figure(value) for value in figures]
        what = ", ".join(fault.value for fault in one.faults) or "in order"
        rows.append([key_name(touch.key), *cells, figure(one.lead_g, plus=True), what])
    empty = [place for place in (5, 6) if all(row[place] == ABSENT for row in rows[1:])]
    kept = [[cell for place, cell in enumerate(row) if place not in empty] for row in rows]
    lines = fitted(kept, width, least_first=("key alone g", "what", "up g", "down g", "lead at front g"))
    middle = f"{number(advice.median_balance_g, places=0)} g, friction {number(advice.median_friction_g, places=0)} g"
    lines += ["", wrapped(f"In the middle: balance weight {middle}.", width)]
    if advice.left_out:
        alone = f"Left out, for only one of the two weights was read: {typed(key_ranges(advice.left_out))}."
        lines.append(wrapped(alone, width))
    faults = {fault: [one.touch.key for one in advice.keys if fault in one.faults] for fault in TouchFault}
    lines += bulleted(
        "To mend, in this order:",
        [f"{words} ({typed(key_ranges(faults[fault]))})" for fault, words in _FAULT_WORDS.items() if faults[fault]],
        width,
    )
    stands_out = [
        *_outliers("balance weight", advice.balance_outliers),
        *_outliers("friction", advice.friction_outliers),
    ]
    lines += bulleted("Unlike its neighbours:", stands_out, width)
    if advice.action is not Action.GRAND:
        lines += ["", wrapped(_SPRINGS, width)]
    lines += caution_lines(advice.cautions, width)
    return "\n".join(lines)


def _outliers(what: str, outliers: tuple[Outlier, ...]) -> list[str]:
    return [
        f"{key_name(one.key)}: {what} {figure(one.value)} g, by its neighbours {number(one.expected, places=0)} g"
        for one in outliers
    ]


def centres_table(advice: CentresAdvice, *, width: int | None) -> str:
    """Return centres as text.

    Parameters
    ----------
    advice : CentresAdvice
        From `workshop.centres.judge_centres`.
    width : int or None
        Columns to break sentences at.
    """
    rows = [["note", "place", "friction gf·mm", "side play mm", "pin mm", "at the key g", "state"]]
    for one in advice.centres:
        figures = [figure(value) for value in (one.torque_gf_mm, one.side_play_mm, one.pin_diameter_mm, one.at_key_g)]
        rows.append([key_name(one.key), one.place or ABSENT, *figures, one.state.value])
    empty = [place for place in (1, 3, 4, 5) if all(row[place] == ABSENT for row in rows[1:])]
    kept = [[cell for place, cell in enumerate(row) if place not in empty] for row in rows]
    lines = fitted(kept, width, least_first=("at the key g", "pin mm", "side play mm"))
    counts = Counter(one.state for one in advice.centres)
    told = ", ".join(f"{counts[state]} {state.value}" for state in CentreState if counts[state])
    lines += ["", wrapped(f"Of {len(advice.centres)} read: {told}.", width)]
    if advice.to_repin is not None and advice.hours is not None:
        low, likely, high = (number(count, places=0) for count in advice.to_repin)
        hours = [number(hour, places=1) for hour in advice.hours]
        lines.append(
            wrapped(
                f"Of the set of {advice.n_all}, {likely} need work ({low} to {high} in 95 cases of 100, if the sample "
                f"was drawn evenly): {hours[1]} hours, {hours[0]} to {hours[2]}.",
                width,
            )
        )
    else:
        few = f"Too few to say how many of the set of {advice.n_all}: read {FEWEST_FOR_THE_SET} or more, evenly spread."
        lines.append(wrapped(few, width))
    if counts[CentreState.LOOSE_OR_WORN]:
        text = "Play without a friction that tells: loose in the cloth or in the wood; measure the friction as well."
        lines.append(wrapped(text, width))
    if any(not is_hammer_centre(one.place) for one in advice.centres):
        text = "The limits of friction are those of hammer centres; for other centres no figure was found."
        lines.append(wrapped(text, width))
    if counts[CentreState.WORN_IN_THE_WOOD]:
        lines.append(
            wrapped("Play with good friction: the pin is loose in the wood; a new bushing will not cure it.", width)
        )
    lines.append(wrapped("Repinned centres lose friction for two or three months: plan a second visit.", width))
    return "\n".join(lines)
