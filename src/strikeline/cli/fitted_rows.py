"""Tables that fit a narrow terminal by leaving out what is needed least."""

from __future__ import annotations

from collections.abc import Sequence

from strikeline.cli.plain_text import aligned, typed, wrapped
from strikeline.keyboard import key_from_name
from strikeline.reports.figures import key_ranges


def fitted(
    rows: Sequence[Sequence[str]],
    width: int | None,
    *,
    least_first: Sequence[str],
    elsewhere: str = "a wider terminal or --json has them",
) -> list[str]:
    """Return one line for each row, without as many columns as have to go, and a line that names these.

    Parameters
    ----------
    rows : sequence of sequence of str
        The first one has the headings.
    width : int or None
        Columns of the terminal; ``None`` leaves nothing out.
    least_first : sequence of str
        Headings of the columns that may go, the least needed first; those that the table lacks are passed over.
    elsewhere : str
        Where what was left out is to be had.
    """
    lines, gone = aligned(rows), list[str]()
    for head in filter(rows[0].__contains__, least_first):
        if width is None or max(map(len, lines)) <= width:
            break
        gone.append(head)
        kept = [place for place, name in enumerate(rows[0]) if name not in gone]
        lines = aligned([[row[place] for place in kept] for row in rows])
    if gone:
        named = ", ".join(gone)
        lines.append(wrapped(f"Left out for want of room: {named}; {elsewhere}.", width))
    return lines


def gathered(reasons: Sequence[str]) -> list[str]:
    """Return reasons of the form ``note: why`` with the notes of each why together, other reasons as they are.

    Examples
    --------
    >>> gathered(["A0: not heard", "A#0: not heard", "B0: not heard", "the load: needs the scale"])
    ['A0-B0: not heard', 'the load: needs the scale']
    """
    notes: dict[str, list[int]] = {}
    others = list[str]()
    for reason in reasons:
        name, _, why = reason.partition(": ")
        if why and " " not in name and name[-1:].isdigit():
            notes.setdefault(why, []).append(key_from_name(name))
        else:
            others.append(reason)
    return [*(f"{typed(key_ranges(keys))}: {why}" for why, keys in notes.items()), *others]
