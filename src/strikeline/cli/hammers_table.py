"""Advice on hammers as plain text: each section in a sentence, then a line for each hammer."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import figure, typed, wrapped
from strikeline.cli.read_again_words import read_again_lines
from strikeline.keyboard import key_name
from strikeline.physics.hammer_wear import HammerVerdict, Remedy, SectionVerdict
from strikeline.reports.figures import ABSENT, key_range, number
from strikeline.workshop.hammers import HammersAdvice, Moved

_HEADS: Final = (
    "note",
    "remedy",
    "take mm",
    "felt left mm",
    "needed mm",
    "refacings after",
    "off g",
    "strike point mm",
    "why",
)
_LEAST_NEEDED: Final = ("why", "strike point mm", "off g", "needed mm", "refacings after", "felt left mm")
_WORDS: Final = {
    Remedy.LEAVE: "leave as they are",
    Remedy.REFACE: "reface",
    Remedy.REPLACE: "replace as a set",
    Remedy.CANNOT_TELL: "cannot tell",
}


def hammers_table(advice: HammersAdvice, *, width: int | None) -> str:
    """Return advice on hammers as text.

    Parameters
    ----------
    advice : HammersAdvice
        From `workshop.hammers.judge_hammers`.
    width : int or None
        Columns to break sentences at.
    """
    lines = [wrapped(_section(one), width) for one in advice.sections if one.n_read]
    unread = [typed(key_range(one.first_key, one.last_key)) for one in advice.sections if not one.n_read]
    if unread:
        lines.append(wrapped(f"Not read: {', '.join(unread)}.", width))
    moved = {one.key: one for one in advice.moved}
    rows = [_HEADS, *(_row(one, moved.get(one.key)) for one in advice.hammers)]
    empty = [place for place in range(len(_HEADS)) if all(row[place] == ABSENT for row in rows[1:])]
    lines += [
        "",
        *fitted(
            [[cell for place, cell in enumerate(row) if place not in empty] for row in rows],
            width,
            least_first=_LEAST_NEEDED,
        ),
    ]
    lines += read_again_lines(advice.read_again, width)
    lines += ["", wrapped(_AFTERWARDS, width), wrapped(_LIMITS, width)]
    lines += caution_lines(advice.cautions, width)
    return "\n".join(lines)


_AFTERWARDS: Final = (
    "Refacing makes blow, set-off and checking longer by what it takes: regulate lost motion, set-off, aftertouch and "
    "checking again, then level the strings, mate the hammers and only then tone."
)
_LIMITS: Final = (
    "The felt needed is from memory with low confidence (4.5 mm up to the tenor, 2 mm in the top octave); no published "
    "limit was found, so your own judgement of the felt goes first."
)


def _section(one: SectionVerdict) -> str:
    where = typed(key_range(one.first_key, one.last_key))
    sure = "" if one.is_sure or one.remedy is Remedy.CANNOT_TELL else ", but read more hammers to be sure"
    most = f" At most {figure(one.worst)} mm to take." if one.worst and one.remedy is Remedy.REFACE else ""
    return f"{where}: {_WORDS[one.remedy]}{sure} ({'; '.join(one.reasons)}).{most}"


def _row(one: HammerVerdict, moved: Moved | None) -> tuple[str, ...]:
    left = one.refacings_left
    again = ABSENT if left is None else str(left[0]) if left[0] == left[1] else f"{left[0]} to {left[1]}"
    return (
        key_name(one.key),
        one.remedy.value,
        figure(one.depth_mm),
        figure(one.felt_after_mm),
        number(one.least_felt_mm, places=1),
        again,
        figure(moved.mass_g if moved else None),
        figure(moved.strike_point_mm if moved else None),
        "; ".join(one.reasons),
    )
