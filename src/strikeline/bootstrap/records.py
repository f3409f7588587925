"""The workshop's record in a data folder, opened: the database, and the shelf of files beside it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final, Self

from strikeline.errors import ConflictError, StoreError
from strikeline.media.atomic import write_atomically
from strikeline.media.shelf import Shelf
from strikeline.store import backup
from strikeline.store.backup import BackupContent
from strikeline.store.database import Database, open_database, sqlite_url
from strikeline.store.shares import share_under

DATABASE_URL: Final = "STRIKELINE_DATABASE_URL"
"""Environment variable with the URL of a PostgreSQL database; without it the record is a SQLite file in the folder."""
_FILE: Final = "records.sqlite3"
_MEDIA: Final = "media"


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """An open record: hand `database` and `shelf` to the functions of `strikeline.workshop.records` and `.evidence`.

    Close it, or use it in a ``with`` statement.
    """

    database: Database
    shelf: Shelf

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_records(folder: Path, *, environment: Mapping[str, str] = os.environ) -> Records:
    """Open the record in a data folder, making what is not there, and bring an older one up to date.

    Parameters
    ----------
    folder : Path
        Data folder, on a disk of this computer: SQLite is damaged on network shares.
    environment : mapping
        Where ``STRIKELINE_DATABASE_URL`` is looked up.

    Returns
    -------
    Records
        The database and the shelf.

    Raises
    ------
    StoreError
        If the folder cannot be made or lies on a share (told on Linux), the database cannot be reached, was written by
        a newer program, or cannot be brought up to date; what was there is as it was.
    """
    shelf = Shelf(folder / _MEDIA)
    url = environment.get(DATABASE_URL, "").strip()
    if not url and (share := share_under(folder)):
        raise StoreError(
            f"{folder} lies on a share ({share}), where SQLite databases get damaged; choose a folder on a disk of "
            f"this computer, or set {DATABASE_URL} to a PostgreSQL database"
        )
    return Records(database=open_database(url or sqlite_url(folder.resolve() / _FILE)), shelf=shelf)


def back_up(records: Records, to: Path) -> BackupContent:
    """Write the whole record to one file, and read it back to make sure of it.

    Parameters
    ----------
    records : Records
        What is backed up, while others may go on writing.
    to : Path
        The file; an older one is replaced only by a whole new one.

    Raises
    ------
    NotFoundError, StoreError
        If a kept file is missing or damaged, or writing fails.
    """

    def fill(file: BinaryIO) -> None:
        backup.write_backup(records.database, records.shelf, file)

    write_atomically(to, fill)
    return backup.check_backup(to)


def restore(source: Path, folder: Path, *, environment: Mapping[str, str] = os.environ) -> BackupContent:
    """Restore a backup into an empty data folder or an empty database.

    Parameters
    ----------
    source : Path
        What `back_up` wrote, from SQLite or PostgreSQL.
    folder : Path
        Data folder.
    environment : mapping
        Where ``STRIKELINE_DATABASE_URL`` is looked up.

    Raises
    ------
    ConflictError
        If there is a record already; nothing is changed then.
    StoreError
        If the backup is damaged or was made by a newer program.
    """
    content = backup.check_backup(source)
    with open_records(folder, environment=environment) as records:
        with records.database.reading() as work:
            if work.instruments() or work.owners():
                raise ConflictError(f"there is a record in {folder} already; restore into an empty folder or database")
        # Files first: a power cut in between leaves files that nobody knows of, never rows without their files.
        backup.restore_files(source, records.shelf)
        backup.restore_rows(source, records.database)
    return content
