"""Advice on regulation as plain text: what it means, what goes together, and a line of work for each note."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.regulation_plan import Correction
from strikeline.physics.regulation_targets import Floats
from strikeline.reports.figures import ABSENT, MINUS, listed, number
from strikeline.workshop.regulation import RegulationAdvice
from strikeline.workshop.regulation_wear import WEAR_WORDS

_HEADS: Final = ("note", "capstan turns", "set-off turns", "set-off mm", "papers under the front mm", "then check mm")
_NAMES: Final = {
    "blow": "blow distance",
    "key_dip": "key dip",
    "aftertouch": "aftertouch",
    "set_off": "set-off",
    "lost_motion": "lost motion",
    "checking": "checking",
}


def regulation_table(advice: RegulationAdvice, *, width: int | None) -> str:
    """Return advice as text.

    Parameters
    ----------
    advice : RegulationAdvice
        From `workshop.regulation.advise`.
    width : int or None
        Columns to break sentences at.
    """
    lines = [wrapped(f"Together: {WEAR_WORDS[advice.wear]}", width), ""]
    lines += [wrapped(_ratio_sentence(advice), width), "", *_targets(advice), ""]
    lines += [wrapped(text, width) for text in _together(advice)]
    moved = [f"{words}: {_moves(moves)}" for words, moves in advice.follows]
    lines += bulleted("What one change does to the others, in millimetres, once all is regulated:", moved, width)
    lines += _plan(advice, width)
    lines += bulleted("In this order (a few sample notes fully first, then all):", list(advice.order), width)
    lines += caution_lines(advice.cautions, width)
    return "\n".join(lines)


def _ratio_sentence(advice: RegulationAdvice) -> str:
    n = advice.ratio.n_notes
    notes = "one note" if n == 1 else f"{n} notes"
    more = " One note cannot tell how the notes differ: measure two more." if n == 1 else ""
    return (
        f"The hammer travels {figure(advice.ratio.ratio)} times as far as the key ({advice.ratio_from}, {notes}).{more}"
    )


def _targets(advice: RegulationAdvice) -> list[str]:
    targets = advice.targets
    middle = {one.quantity: one.median for one in advice.middles}
    figures = {
        "blow": targets.blow_mm,
        "key_dip": targets.dip_mm,
        "aftertouch": targets.aftertouch_mm,
        "set_off": Measured(targets.set_off_mm, 0.0),
        "lost_motion": Measured(targets.lost_motion_mm, 0.0),
        **({} if targets.checking_mm is None else {"checking": Measured(targets.checking_mm, 0.0)}),
    }
    rows = [("", "read", "to be", "usual")]
    for quantity, value in figures.items():
        ends = advice.usual.get(quantity)
        usual = f"{ends[0]:g} to {ends[1]:g}" if ends else "as wanted" if quantity in advice.wanted else ABSENT
        to_be = number(value.value, places=2) if value.se == 0.0 else figure(value)
        rows.append((f"{_NAMES[quantity]} mm", figure(middle.get(quantity)), to_be, usual))
    return aligned(rows)


def _together(advice: RegulationAdvice) -> list[str]:
    """Return what follows from what, and whether it is what is usual."""
    floats = advice.targets.floats
    how = "all three give a little" if floats is Floats.SHARED else f"{floats.value} follows from the other two"
    texts = [f"Blow, dip and aftertouch are tied together by the ratio; here {how} (--float)."]
    names = {kind: listed([_NAMES[one] for one in of]) for kind, of in (("un", advice.unusual), ("?", advice.doubtful))}
    if advice.unusual:
        texts.append(
            f"Outside what is usual: {names['un']}. No turns are given for figures that do not go together: choose "
            "others with --want, let another one float, or look for what has changed the ratio."
        )
    if advice.doubtful:
        texts.append(
            f"Too near the end of what is usual to be sure of: {names['?']}. Measure the hammer's rise on more notes."
        )
    return texts


def _moves(moves: dict[str, float]) -> str:
    return ", ".join(f"{name} {number(value, places=2, plus=True)}" for name, value in moves.items()) or "nothing"


def _plan(advice: RegulationAdvice, width: int | None) -> list[str]:
    plan = advice.plan
    if plan is None:
        return []
    lines = [""]
    if plan.rail_mm is not None:
        side = "away from" if plan.rail_mm.value > 0 else "towards"
        lines.append(
            wrapped(f"First move the rest rail {side} the strings by {figure(_size(plan.rail_mm))} mm.", width)
        )
    rows = [_HEADS, *(_row(one) for one in plan.corrections)]
    empty = [place for place in range(len(_HEADS)) if all(row[place] == ABSENT for row in rows[1:])]
    kept = [[cell for place, cell in enumerate(row) if place not in empty] for row in rows]
    lines += fitted(kept, width, least_first=("set-off mm", "then check mm"))
    lines += ["", wrapped(_SIGNS, width)]
    if advice.screws.set_off_mm_per_turn is None:
        lines.append(
            wrapped("Turns of the set-off buttons: turn one by a whole turn, measure, give --set-off-per-turn.", width)
        )
    targets = advice.targets
    figures = {
        "blow": targets.blow_mm.value,
        "key dip": targets.dip_mm.value,
        "aftertouch": targets.aftertouch_mm.value,
    }
    options = " ".join(f"--figure '{name}={value:.2f}mm'" for name, value in figures.items())
    lines.append(wrapped(f"When done, check against these figures: strikeline readings FILE {options}", width))
    return lines


_SIGNS: Final = (
    "Turns: + raises a capstan and widens set-off. Papers: + put in, − take out. Check: what is still wanted after the "
    "papers and capstan have carried it along, + further from the string. ± holds 95 cases of 100."
)


def _size(value: Measured) -> Measured:
    return Measured(abs(value.value), value.se)


def _row(one: Correction) -> tuple[str, ...]:
    sign = "+" if one.papers_are_added else MINUS
    papers = " ".join(f"{sign}{paper:g}" for paper in one.papers_mm)
    return (
        key_name(one.key),
        figure(one.capstan_turns, plus=True),
        figure(one.set_off_turns, plus=True),
        figure(one.set_off_mm, plus=True),
        ABSENT if one.dip_mm is None else papers or "as it is",
        figure(one.check_mm, plus=True),
    )
