"""The revision of a database: brought up to date when it is opened, refused when it is newer than this program."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect

from strikeline.errors import StoreError

_MIGRATIONS: Final = Path(__file__).parent / "migrations"


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    return config


def newest_revision() -> str:
    """Return the revision that this program writes."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None  # noqa: S101  # the first migration is part of the package
    return head


def revision_of(connection: Connection) -> str | None:
    """Return the revision of a database, ``None`` if it is empty.

    Raises
    ------
    StoreError
        If it was written by a newer program, or is no database of strikeline.
    """
    heads = MigrationContext.configure(connection).get_current_heads()
    if not heads:
        if tables := inspect(connection).get_table_names():
            raise StoreError(
                f"the database holds {len(tables)} tables of something else (such as {sorted(tables)[0]}); "
                "give strikeline a folder or a database of its own"
            )
        return None
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    if unknown := set(heads) - known:
        raise StoreError(
            f"the database was written by a newer strikeline (revision {', '.join(sorted(unknown))}, this one knows up "
            f"to {newest_revision()}); nothing was changed. Install the newer strikeline, or restore a backup that "
            "this one made"
        )
    return heads[0]


def migrate(connection: Connection, *, to: str = "head") -> None:
    """Bring a database forward inside the caller's transaction.

    Parameters
    ----------
    connection : Connection
        On SQLite with foreign keys off, since a table is altered there by copying it, which would delete what refers
        to it.
    to : str
        The revision wanted, the newest if left out.

    Raises
    ------
    StoreError
        If rows refer to rows that are not there afterwards.
    """
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, to)
    if connection.dialect.name == "sqlite" and connection.exec_driver_sql("PRAGMA foreign_key_check").first():
        raise StoreError("the database could not be brought up to date: rows refer to rows that are not there")
