"""Tell from a file's structure whether it was cut short, where its container can tell.

A decoder reads a cut file to where it ends and says nothing. RIFF and MP4 announce sizes, Ogg marks its last page, and
MP3 may carry a frame count.

References
----------
.. [1] IBM and Microsoft, "Multimedia Programming Interface and Data Specifications 1.0" (1991): RIFF chunks (layout
   from memory of the document).
.. [2] S. Pfeiffer, "The Ogg Encapsulation Format Version 0", RFC 3533 (2003), section 6: page header, flag 0x04 on the
   last page (from memory of the document).
.. [3] ISO/IEC 14496-12, "ISO base media file format": boxes of a 32-bit size, or 64-bit if that is 1, to the end of the
   file if it is 0 (from memory of the document).
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from typing import BinaryIO, Final

_OPEN_ENDED: Final = 0x7FFF0000
"""Sizes from here on, and 0, are placeholders of recorders that write a stream and never return to the header."""
_OGG_TAIL: Final = 65536 + 512
"""The largest Ogg page is 65307 bytes."""


def find_cut(file: BinaryIO) -> str | None:
    """Return in words how a file was cut short, or ``None`` when it is whole or its container cannot tell.

    Parameters
    ----------
    file : binary file
        Open for reading; its position is not kept.
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    head = file.read(12)
    if head[:4] == b"RIFF":
        return _cut_wav(file)
    if head[:4] == b"OggS":
        return _cut_ogg(file, size)
    if head[4:8] == b"ftyp":
        return _cut_mp4(file, size)
    return None


def wav_length_s(file: BinaryIO) -> tuple[float | None, float] | None:
    """Return how many seconds of sound a WAV file announces and holds, or ``None`` for another or an odd file.

    What is announced is ``None`` when the header was never completed.
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return None
    bytes_per_s = 0
    position = 12
    while position + 8 <= size:
        file.seek(position)
        name, length = struct.unpack("<4sI", file.read(8))
        position += 8
        if name == b"fmt ":
            bytes_per_s = struct.unpack("<8xI", file.read(12).ljust(12, b"\0"))[0]
        if name == b"data" and bytes_per_s:
            there = size - position
            if length == 0 or length >= _OPEN_ENDED:
                return None, there / bytes_per_s
            return length / bytes_per_s, min(length, there) / bytes_per_s
        position += length + length % 2
    return None


def _cut_wav(file: BinaryIO) -> str | None:
    length_s = wav_length_s(file)
    if length_s is None or length_s[0] is None or length_s[1] >= length_s[0]:
        return None
    return f"the file breaks off after {length_s[1]:.1f} s of the {length_s[0]:.1f} s its header announces"


def _cut_ogg(file: BinaryIO, size: int) -> str | None:
    start = max(0, size - _OGG_TAIL)
    file.seek(start)
    tail = file.read()
    at = tail.rfind(b"OggS")
    page = tail[at : at + 27]
    if at < 0 or len(page) < 27:
        return "the file breaks off within its last page"
    table = tail[at + 27 : at + 27 + page[26]]
    is_whole = len(table) == page[26] and at + 27 + page[26] + sum(table) <= len(tail)
    is_last = bool(page[5] & 0x04)
    return None if is_whole and is_last else "the file has no end mark: the copy or the recording was cut short"


def _cut_mp4(file: BinaryIO, size: int) -> str | None:
    for _, end in boxes(file, size):
        if end > size:
            return f"{end - size} bytes are missing at the end of the file: the copy was cut short"
    return None


def boxes(file: BinaryIO, size: int) -> Iterator[tuple[bytes, int]]:
    """Return name and end position of each top-level box of an MP4, MOV or M4A file of `size` bytes."""
    position = 0
    while position + 8 <= size:
        file.seek(position)
        header = file.read(16)
        length, name = struct.unpack(">I4s", header[:8])
        if length == 1 and len(header) == 16:
            length = struct.unpack(">Q", header[8:])[0]
        elif length == 0:
            length = size - position
        if length < 8:
            return
        position += length
        yield name, position


def lacks_index(file: BinaryIO) -> bool:
    """Return whether this is an MP4, MOV or M4A file whose index (``moov``) was never written or is cut off."""
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    if file.read(12)[4:8] not in {b"ftyp", b"wide", b"mdat", b"free", b"skip"}:
        return False
    return not any(name == b"moov" and end <= size for name, end in boxes(file, size))


def announces_mp3_length(file: BinaryIO) -> bool:
    """Return whether an MP3 file carries a count of its frames, so that its stated length can be trusted."""
    file.seek(0)
    head = file.read(10)
    start = 0
    if head[:3] == b"ID3" and len(head) == 10:
        start = 10 + (head[6] << 21 | head[7] << 14 | head[8] << 7 | head[9])
    file.seek(start)
    first_frame = file.read(2048)
    return any(mark in first_frame for mark in (b"Xing", b"Info", b"VBRI"))
