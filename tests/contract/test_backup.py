"""The whole record as one file, and back: on the same kind of database and on the other."""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from tests.workshop_records import MORNING, OWNER, PIANO, WALK, Fresh, dip, sound, stated, ticking_hand

from strikeline.bootstrap.records import Records, back_up, open_records, restore
from strikeline.domain.evidence import Event, RecordedSound
from strikeline.domain.instrument import Kept
from strikeline.errors import ConflictError, NotFoundError, StoreError
from strikeline.store.tables import Table
from strikeline.workshop import evidence as taking
from strikeline.workshop import records as keeping
from strikeline.workshop.ports import Version

SOUND = b"RIFF" + bytes(range(256)) * 5000


def _fill(records: Records) -> Event:
    for record in (OWNER, PIANO, WALK):
        keeping.start(record, store=records.database, author="office", at=MORNING)
    hand = ticking_hand()
    (first,) = taking.state(WALK.id, [dip(10.1 / 3)], store=records.database, hand=hand)
    taking.change(first, dip(9.0), reason="again ♭", store=records.database, hand=hand)
    return taking.take_in(
        WALK.id, BytesIO(SOUND), store=records.database, shelf=records.shelf, hand=hand, describe=sound
    )


def _everything(records: Records) -> tuple[list[tuple[Event, ...]], list[tuple[Version, ...]], list[bytes]]:
    ids: list[Kept] = [OWNER, PIANO, WALK]
    with records.database.reading() as work:
        files = [records.shelf.path_of(file.sha256).read_bytes() for file in work.files()]
    return (
        [taking.events_of(WALK.id, store=records.database)],
        [keeping.versions_of(record.id, store=records.database) for record in ids],
        files,
    )


@pytest.fixture
def filled(records: Records) -> Records:
    _fill(records)
    return records


def test_a_restored_record_is_the_one_that_was_backed_up(filled: Records, fresh: Fresh, place: Path) -> None:
    backup = place / "workshop.zip"
    content = back_up(filled, backup)
    assert (content.n_files, content.n_bytes) == (1, len(SOUND))
    assert content.n_rows["event"] == 3
    before = _everything(filled)
    assert before[2] == [SOUND]
    folder, environment = fresh("elsewhere")
    assert restore(backup, folder, environment=environment) == content
    with open_records(folder, environment=environment) as restored:
        assert _everything(restored) == before
        (line,) = keeping.instruments(store=restored.database)
        assert (line.instrument, line.owner, line.assessments) == (PIANO, OWNER, (WALK,))


def test_a_backup_of_either_database_is_restored_into_sqlite(filled: Records, place: Path) -> None:
    backup = place / "workshop.zip"
    back_up(filled, backup)
    restore(backup, place / "elsewhere", environment={})
    with open_records(place / "elsewhere", environment={}) as restored:
        assert _everything(restored) == _everything(filled)


def test_every_table_is_filled_here_so_that_none_is_forgotten(filled: Records, place: Path) -> None:
    content = back_up(filled, place / "workshop.zip")
    assert set(content.n_rows) == set(Table.metadata.tables)
    assert all(content.n_rows.values())


def test_a_backup_is_not_restored_over_a_record(filled: Records, fresh: Fresh, place: Path) -> None:
    backup = place / "workshop.zip"
    back_up(filled, backup)
    folder, environment = fresh("elsewhere")
    restore(backup, folder, environment=environment)
    with pytest.raises(ConflictError, match="already"):
        restore(backup, folder, environment=environment)
    with open_records(folder, environment=environment) as there:
        assert _everything(there) == _everything(filled)


def test_a_backup_that_was_damaged_or_cut_is_refused_before_anything_is_written(
    filled: Records, fresh: Fresh, place: Path
) -> None:
    backup = place / "workshop.zip"
    back_up(filled, backup)
    whole = backup.read_bytes()
    middle = whole.index(SOUND[4:400]) + 100_000
    damaged = {
        "flipped": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
        "cut": whole[: len(whole) // 2],
        "empty": b"",
    }
    for name, content in damaged.items():
        backup.write_bytes(content)
        folder, environment = fresh(name)
        with pytest.raises(StoreError, match=r"damaged|no whole backup"):
            restore(backup, folder, environment=environment)
        assert not folder.exists()


def test_another_archive_is_no_backup(place: Path) -> None:
    other = place / "holiday.zip"
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("beach.txt", "sun")
    with pytest.raises(StoreError, match="no whole backup"):
        restore(other, place / "records", environment={})
    with pytest.raises(StoreError, match="no whole backup"):
        restore(place / "nowhere.zip", place / "records", environment={})


def test_a_record_with_a_missing_recording_is_not_backed_up_silently(filled: Records, place: Path) -> None:
    older = place / "workshop.zip"
    back_up(filled, older)
    kept = older.read_bytes()
    evidence = taking.events_of(WALK.id, store=filled.database)[-1].evidence
    assert isinstance(evidence, RecordedSound)
    filled.shelf.path_of(evidence.sha256).unlink()
    with pytest.raises(NotFoundError, match="restore it from a backup"):
        back_up(filled, older)
    assert older.read_bytes() == kept


def test_a_backup_is_of_one_moment_and_holds_nothing_half_written(filled: Records, place: Path) -> None:
    before = _everything(filled)
    with filled.database.work() as work:
        work.add_events([stated(9999)])
        back_up(filled, place / "workshop.zip")
        work.commit()
    restore(place / "workshop.zip", place / "elsewhere", environment={})
    with open_records(place / "elsewhere", environment={}) as restored:
        assert _everything(restored) == before
