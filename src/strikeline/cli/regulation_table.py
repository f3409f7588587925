"""Advice on regulation as plain text: what it means, what goes together, and a line of work for each note."""

from __future__ import annotations

from typing import Final

from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.physics.regulation_plan import Correction, Floats
from strikeline.reports.figures import ABSENT, number
from strikeline.workshop.regulation import WEAR_WORDS, RegulationAdvice

_HEADS: Final = ("note", "capstan turns", "set-off turns", "set-off mm", "papers under the front mm", "then check mm")
_FLOAT_NAMES: Final = {Floats.BLOW: "blow distance", Floats.DIP: "key dip", Floats.AFTERTOUCH: "aftertouch"}


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
    lines += [wrapped(_ratio_sentence(advice), width), "", *_targets(advice), "", wrapped(_floating(advice), width)]
    moved = [f"{words}: {_moves(moves)}" for words, moves in advice.follows]
    lines += bulleted("What one change does to the others, in millimetres, once all is regulated:", moved, width)
    lines += ["", *_plan(advice, width)]
    lines += bulleted("In this order (a few sample notes fully first, then all):", list(advice.order), width)
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
    rows = [("", "read", "to be")]
    middle = {one.quantity: f"{figure(one.median)}" for one in advice.middles}
    wanted = {
        "blow": ("blow distance", targets.blow_mm),
        "key_dip": ("key dip", targets.dip_mm),
        "aftertouch": ("aftertouch", targets.aftertouch_mm),
        "set_off": ("set-off", Measured(targets.set_off_mm, 0.0)),
        "lost_motion": ("lost motion", Measured(targets.lost_motion_mm, 0.0)),
    }
    for quantity, (name, value) in wanted.items():
        text = number(value.value, places=2) if value.se == 0.0 else figure(value)
        rows.append((f"{name} mm", middle.get(quantity, ABSENT), text))
    if targets.checking_mm is not None:
        rows.append(("checking mm", middle.get("checking", ABSENT), number(targets.checking_mm, places=2)))
    return aligned(rows)


def _floating(advice: RegulationAdvice) -> str:
    name = _FLOAT_NAMES[advice.targets.floats].capitalize()
    if advice.usual is None:
        return f"{name} follows from the others."
    low, high = advice.usual
    usual = f"sources give {low:g} to {high:g} mm"
    words = {
        True: f"within what is usual ({usual})",
        False: f"outside what is usual ({usual}): choose other figures with --want, or let another one float",
        None: f"too uncertain to say whether it is usual ({usual}): measure the hammer's rise on more notes",
    }
    return f"{name} follows from the others and is {words[advice.is_usual]}."


def _moves(moves: dict[str, float]) -> str:
    return ", ".join(f"{name} {number(value, places=2, plus=True)}" for name, value in moves.items()) or "nothing"


def _plan(advice: RegulationAdvice, width: int | None) -> list[str]:
    lines = []
    if advice.plan.rail_mm is not None:
        side = "away from" if advice.plan.rail_mm.value > 0 else "towards"
        lines.append(
            wrapped(f"First move the rest rail {side} the strings by {figure(_size(advice.plan.rail_mm))} mm.", width)
        )
    rows = [_HEADS, *(_row(one) for one in advice.plan.corrections)]
    lines += aligned(rows)
    lines += ["", wrapped("Turns: plus raises a capstan and widens set-off. Papers: + put in, - take out.", width)]
    return lines


def _size(value: Measured) -> Measured:
    return Measured(abs(value.value), value.se)


def _row(one: Correction) -> tuple[str, ...]:
    sign = "+" if one.papers_are_added else "-"
    papers = " ".join(f"{sign}{paper:g}" for paper in one.papers_mm)
    return (
        key_name(one.key),
        figure(one.capstan_turns, plus=True),
        figure(one.set_off_turns, plus=True),
        figure(one.set_off_mm, plus=True),
        ABSENT if one.dip_mm is None else papers or "as it is",
        figure(one.check_mm, plus=True),
    )
