"""What a condition sheet says, as text and pictures ready to be set: the page and the print read the same record."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of text; the first column names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


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
class SheetContent:
    """The condition sheet of one listening."""

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
    charts: tuple[SheetChart, ...]
    legend: str
    """What the marks shared by all charts mean."""
    standouts: Table
    no_standouts: str
    """What to write where the table of standouts would be empty."""
    also: tuple[str, ...]
    """Sentences about the whole piano beneath that table."""
    untold: Table
    no_untold: str
    definitions: tuple[tuple[str, str], ...]
    provenance: tuple[tuple[str, str], ...]
    annex: Table
    annex_note: str
    listening_json: str
    """The listening itself, attached to the print."""

    def printable(self) -> dict[str, Any]:
        """Return the whole sheet as plain data."""
        return asdict(self)
