from __future__ import annotations

from dataclasses import replace
from datetime import timedelta, timezone
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from tests.workshop_records import MORNING, OWNER, PIANO, WALK, Fresh

from strikeline.bootstrap.records import Records, open_records
from strikeline.domain.instrument import Assessment, Instrument, Kept, Owner
from strikeline.errors import ConflictError, InputError, NotFoundError, StoreError
from strikeline.store import database
from strikeline.workshop import records as keeping

BARE = Instrument(id=UUID(int=20), name="Only a name")


def _start(records: Records, *kept: Kept) -> None:
    for record in kept:
        keeping.start(record, store=records.database, author="office", at=MORNING)


def test_records_are_read_back_the_same_after_the_program_was_closed(fresh: Fresh) -> None:
    folder, environment = fresh("records")
    with open_records(folder, environment=environment) as first:
        _start(first, OWNER, PIANO, WALK, BARE)
    with open_records(folder, environment=environment) as second:
        bare, line = keeping.instruments(store=second.database)
        assert (line.instrument, line.owner, line.assessments) == (PIANO, OWNER, (WALK,))
        assert (bare.instrument, bare.owner, bare.assessments) == (BARE, None, ())
        for record in (OWNER, PIANO, WALK, BARE):
            (version,) = keeping.versions_of(record.id, store=second.database)
            assert (version.record, version.number, version.author, version.at) == (record, 1, "office", MORNING)


def test_a_moment_keeps_its_microseconds_and_comes_back_in_utc(records: Records) -> None:
    abroad = replace(WALK, begun_at=MORNING.astimezone(timezone(timedelta(hours=5, minutes=45))))
    _start(records, OWNER, PIANO, abroad)
    (line,) = keeping.instruments(store=records.database)
    assert line.assessments[0].begun_at.isoformat() == "2026-11-25T08:30:00.123456+00:00"
    with pytest.raises(InputError, match="time zone"):
        replace(WALK, begun_at=MORNING.replace(tzinfo=None))


def test_assessments_come_in_the_order_of_their_beginning(records: Records) -> None:
    walks = [replace(WALK, id=uuid4(), begun_at=MORNING + timedelta(days=day)) for day in (3, 1, 2)]
    _start(records, OWNER, PIANO, *walks)
    (line,) = keeping.instruments(store=records.database)
    assert list(line.assessments) == sorted(walks, key=lambda one: one.begun_at)


def test_a_correction_keeps_the_former_wording_with_who_when_and_why(records: Records) -> None:
    _start(records, OWNER, PIANO)
    dated = replace(PIANO, year=1926, size_mm=None)
    later = MORNING + timedelta(days=1)
    keeping.correct(dated, store=records.database, author="B. Bench", reason="serial list", replaces=1, at=later)
    (line,) = keeping.instruments(store=records.database)
    assert line.instrument == dated
    former, latest = keeping.versions_of(PIANO.id, store=records.database)
    assert (former.record, former.author, former.reason) == (PIANO, "office", "")
    assert (latest.record, latest.author, latest.reason, latest.at) == (dated, "B. Bench", "serial list", later)


def test_two_corrections_of_the_same_version_are_not_both_taken(records: Records) -> None:
    _start(records, OWNER)
    renamed, moved = replace(OWNER, name="A. Other"), replace(OWNER, contact="elsewhere")
    keeping.correct(renamed, store=records.database, author="one", reason="married", replaces=1)
    with pytest.raises(ConflictError, match="version 2 is kept, yours was made from version 1"):
        keeping.correct(moved, store=records.database, author="two", reason="moved", replaces=1)
    assert [version.record for version in keeping.versions_of(OWNER.id, store=records.database)] == [OWNER, renamed]


def test_the_same_record_sent_twice_is_kept_once(records: Records) -> None:
    renamed = replace(OWNER, name="A. Other")
    for _ in range(2):
        _start(records, OWNER)
    for _ in range(2):
        keeping.correct(renamed, store=records.database, author="one", reason="married", replaces=1)
    assert len(keeping.versions_of(OWNER.id, store=records.database)) == 2


def test_another_record_under_an_id_that_is_taken_is_refused(records: Records) -> None:
    _start(records, OWNER)
    with pytest.raises(ConflictError, match="owner"):
        _start(records, replace(OWNER, name="Someone else"))
    (version,) = keeping.versions_of(OWNER.id, store=records.database)
    assert version.record == OWNER


def test_an_owners_id_cannot_become_that_of_a_piano(records: Records) -> None:
    _start(records, OWNER)
    with pytest.raises(ConflictError):
        _start(records, replace(BARE, id=OWNER.id))
    assert keeping.instruments(store=records.database) == ()


@pytest.mark.parametrize("orphan", [PIANO, WALK], ids=["a piano without its owner", "a walk without its piano"])
def test_what_belongs_to_nothing_kept_is_refused(records: Records, orphan: Instrument | Assessment) -> None:
    with pytest.raises(NotFoundError, match=r"there is no (owner|instrument)"):
        _start(records, orphan)
    with pytest.raises(NotFoundError):
        keeping.versions_of(orphan.id, store=records.database)


def test_a_correction_of_what_is_not_kept_is_refused(records: Records) -> None:
    with pytest.raises(NotFoundError, match="no record"):
        keeping.correct(OWNER, store=records.database, author="one", reason="why not", replaces=1)


def test_a_correction_without_a_reason_or_an_author_is_refused(records: Records) -> None:
    _start(records, OWNER)
    with pytest.raises(InputError, match="reason"):
        keeping.correct(OWNER, store=records.database, author="one", reason=" ", replaces=1)
    with pytest.raises(InputError, match="author"):
        keeping.start(BARE, store=records.database, author="")


def test_what_a_unit_of_work_does_not_commit_is_undone(records: Records) -> None:
    with records.database.work() as work:
        work.save(OWNER, author="one", at=MORNING, reason="", replaces=0)
        assert work.owners() == (OWNER,)
    with records.database.work() as work:
        work.save(OWNER, author="one", at=MORNING, reason="", replaces=0)
        with pytest.raises(ConflictError):
            work.save(replace(OWNER, name="A. Other"), author="one", at=MORNING, reason="", replaces=0)
    with records.database.reading() as work:
        assert work.owners() == ()


def test_who_reads_does_not_wait_for_who_writes_and_sees_nothing_half_written(fresh: Fresh) -> None:
    folder, environment = fresh("records")
    with open_records(folder, environment=environment) as records, records.database.work() as work:
        work.save(OWNER, author="one", at=MORNING, reason="", replaces=0)
        with open_records(folder, environment=environment) as other, other.database.reading() as reading:
            assert reading.owners() == ()
            work.commit()
            assert reading.owners() == ()
        assert len(keeping.versions_of(OWNER.id, store=records.database)) == 1


def test_a_reading_cannot_write(records: Records) -> None:
    with pytest.raises(StoreError, match=r"read-?only"), records.database.reading() as work:
        work.save(OWNER, author="one", at=MORNING, reason="", replaces=0)
    _start(records, OWNER)


def test_who_has_waited_too_long_for_another_writer_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "_WAIT_MS", 50)
    with open_records(tmp_path, environment={}) as records, records.database.work() as work:
        work.save(OWNER, author="one", at=MORNING, reason="", replaces=0)
        with pytest.raises(StoreError, match="someone else has been writing"):
            _start(records, BARE)


def test_text_that_no_database_can_keep_is_refused_before_it_gets_there() -> None:
    for bad in ("null \0 here", "half \ud83c letter"):
        with pytest.raises(InputError, match="name of the owner"):
            Owner(id=UUID(int=9), name=bad)
    assert Owner(id=UUID(int=9), name="Ünal 🎹 ♭").name == "Ünal 🎹 ♭"
