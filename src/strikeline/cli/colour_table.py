"""Colours as plain text: what the card says, a line for each patch, and each difference in a sentence."""

from __future__ import annotations

from typing import Final

from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.measured import Measured
from strikeline.physics.colour_difference import ColourDifference, Seen
from strikeline.reports.figures import ABSENT, listed, number
from strikeline.workshop.colour import ColourReport, Compared, PatchColour, PhotographColours

_HEADS: Final = ("patch", "L*", "a*", "b*", "spread of L*, a*, b*", "on a screen")
_LIMITS: Final = (
    "CIEDE2000: half of 175 observers see 0.8 and accept 1.8 (a study on dental ceramics). Our own limits: 3 for a "
    "repair in its surroundings, 2 for parts side by side. Wood has figure: mark several large places, and let an eye "
    "in the room's own light decide."
)


def colour_table(report: ColourReport, *, width: int | None) -> str:
    """Return a report on colours as text.

    Parameters
    ----------
    report : ColourReport
        From `workshop.colour.read_colours`.
    width : int or None
        Columns to break sentences at.
    """
    lines = list[str]()
    for one in report.photographs:
        lines += _photograph(one, width)
    lines += bulleted("Differences:", [_sentence(one) for one in report.compared], width)
    lines += bulleted("Cannot tell:", report.cannot_tell, width)
    if report.compared:
        lines += ["", wrapped(_LIMITS, width)]
    return "\n".join(lines).lstrip("\n")


def _photograph(one: PhotographColours, width: int | None) -> list[str]:
    lines = ["", wrapped(f"{one.name}: {_card(one)}", width)]
    if any(patch.lightness is not None for patch in one.patches):
        lines += ["", *aligned([_HEADS, *(_row(patch) for patch in one.patches)])]
    unfit = [patch.cannot_tell for patch in one.patches if patch.cannot_tell and not one.cannot_tell]
    return [*lines, *bulleted("Note:", [*one.notices, *unfit], width)]


def _card(one: PhotographColours) -> str:
    if one.cannot_tell:
        return f"cannot tell any colour. {'; '.join(one.cannot_tell)}."
    kind = "a chart of colours" if one.card == "chart" else "greys"
    text = f"corrected by {kind}"
    if one.left_de00 is not None:
        text += f", which tell each other to {number(one.left_de00, places=1)} CIEDE2000"
    if one.cast is not None:
        text += f"; {_cast(*one.cast)}"
    if one.cct_k is not None:
        text += f", recorded at about {round(one.cct_k, -2):.0f} K"
    return f"{text}."


def _cast(a: float, b: float) -> str:
    words = [
        f"{number(abs(value), places=0)} {word}"
        for value, word in ((a, "red" if a > 0 else "green"), (b, "yellow" if b > 0 else "blue"))
        if abs(value) >= 1.0
    ]
    return f"before that, grey had a cast of {listed(words)}" if words else "grey had no cast before that"


def _row(one: PatchColour) -> tuple[str, ...]:
    spread = ABSENT if one.spread is None else ", ".join(number(value, places=1) for value in one.spread)
    screen = ABSENT if one.srgb is None else "#{:02x}{:02x}{:02x}".format(*one.srgb)
    return one.name, figure(one.lightness), figure(one.redness), figure(one.yellowness), spread, screen


def _sentence(one: Compared) -> str:
    difference = one.difference
    if difference.de00 is None:
        most = number(difference.at_most_de00, places=1)
        text = (
            f"{difference.other} against {difference.one}: no difference can be told for sure; "
            f"it is below {most} CIEDE2000."
        )
    else:
        told = _directions(difference)
        text = (
            f"{difference.other} against {difference.one}: {figure(difference.de00)} CIEDE2000"
            f"{f', {told}' if told else ''}."
        )
    seen = "" if difference.seen is Seen.CANNOT_TELL else f" That is {difference.seen.value}."
    if difference.seen is Seen.CANNOT_TELL and difference.de00 is not None:
        seen = " Whether an eye sees or accepts it cannot be told."
    wood = "" if difference.wood_class == "cannot tell" else f" On wood: {difference.wood_class}."
    verdicts = ((one.is_repair_passed, "a repair"), (one.is_side_by_side_passed, "parts side by side"))
    yes = [what for passed, what in verdicts if passed]
    no = [what for passed, what in verdicts if passed is False]
    passes = f" It passes for {listed(yes)}." if yes else ""
    fails = f" It does not pass for {' or '.join(no)}." if no else ""
    return f"{text}{seen}{wood}{passes}{fails}"


def _directions(difference: ColourDifference) -> str:
    """Return in which directions the other patch surely leaves the first."""

    def word(measured: Measured, up: str, down: str) -> str:
        return (up if measured.value > 0 else down) if abs(measured.value) > measured.half_width else ""

    words = [
        word(difference.lightness, "lighter", "darker"),
        word(difference.redness, "redder", "greener"),
        word(difference.yellowness, "yellower", "bluer"),
    ]
    told = [one for one in words if one]
    return listed(told)
