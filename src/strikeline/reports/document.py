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

_STANDARDS: Final = ("a-3a", "ua-1")


def render_sheet_pdf(content: SheetContent) -> bytes:
    """Return the sheet as PDF.

    All text goes in as data: nothing a user wrote is ever read as Typst. The same content gives the same bytes.

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
        "colours": {
            "ink": ink.INK,
            "quiet": ink.QUIET,
            "hairline": ink.HAIRLINE,
            "accent": ink.ACCENT,
            "shade": ink.SHADE,
        },
        "fonts": [ink.TEXT_FONT, ink.SYMBOL_FONT],
    }
    made_at = datetime.combine(datetime.fromisoformat(content.made_on_iso), time(12), tzinfo=UTC)
    try:
        pdf = typst.compile(
            _template(),
            font_paths=_fonts(),
            sys_inputs={"sheet": json.dumps(data, ensure_ascii=False)},
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
