"""Files that only tests need, fetched by the registries' own clients into a cache outside the repository.

Where a registry cannot be reached the test that needs a file is skipped, and says so. Under continuous integration
(``CI=true``) it fails instead: there, a green run must have used the real thing.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import pytest

CACHE: Final = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "strikeline" / "recordings"


@dataclass(frozen=True)
class Package:
    """One package at one version, with the hash of its file as first fetched."""

    file_name: str
    sha256: str
    command: tuple[str, ...]

    @classmethod
    def from_pypi(cls, requirement: str, *, file_name: str, sha256: str) -> Package:
        """Return a package that pip downloads."""
        return cls(file_name, sha256, (sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", requirement))

    @classmethod
    def from_npm(cls, name: str, *, file_name: str, sha256: str) -> Package:
        """Return a package that npm packs."""
        return cls(file_name, sha256, ("npm", "pack", "--silent", name))


class PackageMissingError(Exception):
    """A package could not be fetched."""


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def _one_at_a_time(name: str) -> Iterator[None]:
    """Hold a lock between the processes of a parallel test run."""
    CACHE.mkdir(parents=True, exist_ok=True)
    with (CACHE / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _fetch(package: Package) -> Path:
    """Return the package's file, from the cache or fetched by its registry's own client."""
    path = CACHE / package.file_name
    with _one_at_a_time(package.file_name):
        if not path.exists():
            if shutil.which(package.command[0]) is None:
                raise PackageMissingError(f"{package.command[0]} is not installed, {package.file_name} needs it")
            incoming = CACHE / f"incoming-{package.file_name}"
            incoming.mkdir(exist_ok=True)
            done = subprocess.run(
                package.command, cwd=incoming, capture_output=True, text=True, timeout=600, check=False
            )
            arrived = incoming / package.file_name
            if done.returncode != 0 or not arrived.exists():
                last_words = (done.stderr.strip().splitlines() or ["nothing was said"])[-1]
                raise PackageMissingError(f"cannot fetch {package.file_name}: {last_words}")
            arrived.replace(path)
            incoming.rmdir()
    return path


@lru_cache(maxsize=8)
def _checked(package: Package) -> Path:
    path = _fetch(package)
    if _hash(path) != package.sha256:
        raise PackageMissingError(f"{path.name} in the cache is not the file these tests were written for; delete it")
    return path


def need(package: Package) -> Path:
    """Return the package's file, or skip the test; under CI fail it."""
    try:
        return _checked(package)
    except PackageMissingError as missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"CI must have it: {missing}")
        pytest.skip(f"not here: {missing}")
