"""A comparison as plain text: the verdict in words, what changed, and what could not be told."""

from __future__ import annotations

import textwrap
from typing import Final

from strikeline.acoustics.comparison_result import Comparison, Verdict
from strikeline.reports.comparison import changed_rows
from strikeline.reports.comparison_words import cause_in_short, common_sentences, repeatability_row, verdict_sentences
from strikeline.reports.figures import NO_BREAK, sentence

_HEAD: Final = ("notes", "what", "by how much", "how sure")
_QUANTITY_HEAD: Final = ("quantity", "notes", "all notes share", "one note repeats to", "judged by")


def comparison_table(comparison: Comparison, *, width: int | None) -> str:
    """Return a comparison as text.

    Parameters
    ----------
    comparison : Comparison
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` prints sentences unbroken.
    """
    lines = [_wrapped(text, width) for text in (*verdict_sentences(comparison), *cause_in_short(comparison))]
    rows = changed_rows(comparison)
    if rows:
        lines += ["", *_aligned([_HEAD, *rows])]
    judged = [repeatability_row(one) for one in comparison.quantities if one.why_not is None]
    if judged and comparison.verdict is not Verdict.NOT_COMPARABLE:
        lines += ["", *_aligned([_QUANTITY_HEAD, *judged])]
        lines += ["", *(_wrapped(text, width) for text in common_sentences(comparison))]
    lines += _list("About the two recordings:", [sentence(one) for one in comparison.warnings], width)
    lines += _list("Could not be told:", list(comparison.cannot_tell), width)
    return "\n".join(lines).replace(NO_BREAK, " ")


def _aligned(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["  ".join(cell.ljust(size) for cell, size in zip(row, widths, strict=True)).rstrip() for row in rows]


def _list(title: str, items: list[str], width: int | None) -> list[str]:
    if not items:
        return []
    return ["", title, *(_wrapped(item, width, bullet="- ") for item in items)]


def _wrapped(text: str, width: int | None, *, bullet: str = "") -> str:
    if width is None:
        return f"{bullet}{text}"
    return textwrap.fill(
        text, width=max(20, width), initial_indent=bullet, subsequent_indent=" " * len(bullet), break_on_hyphens=False
    )
