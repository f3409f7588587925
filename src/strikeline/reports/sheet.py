"""The condition sheet: one listening, judged and put into words, charts and tables, as a page and as print."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Final

from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.pass_judgement import judge_pass, judged_listening_json
from strikeline.reports.content import SheetContent
from strikeline.reports.damper_sheet import damper_parts
from strikeline.reports.document import render_sheet_pdf
from strikeline.reports.frame import SheetParts, framed
from strikeline.reports.json_text import json_text
from strikeline.reports.page import render_sheet_html
from strikeline.reports.pass_sheet import pass_parts
from strikeline.reports.pluck_sheet import pluck_parts

__all__ = ["render_sheet_html", "render_sheet_pdf", "sheet_content"]

_OTHER_PARTS: Final[dict[Kind, Callable[[Listening], SheetParts]]] = {
    Kind.STACCATO: damper_parts,
    Kind.PLUCKS: pluck_parts,
}


def sheet_content(listening: Listening, *, title: str | None, made_on: date) -> SheetContent:
    """Judge a listening and put it into the words, charts and tables of a condition sheet.

    Parameters
    ----------
    listening : Listening
        Any number of notes, down to none.
    title : str or None
        What instrument or recording this is, as the user wrote it; any characters, shortened beyond 200.
    made_on : date
        Day that is printed on the sheet.

    Returns
    -------
    SheetContent
        What `render_sheet_html` and `render_sheet_pdf` set.
    """
    judgement = judge_pass(listening)
    other_parts = _OTHER_PARTS.get(listening.recording.kind)
    parts = pass_parts(listening, judgement) if other_parts is None else other_parts(listening)
    attached = json_text(judged_listening_json(listening, judgement))
    return framed(parts, title=title, made_on=made_on, attached_json=attached)
