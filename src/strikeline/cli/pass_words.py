"""What a pass says of the piano as a whole, in short, for below the table of its notes."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.evenness_result import Evenness
from strikeline.acoustics.pass_judgement import PassJudgement
from strikeline.cli.plain_text import bulleted, typed, wrapped
from strikeline.reports.scale_section import change_sentence
from strikeline.reports.toning_section import advice_line, cautions, no_advice_sentence
from strikeline.reports.words import area_words, further_standouts, standouts_sentence

_MOST_LINES: Final = 12
"""Lines of the toning list that are printed; it is in the order of the work, so the rest can wait."""

_MOST_STANDOUTS: Final = 4
"""Things that stand out, after the surest, that are printed."""


def evenness_sentences(evenness: Evenness) -> tuple[str, ...]:
    """Return what stands out, which areas depart together, and where the scale changes; nothing of too few notes."""
    if not any(one.notes for one in evenness.quantities):
        return ()
    areas = "; ".join(area_words(area) for area in evenness.areas)
    changes = [change_sentence(verdict) for verdict in evenness.change_verdicts]
    further = further_standouts(evenness.standouts, most=_MOST_STANDOUTS)
    told = [
        " ".join([standouts_sentence(evenness.standouts), *further]),
        f"Areas: {areas}." if areas else "No area departs from the notes around it.",
        *([f"Where the scale changes. {' '.join(changes)}"] if changes else ["No change of the scale was found."]),
    ]
    return tuple(typed(text) for text in told)


def toning_lines(judgement: PassJudgement, width: int | None) -> list[str]:
    """Return the toning list as lines broken to a width, the cautions first, or why it is empty."""
    toning = judgement.toning
    if not toning.items:
        return ["", wrapped(typed(f"Toning list: {no_advice_sentence(toning, judgement.evenness)}"), width)]
    lines = [typed(advice_line(item)) for item in toning.items[:_MOST_LINES]]
    n_more = len(toning.items) - len(lines)
    more = [wrapped(f"and {n_more} more: --json and the sheet have them", width, bullet="- ")] if n_more else []
    before = [wrapped(typed(text), width) for text in cautions(toning)]
    title, *listed = bulleted("Toning list. Advice, in the order of the work:", lines, width)[1:]
    return ["", title, *before, *listed, *more]
