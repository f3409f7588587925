"""What the rules on ivory say, as plain text."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import bulleted, figure, wrapped
from strikeline.domain.catalogue import Evidence
from strikeline.domain.ivory_law import MayApply, Outcome, Rule
from strikeline.reports.figures import number
from strikeline.workshop.ivory import CAUTIONS, IvoryAdvice

OUTCOME_WORDS: Final = {
    Outcome.NOT_COVERED: "Not covered by the rules on ivory that were read",
    Outcome.ALLOWED: "Allowed, by the rules that were read",
    Outcome.WITH_PAPER: "Only with paper, by the rules that were read",
    Outcome.FORBIDDEN: "Forbidden, by the rules that were read",
    Outcome.ASK: "Ask the authority: what was read does not decide it",
    Outcome.CANNOT_TELL: "Cannot tell yet: it depends on what is not known",
}
_EVIDENCE: Final = {
    Evidence.PUBLISHED: "read",
    Evidence.REASONING: "our reasoning",
    Evidence.MEMORY: "from memory",
    Evidence.COMMON: "common practice",
    Evidence.MAKER: "the maker's",
    Evidence.WORKSHOP: "the workshop's",
}


def ivory_table(advice: IvoryAdvice, *, width: int | None) -> str:
    """Return what the rules say as text.

    Parameters
    ----------
    advice : IvoryAdvice
        From `workshop.ivory.ask_ivory`.
    width : int or None
        Columns to break sentences at.
    """
    decision = advice.decision
    as_of = f"as of {decision.as_of.isoformat()}, for {advice.facts.on.isoformat()}"
    lines = [wrapped(f"{OUTCOME_WORDS[decision.outcome]} ({as_of}). Guidance, no legal advice.", width)]
    if advice.is_stale:
        lines.append(wrapped("The rules were read more than a year before that day: see what has changed.", width))
    if advice.cover is not None:
        cover = advice.cover
        share = number(cover.most_share_pct, places=1)
        lines.append(
            wrapped(
                f"The tops hold {figure(cover.volume_cm3)} cm³ of ivory, {figure(cover.mass_g)} g (usual sizes and "
                f"density from memory), at most {share} % of the instrument's material.",
                width,
            )
        )
    lines += bulleted("What holds:", [_rule(one) for one in decision.applies], width)
    papers = list(dict.fromkeys(paper for one in decision.applies for paper in one.papers))
    lines += bulleted("Paper needed:", papers, width)
    lines += bulleted("What may hold:", [_may(one) for one in decision.may_apply], width)
    lines += bulleted("To find out first:", [f"{one.ask} {one.find}" for one in decision.ask], width)
    rules = [*decision.applies, *(one.rule for one in decision.may_apply)]
    disputed = list(dict.fromkeys(text for one in rules for text in one.disputed))
    lines += bulleted("Sources differ or leave open:", disputed, width)
    lines += ["", wrapped(f"Who decides: {decision.authority}.", width)]
    lines += caution_lines(CAUTIONS, width)
    return "\n".join(lines)


def _rule(one: Rule) -> str:
    since = f" In force since {one.in_force.isoformat()}." if one.in_force else ""
    return f"{one.says}{since} ({_EVIDENCE[one.evidence]}: {one.source})"


def _may(one: MayApply) -> str:
    outcome = OUTCOME_WORDS[one.rule.outcome].partition(",")[0].partition(":")[0].lower()
    papers = f" Paper: {'; '.join(one.rule.papers)}." if one.rule.papers else ""
    if not one.questions:
        return f"{outcome}: {one.rule.says}{papers}"
    names = ", ".join(question.replace("_", "-") for question in one.questions)
    return f"{outcome}, depending on {names}: {one.rule.says}{papers}"
