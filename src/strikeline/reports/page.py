"""The condition sheet as one page that needs nothing else: fonts and pictures are inside it."""

from __future__ import annotations

import base64
from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from strikeline.reports import ink
from strikeline.reports.content import SheetContent

_FACES: Final = (
    (ink.TEXT_FONT, "400", "normal", "StrikelineText-Regular.woff2"),
    (ink.TEXT_FONT, "400", "italic", "StrikelineText-Italic.woff2"),
    (ink.TEXT_FONT, "600", "normal", "StrikelineText-SemiBold.woff2"),
    (ink.SYMBOL_FONT, "400", "normal", "DejaVuSans-subset.woff2"),
)


def render_sheet_html(content: SheetContent) -> str:
    """Return the sheet as one self-contained HTML page.

    Parameters
    ----------
    content : SheetContent
        From `strikeline.reports.sheet.sheet_content`.

    Returns
    -------
    str
        HTML without any link to elsewhere: it opens from a file, offline, and looks the same on every machine.
    """
    pictures = {chart.name: Markup(chart.svg) for chart in content.charts if chart.svg}  # noqa: S704  (our own SVG, its
    # text is escaped by vl-convert and by charts.render_svg)
    template = _environment().get_template("sheet.html.jinja")
    return template.render(sheet=content, pictures=pictures, fonts=_fonts(), ink=ink)


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("strikeline.reports"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _fonts() -> tuple[dict[str, str], ...]:
    folder = files("strikeline.reports") / "fonts"
    return tuple(
        {
            "family": family,
            "weight": weight,
            "style": style,
            "base64": base64.b64encode((folder / name).read_bytes()).decode("ascii"),
        }
        for family, weight, style, name in _FACES
    )


def font_faces_css() -> str:
    """Return the style rules that carry the faces of the ledger inside a page."""
    return "\n".join(
        f'@font-face{{font-family:"{face["family"]}";font-weight:{face["weight"]};font-style:{face["style"]};'
        f'src:url(data:font/woff2;base64,{face["base64"]}) format("woff2")}}'
        for face in _fonts()
    )
