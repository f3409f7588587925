"""Readings far from their neighbours, as lines below a table."""

from __future__ import annotations

from collections.abc import Sequence

from strikeline.cli.plain_text import bulleted, typed
from strikeline.workshop.read_again import ReadAgain


def read_again_lines(readings: Sequence[ReadAgain], width: int | None) -> list[str]:
    """Return a heading and a line for each reading that is far from its neighbours; nothing without any.

    Parameters
    ----------
    readings : sequence of ReadAgain
        From a report.
    width : int or None
        Columns to break at.
    """
    texts = [
        f"{one.note}: {one.what} {one.value:g} {one.unit}, where its neighbours lead to expect about {one.about:.3g} "
        f"{one.unit}"
        for one in readings
    ]
    return bulleted("Far from its neighbours; read again:", [typed(text) for text in texts], width)
