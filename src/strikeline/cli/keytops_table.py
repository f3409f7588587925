"""What key tops are made of, as plain text."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import aligned, bulleted, wrapped
from strikeline.domain.catalogue import Evidence
from strikeline.domain.key_tops import Clue, Sureness, TopVerdict, the_key_tops
from strikeline.reports.figures import listed, number
from strikeline.workshop.key_tops import TopsAdvice

_NEVER: Final = (
    "Nothing here needs a hot pin, a flame, a solvent or a knife: each of them harms the key, "
    "and celluloid burns fiercely."
)
_FOUNDED: Final = {
    Evidence.PUBLISHED: "read in sources",
    Evidence.COMMON: "common practice, no source",
    Evidence.MEMORY: "from memory",
    Evidence.REASONING: "our reasoning",
}


def questions(*, width: int | None) -> str:
    """Return the questions, with the words for their answers; `width` is where to break sentences."""
    tops = the_key_tops()
    lines = [wrapped("Look at the naturals and give what you see with --saw; leave open what you cannot see.", width)]
    for clue in tops.clues:
        lines += ["", wrapped(f"{clue.ask} ({_FOUNDED[clue.evidence]})", width), wrapped(clue.how, width)]
        lines += [f"  {line}" for line in aligned([[answer.say, answer.words] for answer in clue.answers])]
    cautions = tuple(dict.fromkeys(one for clue in tops.clues for one in clue.cautions))
    return "\n".join([*lines, "", wrapped(_NEVER, width), *caution_lines(cautions, width)])


def keytops_table(advice: TopsAdvice, *, width: int | None) -> str:
    """Return what the tops are made of as text.

    Parameters
    ----------
    advice : TopsAdvice
        From `workshop.key_tops.tell_tops`.
    width : int or None
        Columns to break sentences at.
    """
    verdict = advice.verdict
    lines = [wrapped(_verdict(verdict), width), ""]
    order = sorted(verdict.share, key=lambda one: -verdict.share[one])
    rows = [["material", "share %", ""]]
    rows += [
        [one.value, number(100 * verdict.share[one], places=1), "" if one in verdict.possible else "ruled out"]
        for one in order
    ]
    lines += aligned(rows)
    lines += [
        "",
        wrapped(
            "The shares rest on how often each sight is met on each material, which is our reasoning; a material is "
            "sure or ruled out only where even wrong counts leave 95 of 100 for it.",
            width,
        ),
    ]
    lines += bulleted("Rarely seen on it, so look again:", list(verdict.odd), width)
    if verdict.next_clue is not None:
        lines += bulleted("What would tell most now:", [_clue(verdict.next_clue)], width)
    if advice.may_be_ivory:
        lines += [
            "",
            wrapped(
                "It may be ivory: treat it as ivory until somebody shows that it is not (strikeline ivory).", width
            ),
        ]
    lines += bulleted("Care:", [f"{one.says} ({_FOUNDED[one.evidence]})" for one in advice.care], width)
    lines += ["", wrapped(_NEVER, width), *caution_lines(advice.cautions, width)]
    return "\n".join(lines)


def _verdict(verdict: TopVerdict) -> str:
    names = listed([one.value for one in verdict.possible]).replace(" and ", " or ")
    if verdict.material is None:
        return f"Cannot tell: {names}."
    if verdict.sureness is Sureness.SURE:
        return f"Surely {verdict.material.value}, by what was seen."
    rest = listed([one.value for one in verdict.possible[1:]]).replace(" and ", " or ")
    return f"Likely {verdict.material.value}; {rest} cannot be ruled out."


def _clue(clue: Clue) -> str:
    words = "; ".join(f"{answer.say}: {answer.words}" for answer in clue.answers)
    return f"{clue.ask} {clue.how} ({words})"
