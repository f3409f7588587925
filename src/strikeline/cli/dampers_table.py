"""Dampers and pedals as plain text: pedal first, then keys, then rise and half-blow."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import aligned, bulleted, figure, typed, wrapped
from strikeline.domain.catalogue import Action, Place
from strikeline.keyboard import key_name
from strikeline.physics.damper_lift import HALF_BLOW_SHARE
from strikeline.reports.figures import ABSENT, key_ranges, number
from strikeline.workshop.dampers import DampersAdvice, HalfBlow, PedalLift, Timing

_BEND: Final = {
    Action.UPRIGHT_UNDER_DAMPER: {
        Timing.EARLY: "bend the spoon away from its damper lever",
        Timing.LATE: "bend the spoon towards its damper lever",
    },
    Action.UPRIGHT_OVER_DAMPER: {
        Timing.EARLY: "turn the damper's button down on its wire",
        Timing.LATE: "turn the damper's button up on its wire",
    },
    Action.GRAND: {
        Timing.EARLY: "raise the damper's lever on its wire",
        Timing.LATE: "lower the damper's lever on its wire",
    },
}
"""Common practice, no source."""
_BY_PEDAL: Final = {
    Action.UPRIGHT_UNDER_DAMPER: "Those before the others: bend the wire so that the head comes nearer to the strings; "
    "those after: the other way (our reasoning from the lever). It moves the start by key too.",
    Action.UPRIGHT_OVER_DAMPER: "Set the single dampers on their wires until all move together.",
    Action.GRAND: "Set the levers on their wires, or the felt on the lifting tray, until all move together.",
}


def dampers_table(advice: DampersAdvice, *, width: int | None) -> str:
    """Return advice on dampers as text.

    Parameters
    ----------
    advice : DampersAdvice
        From `workshop.dampers.judge_dampers`.
    width : int or None
        Columns to break sentences at.
    """
    lines = list[str]()
    if advice.pedal is not None:
        lines += _pedal(advice.pedal, advice.action, width)
    if advice.free_play_mm is not None and advice.free_play_place is not None:
        words = {
            Place.WITHIN: "as it should be",
            Place.LOW: "too little: dampers may not settle",
            Place.HIGH: "too much: the pedal works late",
            Place.CANNOT_TELL: "too near a limit to say",
        }
        play = f"{figure(advice.free_play_mm)} mm, {words[advice.free_play_place]}"
        lines.append(wrapped(f"Free play of the damper pedal: {play} (figure from memory).", width))
    if advice.by_key:
        lines += ["", *_by_key(advice, width)]
    if advice.rises:
        lines += ["", *_rises(advice, width)]
    if advice.half_blows:
        lines += ["", *_half_blows(advice.half_blows, width)]
    if advice.pedal is not None and advice.by_key:
        lines += ["", wrapped(_ORDER, width)]
    lines += caution_lines(advice.cautions, width)
    return "\n".join(lines).lstrip("\n")


_ORDER: Final = (
    "Pedal first, then keys: what is bent for the pedal changes when the keys lift, not the other way round. Read the "
    "keys again before any spoon is bent."
)


def _pedal(pedal: PedalLift, action: Action, width: int | None) -> list[str]:
    out = {timing: [one for one in pedal.dampers if one.timing is timing] for timing in Timing}
    said = [f"The pedal's tip moves {figure(pedal.first_mm)} mm before the first dampers leave"]
    if pedal.tilt_mm is not None:
        said.append(f"the highest leave {figure(pedal.tilt_mm, plus=True)} mm after the lowest")
    if pedal.own_scatter_mm is not None:
        said.append(f"single dampers scatter by {figure(pedal.own_scatter_mm)} mm (0 is all together)")
    lines = [wrapped(f"By pedal: {'; '.join(said)}.", width)]
    if pedal.tilt_mm is not None and abs(pedal.tilt_mm.value) > pedal.tilt_mm.half_width + 1.0:
        lines.append(
            wrapped("They leave from one side to the other: see to the lift rod and its bearings first.", width)
        )
    texts = [
        f"{key_name(one.key)} {word} the others, by {figure(one.after_others_mm, plus=True)} mm of pedal"
        for timing, word in ((Timing.EARLY, "before"), (Timing.LATE, "after"))
        for one in out[timing]
    ]
    lines += bulleted("Out of line with the others by pedal:", texts, width)
    if texts:
        lines.append(wrapped(_BY_PEDAL[action], width))
    if len(pedal.dampers) < 3:
        lines.append(wrapped("Read more dampers, to see whether they leave together.", width))
    elif out[Timing.CANNOT_TELL]:
        keys = typed(key_ranges([one.key for one in out[Timing.CANNOT_TELL]]))
        lines.append(wrapped(f"Too near the limit to say: {keys}.", width))
    return lines


def _by_key(advice: DampersAdvice, width: int | None) -> list[str]:
    if advice.common is not None:
        word = "early" if advice.common is Timing.EARLY else "late"
        cause = (
            "a short blow and high capstans lift dampers" if word == "early" else "lost motion and a long blow delay"
        )
        tail = " early" if word == "early" else " them"
        text = (
            f"By key, most lift {word}: {cause}{tail}. Regulate blow and capstans first (strikeline regulate), read "
            "again, and bend only what is left."
        )
        lines = [wrapped(text, width)]
    else:
        n = len(advice.by_key)
        within = sum(one.timing is Timing.WITHIN for one in advice.by_key)
        lines = [wrapped(f"By key: {within} of {n} surely lift about half way of the hammer's travel.", width)]
    rows = [["note", "starts at %", "", "later by, hammer mm", "at the key mm", "what to do"]]
    for one in advice.by_key:
        if one.timing in {Timing.EARLY, Timing.LATE}:
            later = [figure(one.later_hammer_mm, plus=True), figure(one.later_key_mm, plus=True)]
            rows.append([key_name(one.key), figure(one.start_pct), one.timing.value, *later])
            rows[-1].append(_BEND[advice.action][one.timing])
    if len(rows) > 1:
        keep = [place for place in range(6) if place < 3 or any(row[place] != ABSENT for row in rows[1:])]
        lines += aligned([[row[place] for place in keep] for row in rows])
    unsure = [one.key for one in advice.by_key if one.timing is Timing.CANNOT_TELL]
    if unsure:
        lines.append(wrapped(f"Too near a limit for how well they were read: {typed(key_ranges(unsure))}.", width))
    return lines


def _rises(advice: DampersAdvice, width: int | None) -> list[str]:
    rows = [["note", "rise by key mm", "by pedal mm", "what"]]
    for one in advice.rises:
        words = []
        if one.place is Place.LOW:
            words.append("too little: the string may touch the felt")
        if one.place is Place.HIGH:
            words.append("more than needed")
        if one.pedal_lifts_more is False:
            words.append("the pedal lifts less than the key: it should lift slightly more")
        rows.append(
            [
                key_name(one.key),
                figure(one.by_key_mm),
                figure(one.by_pedal_mm),
                "; ".join(words) or "nothing surely out",
            ]
        )
    return [wrapped("How far they rise:", width), *aligned(rows)]


def _half_blows(found: tuple[HalfBlow, ...], width: int | None) -> list[str]:
    rows = [["note", "share of the blow left", "hammers to move further, mm", ""]]
    words = {True: "usual", False: "unusual", None: "too near a limit to say"}
    rows += [
        [key_name(one.key), figure(one.share), figure(one.rail_mm, plus=True), words[one.is_usual]] for one in found
    ]
    low, high = (number(share, places=2) for share in HALF_BLOW_SHARE)
    return [
        wrapped(
            f"Half-blow pedal: {low} to {high} of the blow is usual (from memory). Some lost motion with the pedal "
            "down is in its nature; if notes fail with it, it lifts too far. Set its rod, not single notes.",
            width,
        ),
        *aligned(rows),
    ]
