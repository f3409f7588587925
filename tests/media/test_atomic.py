"""Writing whole files or none."""

from __future__ import annotations

import errno
import io
import os
from pathlib import Path
from typing import BinaryIO

import pytest
from tests.media.encoding import decaying_note

from strikeline.errors import NotFoundError, StoreError
from strikeline.media.atomic import write_atomically
from strikeline.media.sound import write_wav


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make the disk full after 1000 bytes of any new file."""
    opens = Path.open

    class Full(io.FileIO):
        def write(self, data: object) -> int:
            if self.tell() + len(data) > 1000:  # type: ignore[arg-type]
                super().write(bytes(memoryview(data)[: 1000 - self.tell()]))  # type: ignore[arg-type]
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return super().write(data)  # type: ignore[arg-type]

    def open_full(self: Path, mode: str = "r", *args: object) -> object:
        return Full(self, "x") if mode == "xb" else opens(self, mode, *args)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", open_full)


def test_a_new_file_takes_the_old_ones_place(tmp_path: Path) -> None:
    path = tmp_path / "result.json"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_atomically(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_content_may_come_from_a_function(tmp_path: Path) -> None:
    def fill(file: BinaryIO) -> None:
        file.write(b"one ")
        file.write(b"two")

    write_atomically(tmp_path / "a", fill)
    assert (tmp_path / "a").read_bytes() == b"one two"


@pytest.mark.usefixtures("full_disk")
def test_a_full_disk_leaves_the_old_file_and_nothing_half_written(tmp_path: Path) -> None:
    path = tmp_path / "result.json"
    path.write_bytes(b"old")
    with pytest.raises(StoreError, match="disk is full"):
        write_atomically(path, b"x" * 5000)
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("full_disk")
def test_a_full_disk_leaves_no_half_a_sound(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="disk is full"):
        write_wav(tmp_path / "a.wav", decaying_note(44100), sample_rate_hz=44100)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fails_at_the_last_moment_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_handle: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    path = tmp_path / "a"
    path.write_bytes(b"old")
    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(StoreError, match="medium does not answer"):
        write_atomically(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_an_interrupt_while_writing_leaves_the_old_file(tmp_path: Path) -> None:
    def interrupted(file: BinaryIO) -> None:
        file.write(b"half")
        raise KeyboardInterrupt

    path = tmp_path / "a"
    path.write_bytes(b"old")
    with pytest.raises(KeyboardInterrupt):
        write_atomically(path, interrupted)
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match=r"folder .*nowhere does not exist"):
        write_atomically(tmp_path / "nowhere" / "a", b"new")


def test_a_folder_in_the_way_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="it is a folder"):
        write_atomically(tmp_path, b"new")


def test_no_permission_is_said_plainly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, *_args: object, **_kwargs: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(self))

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(StoreError, match="permission is denied"):
        write_atomically(tmp_path / "a", b"new")


def test_a_symbolic_link_keeps_pointing_to_the_new_content(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_atomically(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


def test_a_device_is_written_to_directly() -> None:
    write_atomically(Path("/dev/null"), b"gone")
    assert not Path("/dev/null").is_file()
