"""What every sheet has, whatever it is about: heading, facts, warnings, what was not told, provenance."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from strikeline.reports.content import Section, SheetContent, Table
from strikeline.reports.figures import sentence
from strikeline.reports.untold import Untold

_UNTITLED: Final = "A piano, as recorded"
_LONGEST_TITLE: Final = 200
_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
NO_TABLE: Final = Table(head=(), rows=())


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetParts:
    """What differs from one kind of sheet to the next."""

    subtitle: str
    facts: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    in_short: tuple[str, ...]
    sections: tuple[Section, ...]
    untold: tuple[Untold, ...]
    no_untold: str
    definitions: tuple[tuple[str, str], ...]
    provenance: tuple[tuple[str, str], ...]
    annex: Table = NO_TABLE
    annex_note: str = ""


def framed(parts: SheetParts, *, title: str | None, made_on: date, attached_json: str) -> SheetContent:
    """Return a whole sheet, ready to be set as page and as print.

    Parameters
    ----------
    parts : SheetParts
        What this sheet says.
    title : str or None
        What instrument or recording this is, as the user wrote it; any characters, shortened beyond 200.
    made_on : date
        Day that is printed on the sheet.
    attached_json : str
        The result itself, attached to the print as ``listening.json``.

    Returns
    -------
    SheetContent
        What `render_sheet_html` and `render_sheet_pdf` set.
    """
    return SheetContent(
        lang="en",
        title=_shortened(title),
        subtitle=parts.subtitle,
        made_on=f"{made_on.day} {_MONTHS[made_on.month - 1]} {made_on.year}",
        made_on_iso=made_on.isoformat(),
        facts=parts.facts,
        warnings=parts.warnings,
        in_short=parts.in_short,
        sections=parts.sections,
        untold=Table(
            head=("What", "Notes", "Why"),
            rows=tuple((one.what, one.notes, sentence(one.why)) for one in parts.untold),
            caption="Values that could not be told",
        ),
        no_untold=parts.no_untold,
        definitions=parts.definitions,
        provenance=parts.provenance,
        annex=parts.annex,
        annex_note=parts.annex_note,
        listening_json=attached_json,
    )


def _shortened(title: str | None) -> str:
    cleaned = " ".join((title or "").split())
    printable = "".join(character for character in cleaned if character.isprintable())
    if not printable:
        return _UNTITLED
    return printable if len(printable) <= _LONGEST_TITLE else f"{printable[: _LONGEST_TITLE - 1].rstrip()}…"
