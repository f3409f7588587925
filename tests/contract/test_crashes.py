"""What is left when the process is killed, and when several write at once. Each writer is a process of its own."""

from __future__ import annotations

import hashlib
import multiprocessing
import signal
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Final

import pytest
from tests.contract.taking_in import BEFORE, HALF, take_in_until_killed
from tests.workshop_records import MORNING, OWNER, PIANO, WALK, Fresh

from strikeline.bootstrap.records import open_records
from strikeline.domain.evidence import Note, RecordedSound
from strikeline.workshop import evidence as taking
from strikeline.workshop import records as keeping

# The fork server imports once and then makes a process in no time.
_PROCESSES: Final = multiprocessing.get_context("forkserver")
_PROCESSES.set_forkserver_preload(["tests.contract.taking_in"])


def _writer(folder: Path, environment: dict[str, str], *arguments: int | str) -> BaseProcess:
    process = _PROCESSES.Process(target=take_in_until_killed, args=(folder, environment, *arguments))
    process.start()
    return process


def _begin(folder: Path, environment: dict[str, str]) -> None:
    with open_records(folder, environment=environment) as records:
        for record in (OWNER, PIANO, WALK):
            keeping.start(record, store=records.database, author="office", at=MORNING)


@pytest.mark.parametrize("where", ["in the file", "after the file", "before the commit"])
def test_a_take_in_that_is_killed_leaves_no_half_recording(fresh: Fresh, where: str) -> None:
    folder, environment = fresh("records")
    _begin(folder, environment)
    writer = _writer(folder, environment, 1000, 1, where)
    writer.join(60)
    assert writer.exitcode == -signal.SIGKILL
    with open_records(folder, environment=environment) as records:
        note, recording = (item.evidence for item in taking.present(WALK.id, store=records.database).items)
        assert note == Note(text="1000 0")
        assert isinstance(recording, RecordedSound)
        assert records.shelf.path_of(recording.sha256).read_bytes() == BEFORE
        with records.database.reading() as work:
            assert [file.sha256 for file in work.files()] == [recording.sha256]
        # A file that nobody knows of may have been left, but no half of one.
        half = set[str]() if where == "in the file" else {hashlib.sha256(HALF).hexdigest()}
        assert set(records.shelf.hashes()) == {recording.sha256, *half}
        for sha256 in half:
            assert records.shelf.path_of(sha256).read_bytes() == HALF
        # And the same recording can be taken in again.
        again = records.shelf.keep(_file(folder, HALF))
        assert records.shelf.path_of(again.sha256).read_bytes() == HALF


def _file(folder: Path, content: bytes) -> Path:
    path = folder / "again.wav"
    path.write_bytes(content)
    return path


def test_writers_in_two_processes_lose_nothing(fresh: Fresh) -> None:
    folder, environment = fresh("records")
    _begin(folder, environment)
    writers = [_writer(folder, environment, first_id, 60) for first_id in (1000, 2000)]
    for writer in writers:
        writer.join(120)
        assert writer.exitcode == 0
    with open_records(folder, environment=environment) as records:
        texts = {event.evidence for event in taking.events_of(WALK.id, store=records.database)}
    assert texts == {Note(text=f"{first_id} {number}") for first_id in (1000, 2000) for number in range(60)}


def test_a_record_that_two_processes_open_first_is_made_once(fresh: Fresh) -> None:
    folder, environment = fresh("records")
    writers = [_writer(folder, environment, first_id, 0) for first_id in (1000, 2000)]
    for writer in writers:
        writer.join(120)
        assert writer.exitcode == 0
    _begin(folder, environment)
