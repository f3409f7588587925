"""Key tops: from what was seen to what they are made of, how to treat them, and what to be careful of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from strikeline.domain.key_tops import Care, TopMaterial, TopVerdict, care_for, judge_tops, the_key_tops
from strikeline.plain_data import plain_data

SCHEMA: Final = "strikeline.keytops/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class TopsAdvice:
    """What is known of the key tops."""

    saw: tuple[str, ...]
    verdict: TopVerdict
    may_be_ivory: bool
    """Then they are treated as ivory, before the law too."""
    may_be_celluloid: bool
    """Then no heat comes near them."""
    care: tuple[Care, ...]
    cautions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.keytops/1``."""
        verdict = self.verdict
        return {
            "schema": SCHEMA,
            "saw": list(self.saw),
            "sureness": verdict.sureness.value,
            "material": plain_data(verdict.material),
            "share": plain_data(verdict.share),
            "possible": plain_data(verdict.possible),
            "odd": list(verdict.odd),
            "next_clue": None if verdict.next_clue is None else verdict.next_clue.id,
            "may_be_ivory": self.may_be_ivory,
            "may_be_celluloid": self.may_be_celluloid,
            "care": [plain_data({"id": one.id, "says": one.says, "source": one.source}) for one in self.care],
            "cautions": list(self.cautions),
        }


def tell_tops(saw: Sequence[str]) -> TopsAdvice:
    """Return what key tops are made of and how to treat them.

    Parameters
    ----------
    saw : sequence of str
        What was seen, in the words of ``key_tops.toml``; nothing seen is an answer too: all is possible then.

    Raises
    ------
    InputError
        If a word is not known or a question is answered in two ways.
    """
    tops = the_key_tops()
    verdict = judge_tops(saw, tops)
    possible = set(verdict.possible)
    care = care_for(frozenset(possible), tops)
    may_be_ivory, may_be_celluloid = TopMaterial.IVORY in possible, TopMaterial.CELLULOID in possible
    next_cautions = () if verdict.next_clue is None else verdict.next_clue.cautions
    cautions = [
        *(("celluloid",) if may_be_celluloid else ()),
        *(("ivory_law",) if may_be_ivory else ()),
        *(caution for one in care for caution in one.cautions),
        *next_cautions,
    ]
    return TopsAdvice(
        saw=tuple(saw),
        verdict=verdict,
        may_be_ivory=may_be_ivory,
        may_be_celluloid=may_be_celluloid,
        care=care,
        cautions=tuple(dict.fromkeys(cautions)),
    )
