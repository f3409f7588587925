"""Cautions below a table, from the catalogue of cautions."""

from __future__ import annotations

from collections.abc import Sequence

from strikeline.cli.plain_text import wrapped
from strikeline.domain.cautions import the_cautions


def caution_lines(ids: Sequence[str], width: int | None) -> list[str]:
    """Return an empty line and a paragraph for each caution.

    Parameters
    ----------
    ids : sequence of str
        Ids in the catalogue.
    width : int or None
        Columns to break at.
    """
    known = the_cautions()
    return ["", *(wrapped(known[one].paragraph(), width) for one in ids)] if ids else []
