"""The condition sheet as print: PDF/A-3a and PDF/UA-1 by Typst, the listening attached."""

from __future__ import annotations

import json
from datetime import UTC, datetime, time
from functools import cache
from importlib.resources import files
from typing import Final

import typst

from strikeline.errors import StoreError
from strikeline.reports import ink
from strikeline.reports.content import SheetContent

_NOT_DRAWN: Final = frozenset({"listening_json", "made_on_iso", "lang"})
_STANDARDS: Final = ("a-3a", "ua-1")


def render_sheet_pdf(content: SheetContent) -> bytes:
    """Return the sheet as PDF.

    All text goes in as data: nothing a user wrote is ever read as Typst. Characters that the bundled fonts lack are
    drawn as □.

    Parameters
    ----------
    content : SheetContent
        From `strikeline.reports.sheet.sheet_content`.

    Returns
    -------
    bytes
        A4, PDF/A-3a and PDF/UA-1, with ``listening.json`` attached.

    Raises
    ------
    StoreError
        If the document cannot be set.
    """
    data = {
        **content.printable(),
        "colours": {"ink": ink.INK, "quiet": ink.QUIET, "hairline": ink.HAIRLINE, "accent": ink.ACCENT},
        "fonts": [ink.TEXT_FONT, ink.SYMBOL_FONT],
    }
    drawable = {name: value if name in _NOT_DRAWN else with_drawn_characters(value) for name, value in data.items()}
    made_at = datetime.combine(datetime.fromisoformat(content.made_on_iso), time(12), tzinfo=UTC)
    try:
        pdf = typst.compile(
            _template(),
            font_paths=_fonts(),
            sys_inputs={"sheet": json.dumps(drawable, ensure_ascii=False)},
            format="pdf",
            pdf_standards=list(_STANDARDS),
            timestamp=made_at,
        )
    except typst.TypstError as error:
        raise StoreError(
            f"the sheet could not be set as PDF: {error.message}; report this with the recording"
        ) from error
    if not isinstance(pdf, bytes):
        raise StoreError("the sheet could not be set as PDF: the typesetter gave nothing back; report this")
    return pdf


def with_drawn_characters(value: object) -> object:
    """Return text, or plain data with text in it, each character that the fonts lack as □.

    A PDF that promises to be readable for ever must not hold characters that nobody can see.

    Examples
    --------
    >>> with_drawn_characters(["Flügel ♯", "琴"])
    ['Flügel ♯', '□']
    """
    if isinstance(value, str):
        drawn = _drawn_characters()
        return "".join(character if character in drawn or character == "\n" else "□" for character in value)
    if isinstance(value, dict):
        return {key: part if key == "svg" else with_drawn_characters(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [with_drawn_characters(part) for part in value]
    return value


@cache
def _drawn_characters() -> frozenset[str]:
    """Return what text face and symbol face can draw between them: ranges of code points, one a line."""
    ranges = (files("strikeline.reports") / "fonts" / "coverage.txt").read_text("ascii").split()
    ends = [tuple(int(end, 16) for end in one.split("-")) for one in ranges]
    return frozenset(chr(point) for first, last in ends for point in range(first, last + 1))


@cache
def _template() -> bytes:
    return (files("strikeline.reports") / "templates" / "sheet.typ").read_bytes()


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(files("strikeline.reports") / "fonts")],
    )
