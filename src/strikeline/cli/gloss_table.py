"""Gloss as plain text: a line for each place and angle, then each comparison in a sentence."""

from __future__ import annotations

from typing import Final

from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.physics.gloss import GlossDifference, GlossSeen
from strikeline.reports.figures import ABSENT
from strikeline.workshop.gloss import GlossReport

_HEADS: Final = ("place", "angle", "gloss GU", "readings", "class", "read it at")
_LIMITS: Final = (
    "Classes and angles go by the reading at 60°: 20° above 70 GU, 85° below 10 GU. ISO 2813 is for opaque, flat, "
    "plain coatings; on polished veneer the figures only compare like with like. An eye just sees 5 GU at the right "
    "angle, 3 GU on a matt surface."
)


def gloss_table(report: GlossReport, *, width: int | None) -> str:
    """Return a report on gloss as text.

    Parameters
    ----------
    report : GlossReport
        From `workshop.gloss.judge_gloss`.
    width : int or None
        Columns to break sentences at.
    """
    rows = [_HEADS]
    for one in report.places:
        for angle, mean in one.by_angle.items():
            right = ABSENT if one.angle_deg is None else f"{one.angle_deg}°"
            rows.append(
                (one.place, f"{angle}°", figure(mean), str(one.n_readings[angle]), one.gloss_class.value, right)
            )
    lines = aligned(rows)
    lines += bulleted("Against each other:", [_sentence(one) for one in report.compared], width)
    lines += bulleted("Cannot tell:", report.cannot_tell, width)
    return "\n".join([*lines, "", wrapped(_LIMITS, width)])


def _sentence(one: GlossDifference) -> str:
    way = "glossier" if one.difference.value > 0 else "duller"
    seen = {
        GlossSeen.SEEN: "an eye sees it",
        GlossSeen.NOT_SEEN: "an eye does not see it",
        GlossSeen.CANNOT_TELL: "whether an eye sees it cannot be told; take more readings",
    }[one.seen]
    other_angle = "" if one.is_right_angle else " That is not the angle the first place asks for."
    return (
        f"{one.other} against {one.one} at {one.angle_deg}°: {figure(one.difference)} GU, {way}: {seen}.{other_angle}"
    )
