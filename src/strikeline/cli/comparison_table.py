"""A comparison as plain text: the verdict in words, what changed, and what could not be told."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.comparison_result import Comparison, Verdict
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, typed, wrapped
from strikeline.reports.comparison import changed_rows
from strikeline.reports.comparison_words import cause_in_short, common_sentences, repeatability_row, verdict_sentences
from strikeline.reports.figures import sentence

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
    lines = [wrapped(text, width) for text in (*verdict_sentences(comparison), *cause_in_short(comparison))]
    rows = changed_rows(comparison)
    if width is not None:  # the sentences above say that it is against before
        rows = tuple((row[0], row[1].removesuffix(" than before"), row[2], row[3]) for row in rows)
    if rows:
        lines += ["", *fitted([_HEAD, *rows], width, least_first=("how sure",))]
    judged = [repeatability_row(one) for one in comparison.quantities if one.why_not is None]
    if judged and comparison.verdict is not Verdict.NOT_COMPARABLE:
        lines += [
            "",
            *fitted([_QUANTITY_HEAD, *judged], width, least_first=("judged by", "one note repeats to", "notes")),
        ]
        lines += ["", *(wrapped(text, width) for text in common_sentences(comparison))]
    lines += bulleted("About the two recordings:", [sentence(one) for one in comparison.warnings], width)
    lines += bulleted("Could not be told:", comparison.cannot_tell, width)
    return typed("\n".join(lines))
