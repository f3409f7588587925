"""Seat and music desk as plain text, in centimetres, as tapes are read."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import bulleted, figure, wrapped
from strikeline.measured import Measured
from strikeline.reports.figures import number
from strikeline.workshop.seat import DeskPlace, Fit, SeatAdvice, Stool

_PLACES: Final = {
    DeskPlace.GOOD: "comfortable",
    DeskPlace.HIGH: "too high, the head is held back",
    DeskPlace.LOW: "too low, the neck is bent",
    DeskPlace.CANNOT_TELL: "cannot tell: too uncertain for the limits of 10° to 35°",
}


def seat_table(advice: SeatAdvice, *, width: int | None) -> str:
    """Return advice on seat and desk as text.

    Parameters
    ----------
    advice : SeatAdvice
        From `workshop.seat.advise_seat`.
    width : int or None
        Columns to break sentences at.
    """
    low, high = (number(one.value / 10, places=1) for one in (advice.seat_low_mm, advice.seat_high_mm))
    measured = f"keys {_cm(advice.key_top_mm)} cm, seat to elbow {_cm(advice.elbow_mm)} cm"
    lines = [
        wrapped(
            f"Seat {_cm(advice.seat_mm)} cm, the player on it: {low} cm brings the elbow level with the keys, {high} "
            f"cm slightly above them ({measured}).",
            width,
        )
    ]
    if not advice.is_elbow_measured:
        lines.append(wrapped("The elbow was reckoned from the stature, which tells little of it: measure it.", width))
    lines += bulleted("With it:", [*_legs(advice), *_feet(advice), *_present(advice)], width)
    lines += bulleted("Stools:", [_stool(one) for one in advice.stools], width)
    lines += bulleted("Music desk:", _desks(advice), width)
    lines += ["", wrapped(_FOUNDED, width), *caution_lines(advice.cautions, width)]
    return "\n".join(lines)


_FOUNDED: Final = (
    "The rule (forearm level, elbow at or slightly above the keys, feet flat) is that of keyboard teaching; how much "
    "'slightly' is (2 cm), the look down (10° to 35°) and sizes not measured are our reasoning or from memory. A "
    "player who is at ease otherwise is right."
)


def _cm(value: Measured) -> str:
    return figure(value, factor=0.1)


def _legs(advice: SeatAdvice) -> list[str]:
    if advice.leg_room_mm is None or advice.legs is None:
        return ["legs: measure --keybed, the clear height under the keys, and --knee to see whether they fit."]
    room = f"{figure(advice.leg_room_mm, factor=0.1, plus=True)} cm between leg and keybed"
    words = {
        Fit.YES: "they fit",
        Fit.NO: "they do not fit: sit lower with the wrist higher, or raise the piano on cups or blocks",
        Fit.CANNOT_TELL: "cannot tell whether they fit",
    }
    guessed = [
        name
        for name, is_measured in (("--thigh", advice.is_thigh_measured), ("--knee", advice.is_knee_measured))
        if not is_measured
    ]
    taken = f"; not measured: {' and '.join(guessed)}" if guessed else ""
    return [f"legs: {words[advice.legs]} ({room}{taken})."]


def _feet(advice: SeatAdvice) -> list[str]:
    if advice.foot_rest_mm is None:
        return []
    return [f"feet: they need {_cm(advice.foot_rest_mm)} cm beneath them to stand flat (shoes of 2.5 cm)."]


def _present(advice: SeatAdvice) -> list[str]:
    lower = advice.lower_by_mm
    if lower is None:
        return []
    if not lower.differs_from(0.0):
        return [f"the stool that is there: as good as can be told ({figure(lower, factor=0.1, plus=True)} cm off)."]
    if advice.leg_cut_mm is None:
        return [
            f"the stool that is there: raise it by {_cm(Measured(-lower.value, lower.se))} cm with blocks or a board."
        ]
    off = f"{_cm(lower)} cm, which is {_cm(advice.leg_cut_mm)} cm off each leg, along the leg"
    return [f"the stool that is there: lower it by {off}. {_CUTTING}"]


_CUTTING: Final = (
    "What is cut off does not grow back, and an old stool is part of the instrument: try another stool of that height "
    "for a week first, take half, sit, then the rest; all legs from one mark."
)


def _stool(one: Stool) -> str:
    if one.fit is Fit.NO:
        return f"{one.written}: does not reach it."
    at = "" if one.set_to_mm is None else f", set to {number(one.set_to_mm / 10, places=1)} cm"
    return f"{one.written}: {'serves' if one.fit is Fit.YES else 'cannot tell'}{at}."


def _desks(advice: SeatAdvice) -> list[str]:
    found = [
        f"{_cm(one.above_keys_mm)} cm above the keys: the eyes look {figure(one.look_down_deg)}° down, "
        f"{_PLACES[one.place]}."
        for one in advice.desks
    ]
    if advice.better_desk is not None:
        better = advice.desks[advice.better_desk]
        found.append(f"better for this player: {_cm(better.above_keys_mm)} cm.")
    elif len(advice.desks) > 1:
        found.append("which is better cannot be told: measure --eye and --distance.")
    return found
