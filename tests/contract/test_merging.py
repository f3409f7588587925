"""Two tablets that worked apart end at the same record, whatever arrives first and how often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import hypothesis.strategies as st
from hypothesis import given, settings
from tests.workshop_records import MORNING, OWNER, PIANO, WALK

from strikeline.bootstrap.records import Records
from strikeline.domain.evidence import Event, Note, Step
from strikeline.domain.present import fold, history
from strikeline.workshop import evidence as taking
from strikeline.workshop import records as keeping

_SECONDS = st.integers(-3, 3)
"""Clocks of the two tablets run apart, and may be set back."""


@st.composite
def a_tablet(draw: st.DrawFn, *, author: str, ids: range, known: Sequence[Event]) -> list[Event]:
    """Return what one person does on one tablet, which knows some events to begin with."""
    events = list(known)
    for number in ids[: draw(st.integers(0, len(ids)))]:
        step = draw(st.sampled_from(list(Step) if events else [Step.STATED]))
        before = draw(st.sampled_from(events)) if step is not Step.STATED else None
        if before is not None and step is Step.CHANGED and before.evidence is None:
            step = Step.WITHDRAWN
        own = UUID(int=number)
        events.append(
            Event(
                id=own,
                assessment_id=WALK.id,
                step=step,
                item_id=own if before is None else before.item_id,
                over=frozenset() if before is None else frozenset({before.id}),
                evidence=None if step is Step.WITHDRAWN else Note(text=f"{author} {number}"),
                reason="" if before is None else "so",
                author=author,
                at=MORNING + timedelta(seconds=draw(_SECONDS)),
            )
        )
    return events[len(known) :]


@st.composite
def two_tablets(draw: st.DrawFn) -> tuple[list[Event], list[Event], list[Event]]:
    """Return what both knew before they parted, and what each did since."""
    shared = draw(a_tablet(author="before", ids=range(1, 4), known=[]))
    left = draw(a_tablet(author="left", ids=range(10, 15), known=shared))
    right = draw(a_tablet(author="right", ids=range(20, 25), known=shared))
    return shared, left, right


@st.composite
def interleaved(draw: st.DrawFn, left: list[Event], right: list[Event]) -> list[Event]:
    turns = draw(st.permutations([True] * len(left) + [False] * len(right)))
    sides = {True: iter(left), False: iter(right)}
    return [next(sides[turn]) for turn in turns]


@given(data=st.data(), tablets=two_tablets())
def test_any_interleaving_of_two_tablets_gives_the_same_state(
    data: st.DataObject, tablets: tuple[list[Event], list[Event], list[Event]]
) -> None:
    shared, left, right = tablets
    expected = fold([*shared, *left, *right])
    mixed = data.draw(interleaved(left, right))
    assert fold([*shared, *mixed]) == expected
    anyhow = data.draw(st.permutations([*shared, *mixed, *left]))
    assert fold(anyhow) == expected
    for item in expected.items:
        assert history(anyhow, item.id) == history([*shared, *left, *right], item.id)


@given(tablets=two_tablets())
def test_nothing_that_was_said_disappears(tablets: tuple[list[Event], list[Event], list[Event]]) -> None:
    events = [event for part in tablets for event in part]
    present = fold(events)
    assert not present.waiting
    stated = {event.id for event in events if event.step is Step.STATED}
    assert {item.id for item in present.items} | {event.id for event in present.withdrawn} == stated
    told = [event.id for one in stated for event in history(events, one)]
    assert sorted(told) == sorted(event.id for event in events)


@given(tablets=two_tablets())
def test_what_one_tablet_changed_alone_is_what_stands(
    tablets: tuple[list[Event], list[Event], list[Event]],
) -> None:
    shared, left, _ = tablets
    for item in fold([*shared, *left]).items:
        (shown,) = [event for event in left + shared if event.id == item.by.id]
        assert shown.evidence == item.evidence
        # Nothing that stands replaces what is shown, however the clocks went.
        standing = {item.by.id, *(rival.id for rival in item.rivals)}
        assert not any(shown.id in event.over for event in [*shared, *left] if event.id in standing)


def test_the_store_merges_like_the_fold_on_either_database(records: Records) -> None:
    walks = iter(range(10_000, 10**9))
    keeping.start(OWNER, store=records.database, author="office", at=MORNING)
    keeping.start(PIANO, store=records.database, author="office", at=MORNING)

    @settings(max_examples=8)
    @given(data=st.data(), tablets=two_tablets())
    def check(data: st.DataObject, tablets: tuple[list[Event], list[Event], list[Event]]) -> None:
        shared, left, right = tablets
        walk = next(walks)
        states = []
        for order in ((left, right), (right, left)):
            sent = [list(shared), *(data.draw(st.permutations(shared + one)) for one in order)]
            offset = 1_000_000 * (next(walks) + 1)
            place = _walk_of_its_own(records, walk + offset)
            for batch in sent:
                taking.merge([_moved(event, place, offset) for event in batch], store=records.database)
            states.append(
                [(item.evidence, item.by.author) for item in taking.present(place, store=records.database).items]
            )
            assert len(taking.events_of(place, store=records.database)) == len(shared + left + right)
        expected = [(item.evidence, item.by.author) for item in fold([*shared, *left, *right]).items]
        assert states == [expected, expected]

    check()


def _walk_of_its_own(records: Records, number: int) -> UUID:
    walk = replace(WALK, id=UUID(int=number))
    keeping.start(walk, store=records.database, author="office", at=MORNING)
    return walk.id


def _moved(event: Event, walk: UUID, offset: int) -> Event:
    """Return the same event with ids of its own, in another walk; their order stays."""

    def other(one: UUID) -> UUID:
        return UUID(int=one.int + offset)

    return replace(
        event,
        id=other(event.id),
        assessment_id=walk,
        item_id=other(event.item_id),
        over=frozenset(other(one) for one in event.over),
    )
