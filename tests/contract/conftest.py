"""The same store on SQLite and on PostgreSQL: a throw-away server of Debian's for one run of the tests."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final
from uuid import uuid4

import psycopg
import pytest
from tests.workshop_records import Fresh

from strikeline.bootstrap.records import DATABASE_URL, Records, open_records

_MEMORY: Final = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108  # private folders inside it
"""Where folders of the tests are made: forcing a file to a busy disk takes longer than all the rest."""


def _program(name: str) -> str | None:
    """Return where a program of the server is; Debian keeps them out of the PATH."""
    return shutil.which(name) or next((str(one) for one in Path("/usr/lib/postgresql").glob(f"*/bin/{name}")), None)


def _as_nobody(folder: Path) -> dict[str, object]:
    """Return how to start the server, which refuses to run as root."""
    if os.getuid() != 0:
        return {}
    user = pwd.getpwnam("nobody")
    os.chown(folder, user.pw_uid, user.pw_gid)
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


def _missing(reason: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(f"CI must test the store on PostgreSQL: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """URL of a server that was started for these tests and listens on a socket in its own folder only."""
    initdb, server = _program("initdb"), _program("postgres")
    if initdb is None or server is None:
        _missing("PostgreSQL is not installed (Debian: apt-get install postgresql)")
        return
    # A socket's path has room for about a hundred letters, which pytest's folders would use up.
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir=_MEMORY))
    try:
        how = _as_nobody(folder)
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": folder, **how}
        made = subprocess.run(  # type: ignore[call-overload]
            [initdb, "-D", folder / "data", "-U", "workshop", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"],
            check=False,
            **quiet,
        )
        if made.returncode != 0:
            _missing("initdb could not make a PostgreSQL cluster here")
        settings = ("listen_addresses=", f"unix_socket_directories={folder}", "fsync=off", "shared_buffers=16MB")
        options = [part for setting in settings for part in ("-c", setting)]
        running = subprocess.Popen([server, "-D", folder / "data", *options], **quiet)  # type: ignore[call-overload]
        try:
            _wait_for(folder, running)
            yield f"postgresql://workshop@/{{database}}?host={folder}"
        finally:
            running.terminate()
            running.wait(timeout=30)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(folder: Path, running: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        try:
            psycopg.connect(f"host={folder} user=workshop dbname=postgres").close()
        except psycopg.OperationalError:
            if running.poll() is not None:
                _missing("the PostgreSQL server ended as soon as it was started")
            with suppress(subprocess.TimeoutExpired):
                running.wait(timeout=0.1)
        else:
            return
    _missing("the PostgreSQL server did not answer within 30 s")


@pytest.fixture
def place() -> Iterator[Path]:
    """An empty folder in memory."""
    with tempfile.TemporaryDirectory(prefix="records-", dir=_MEMORY) as folder:
        yield Path(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh(request: pytest.FixtureRequest, place: Path) -> Fresh:
    """Makes empty places for records, all on the same kind of database."""
    if request.param == "sqlite":
        return lambda name: (place / name, {})
    server: str = request.getfixturevalue("postgresql")

    def make(name: str) -> tuple[Path, dict[str, str]]:
        database = f"t{uuid4().hex}"
        with psycopg.connect(server.format(database="postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {database}".encode())
        return place / name, {DATABASE_URL: server.format(database=database)}

    return make


@pytest.fixture
def records(fresh: Fresh) -> Iterator[Records]:
    """An empty record, open."""
    folder, environment = fresh("records")
    with open_records(folder, environment=environment) as opened:
        yield opened
