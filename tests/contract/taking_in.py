"""Takes recordings in until it is killed: run by test_crashes in processes of their own."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

from tests.workshop_records import WALK, sound, ticking_hand

from strikeline.bootstrap.records import open_records
from strikeline.domain.evidence import Note
from strikeline.workshop import evidence as taking

BEFORE = b"complete " * 1000
HALF = b"half " * 1_000_000


def _die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


class _DyingFile(BytesIO):
    """A file whose second block never comes."""

    def read(self, size: int | None = -1, /) -> bytes:
        if self.tell() > 0:
            _die()
        return super().read(size)


class _DyingStore:
    """A store whose process is killed when everything is written but nothing committed."""

    def __init__(self, store: Any, *, before_writing: bool) -> None:
        self._store = store
        self._before_writing = before_writing

    @contextmanager
    def work(self) -> Iterator[Any]:
        if self._before_writing:
            _die()
        with self._store.work() as work:
            work.commit = _die
            yield work


def take_in_until_killed(
    folder: Path, environment: dict[str, str], first_id: int, n_notes: int, where: str = "never"
) -> None:
    """Write some notes, then take a recording in, and die on the way: ``in the file``, ``after the file``, ``before the
    commit``; ``never`` takes in no recording."""
    hand = ticking_hand(f"writer {first_id}", first_id=first_id)
    with open_records(folder, environment=environment) as records:
        for number in range(n_notes):
            taking.state(WALK.id, [Note(text=f"{first_id} {number}")], store=records.database, hand=hand)
        if where == "never":
            return
        store: Any = records.database
        taking.take_in(WALK.id, BytesIO(BEFORE), store=store, shelf=records.shelf, hand=hand, describe=sound)
        source = _DyingFile(HALF) if where == "in the file" else BytesIO(HALF)
        if where != "in the file":
            store = _DyingStore(store, before_writing=where == "after the file")
        taking.take_in(WALK.id, source, store=store, shelf=records.shelf, hand=hand, describe=sound)
