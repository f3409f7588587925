"""Cautions below a table, from the catalogue of cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.cli.plain_text import bulleted
from strikeline.domain.cautions import the_cautions

HEADING: Final = "Cautions:"


def caution_lines(ids: Sequence[str], width: int | None) -> list[str]:
    """Return an empty line, the heading that all commands share, and a paragraph for each caution.

    Parameters
    ----------
    ids : sequence of str
        Ids in the catalogue.
    width : int or None
        Columns to break at.
    """
    known = the_cautions()
    return bulleted(HEADING, [known[one].paragraph() for one in ids], width)
