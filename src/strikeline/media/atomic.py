"""Write a file whole or not at all: an old file is replaced only by a complete new one."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from strikeline.media.failures import error_in_words


def write_atomically(path: Path, data: bytes | Callable[[BinaryIO], None]) -> None:
    """Write `data` to `path` so that no failure leaves half a file there.

    The bytes go to a new file beside the target, are forced to the disk, and only then take the target's name. A full
    disk, a lost power supply or Ctrl-C leave the old file as it was. A target that is no ordinary file (a pipe,
    ``/dev/stdout``) is written to directly; a symbolic link keeps pointing where it did and the file behind it is
    replaced.

    Parameters
    ----------
    path : Path
        Target; its folder must exist.
    data : bytes or callable
        The content, or a function that writes it to the binary file it is given, which can seek unless the target is
        no ordinary file.

    Raises
    ------
    NotFoundError
        If the folder does not exist.
    StoreError
        If writing fails: disk full, no permission, read-only medium. The old file is untouched.
    """
    try:
        target = Path(path).resolve()
        if target.exists() and not target.is_file() and not target.is_dir():
            with target.open("wb") as file:
                _fill(file, data)
            return
        _write_beside(target, data)
    except OSError as error:
        raise error_in_words(error, Path(path), doing="write") from error


def _write_beside(target: Path, data: bytes | Callable[[BinaryIO], None]) -> None:
    """Write a new file in the target's folder and let it take the target's name."""
    if target.is_dir():
        raise IsADirectoryError(21, "is a folder", str(target))
    part = target.with_name(f".{target.name[:200]}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            _fill(file, data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            part.chmod(target.stat().st_mode & 0o7777)
        part.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def _fill(file: BinaryIO, data: bytes | Callable[[BinaryIO], None]) -> None:
    if callable(data):
        data(file)
    else:
        file.write(data)


def sync_folder(folder: Path) -> None:
    """Force the new name to the disk too; systems that cannot open a folder do without."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
