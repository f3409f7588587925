"""What the records of the workshop ask of a word, a moment and a hash before they are kept for ever."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Final

from strikeline.errors import InputError

LONGEST_TEXT: Final = 100_000
"""Characters of one written text: a long diary entry has some thousands."""
_SHA256: Final = re.compile(r"[0-9a-f]{64}")


def checked_text(name: str, text: str, *, is_needed: bool = False) -> str:
    """Return `text` if it can be kept and read back the same on every database.

    Parameters
    ----------
    name : str
        What it is called in the sentence that refuses it.
    text : str
        What was written.
    is_needed : bool
        Whether it must hold more than blanks.

    Raises
    ------
    InputError
        If it is empty though needed, longer than `LONGEST_TEXT`, or has characters that are no text.
    """
    if is_needed and not text.strip():
        raise InputError.of(name, text, "some words")
    if len(text) > LONGEST_TEXT:
        raise InputError(
            f"{name} has {len(text)} characters, expected at most {LONGEST_TEXT}; divide it",
            name=name,
            expected=f"at most {LONGEST_TEXT} characters",
        )
    if "\0" in text or (not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text)):
        raise InputError.of(name, text[:40], "text without null characters and halves of characters")
    return text


def checked_moment(name: str, moment: datetime) -> datetime:
    """Return a moment in UTC.

    Raises
    ------
    InputError
        If it does not say in which time zone it is.
    """
    if moment.utcoffset() is None:
        raise InputError.of(name, moment.isoformat(), "a moment with its time zone")
    return moment.astimezone(UTC)


def checked_sha256(name: str, sha256: str) -> str:
    """Return a SHA-256 in small hexadecimal letters, or refuse what is none."""
    if not _SHA256.fullmatch(sha256):
        raise InputError.of(name, sha256, "a SHA-256 of 64 hexadecimal digits in small letters")
    return sha256
