"""Recordings and photographs kept in a folder under the hash of their content: each once, never altered."""

from __future__ import annotations

import hashlib
import os
import secrets
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Final

from strikeline.domain.checks import checked_sha256
from strikeline.errors import NotFoundError, StoreError
from strikeline.media.atomic import sync_folder
from strikeline.media.failures import error_in_words
from strikeline.workshop.ports import KeptFile

_BLOCK: Final = 1 << 20
_STALE_S: Final = 86_400.0


class Shelf:
    """A folder of kept files, ``ab/cd/<sha256>``.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._sweep()
        except OSError as error:
            raise error_in_words(error, folder, doing="write") from error

    def keep(self, source: Path | BinaryIO) -> KeptFile:
        """Copy a file onto the shelf, whole or not at all.

        Parameters
        ----------
        source : Path or binary file
            What is kept; it is read in blocks, never held whole in memory.

        Returns
        -------
        KeptFile
            Its hash and size. Content that is on the shelf already is left as it is, unless it is damaged: then the
            fresh copy takes its place.

        Raises
        ------
        NotFoundError, StoreError
            If it cannot be read or the disk is full; nothing is left on the shelf then.
        """
        if not isinstance(source, Path):
            return self._keep_open(source)
        try:
            with source.open("rb") as file:
                return self._keep_open(file)
        except OSError as error:
            raise error_in_words(error, source, doing="read") from error

    def path_of(self, sha256: str) -> Path:
        """Return where a kept file is, after its content has been checked.

        Parameters
        ----------
        sha256 : str
            Hash of the content.

        Raises
        ------
        InputError
            If it is no hash.
        NotFoundError
            If nothing is kept under it.
        StoreError
            If the content is no longer what was kept.
        """
        path = self._place(checked_sha256("sha256", sha256))
        if not path.is_file():
            raise NotFoundError(f"no file is kept under {sha256}; restore it from a backup into {self.folder}")
        if _hash_of(path) != sha256:
            raise StoreError(f"{path} is damaged: its content is not what was kept; restore it from a backup")
        return path

    def hashes(self) -> Iterator[str]:
        """Return the hashes of all files on the shelf, in no order."""
        for path in self.folder.glob("??/??/*"):
            if not path.name.startswith("."):
                yield path.name

    def _place(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256[2:4] / sha256

    def _sweep(self) -> None:
        """Remove what a killed process left half written; younger files may be somebody's at this moment."""
        for part in self.folder.glob(".*.part"):
            if time.time() - part.stat().st_mtime > _STALE_S:
                part.unlink(missing_ok=True)

    def _keep_open(self, source: BinaryIO) -> KeptFile:
        part = self.folder / f".{secrets.token_hex(8)}.part"
        try:
            digest, n_bytes = hashlib.sha256(), 0
            with part.open("xb") as file:
                while block := source.read(_BLOCK):
                    digest.update(block)
                    file.write(block)
                    n_bytes += len(block)
                file.flush()
                os.fsync(file.fileno())
            kept = KeptFile(sha256=digest.hexdigest(), n_bytes=n_bytes)
            self._take_place(part, kept.sha256)
        except OSError as error:
            raise error_in_words(error, self.folder, doing="write") from error
        finally:
            part.unlink(missing_ok=True)
        return kept

    def _take_place(self, part: Path, sha256: str) -> None:
        place = self._place(sha256)
        if place.is_file() and _hash_of(place) == sha256:
            return
        place.parent.mkdir(parents=True, exist_ok=True)
        part.chmod(0o444)
        part.replace(place)
        for folder in (place.parent, place.parent.parent, self.folder):
            sync_folder(folder)


def _hash_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise error_in_words(error, path, doing="read") from error
