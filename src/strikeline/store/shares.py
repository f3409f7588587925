"""Whether a folder lies on a share, where SQLite's locks and its log do not hold."""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import Final

_SHARES: Final = frozenset(
    {"9p", "afs", "ceph", "cifs", "davfs", "glusterfs", "lustre", "nfs", "nfs4", "smb3", "smbfs", "vboxsf", "virtiofs"}
    | {"fuse.davfs2", "fuse.glusterfs", "fuse.rclone", "fuse.sshfs", "fuse.vmhgfs-fuse"}
)
"""Names of file systems that several computers or virtual machines share (SQLite, "How To Corrupt An SQLite Database
File", section 2, and "Write-Ahead Logging", on network file systems: from memory)."""
_MOUNTS: Final = Path("/proc/self/mounts")


def share_of(folder: PurePosixPath, mounts: str) -> str | None:
    """Return the kind of share that a folder lies on, ``None`` if it lies on a disk of this computer.

    Parameters
    ----------
    folder : PurePosixPath
        Absolute, without symbolic links.
    mounts : str
        What Linux says under ``/proc/self/mounts``.

    Examples
    --------
    >>> share_of(PurePosixPath("/srv/shop/data"), "nas:/b /srv/shop nfs4 rw 0 0")
    'nfs4'
    """
    depth, kind = -1, ""
    for line in mounts.splitlines():
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        place = PurePosixPath(fields[1].replace(r"\040", " ").replace(r"\011", "\t").replace(r"\134", "\\"))
        if folder.is_relative_to(place) and len(place.parts) >= depth:  # the later of two mounts in one place counts
            depth, kind = len(place.parts), fields[2]
    return kind if kind in _SHARES else None


def share_under(folder: Path) -> str | None:
    """Return the kind of share that a folder lies on; ``None`` also where the system does not say."""
    try:
        mounts = _MOUNTS.read_text("utf-8", "surrogateescape")
    except OSError:
        return None
    return share_of(PurePosixPath(folder.resolve()), mounts)
