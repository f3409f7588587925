"""Text that people typed or exported: tables from a spreadsheet, in the codings that spreadsheets write."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from strikeline.errors import StoreError
from strikeline.media.failures import error_in_words

_MOST_BYTES: Final = 10_000_000
"""A table of a piano has a few thousand; more is another kind of file."""


def read_text(path: Path) -> str:
    """Return the text of a file, or of standard input for ``-``.

    UTF-8 with or without a mark, UTF-16 with a mark, else the Western code page 1252 of older spreadsheets.

    Parameters
    ----------
    path : Path
        File, or ``-``.

    Raises
    ------
    NotFoundError, StoreError
        If it cannot be read, or is no text.
    """
    try:
        data = sys.stdin.buffer.read() if str(path) == "-" else _bytes_of(Path(path))
    except OSError as error:
        raise error_in_words(error, Path(path), doing="read") from error
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    if b"\0" in data:
        raise StoreError(f"{path}: this is no text; save the table as CSV")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _bytes_of(path: Path) -> bytes:
    with path.open("rb") as file:
        data = file.read(_MOST_BYTES + 1)
    if len(data) > _MOST_BYTES:
        raise StoreError(f"{path}: more than {_MOST_BYTES // 1_000_000} MB; this is no table of a piano")
    return data
