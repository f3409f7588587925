from __future__ import annotations

import errno
import hashlib
import os
from io import BytesIO
from pathlib import Path

import pytest

from strikeline.errors import InputError, NotFoundError, StoreError
from strikeline.media.shelf import Shelf

CONTENT = b"sound of a bass string " * 100_000
SHA256 = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "data" / "media")


def _files(shelf: Shelf) -> list[Path]:
    return [path for path in shelf.folder.rglob("*") if path.is_file()]


def test_a_file_is_kept_under_the_hash_of_its_content(shelf: Shelf, tmp_path: Path) -> None:
    source = tmp_path / "take one.wav"
    source.write_bytes(CONTENT)
    kept = shelf.keep(source)
    assert (kept.sha256, kept.n_bytes) == (SHA256, len(CONTENT))
    assert shelf.path_of(SHA256).read_bytes() == CONTENT
    assert list(shelf.hashes()) == [SHA256]
    assert source.read_bytes() == CONTENT


def test_the_same_content_is_kept_once_and_not_written_again(shelf: Shelf) -> None:
    shelf.keep(BytesIO(CONTENT))
    before = shelf.path_of(SHA256).stat()
    shelf.keep(BytesIO(CONTENT))
    after = shelf.path_of(SHA256).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert len(_files(shelf)) == 1


def test_a_kept_file_that_was_damaged_is_refused_and_healed_by_a_fresh_copy(shelf: Shelf) -> None:
    shelf.keep(BytesIO(CONTENT))
    path = shelf.path_of(SHA256)
    path.chmod(0o644)
    path.write_bytes(CONTENT[:-1] + b"!")
    with pytest.raises(StoreError, match="not what was kept"):
        shelf.path_of(SHA256)
    shelf.keep(BytesIO(CONTENT))
    assert shelf.path_of(SHA256).read_bytes() == CONTENT


class _FullDisk(BytesIO):
    def read(self, size: int | None = -1, /) -> bytes:
        if self.tell() > 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().read(size)


def test_a_full_disk_leaves_nothing_on_the_shelf(shelf: Shelf) -> None:
    with pytest.raises(StoreError, match="disk is full"):
        shelf.keep(_FullDisk(CONTENT))
    assert _files(shelf) == []


def test_what_a_killed_process_left_half_written_is_swept_away_a_day_later(shelf: Shelf) -> None:
    shelf.keep(BytesIO(CONTENT))
    old, young = shelf.folder / ".0123.part", shelf.folder / ".4567.part"
    for part in (old, young):
        part.write_bytes(b"half")
    now = young.stat().st_mtime
    os.utime(old, (now - 90_000, now - 90_000))
    again = Shelf(shelf.folder)
    assert not old.exists()
    assert young.exists()
    assert again.path_of(SHA256).read_bytes() == CONTENT


def test_an_empty_file_is_kept_like_any_other(shelf: Shelf) -> None:
    kept = shelf.keep(BytesIO(b""))
    assert kept.n_bytes == 0
    assert shelf.path_of(kept.sha256).read_bytes() == b""


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "A" * 64, "a" * 63, "a" * 64 + "\n"])
def test_what_is_no_hash_never_becomes_a_path(shelf: Shelf, name: str) -> None:
    with pytest.raises(InputError, match="SHA-256"):
        shelf.path_of(name)


def test_what_is_not_kept_is_not_found(shelf: Shelf, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="backup"):
        shelf.path_of("a" * 64)
    with pytest.raises(NotFoundError):
        shelf.keep(tmp_path / "nowhere.wav")


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file")
    with pytest.raises(StoreError, match=r"is a file|not a folder"):
        Shelf(tmp_path / "data" / "media")
