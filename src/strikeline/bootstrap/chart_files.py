"""Charts written to files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from strikeline.media.atomic import write_atomically
from strikeline.reports.chart_files import chart_bytes
from strikeline.reports.keyboard_chart import KeyboardChart


def write_chart(charts: KeyboardChart | Sequence[KeyboardChart], path: Path, *, title: str = "") -> None:
    """Write charts as SVG, PNG or a page, by the suffix; an older file is replaced only by a whole new one.

    Parameters
    ----------
    charts : KeyboardChart or sequence of KeyboardChart
        One or more; several stand below each other.
    path : Path
        Ends in ``.svg``, ``.png`` or ``.html``.
    title : str
        Heading of the page and name of the picture; the file's name when empty.

    Raises
    ------
    InputError
        If the suffix is another, or there is no chart.
    NotFoundError, StoreError
        If writing fails.
    """
    write_atomically(path, chart_bytes(charts, suffix=path.suffix, title=title or path.stem))
