"""What a condition sheet says, as text and pictures ready to be set: the page and the print read the same record."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of text; the first column names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""
    """What it lists, for those who hear the page."""
    style: str = "words"
    """``words`` for cells that are read, ``words compact`` for many rows of them, ``numbers`` for small figures set to
    the right."""
    dark: tuple[tuple[int, int], ...] = ()
    """Row and column, from 0, of cells that are to be seen first: set strong."""
    widths: tuple[str, ...] = ()
    """Columns in print, ``auto`` or a share such as ``2fr``; empty to share the page evenly after the first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetChart:
    """One chart with the sentence that says what it shows, and its numbers."""

    name: str
    """Short, for identifiers."""
    title: str
    """The quantity."""
    finding: str
    """The one sentence that heads it."""
    alt: str
    """What the picture shows, for those who do not see it."""
    svg: str | None
    """``None`` if not a single value is known."""
    caption: str
    table: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One heading of a sheet with what stands under it, in this order; whatever is empty is left out."""

    name: str
    """Short, for identifiers; used once on a sheet."""
    heading: str
    note: str = ""
    """How the charts are read, set small."""
    charts: tuple[SheetChart, ...] = ()
    paragraphs: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    after: tuple[str, ...] = ()
    """Sentences beneath the tables, run on as one paragraph."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetContent:
    """The sheet of one listening, or of what else a sheet is made from."""

    lang: str
    title: str
    subtitle: str
    made_on: str
    """Day the sheet was made, in words."""
    made_on_iso: str
    facts: tuple[tuple[str, str], ...]
    """What was recorded, as name and value."""
    warnings: tuple[str, ...]
    in_short: tuple[str, ...]
    sections: tuple[Section, ...]
    """Charts, tables and sentences, in the order of the sheet."""
    untold: Table
    no_untold: str
    definitions: tuple[tuple[str, str], ...]
    provenance: tuple[tuple[str, str], ...]
    annex: Table
    annex_note: str
    listening_json: str
    """The listening itself, or what else the sheet was made from, attached to the print."""
    sheet_name: str = "condition sheet"
    warnings_heading: str = "About the recording itself"
    attached_name: str = "listening.json"
    """Name of the file attached to the print."""
    attached_note: str = "The listening with every number is attached to this file as listening.json."

    @property
    def charts(self) -> tuple[SheetChart, ...]:
        """All charts, in the order of the sheet."""
        return tuple(chart for section in self.sections for chart in section.charts)

    def section(self, name: str) -> Section:
        """Return the section of this name.

        Raises
        ------
        KeyError
            If the sheet has none.
        """
        for section in self.sections:
            if section.name == name:
                return section
        raise KeyError(name)

    def printable(self) -> dict[str, Any]:
        """Return the whole sheet as plain data."""
        return asdict(self)
