"""Results as sheets: a page, a print, and the numbers beside them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from threadpoolctl import threadpool_limits

from strikeline.acoustics.listening import Listening
from strikeline.media.atomic import write_atomically

if TYPE_CHECKING:
    from strikeline.acoustics.comparison_result import Comparison
    from strikeline.reports.content import SheetContent


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFiles:
    """Where a condition sheet is, and what it says first."""

    html: Path
    pdf: Path
    json: Path
    in_short: tuple[str, ...]
    """The sentences that head it."""
    warnings: tuple[str, ...]
    """What it says of the recording itself."""


def make_sheet(listening: Listening, *, out_dir: Path, title: str | None) -> SheetFiles:
    """Write the condition sheet of a listening as ``sheet.html``, ``sheet.pdf`` and ``listening.json``.

    Parameters
    ----------
    listening : Listening
        From `listen`.
    out_dir : Path
        Folder, which must exist. Older files of these names are replaced, each only by a whole new one.
    title : str or None
        Heading: which piano or recording this is.

    Returns
    -------
    SheetFiles
        Where they are.

    Raises
    ------
    NotFoundError, StoreError
        If writing fails.
    """
    from strikeline.reports.sheet import sheet_content

    with threadpool_limits(limits=1, user_api="blas"):  # as in judge_pass
        content = sheet_content(listening, title=title, made_on=_today())
    return _write_sheet(content, out_dir / "sheet")


def make_comparison_sheet(comparison: Comparison, *, out_dir: Path, title: str | None) -> SheetFiles:
    """Write the sheet of a comparison as ``comparison.html``, ``comparison.pdf`` and ``comparison.json``.

    Parameters
    ----------
    comparison : Comparison
        From `compare`.
    out_dir : Path
        Folder, which must exist. Older files of these names are replaced, each only by a whole new one.
    title : str or None
        Heading: which piano this is.

    Returns
    -------
    SheetFiles
        Where they are.

    Raises
    ------
    NotFoundError, StoreError
        If writing fails.
    """
    from strikeline.reports.comparison import comparison_content

    return _write_sheet(comparison_content(comparison, title=title, made_on=_today()), out_dir / "comparison")


def _today() -> date:
    return datetime.now(tz=UTC).astimezone().date()


def _write_sheet(content: SheetContent, stem: Path) -> SheetFiles:
    """Write a sheet as page and print, and the result that is attached to it beside them."""
    from strikeline.reports.document import render_sheet_pdf
    from strikeline.reports.page import render_sheet_html

    # All is made before anything is written: an older sheet and its numbers stay together if one of them fails.
    html, pdf = render_sheet_html(content).encode(), render_sheet_pdf(content)
    files = SheetFiles(
        html=stem.with_suffix(".html"),
        pdf=stem.with_suffix(".pdf"),
        json=stem.with_name(content.attached_name),
        in_short=content.in_short,
        warnings=content.warnings,
    )
    write_atomically(files.json, f"{content.listening_json}\n".encode())
    write_atomically(files.html, html)
    write_atomically(files.pdf, pdf)
    return files
