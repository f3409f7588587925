"""One file that holds the whole record: the database as a SQLite file, every recording and photograph, their hashes.

A backup of PostgreSQL holds a SQLite file, too: it is restored into either, and an older one is brought up to date by
the same migrations as any database.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Final, cast

from sqlalchemy import Connection, func, select

from strikeline.errors import ConflictError, StoreError
from strikeline.store.database import Database, copy_sqlite, in_words, open_database, sqlite_url
from strikeline.store.tables import Table
from strikeline.workshop.ports import MediaShelf

_SCHEMA: Final = "strikeline.backup/1"
_DATABASE: Final = "records.sqlite3"
_MANIFEST: Final = "manifest.json"
_BLOCK: Final = 1 << 20
_ROWS: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupContent:
    """What a backup holds."""

    n_rows: Mapping[str, int]
    """Rows of each table."""
    n_files: int
    n_bytes: int
    """Of the recordings and photographs."""


def write_backup(database: Database, shelf: MediaShelf, target: BinaryIO) -> BackupContent:
    """Write the whole record to one file, as of one moment, while others go on writing.

    Parameters
    ----------
    database : Database
        The record.
    shelf : MediaShelf
        Its files; each is checked against its hash on the way.
    target : binary file
        Where to; it can seek.

    Returns
    -------
    BackupContent
        What was written.

    Raises
    ------
    NotFoundError, StoreError
        If a recording or photograph is missing or damaged, or writing fails.
    """
    with tempfile.TemporaryDirectory(prefix="strikeline-") as folder:
        copy = Path(folder) / _DATABASE
        _copy_as_sqlite(database, copy)
        with open_database(sqlite_url(copy)) as copied, copied.reading() as work:
            files = work.files()
            n_rows = _count_rows(copied)
        _leave_wal(copy)
        with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:
            archive.write(copy, _DATABASE)
            for file in files:
                archive.write(shelf.path_of(file.sha256), _member(file.sha256))
            manifest = {
                "schema": _SCHEMA,
                "database_sha256": _hash_of(copy),
                "n_rows": n_rows,
                "media": {file.sha256: file.n_bytes for file in files},
            }
            archive.writestr(_MANIFEST, json.dumps(manifest, indent=1))
    return BackupContent(n_rows=n_rows, n_files=len(files), n_bytes=sum(file.n_bytes for file in files))


def check_backup(source: Path) -> BackupContent:
    """Read a backup to its end and return what it holds, if all of it is there and unharmed.

    Raises
    ------
    StoreError
        If it is no backup, damaged or cut short.
    """
    with _opened(source) as (archive, manifest):
        _check_member(archive, _DATABASE, manifest["database_sha256"])
        for sha256 in manifest["media"]:
            _check_member(archive, _member(sha256), sha256)
        return BackupContent(
            n_rows=manifest["n_rows"], n_files=len(manifest["media"]), n_bytes=sum(manifest["media"].values())
        )


def restore_files(source: Path, shelf: MediaShelf) -> None:
    """Put the recordings and photographs of a checked backup on the shelf; those that are there stay.

    Raises
    ------
    StoreError
        If one is not what it was, or writing fails.
    """
    with _opened(source) as (archive, manifest):
        for sha256 in manifest["media"]:
            with archive.open(_member(sha256)) as member:
                if shelf.keep(cast("BinaryIO", member)).sha256 != sha256:
                    raise StoreError(f"{source} is damaged: {sha256} is not what was kept")


def restore_rows(source: Path, database: Database) -> None:
    """Put the rows of a checked backup into an empty database, all of them or none.

    Parameters
    ----------
    source : Path
        The backup; one of an older revision is brought up to date on the way.
    database : Database
        Where to, SQLite or PostgreSQL.

    Raises
    ------
    ConflictError
        If the database holds something already.
    StoreError
        If the backup was made by a newer program.
    """
    with tempfile.TemporaryDirectory(prefix="strikeline-") as folder:
        copy = Path(folder) / _DATABASE
        with _opened(source) as (archive, _), archive.open(_DATABASE) as member, copy.open("wb") as file:
            shutil.copyfileobj(member, file, _BLOCK)
        with (
            open_database(sqlite_url(copy)) as restored,
            in_words(database.engine.url),
            restored.engine.connect() as from_,
            database.engine.begin() as to,
        ):
            if filled := [table.name for table in Table.metadata.sorted_tables if _count(to, table.name)]:
                raise ConflictError(
                    f"the record is not empty: there are rows under {', '.join(filled)}; restore into an empty folder "
                    "or database"
                )
            _copy_rows(from_, to)


def _copy_as_sqlite(database: Database, target: Path) -> None:
    if database.engine.dialect.name == "sqlite":
        copy_sqlite(Path(database.engine.url.database or ""), target)
        return
    reading = database.engine.execution_options(isolation_level="REPEATABLE READ")
    with (
        open_database(sqlite_url(target)) as copy,
        in_words(database.engine.url),
        reading.connect() as from_,
        copy.engine.begin() as to,
    ):
        _copy_rows(from_, to)


def _copy_rows(from_: Connection, to: Connection) -> None:
    """Copy every table, those that others refer to first."""
    for table in Table.metadata.sorted_tables:
        for rows in from_.execute(select(table)).mappings().partitions(_ROWS):
            to.execute(table.insert(), [dict(row) for row in rows])


def _count_rows(database: Database) -> dict[str, int]:
    with database.engine.connect() as connection:
        return {table.name: _count(connection, table.name) for table in Table.metadata.sorted_tables}


def _count(connection: Connection, name: str) -> int:
    return connection.execute(select(func.count()).select_from(Table.metadata.tables[name])).scalar_one()


def _leave_wal(copy: Path) -> None:
    """Make a SQLite file complete in itself, without a log beside it."""
    alone = copy.with_name("alone.sqlite3")
    copy_sqlite(copy, alone)
    alone.replace(copy)
    for rest in ("-wal", "-shm"):
        copy.with_name(copy.name + rest).unlink(missing_ok=True)


def _member(sha256: str) -> str:
    return f"media/{sha256}"


@contextmanager
def _opened(source: Path) -> Iterator[tuple[zipfile.ZipFile, dict[str, Any]]]:
    try:
        with zipfile.ZipFile(source) as archive:
            manifest = json.loads(archive.read(_MANIFEST))
            if manifest.get("schema") != _SCHEMA:
                raise StoreError(
                    f"{source} is a backup of form {manifest.get('schema')}, this strikeline reads {_SCHEMA}"
                )
            yield archive, manifest
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, EOFError) as error:
        raise StoreError(f"{source} is no whole backup of strikeline: {error}") from error


def _check_member(archive: zipfile.ZipFile, name: str, sha256: str) -> None:
    digest = hashlib.sha256()
    with archive.open(name) as member:
        while block := member.read(_BLOCK):
            digest.update(block)
    if digest.hexdigest() != sha256:
        raise StoreError(f"{archive.filename} is damaged: {name} is not what was kept; use an older backup")


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
