"""What the operating system says when reading or writing fails, as sentences with a way out."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Final

from strikeline.errors import NotFoundError, StoreError, StrikelineError

_REASONS: Final = {
    errno.EACCES: "permission is denied; change the rights of the file or folder, or choose another place",
    errno.EPERM: "permission is denied; change the rights of the file or folder, or choose another place",
    errno.EROFS: "the medium is read-only; choose another place",
    errno.EISDIR: "it is a folder; name a file",
    errno.ENOTDIR: "a part of the path is a file, not a folder; check the path",
    errno.EEXIST: "it is a file, not a folder; name a folder, or choose another place",
    errno.ENOSPC: "the disk is full; free some space and try again",
    errno.EDQUOT: "the disk quota is used up; free some space and try again",
    errno.EFBIG: "the file grows too large for this medium; choose another place",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
    errno.EIO: "the medium does not answer properly; copy the file elsewhere and check the medium",
}


def error_in_words(error: OSError, path: Path, *, doing: str) -> StrikelineError:
    """Return the strikeline error for a failed read or write.

    Parameters
    ----------
    error : OSError
        What Python raised.
    path : Path
        The file it was about.
    doing : str
        ``"read"`` or ``"write"``.

    Returns
    -------
    StrikelineError
        `NotFoundError` if the file or its folder does not exist, else `StoreError`; to be raised ``from`` the cause.
    """
    if error.errno == errno.ENOENT:
        if doing == "write":
            return NotFoundError(f"cannot write {path}: the folder {path.parent} does not exist; make it first")
        return NotFoundError(f"cannot read {path}: there is no such file; check the name and the folder")
    reason = _REASONS.get(error.errno or 0, f"the system says: {error.strerror or error}")
    return StoreError(f"cannot {doing} {path}: {reason}")
