"""Charts as files of their own: SVG, PNG or a page, chosen by the suffix; several charts stand below each other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from pathlib import PurePath
from typing import Final

import vl_convert

from strikeline.errors import InputError
from strikeline.reports import ink
from strikeline.reports.charts import render_svg
from strikeline.reports.keyboard_chart import KeyboardChart
from strikeline.reports.page import font_faces_css

_MARGIN_PX: Final = 14
_GAP_PX: Final = 12
_PNG_SCALE: Final = 2.0
"""Pixels of a PNG for each of the drawing, so that its small figures stay readable in print."""
_SIZE: Final = re.compile(r'<svg [^>]*?width="(?P<width>[\d.]+)" height="(?P<height>[\d.]+)"')


def chart_bytes(charts: KeyboardChart | Sequence[KeyboardChart], *, suffix: str, title: str) -> bytes:
    """Return charts as the content of a file.

    Parameters
    ----------
    charts : KeyboardChart or sequence of KeyboardChart
        One or more, each with at least one point and a name of its own.
    suffix : str
        ``".svg"``, ``".png"`` or ``".html"``, in small or capital letters; see `chart_suffix`.
    title : str
        Heading of the page, and name of the picture for those who do not see it.

    Raises
    ------
    InputError
        If the suffix is another, or there is no chart.
    """
    several = (charts,) if isinstance(charts, KeyboardChart) else tuple(charts)
    if not several:
        raise InputError("there is nothing to draw: no value of a chart could be told", name="charts")
    kind = chart_suffix(f"chart{suffix}")
    if kind == ".html":
        return _page(several, title).encode()
    svg = _stacked(several, title)
    return svg.encode() if kind == ".svg" else vl_convert.svg_to_png(svg, scale=_PNG_SCALE)


def chart_suffix(path: PurePath | str) -> str:
    """Return the suffix of a file for charts in small letters, or refuse it before any work is done.

    Raises
    ------
    InputError
        If the suffix is none of those that charts are written in.

    Examples
    --------
    >>> chart_suffix("scale.SVG")
    '.svg'
    """
    suffix = PurePath(path).suffix.lower()
    if suffix in {".svg", ".png", ".html"}:
        return suffix
    advice = "the ending of the name says what is written: a drawing, a picture or a page"
    raise InputError.of("chart", str(path), "a name that ends in .svg, .png or .html", advice=advice)


def _stacked(charts: Sequence[KeyboardChart], title: str) -> str:
    """Return charts below each other as one drawing on paper."""
    pieces, y, width = list[str](), float(_MARGIN_PX), 0.0
    for chart in charts:
        svg = render_svg(chart)
        size = _SIZE.search(svg)
        if size is None:
            raise RuntimeError("the drawing of a chart has no size")
        pieces.append(svg.replace("<svg ", f'<svg x="{_MARGIN_PX}" y="{y:g}" ', 1))
        y += float(size["height"]) + _GAP_PX
        width = max(width, float(size["width"]))
    whole = width + 2 * _MARGIN_PX, y - _GAP_PX + _MARGIN_PX
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="group" '
        f'aria-label="{escape(title)}" width="{whole[0]:g}" height="{whole[1]:g}" '
        f'viewBox="0 0 {whole[0]:g} {whole[1]:g}">'
    )
    paper = f'<rect width="{whole[0]:g}" height="{whole[1]:g}" fill="{ink.PAPER}"/>'
    return "\n".join([head, f"<title>{escape(title)}</title>", paper, *pieces, "</svg>", ""])


def _page(charts: Sequence[KeyboardChart], title: str) -> str:
    """Return charts as a page that needs nothing else, each with its description beneath."""
    figures = "\n".join(
        f"<figure>{render_svg(chart)}<figcaption>{escape(chart.description)}</figcaption></figure>" for chart in charts
    )
    style = (
        f"{font_faces_css()}\n"
        f"html{{background:{ink.PAPER};color:{ink.INK}}}\n"
        f'body{{margin:0 auto;max-width:47rem;padding:2rem 1.25rem;font:1.0625rem/1.5 "{ink.TEXT_FONT}",'
        f'"{ink.SYMBOL_FONT}",Georgia,serif}}\n'
        "h1{font-size:1.6rem;font-weight:600;margin:0 0 1.2rem}\n"
        "figure{margin:0 0 1.4rem;break-inside:avoid;overflow-x:auto}\n"
        "figure svg{display:block;width:100%;min-width:34rem;height:auto}\n"
        f"figcaption{{font-size:.86rem;line-height:1.45;color:{ink.QUIET}}}\n"
    )
    head = (
        f'<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<title>{escape(title)}</title>\n<link rel="icon" href="data:,">\n<style>\n{style}</style>'
    )
    body = f"<h1>{escape(title)}</h1>\n{figures}"
    return f'<!DOCTYPE html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{body}\n</body>\n</html>\n'
