from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from uuid import UUID

import pytest
from tests.closeness import assert_close
from tests.workshop_records import (
    MORNING,
    OWNER,
    PIANO,
    WALK,
    changed,
    dip,
    sound,
    stated,
    ticking_hand,
    withdrawn,
)

from strikeline.bootstrap.records import Records
from strikeline.domain.catalogue import the_catalogue
from strikeline.domain.evidence import Evidence, Note, OtherEvidence, RecordedSound
from strikeline.domain.observation import Observation
from strikeline.domain.present import fold
from strikeline.domain.reading import Reading
from strikeline.errors import ConflictError, InputError, NotFoundError, StoreError
from strikeline.measured import Measured
from strikeline.workshop import evidence as taking
from strikeline.workshop import records as keeping
from strikeline.workshop.entry_table import EntryError

TABLE = "note,quantity,value\nA4,key_dip,10.2 mm\nB4,key_dip,9.8\n"


@pytest.fixture
def walk(records: Records) -> Records:
    for record in (OWNER, PIANO, WALK):
        keeping.start(record, store=records.database, author="office", at=MORNING)
    return records


def test_evidence_of_every_kind_is_read_back_the_same(walk: Records) -> None:
    hand = ticking_hand()
    taken = taking.take_in(WALK.id, BytesIO(b"RIFF"), store=walk.database, shelf=walk.shelf, hand=hand, describe=sound)
    photograph = taking.keep_photograph(BytesIO(b"JPEG"), store=walk.database, shelf=walk.shelf, hand=hand)
    seen = OtherEvidence(
        schema="strikeline.marks/1", data={"where": ("lid", 2), "size": 0.1}, photographs=(photograph,)
    )
    observation = Observation(
        kind="soundboard_crack",
        where="between ribs 4 and 5",
        key=None,
        seen=("buzzes",),
        not_seen=(),
        measures={"length_mm": Measured(120.0, 2.0)},
        photographs=(photograph,),
        remark="old glue ♭",
    )
    evidence: list[Evidence] = [
        observation,
        dip(10.1 / 3),
        replace(dip(1e-300), key=None, place="left ♭"),
        Note(text="Smells of moths."),
        seen,
    ]
    told = taking.state(WALK.id, evidence, store=walk.database, hand=hand)
    assert taking.events_of(WALK.id, store=walk.database) == (taken, *told)
    assert [item.evidence for item in taking.present(WALK.id, store=walk.database).items] == [
        taken.evidence,
        *evidence,
    ]


def test_a_table_of_readings_is_kept_whole_or_not_at_all(walk: Records) -> None:
    kept = taking.state_table(WALK.id, TABLE, catalogue=the_catalogue(), store=walk.database, hand=ticking_hand())
    assert [event.evidence.written for event in kept if isinstance(event.evidence, Reading)] == ["10.2 mm", "9.8"]
    with pytest.raises(EntryError):
        taking.state_table(
            WALK.id, f"{TABLE}C5,key_dip,ten\n", catalogue=the_catalogue(), store=walk.database, hand=ticking_hand()
        )
    assert taking.events_of(WALK.id, store=walk.database) == kept


def test_a_changed_reading_keeps_its_former_value_by_whom_when_and_why(walk: Records) -> None:
    first, _ = taking.state_table(
        WALK.id, TABLE, catalogue=the_catalogue(), store=walk.database, hand=ticking_hand("left")
    )
    second = taking.change_reading(
        first,
        "0.4 in",
        reason="the block was off",
        catalogue=the_catalogue(),
        store=walk.database,
        hand=ticking_hand("right", first_id=2000),
    )
    item, _ = taking.present(WALK.id, store=walk.database).items
    assert isinstance(item.evidence, Reading)
    assert item.evidence.written == "0.4 in"
    assert_close(item.evidence.value.value, 10.16, rtol=0, atol=1e-12, why="an inch is 25.4 mm; rounding only")
    assert taking.history_of(second.id, store=walk.database) == (first, second)
    assert (second.author, second.reason) == ("right", "the block was off")
    with pytest.raises(InputError, match="reason"):
        taking.change(second, dip(1.0), reason="", store=walk.database, hand=ticking_hand(first_id=3000))
    with pytest.raises(InputError, match="Reading as before"):
        taking.change(second, Note(text="no"), reason="?", store=walk.database, hand=ticking_hand(first_id=3000))


def test_undo_brings_back_what_was_there_and_undoing_the_undo_takes_it_again(walk: Records) -> None:
    hand = ticking_hand()
    (first,) = taking.state(WALK.id, [dip(10.0)], store=walk.database, hand=hand)
    second = taking.change(first, dip(9.0), reason="again", store=walk.database, hand=hand)
    undone = taking.undo(second.id, store=walk.database, hand=hand)
    assert taking.present(WALK.id, store=walk.database).items[0].evidence == dip(10.0)
    taking.undo(undone.id, store=walk.database, hand=hand)
    assert taking.present(WALK.id, store=walk.database).items[0].evidence == dip(9.0)
    taking.undo(first.id, store=walk.database, hand=hand)
    present = taking.present(WALK.id, store=walk.database)
    assert (present.items, present.withdrawn) == ((), (first,))
    assert len(taking.history_of(first.id, store=walk.database)) == 5
    with pytest.raises(NotFoundError, match="no event"):
        taking.undo(UUID(int=77), store=walk.database, hand=hand)


def test_two_people_who_change_the_same_reading_both_stand_until_it_is_settled(walk: Records) -> None:
    left, right = ticking_hand("left"), ticking_hand("right", first_id=5000)
    (first,) = taking.state(WALK.id, [dip(10.0)], store=walk.database, hand=left)
    for value_mm, hand in ((9.0, left), (8.0, right)):
        taking.change(first, dip(value_mm), reason="again", store=walk.database, hand=hand)
    (item,) = taking.present(WALK.id, store=walk.database).items
    assert {item.evidence, *(rival.evidence for rival in item.rivals)} == {dip(9.0), dip(8.0)}
    taking.settle(item, dip(8.5), reason="measured together", store=walk.database, hand=left)
    (item,) = taking.present(WALK.id, store=walk.database).items
    assert (item.evidence, item.rivals) == (dip(8.5), ())


def test_events_sent_again_or_in_any_order_are_kept_once(walk: Records) -> None:
    first = stated(1, dip(10.0))
    second = changed(2, first, dip(9.0), second=1)
    third = withdrawn(3, second, second=2)
    assert taking.merge([third], store=walk.database) == 1
    assert taking.present(WALK.id, store=walk.database).waiting == (third,)
    assert taking.merge([second, first, second, third], store=walk.database) == 2
    assert taking.merge([first, second, third], store=walk.database) == 0
    assert taking.events_of(WALK.id, store=walk.database) == (first, second, third)


def test_an_event_of_the_same_id_with_other_content_is_refused_and_nothing_with_it_is_kept(walk: Records) -> None:
    first = stated(1, dip(10.0))
    taking.merge([first], store=walk.database)
    for other in (stated(1, dip(10.5)), stated(1, dip(10.0), author="right"), stated(1, dip(10.0), second=1)):
        with pytest.raises(ConflictError, match="never altered"):
            taking.merge([stated(2), other], store=walk.database)
    with pytest.raises(ConflictError, match="never altered"):
        taking.merge([stated(4), stated(4, dip(1.0))], store=walk.database)
    assert taking.events_of(WALK.id, store=walk.database) == (first,)


def test_many_events_at_once_are_all_kept(walk: Records) -> None:
    events = [stated(number, dip(10.0 + number / 1000), second=number) for number in range(1, 1300)]
    assert taking.merge(events[:700], store=walk.database) == 700
    assert taking.merge(events, store=walk.database) == 599
    assert taking.events_of(WALK.id, store=walk.database) == tuple(events)


def test_evidence_for_no_assessment_or_without_its_file_is_refused(walk: Records) -> None:
    with pytest.raises(NotFoundError, match="no assessment"):
        taking.merge([replace(stated(1), assessment_id=UUID(int=55))], store=walk.database)
    with pytest.raises(NotFoundError, match="no file"):
        taking.merge([stated(1, sound("a" * 64))], store=walk.database)
    assert taking.events_of(WALK.id, store=walk.database) == ()


def test_a_recording_that_was_altered_on_the_disk_is_not_handed_out(walk: Records) -> None:
    event = taking.take_in(
        WALK.id, BytesIO(b"sound"), store=walk.database, shelf=walk.shelf, hand=ticking_hand(), describe=sound
    )
    assert isinstance(event.evidence, RecordedSound)
    sha256 = event.evidence.sha256
    path = walk.shelf.path_of(sha256)
    assert path.read_bytes() == b"sound"
    path.chmod(0o644)
    path.write_bytes(b"noise")
    with pytest.raises(StoreError, match="not what was kept"):
        walk.shelf.path_of(sha256)


def test_a_recording_that_cannot_be_read_leaves_nothing(walk: Records, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError):
        taking.take_in(
            WALK.id,
            tmp_path / "nowhere.wav",
            store=walk.database,
            shelf=walk.shelf,
            hand=ticking_hand(),
            describe=sound,
        )
    assert taking.events_of(WALK.id, store=walk.database) == ()
    assert list(walk.shelf.hashes()) == []


def test_the_state_of_a_store_is_the_fold_of_its_events(walk: Records) -> None:
    events = [stated(1, second=9), changed(2, stated(1, second=9), Note(text="new"), second=1)]
    taking.merge(events, store=walk.database)
    assert taking.present(WALK.id, store=walk.database) == fold(events)
